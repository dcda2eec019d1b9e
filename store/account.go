package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/person"

	"github.com/google/uuid"
)

// AccountByEmail gives the account of an address; a NotFound fault where nobody in use has it.
func (s *Store) AccountByEmail(ctx context.Context, email string) (person.Account, error) {
	return s.account(ctx, `p.email = ?`, person.CleanEmail(email))
}

// Account gives the account of a person; a NotFound fault where they are gone or never chose a password.
func (s *Store) Account(ctx context.Context, id uuid.UUID) (person.Account, error) {
	return s.account(ctx, `p.id = ?`, idText(id))
}

func (s *Store) account(ctx context.Context, condition string, arg any) (person.Account, error) {
	var a person.Account
	err := s.reader(ctx).row(`SELECT p.id, p.name, p.email, a.password_hash, a.generation FROM person p JOIN account a ON a.person_id = p.id
		WHERE p.gone = 0 AND a.password_hash <> '' AND `+condition, arg).Scan(&a.Person, &a.Name, &a.Email, &a.PasswordHash, &a.Generation)
	return a, orNotFound(err)
}

// Generation gives the generation of a person's sign-ins: one that is half done under an older one is over.
func (s *Store) Generation(ctx context.Context, id uuid.UUID) (int64, error) {
	var g int64
	err := s.reader(ctx).row(`SELECT generation FROM account WHERE person_id = ?`, idText(id)).Scan(&g)
	return g, orNotFound(err)
}

// Rehash stores another hash of the same password, unless the password was changed meanwhile. Nobody is signed out.
func (s *Store) Rehash(ctx context.Context, id uuid.UUID, old, hash string) error {
	return s.inTx(ctx, func(t *tx) error {
		return t.exec(`UPDATE account SET password_hash = ? WHERE person_id = ? AND password_hash = ?`, hash, idText(id), old)
	})
}

// SetPassword stores a password's hash and ends every session of the person.
func (s *Store) SetPassword(ctx context.Context, id uuid.UUID, hash string) error {
	return s.inTx(ctx, func(t *tx) error { return t.setPassword(id, hash) })
}

func (t *tx) setPassword(id uuid.UUID, hash string) error {
	if err := t.exec(`INSERT INTO account (person_id, password_hash, generation, signed_in_at) VALUES (?, ?, 0, '')
		ON CONFLICT (person_id) DO UPDATE SET password_hash = excluded.password_hash`, idText(id), hash); err != nil {
		return err
	}
	if err := t.endSignIns(id); err != nil {
		return err
	}
	return t.noteAccount(id, person.PasswordSet, "")
}

// Invite stores the hash of a link's token for a person; uuid.Nil makes it the set-up link. Older links of the same
// person end.
func (s *Store) Invite(ctx context.Context, id uuid.UUID, token string, valid time.Duration) error {
	return s.inTx(ctx, func(t *tx) error {
		actor, err := t.actor()
		if err != nil {
			return err
		}
		if err := verdict(actor, access.EditPeople, uuid.Nil); err != nil {
			return err
		}
		if id != uuid.Nil {
			if err := t.exists("person", "person", id); err != nil {
				return err
			}
		}
		if err := t.exec(`DELETE FROM invitation WHERE person_id = ? AND used_at = ''`, idText(id)); err != nil {
			return err
		}
		if err := t.exec(`INSERT INTO invitation (token_hash, person_id, made_at, expires_at, used_at) VALUES (?, ?, ?, ?, '')`,
			tokenHash(token), idText(id), timeText(t.now), timeText(t.now.Add(valid))); err != nil {
			return err
		}
		return t.noteAccount(id, person.LinkMade, "")
	})
}

func tokenHash(token string) string {
	sum := sha256.Sum256([]byte(token))
	return hex.EncodeToString(sum[:])
}

const openInvitation = `SELECT person_id FROM invitation WHERE token_hash = ? AND used_at = '' AND expires_at > ?`

// Invited gives the person of a link that can still be used; the zero Person for the set-up link.
func (s *Store) Invited(ctx context.Context, token string) (person.Person, error) {
	q := s.reader(ctx)
	var id uuid.UUID
	if err := q.row(openInvitation, tokenHash(token), timeText(s.now())).Scan(&id); err != nil {
		return person.Person{}, linkOver(err)
	}
	if id == uuid.Nil {
		return person.Person{}, nil
	}
	p, _, err := scanPerson(q.row(`SELECT `+personColumns+` FROM person WHERE id = ? AND gone = 0`, idText(id)))
	return p, linkOver(err)
}

func linkOver(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return fault.New(fault.NotFound, "This link was used already or is over. Ask for a new one.")
	}
	return err
}

// TakeUp uses a link once: it sets the password's hash of its person.
func (s *Store) TakeUp(ctx context.Context, token, hash string) (uuid.UUID, error) {
	var id uuid.UUID
	err := s.inTx(ctx, func(t *tx) error {
		err := t.row(openInvitation+` AND person_id IN (SELECT id FROM person WHERE gone = 0)`, tokenHash(token), timeText(t.now)).Scan(&id)
		if err != nil {
			return linkOver(err)
		}
		if err := t.exec(`UPDATE invitation SET used_at = ? WHERE token_hash = ?`, timeText(t.now), tokenHash(token)); err != nil {
			return err
		}
		return t.setPassword(id, hash)
	})
	return id, err
}

// SetUp uses the set-up link once: it adds the first administrator with their password's hash.
func (s *Store) SetUp(ctx context.Context, token string, p person.Person, hash string) error {
	return s.inTx(ctx, func(t *tx) error {
		var none uuid.UUID
		if err := t.row(openInvitation+` AND person_id = ''`, tokenHash(token), timeText(t.now)).Scan(&none); err != nil {
			return linkOver(err)
		}
		if had, err := hasPeople(t); err != nil || had {
			return firstOf(err, linkOver(sql.ErrNoRows))
		}
		if _, err := t.record(access.Actor{System: true, Role: access.Administrator}, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}}); err != nil {
			return err
		}
		if err := t.exec(`UPDATE invitation SET used_at = ? WHERE token_hash = ?`, timeText(t.now), tokenHash(token)); err != nil {
			return err
		}
		return t.setPassword(p.ID, hash)
	})
}

// HasPeople says whether anybody can sign in.
func (s *Store) HasPeople(ctx context.Context) (bool, error) { return hasPeople(s.reader(ctx)) }

func hasPeople(q querier) (bool, error) {
	var n int
	err := q.row(`SELECT count(*) FROM person p JOIN account a ON a.person_id = p.id WHERE p.gone = 0 AND a.password_hash <> ''`).Scan(&n)
	return n > 0, err
}
