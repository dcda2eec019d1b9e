package store

import (
	"bytes"
	"cmp"
	"database/sql"
	"errors"
	"maps"
	"slices"
	"time"

	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// fold is what a transaction holds of one fryer's readings: they are loaded when they are needed and written once, when the
// transaction ends, however many entries it takes in.
type fold struct {
	fryer   uuid.UUID
	fresh   bool // nothing of it is stored yet: it is made from its first entry on
	snaps   []*snap
	known   knownValues        // nil: not loaded
	changed bool               // known is to be written
	ticks   map[sheet.Ref]tick // nil: not loaded
	gone    []sheet.Ref        // stored ticks that are to go
	last    time.Time          // when the latest finished reading was finished
	dated   bool               // last is loaded

	events   []eventRow                        // all of them, where fresh
	accepted map[sheet.Ref]standard.Acceptance // all of them, where fresh
}

// snap is a snapshot as it is being folded.
type snap struct {
	id, fryer, site, author uuid.UUID
	purpose                 snapshot.Purpose
	begun, finished         time.Time
	dropped                 bool
	note                    string
	readings                map[sheet.Ref]storedReading
	changed                 bool
}

// add lays readings over those that are there.
func (x *snap) add(add []snapshot.Reading, at time.Time) {
	for _, r := range add {
		x.readings[r.Ref] = storedReading{r, at}
		x.changed = true
	}
}

// values counts the readings with a value.
func (x *snap) values() int {
	n := 0
	for _, r := range x.readings {
		if r.Value.Known() {
			n++
		}
	}
	return n
}

type tick struct {
	value   sheet.Value
	at      time.Time
	author  uuid.UUID
	changed bool
}

// fold gives what the transaction holds of a fryer.
func (t *tx) fold(fryer uuid.UUID) *fold {
	f, ok := t.folds[fryer]
	if !ok {
		f = &fold{fryer: fryer, fresh: t.replaying}
		if f.fresh {
			f.known, f.ticks, f.dated, f.accepted = knownValues{}, map[sheet.Ref]tick{}, true, map[sheet.Ref]standard.Acceptance{}
		}
		t.folds[fryer] = f
	}
	return f
}

func (t *tx) keepSnap(x *snap) {
	f := t.fold(x.fryer)
	f.snaps = append(f.snaps, x)
	t.snaps[x.id] = x
}

// snap gives a snapshot; nil where there is none.
func (t *tx) snap(id uuid.UUID) (*snap, error) {
	if x, ok := t.snaps[id]; ok || t.replaying {
		return x, nil
	}
	x := &snap{id: id}
	var packed []byte
	err := t.row(`SELECT fryer_id, site_id, author, purpose, begun, finished, dropped, note, readings FROM snapshot WHERE id = ?`, idText(id)).
		Scan(&x.fryer, &x.site, &x.author, &x.purpose, timeOf{&x.begun}, timeOf{&x.finished}, &x.dropped, &x.note, &packed)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if x.readings, err = unpackReadings(packed); err != nil {
		return nil, err
	}
	t.keepSnap(x)
	return x, nil
}

func (f *fold) loadKnown(t *tx) (err error) {
	if f.known == nil {
		f.known, err = loadKnown(t, f.fryer)
	}
	return err
}

func (f *fold) loadLast(t *tx) error {
	if f.dated {
		return nil
	}
	f.dated = true
	return t.row(`SELECT coalesce(max(finished), '') FROM snapshot WHERE fryer_id = ? AND finished <> ''`, idText(f.fryer)).Scan(timeOf{&f.last})
}

func (f *fold) loadTicks(t *tx) error {
	if f.ticks != nil {
		return nil
	}
	f.ticks = map[sheet.Ref]tick{}
	rows, err := t.query(`SELECT key, vat, value, at, author FROM tick WHERE fryer_id = ?`, idText(f.fryer))
	return each(rows, err, func(r *sql.Rows) error {
		var ref sheet.Ref
		var x tick
		err := r.Scan(&ref.Key, &ref.Vat, &x.value, timeOf{&x.at}, &x.author)
		f.ticks[ref] = x
		return err
	})
}

func (f *fold) untick(ref sheet.Ref) {
	delete(f.ticks, ref)
	if !f.fresh {
		f.gone = append(f.gone, ref)
	}
}

// finished gives the finished snapshots of the fryer in their order.
func (f *fold) finished(t *tx) ([]*snap, error) {
	if !f.fresh {
		if err := f.write(t); err != nil {
			return nil, err
		}
		ids, err := collect(t, `SELECT id FROM snapshot WHERE fryer_id = ? AND finished <> ''`, scanID, idText(f.fryer))
		if err != nil {
			return nil, err
		}
		for _, id := range ids {
			if _, err := t.snap(id); err != nil {
				return nil, err
			}
		}
	}
	done := slices.DeleteFunc(slices.Clone(f.snaps), func(x *snap) bool { return x.finished.IsZero() })
	slices.SortFunc(done, func(a, b *snap) int {
		return cmp.Or(a.finished.Compare(b.finished), a.begun.Compare(b.begun), cmp.Compare(a.id.String(), b.id.String()))
	})
	return done, nil
}

func scanID(r *sql.Rows) (uuid.UUID, error) {
	var id uuid.UUID
	err := r.Scan(&id)
	return id, err
}

// move says that an open reading goes where its fryer goes, or nobody at the new site could finish it.
func (f *fold) move(t *tx, to uuid.UUID) error {
	for _, x := range f.snaps {
		if x.finished.IsZero() && !x.dropped {
			x.site, x.changed = to, true
		}
	}
	if f.fresh {
		return nil
	}
	return t.exec(`UPDATE snapshot SET site_id = ? WHERE fryer_id = ? AND finished = '' AND dropped = 0`, idText(to), idText(f.fryer))
}

// writeFolds writes what changed.
func (t *tx) writeFolds() error {
	ids := slices.SortedFunc(maps.Keys(t.folds), func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	for _, id := range ids {
		if err := t.folds[id].write(t); err != nil {
			return err
		}
	}
	return nil
}

func (f *fold) write(t *tx) error {
	for _, x := range f.snaps {
		if !x.changed {
			continue
		}
		if err := x.write(t); err != nil {
			return err
		}
		x.changed = false
	}
	if f.changed {
		err := t.exec(`INSERT INTO known (fryer_id, readings) VALUES (?, ?) ON CONFLICT (fryer_id) DO UPDATE SET readings = excluded.readings`,
			idText(f.fryer), f.known.pack())
		if err != nil {
			return err
		}
		f.changed = false
	}
	return f.writeTicks(t)
}

func (f *fold) writeTicks(t *tx) error {
	for _, ref := range f.gone {
		if err := t.exec(`DELETE FROM tick WHERE fryer_id = ? AND key = ? AND vat = ?`, idText(f.fryer), ref.Key, ref.Vat); err != nil {
			return err
		}
	}
	f.gone = nil
	for ref, x := range f.ticks {
		if !x.changed {
			continue
		}
		err := t.exec(`INSERT INTO tick (fryer_id, key, vat, value, at, author) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (fryer_id, key, vat) DO UPDATE SET value = excluded.value, at = excluded.at, author = excluded.author`,
			idText(f.fryer), ref.Key, ref.Vat, string(x.value), journal.FormatTime(x.at), idText(x.author))
		if err != nil {
			return err
		}
		x.changed = false
		f.ticks[ref] = x
	}
	return nil
}

func (x *snap) write(t *tx) error {
	return t.exec(`INSERT INTO snapshot (id, fryer_id, site_id, purpose, begun, finished, dropped, author, known, note, readings)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET site_id = excluded.site_id, finished = excluded.finished, dropped = excluded.dropped, known = excluded.known,
		note = excluded.note, readings = excluded.readings`,
		idText(x.id), idText(x.fryer), idText(x.site), string(x.purpose), timeText(x.begun), timeText(x.finished), x.dropped, idText(x.author),
		x.values(), x.note, packReadings(x.readings))
}

func loadKnown(q querier, fryer uuid.UUID) (knownValues, error) {
	var packed []byte
	err := q.row(`SELECT readings FROM known WHERE fryer_id = ?`, idText(fryer)).Scan(&packed)
	if errors.Is(err, sql.ErrNoRows) {
		return knownValues{}, nil
	}
	if err != nil {
		return nil, err
	}
	return unpackKnown(packed)
}
