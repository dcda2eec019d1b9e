package store

import (
	"time"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/google/uuid"
)

func (t *tx) checkBegun(e journal.Entry, b snapshot.Begun) error {
	if x, err := t.snap(e.Subject); err != nil {
		return err
	} else if x != nil {
		return fault.New(fault.Conflict, "This reading was begun already. Go back to the fryer and go on there.")
	}
	var retired string
	if err := t.row(`SELECT retired_at FROM fryer WHERE id = ?`, idText(b.Fryer)).Scan(&retired); err != nil {
		return orNotFound(err)
	}
	if retired != "" {
		return fault.New(fault.Invalid, "This fryer is retired.")
	}
	return nil
}

// aheadMost is how far the watch of whoever notes an event may be ahead.
const aheadMost = 10 * time.Minute

// checkEvent complains about an event of the future: nothing read until then would count.
func checkEvent(e journal.Entry, b snapshot.Event) error {
	var f fault.Fields
	if b.Happened.After(e.At.Add(aheadMost)) {
		f.Add("happened", "That lies in the future. Give the day and time when it happened.")
	}
	return f.Err()
}

func (t *tx) checkOpen(id uuid.UUID) error {
	x, err := t.snap(id)
	if err != nil {
		return err
	}
	if x == nil {
		return notFound()
	}
	if !x.finished.IsZero() || x.dropped {
		return fault.New(fault.Conflict, "This reading is closed. Begin a new one.")
	}
	return nil
}

func (t *tx) beginSnapshot(e journal.Entry, b snapshot.Begun) error {
	t.dirty[b.Fryer] = true
	if x, err := t.snap(e.Subject); err != nil || x != nil {
		return err
	}
	x := &snap{
		id: e.Subject, fryer: b.Fryer, site: e.Site, purpose: b.Purpose, begun: e.At, author: e.Author, readings: map[sheet.Ref]storedReading{},
		changed: true,
	}
	x.add(b.Readings, e.At)
	t.keepSnap(x)
	return nil
}

// addReadings lays readings over a snapshot's, which must be there.
func (t *tx) addReadings(e journal.Entry, add []snapshot.Reading) (*snap, error) {
	x, err := t.snap(e.Subject)
	if err != nil {
		return nil, err
	}
	if x == nil {
		return nil, notFound()
	}
	t.dirty[x.fryer] = true
	x.add(add, e.At)
	return x, nil
}

func (t *tx) readSnapshot(e journal.Entry, add []snapshot.Reading) error {
	_, err := t.addReadings(e, add)
	return err
}

func (t *tx) dropSnapshot(e journal.Entry) error {
	x, err := t.addReadings(e, nil)
	if err == nil {
		x.dropped, x.changed = true, true
	}
	return err
}

func (t *tx) finishSnapshot(e journal.Entry, b snapshot.Finished) error {
	x, err := t.addReadings(e, b.Readings)
	if err != nil {
		return err
	}
	x.finished, x.note, x.changed = e.At, b.Note, true
	f := t.fold(x.fryer)
	if err := f.loadTicks(t); err != nil {
		return err
	}
	for ref, r := range x.readings {
		// What was ticked off is superseded by what was read.
		if tick, had := f.ticks[ref]; had && r.Value.Known() && !tick.at.After(r.At) {
			f.untick(ref)
		}
	}
	return f.learn(t, x)
}

// learn takes in a reading that was finished. Where a later one was finished already, all of them are gone through again:
// since when a value is so depends on their order.
func (f *fold) learn(t *tx, x *snap) error {
	if err := f.loadLast(t); err != nil {
		return err
	}
	if f.last.After(x.finished) {
		return f.learnAnew(t)
	}
	f.last = x.finished
	if err := f.loadKnown(t); err != nil {
		return err
	}
	f.known.readAll(x.readings)
	f.changed = true
	return nil
}

func (f *fold) learnAnew(t *tx) error {
	done, err := f.finished(t)
	if err != nil {
		return err
	}
	f.known, f.changed = knownValues{}, true
	for _, x := range done {
		f.known.readAll(x.readings)
	}
	return nil
}

// knownValue is the last value known of a ref.
type knownValue struct {
	Ref   sheet.Ref
	Value sheet.Value
	At    time.Time // when it was read last
	Since time.Time // when it was first read to be so
}

type knownValues map[sheet.Ref]knownValue

// read takes in a reading; an older one than what is known changes nothing.
func (k knownValues) read(ref sheet.Ref, v sheet.Value, at time.Time) {
	old, had := k[ref]
	if had && old.At.After(at) {
		return
	}
	since := at
	if had && old.Value == v {
		since = old.Since
	}
	k[ref] = knownValue{ref, v, at, since}
}

// readAll takes in what one snapshot knows.
func (k knownValues) readAll(all map[sheet.Ref]storedReading) {
	for ref, r := range all {
		if r.Value.Known() {
			k.read(ref, r.Value, r.At)
		}
	}
}

// after gives the values read after a moment: older ones say nothing once something happened to the controller.
func (k knownValues) after(moment time.Time) map[sheet.Ref]sheet.Value {
	values := make(map[sheet.Ref]sheet.Value, len(k))
	for ref, v := range k {
		if v.At.After(moment) {
			values[ref] = v.Value
		}
	}
	return values
}

func (t *tx) noteEvent(e journal.Entry, b snapshot.Event) error {
	t.dirty[e.Subject] = true
	if b.Happened.After(e.At) {
		b.Happened = e.At // a watch that was ahead must not outdate what is read next
	}
	if f := t.fold(e.Subject); f.fresh {
		f.events = append(f.events, eventRow{id: e.ID, what: b.What, happened: b.Happened})
	}
	return t.exec(`INSERT INTO event (entry_id, fryer_id, what, happened, note, author) VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		e.ID.String(), idText(e.Subject), string(b.What), timeText(b.Happened), b.Note, idText(e.Author))
}

func (t *tx) tickLine(e journal.Entry, b snapshot.Ticked) error {
	t.dirty[e.Subject] = true
	f := t.fold(e.Subject)
	if err := f.loadTicks(t); err != nil {
		return err
	}
	if !b.Done {
		f.untick(b.Ref)
		return nil
	}
	if err := f.loadKnown(t); err != nil || f.known[b.Ref].At.After(e.At) {
		return err // it comes late: the setting was read since
	}
	f.ticks[b.Ref] = tick{value: b.Value, at: e.At, author: e.Author, changed: true}
	return nil
}
