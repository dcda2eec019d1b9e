package store

import (
	"context"
	"database/sql"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"

	"github.com/google/uuid"
)

// A session that is older than this is over for every role, so its row is of no use.
const signInKept = 30 * 24 * time.Hour

// BeginSignIn notes that a person is signed in from now on with a session's token.
func (s *Store) BeginSignIn(ctx context.Context, token string, in person.SignIn) error {
	return s.inTx(ctx, func(t *tx) error {
		now := timeText(t.now)
		if err := t.exec(`DELETE FROM signin WHERE began_at < ?`, timeText(t.now.Add(-signInKept))); err != nil {
			return err
		}
		if err := t.exec(`INSERT INTO signin (token_hash, id, person_id, began_at, seen_at, agent, strong) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			tokenHash(token), idText(in.ID), idText(in.Person), now, now, in.Agent, in.Strong); err != nil {
			return err
		}
		return t.exec(`UPDATE account SET signed_in_at = ? WHERE person_id = ?`, now, idText(in.Person))
	})
}

const signInColumns = `id, person_id, began_at, seen_at, agent, strong`

func scanSignIn(r interface{ Scan(...any) error }) (person.SignIn, error) {
	var in person.SignIn
	err := r.Scan(&in.ID, &in.Person, timeOf{&in.Began}, timeOf{&in.Seen}, &in.Agent, &in.Strong)
	return in, err
}

// SignIn gives the sign-in of a session's token; a NotFound fault where it has ended or never was.
func (s *Store) SignIn(ctx context.Context, token string) (person.SignIn, error) {
	hash := tokenHash(token)
	in, err := remember(&s.signIns, s.commits.Load(), hash, func() (person.SignIn, error) {
		return scanSignIn(s.reader(ctx).row(`SELECT `+signInColumns+` FROM signin WHERE token_hash = ?`, hash))
	})
	return in, orNotFound(err)
}

// SeenSignIn notes that a session is in use. It is called while a page is read, so it never waits: where something else is
// being written, the next page notes it.
func (s *Store) SeenSignIn(ctx context.Context, token string) error {
	if !s.writing.TryLock() {
		return nil
	}
	defer s.writing.Unlock()
	defer s.committed(false)
	_, err := s.sessions.ExecContext(ctx, `UPDATE signin SET seen_at = ? WHERE token_hash = ?`, timeText(s.now().UTC()), tokenHash(token))
	return err
}

// SignIns lists where a person is signed in, the latest used first. They may see it themselves, and administrators.
func (s *Store) SignIns(ctx context.Context, id uuid.UUID) ([]person.SignIn, error) {
	if err := self(access.FromContext(ctx), id); err != nil {
		return nil, err
	}
	var list []person.SignIn
	rows, err := s.reader(ctx).query(`SELECT `+signInColumns+` FROM signin WHERE person_id = ? ORDER BY seen_at DESC, began_at DESC`, idText(id))
	err = each(rows, err, func(r *sql.Rows) error {
		in, err := scanSignIn(r)
		list = append(list, in)
		return err
	})
	return list, err
}

// self gives a fault unless the actor is the person, or keeps the people.
func self(a access.Actor, id uuid.UUID) error {
	if a.Person == id && id != uuid.Nil {
		return nil
	}
	return verdict(a, access.EditPeople, uuid.Nil)
}

// EndSignIn ends one sign-in of a person; one that is over already stays so.
func (s *Store) EndSignIn(ctx context.Context, id, signIn uuid.UUID) error {
	return s.selfTx(ctx, id, func(t *tx) error {
		return t.exec(`DELETE FROM signin WHERE id = ? AND person_id = ?`, idText(signIn), idText(id))
	})
}

// EndOtherSignIns ends all sign-ins of a person but one.
func (s *Store) EndOtherSignIns(ctx context.Context, id, but uuid.UUID) error {
	return s.selfTx(ctx, id, func(t *tx) error {
		if err := t.exec(`DELETE FROM signin WHERE person_id = ? AND id <> ?`, idText(id), idText(but)); err != nil {
			return err
		}
		return t.noteAccount(id, person.SignInsEnded, "")
	})
}

// SignOutEverywhere ends every sign-in of a person, and every one that is half done.
func (s *Store) SignOutEverywhere(ctx context.Context, id uuid.UUID) error {
	return s.selfTx(ctx, id, func(t *tx) error {
		if err := t.endSignIns(id); err != nil {
			return err
		}
		return t.noteAccount(id, person.SignInsEnded, "")
	})
}

// selfTx runs fn in a transaction in which the actor is the person, or keeps the people.
func (s *Store) selfTx(ctx context.Context, id uuid.UUID, fn func(*tx) error) error {
	return s.inTx(ctx, func(t *tx) error {
		actor, err := t.actor()
		if err != nil {
			return err
		}
		if err := self(actor, id); err != nil {
			return err
		}
		return fn(t)
	})
}

// endSignIns ends every sign-in of a person. The generation ends those that wait for the second factor.
func (t *tx) endSignIns(id uuid.UUID) error {
	if err := t.exec(`DELETE FROM signin WHERE person_id = ?`, idText(id)); err != nil {
		return err
	}
	return t.exec(`UPDATE account SET generation = generation + 1 WHERE person_id = ?`, idText(id))
}

// A person has so many known browsers at most; the one seen longest ago is forgotten first.
const browsersMost = 20

// KnowBrowser notes that a person has signed in with a browser, by the value of its cookie.
func (s *Store) KnowBrowser(ctx context.Context, id uuid.UUID, cookie string) error {
	return s.inTx(ctx, func(t *tx) error {
		if err := t.exec(`INSERT INTO known_browser (person_id, token_hash, seen_at) VALUES (?, ?, ?)
			ON CONFLICT (person_id, token_hash) DO UPDATE SET seen_at = excluded.seen_at`, idText(id), tokenHash(cookie), timeText(t.now)); err != nil {
			return err
		}
		return t.exec(`DELETE FROM known_browser WHERE person_id = ? AND token_hash NOT IN (
			SELECT token_hash FROM known_browser WHERE person_id = ? ORDER BY seen_at DESC, token_hash LIMIT ?)`, idText(id), idText(id), browsersMost)
	})
}

// KnowsBrowser says whether a person has signed in with the browser of a cookie before.
func (s *Store) KnowsBrowser(ctx context.Context, id uuid.UUID, cookie string) (bool, error) {
	var n int
	err := s.reader(ctx).row(`SELECT count(*) FROM known_browser WHERE person_id = ? AND token_hash = ?`, idText(id), tokenHash(cookie)).Scan(&n)
	return n > 0, err
}

// noteAccount notes what happened to a person's sign-in, and by whom.
func (t *tx) noteAccount(id uuid.UUID, what person.AccountEvent, reason string) error {
	by := access.FromContext(t.ctx).Person
	return t.exec(`INSERT INTO account_note (person_id, at, what, by_id, reason) VALUES (?, ?, ?, ?, ?)`,
		idText(id), timeText(t.now), string(what), idText(by), reason)
}

const notesShown = 12

// AccountNotes lists what happened to a person's sign-in lately, the latest first.
func (s *Store) AccountNotes(ctx context.Context, id uuid.UUID) ([]person.AccountNote, error) {
	if err := self(access.FromContext(ctx), id); err != nil {
		return nil, err
	}
	var list []person.AccountNote
	rows, err := s.reader(ctx).query(`SELECT a.at, a.what, coalesce(p.name, ''), a.reason FROM account_note a LEFT JOIN person p ON p.id = a.by_id
		WHERE a.person_id = ? ORDER BY a.n DESC LIMIT ?`, idText(id), notesShown)
	err = each(rows, err, func(r *sql.Rows) error {
		var n person.AccountNote
		err := r.Scan(timeOf{&n.At}, &n.What, &n.By, &n.Reason)
		list = append(list, n)
		return err
	})
	return list, err
}

// needPerson gives a NotFound fault where nobody in use has the id.
func (t *tx) needPerson(id uuid.UUID) error {
	var n int
	if err := t.row(`SELECT count(*) FROM person WHERE id = ? AND gone = 0`, idText(id)).Scan(&n); err != nil || n > 0 {
		return err
	}
	return fault.New(fault.NotFound, "There is nobody like that.")
}
