package store

import (
	"context"
	"database/sql"
	"errors"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"

	"github.com/google/uuid"
)

// Factor gives the second factor of a person; the zero Factor where they have none.
func (s *Store) Factor(ctx context.Context, id uuid.UUID) (person.Factor, error) {
	var f person.Factor
	err := s.reader(ctx).row(`SELECT secret, begun_at, confirmed_at, last_step, (SELECT count(*) FROM recovery_code c WHERE c.person_id = f.person_id)
		FROM factor f WHERE person_id = ?`, idText(id)).Scan(&f.Secret, timeOf{&f.Begun}, timeOf{&f.Confirmed}, &f.LastStep, &f.CodesLeft)
	if errors.Is(err, sql.ErrNoRows) {
		return person.Factor{}, nil
	}
	return f, err
}

// BeginFactor keeps the sealed secret of a factor that is being set up, in place of one that was begun before.
func (s *Store) BeginFactor(ctx context.Context, id uuid.UUID, sealed string) error {
	return s.inTx(ctx, func(t *tx) error {
		n, err := t.execN(`INSERT INTO factor (person_id, secret, begun_at, confirmed_at, last_step) VALUES (?, ?, ?, '', 0)
			ON CONFLICT (person_id) DO UPDATE SET secret = excluded.secret, begun_at = excluded.begun_at WHERE confirmed_at = ''`,
			idText(id), sealed, timeText(t.now))
		return unlessOne(n, err, "Your second step is switched on already.")
	})
}

// ConfirmFactor switches a factor on, with the step of its first code, and gives it recovery codes in place of older ones.
// Every sign-in of the person ends.
func (s *Store) ConfirmFactor(ctx context.Context, id uuid.UUID, step int64, codes []string) error {
	return s.inTx(ctx, func(t *tx) error {
		n, err := t.execN(`UPDATE factor SET confirmed_at = ?, last_step = ? WHERE person_id = ? AND confirmed_at = ''`, timeText(t.now), step, idText(id))
		if err := unlessOne(n, err, "This was set up already, or given up. Look at what stands now."); err != nil {
			return err
		}
		if err := t.replaceCodes(id, codes); err != nil {
			return err
		}
		if err := t.endSignIns(id); err != nil {
			return err
		}
		return t.noteAccount(id, person.FactorOn, "")
	})
}

func unlessOne(n int64, err error, otherwise string) error {
	if err == nil && n == 0 {
		return fault.New(fault.Conflict, "%s", otherwise)
	}
	return err
}

// UseStep takes the code of a time step, once: false where that or a later one was taken already.
func (s *Store) UseStep(ctx context.Context, id uuid.UUID, step int64) (bool, error) {
	var n int64
	err := s.inTx(ctx, func(t *tx) (err error) {
		n, err = t.execN(`UPDATE factor SET last_step = ? WHERE person_id = ? AND confirmed_at <> '' AND last_step < ?`, step, idText(id), step)
		return err
	})
	return n > 0, err
}

// UseCode takes a recovery code, once: false where it is none of the person's.
func (s *Store) UseCode(ctx context.Context, id uuid.UUID, code string) (bool, error) {
	var n int64
	err := s.inTx(ctx, func(t *tx) (err error) {
		n, err = t.execN(`DELETE FROM recovery_code WHERE code_hash = ? AND person_id = ?`, tokenHash(code), idText(id))
		if err != nil || n == 0 {
			return err
		}
		return t.noteAccount(id, person.CodeUsed, "")
	})
	return n > 0, err
}

// RenewCodes gives a person other recovery codes in place of those that they have.
func (s *Store) RenewCodes(ctx context.Context, id uuid.UUID, codes []string) error {
	return s.selfTx(ctx, id, func(t *tx) error {
		if err := t.replaceCodes(id, codes); err != nil {
			return err
		}
		return t.noteAccount(id, person.CodesRenewed, "")
	})
}

func (t *tx) replaceCodes(id uuid.UUID, codes []string) error {
	if err := t.exec(`DELETE FROM recovery_code WHERE person_id = ?`, idText(id)); err != nil {
		return err
	}
	for _, code := range codes {
		if err := t.exec(`INSERT INTO recovery_code (code_hash, person_id) VALUES (?, ?)`, tokenHash(code), idText(id)); err != nil {
			return err
		}
	}
	return nil
}

// DropFactor switches a person's own factor off. Every sign-in of theirs ends.
func (s *Store) DropFactor(ctx context.Context, id uuid.UUID) error {
	return s.inTx(ctx, func(t *tx) error {
		if access.FromContext(ctx).Person != id {
			return notFound()
		}
		actor, err := t.actor()
		if err != nil {
			return err
		}
		if must, err := requiresFactor(t, actor.Role); err != nil || must {
			return firstOf(err, fault.New(fault.Invalid, "Administrators need the second step here, so yours cannot be switched off."))
		}
		return t.dropFactor(id, person.FactorOff, "")
	})
}

// ResetFactor takes the factor of somebody who lost it. Every sign-in of theirs ends.
func (s *Store) ResetFactor(ctx context.Context, id uuid.UUID, reason string) error {
	return s.inTx(ctx, func(t *tx) error {
		actor, err := t.actor()
		if err != nil {
			return err
		}
		if err := verdict(actor, access.EditPeople, uuid.Nil); err != nil {
			return err
		}
		if err := t.needPerson(id); err != nil {
			return err
		}
		var f fault.Fields
		if f.Need("reason", reason, "Say why: it is kept."); len(strings.TrimSpace(reason)) > 500 {
			f.Add("reason", "At most 500 characters.")
		}
		if err := f.Err(); err != nil {
			return err
		}
		return t.dropFactor(id, person.FactorReset, strings.TrimSpace(reason))
	})
}

func (t *tx) dropFactor(id uuid.UUID, what person.AccountEvent, reason string) error {
	if err := t.exec(`DELETE FROM factor WHERE person_id = ?`, idText(id)); err != nil {
		return err
	}
	if err := t.replaceCodes(id, nil); err != nil {
		return err
	}
	if err := t.endSignIns(id); err != nil {
		return err
	}
	return t.noteAccount(id, what, reason)
}

// factorKey is the key of the setting that says whose sign-in needs a second factor.
const factorKey = "second factor"

// RequiresFactor says whether the sign-in of a role needs a second factor.
func (s *Store) RequiresFactor(ctx context.Context, role access.Role) (bool, error) {
	return requiresFactor(s.reader(ctx), role)
}

func requiresFactor(q querier, role access.Role) (bool, error) {
	if role != access.Administrator {
		return false, nil
	}
	var n int
	err := q.row(`SELECT count(*) FROM meta WHERE key = ? AND value = ?`, factorKey, string(access.Administrator)).Scan(&n)
	return n > 0, err
}

// RequireFactor says whether administrators need a second factor from now on. Whoever requires it has it.
func (s *Store) RequireFactor(ctx context.Context, required bool) error {
	return s.inTx(ctx, func(t *tx) error {
		actor, err := t.actor()
		if err != nil {
			return err
		}
		if err := verdict(actor, access.EditPeople, uuid.Nil); err != nil {
			return err
		}
		if !required {
			if err := t.exec(`DELETE FROM meta WHERE key = ?`, factorKey); err != nil {
				return err
			}
			return t.noteAccount(actor.Person, person.FactorOptional, "")
		}
		var n int
		if err := t.row(`SELECT count(*) FROM factor WHERE person_id = ? AND confirmed_at <> ''`, idText(actor.Person)).Scan(&n); err != nil {
			return err
		}
		if n == 0 {
			return fault.New(fault.Invalid, "Switch on your own second step first, under My account.")
		}
		if err := t.exec(`INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value`, factorKey, string(access.Administrator)); err != nil {
			return err
		}
		return t.noteAccount(actor.Person, person.FactorRequired, "")
	})
}
