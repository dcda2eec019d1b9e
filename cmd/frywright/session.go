package main

import (
	"sync"
	"time"

	"github.com/alexedwards/scs/v2"
)

// mostSessions is how many sessions are kept at hand; when there are more, the keeping begins anew.
const mostSessions = 10_000

// sessionAsked is how long a session that was found behind is kept at hand.
const sessionAsked = time.Minute

// sessionsAtHand keeps sessions in memory besides the store behind it, so that a page does not read its session from the
// database again. Nobody else writes there: one process has the data folder.
type sessionsAtHand struct {
	scs.Store
	now func() time.Time

	mu    sync.RWMutex
	known map[string]keptSession
}

type keptSession struct {
	data   []byte
	expiry time.Time
}

// Find gives the data of a session that has not run out.
func (s *sessionsAtHand) Find(token string) ([]byte, bool, error) {
	s.mu.RLock()
	kept, ok := s.known[token]
	s.mu.RUnlock()
	if ok && s.now().Before(kept.expiry) {
		return kept.data, true, nil
	}
	data, found, err := s.Store.Find(token)
	if found && err == nil {
		// When it runs out is not told by the store behind: it is asked again soon.
		s.keep(token, keptSession{data, s.now().Add(sessionAsked)})
	}
	return data, found, err
}

// Commit stores a session.
func (s *sessionsAtHand) Commit(token string, data []byte, expiry time.Time) error {
	if err := s.Store.Commit(token, data, expiry); err != nil {
		return err
	}
	s.keep(token, keptSession{data, expiry})
	return nil
}

func (s *sessionsAtHand) keep(token string, kept keptSession) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known == nil || len(s.known) >= mostSessions {
		s.known = map[string]keptSession{}
	}
	s.known[token] = kept
}

// Delete ends a session.
func (s *sessionsAtHand) Delete(token string) error {
	s.mu.Lock()
	delete(s.known, token)
	s.mu.Unlock()
	return s.Store.Delete(token)
}
