package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"frywright/domain/access"
	"frywright/domain/entry"
	"frywright/domain/fault"
	"frywright/domain/journal"

	"github.com/google/uuid"
)

// Record puts what the actor of the context did into the journal, all of it or nothing, and gives the entries. A draft
// that is there already is passed over, so that a form sent twice does no harm.
func (s *Store) Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error) {
	var made []journal.Entry
	err := s.inTx(ctx, func(t *tx) error {
		actor, err := t.actor()
		if err != nil {
			return err
		}
		for _, d := range drafts {
			e, err := t.record(actor, d)
			if err != nil {
				return err
			}
			made = append(made, e)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// actor reads the actor of the context again inside the transaction: what they may do is decided by what stands now.
func (t *tx) actor() (access.Actor, error) {
	a := access.FromContext(t.ctx)
	if a.System {
		return a, nil
	}
	fresh, err := actorOf(t, a.Person)
	if errors.Is(err, sql.ErrNoRows) {
		return a, fault.New(fault.SignedOut, "Please sign in again.")
	}
	return fresh, err
}

// record makes an entry of a draft and applies it.
func (t *tx) record(actor access.Actor, d journal.Draft) (journal.Entry, error) {
	if err := d.Body.Validate(); err != nil {
		return journal.Entry{}, err
	}
	e, err := t.envelope(actor, d)
	if err != nil {
		return e, err
	}
	had, same, err := t.again(e)
	if err != nil || same {
		return had, err
	}
	if had.ID != uuid.Nil {
		// A form that was shown once and sent again with something else in it: what is new in it must not be lost.
		e.ID = t.s.newID()
		if e.Hash, err = e.Sum(); err != nil {
			return e, err
		}
	}
	if err := t.admit(actor, e, d.Body); err != nil {
		return e, err
	}
	return e, t.apply(&e, d.Body)
}

// again gives the entry that has the id already, if there is one, and whether it says the same.
func (t *tx) again(e journal.Entry) (had journal.Entry, same bool, err error) {
	had, err = scanEntry(t.row(`SELECT `+entryColumns+` FROM entry j WHERE j.id = ?`, e.ID.String()))
	if errors.Is(err, sql.ErrNoRows) {
		return journal.Entry{}, false, nil
	}
	same = had.Kind == e.Kind && had.Subject == e.Subject && had.Author == e.Author && bytes.Equal(had.Body, e.Body)
	return had, same, err
}

// admit says whether the entry may be recorded now: permission, what the author had seen, and what it refers to.
func (t *tx) admit(actor access.Actor, e journal.Entry, b journal.Body) error {
	if err := verdict(actor, entry.ActionFor(b), e.Site); err != nil {
		return err
	}
	if spec, ok := entry.Find(e.Kind); ok && spec.Changes {
		if err := t.unchanged(e, b); err != nil {
			return err
		}
	}
	if err := t.check(e, b); err != nil {
		return err
	}
	if own := entry.SubjectOf(b); own != uuid.Nil && own != e.Subject {
		return fault.New(fault.Invalid, "It is filed under something other than what it speaks of.")
	}
	return nil
}

// unchanged gives a Conflict fault when the subject was changed since the author saw it.
func (t *tx) unchanged(e journal.Entry, b journal.Body) error {
	current, err := t.version(e.Subject, b)
	if err != nil || current == e.Base {
		return err
	}
	var who, at string
	err = t.row(`SELECT coalesce(p.name, ''), j.at FROM entry j LEFT JOIN person p ON p.id = j.author WHERE j.id = ?`, idText(current)).Scan(&who, &at)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if who == "" {
		who = "Somebody"
	}
	return fault.New(fault.Conflict, "%s changed this meanwhile. Look at what stands now, then make your change again.", who)
}

// envelope fills in what the author of a draft does not decide.
func (t *tx) envelope(actor access.Actor, d journal.Draft) (journal.Entry, error) {
	site, err := t.siteOf(d.Subject, d.Body)
	if err != nil {
		return journal.Entry{}, err
	}
	n, err := t.nextN()
	if err != nil {
		return journal.Entry{}, err
	}
	e := journal.Entry{
		ID: d.ID, Device: t.s.device, N: n, Kind: d.Body.Kind(), At: d.At, Author: actor.Person,
		Site: site, Subject: d.Subject, Base: d.Base,
	}
	if e.ID == uuid.Nil {
		e.ID = t.s.newID()
	}
	if e.At.IsZero() || !actor.System {
		e.At = t.now
	}
	e.At = e.At.UTC().Truncate(time.Millisecond)
	if actor.System && d.Author != uuid.Nil {
		e.Author = d.Author
	}
	spec, _ := entry.Find(e.Kind)
	e.V = spec.Version()
	if e.Zone, err = t.zoneOf(site); err != nil {
		return e, err
	}
	if e.Body, err = journal.Encode(d.Body); err != nil {
		return e, err
	}
	e.Hash, err = e.Sum()
	return e, err
}

// nextN gives the next consecutive number of this server as a device.
func (t *tx) nextN() (int64, error) {
	if t.n == 0 {
		if err := t.row(`SELECT coalesce(max(n), 0) FROM entry WHERE device = ?`, t.s.device.String()).Scan(&t.n); err != nil {
			return 0, err
		}
	}
	return t.n + 1, nil
}

// apply is the one path by which entries enter: insert or ignore by id, and project only what was really inserted. It
// sets the entry's Seq and ReceivedAt.
func (t *tx) apply(e *journal.Entry, b journal.Body) error {
	inserted, err := t.insert(e, b)
	if err != nil || !inserted {
		return err
	}
	if e.Device == t.s.device && t.n > 0 {
		t.n = max(t.n, e.N)
	}
	return t.project(*e, b)
}

// insert stores the entry; it gives false where its id is there already. b is nil where the body cannot be read.
func (t *tx) insert(e *journal.Entry, b journal.Body) (bool, error) {
	stream, fryer := "company", uuid.Nil
	if e.Site != uuid.Nil {
		stream = "site:" + e.Site.String()
	}
	if b != nil {
		var err error
		stream = entry.Stream(e.Site, b)
		if fryer, err = t.fryerOf(e.Subject, b); err != nil {
			return false, err
		}
	}
	e.ReceivedAt = t.now
	return t.file(e, stream, fryer)
}

// file writes the row of an entry and sets its Seq; it gives false where its id is there already.
func (t *tx) file(e *journal.Entry, stream string, fryer uuid.UUID) (bool, error) {
	err := t.row(`INSERT INTO entry (id, device, n, kind, v, at, zone, skew_ms, author, site, subject, base, body, hash, received_at, stream, fryer)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING RETURNING seq`,
		e.ID.String(), e.Device.String(), e.N, e.Kind, e.V, ordinary(e.At), e.Zone, e.SkewMillis, idText(e.Author),
		idText(e.Site), e.Subject.String(), idText(e.Base), string(e.Body), e.Hash, journal.FormatTime(e.ReceivedAt),
		stream, idText(fryer)).Scan(&e.Seq)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	if err != nil {
		return false, fmt.Errorf("insert entry: %w", err)
	}
	return true, nil
}

// ordinary writes a time as the journal stores it. One that no clock shows has no such form; its entry is damaged, and is kept
// without it.
func ordinary(at time.Time) string {
	if !journal.Ordinary(at) {
		at = time.Time{}
	}
	return journal.FormatTime(at)
}

// Verdict is what became of a received entry.
type Verdict string

// The verdicts.
const (
	Accepted    Verdict = "accepted"    // stored and projected
	Already     Verdict = "already"     // it was here
	Quarantined Verdict = "quarantined" // stored and set aside: somebody must look at it
	Fork        Verdict = "fork"        // another entry of the same device has its number
	Gap         Verdict = "gap"         // not stored: earlier entries of its device are not here yet and must come first
)

// Receive takes entries that were made elsewhere, from the actor of the context. Nothing is refused: what cannot be
// applied is stored and set aside.
func (s *Store) Receive(ctx context.Context, entries []journal.Entry) ([]Verdict, error) {
	verdicts := make([]Verdict, 0, len(entries))
	err := s.inTx(ctx, func(t *tx) error {
		for i := range entries {
			v, err := t.receive(&entries[i])
			if err != nil {
				return err
			}
			verdicts = append(verdicts, v)
		}
		return nil
	})
	return verdicts, err
}

func (t *tx) receive(e *journal.Entry) (Verdict, error) {
	var id, hash string
	err := t.row(`SELECT id, hash FROM entry WHERE id = ? OR (device = ? AND n = ?)`, e.ID.String(), e.Device.String(), e.N).Scan(&id, &hash)
	switch {
	case err == nil && id == e.ID.String() && hash == e.Hash:
		return Already, nil
	case err == nil:
		return Fork, nil
	case !errors.Is(err, sql.ErrNoRows):
		return "", err
	}
	if gap, err := t.gap(*e); err != nil || gap {
		return Gap, err
	}
	body, reason, err := t.examine(*e)
	if err != nil {
		return "", err
	}
	if reason == "" {
		return Accepted, t.apply(e, body)
	}
	if _, err := t.insert(e, nil); err != nil {
		return "", err
	}
	return Quarantined, t.exec(`INSERT INTO quarantine (entry_id, seq, reason) VALUES (?, ?, ?)`, e.ID.String(), e.Seq, reason)
}

// gap says whether entries of the same device are missing before one: a reading cannot be finished before it was begun.
func (t *tx) gap(e journal.Entry) (bool, error) {
	var last int64
	err := t.row(`SELECT coalesce(max(n), 0) FROM entry WHERE device = ? AND n > 0`, e.Device.String()).Scan(&last)
	return e.N > last+1, err
}

// examine gives the body of a received entry, or in plain words why it cannot be applied.
func (t *tx) examine(e journal.Entry) (journal.Body, string, error) {
	if err := e.Check(); err != nil {
		return nil, "The entry is damaged: " + err.Error(), nil
	}
	body, err := entry.Decode(e)
	if errors.Is(err, entry.ErrUnknown) {
		return nil, "It was recorded by a newer version of the program.", nil
	}
	if err != nil {
		return nil, "Its content cannot be read.", nil
	}
	if err := body.Validate(); err != nil {
		return nil, err.Error(), nil
	}
	if sender := access.FromContext(t.ctx); !sender.System && sender.Person != e.Author {
		return nil, "It was sent by somebody other than its author.", nil
	}
	author, err := actorOf(t, e.Author)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, "Its author is not known here.", nil
	}
	if err != nil {
		return nil, "", err
	}
	if site, err := t.siteOf(e.Subject, body); fault.KindOf(err) == fault.Internal && err != nil {
		return nil, "", err
	} else if err != nil || site != e.Site {
		return nil, "It names a site that its subject does not belong to.", nil
	}
	err = t.admit(author, e, body)
	if err != nil && fault.KindOf(err) == fault.Internal {
		return nil, "", err
	}
	if err != nil {
		return nil, err.Error(), nil
	}
	return body, "", nil
}

// entryColumns are the columns that scanEntry reads.
const entryColumns = `j.seq, j.id, j.device, j.n, j.kind, j.v, j.at, j.zone, j.skew_ms, j.author, j.site, j.subject, j.base, j.body, j.hash, j.received_at`

// scanEntry reads the columns of an entry, and what the query has behind them into more.
func scanEntry(r interface{ Scan(...any) error }, more ...any) (journal.Entry, error) {
	var e journal.Entry
	var body string
	err := r.Scan(append([]any{&e.Seq, &e.ID, &e.Device, &e.N, &e.Kind, &e.V, timeOf{&e.At}, &e.Zone, &e.SkewMillis, &e.Author, &e.Site,
		&e.Subject, &e.Base, &body, &e.Hash, timeOf{&e.ReceivedAt}}, more...)...)
	e.Body = []byte(body)
	return e, err
}
