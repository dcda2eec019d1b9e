package main

import (
	"testing"
	"time"

	"github.com/alexedwards/scs/v2/memstore"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSessionsAtHandEndWhenTheyEnd(t *testing.T) {
	clock := time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
	behind := memstore.NewWithCleanupInterval(0)
	s := &sessionsAtHand{Store: behind, now: func() time.Time { return clock }}
	find := func(token string) bool {
		_, ok, err := s.Find(token)
		require.NoError(t, err)
		return ok
	}
	require.NoError(t, s.Commit("a", []byte("one"), clock.Add(time.Hour)))
	require.NoError(t, behind.Delete("a"))
	assert.True(t, find("a"), "it is at hand")
	clock = clock.Add(time.Hour)
	assert.False(t, find("a"), "it has run out")
	require.NoError(t, s.Commit("b", []byte("two"), clock.Add(time.Hour)))
	require.NoError(t, s.Delete("b"))
	assert.False(t, find("b"), "it was ended")
	require.NoError(t, behind.Commit("c", []byte("before the start"), time.Now().Add(time.Hour)))
	assert.True(t, find("c"), "what was signed in before the program began is found behind")
	require.NoError(t, behind.Delete("c"))
	clock = clock.Add(sessionAsked)
	assert.False(t, find("c"), "and looked for there again soon")
}
