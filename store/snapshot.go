package store

import (
	"cmp"
	"database/sql"
	"encoding/json"
	"errors"
	"slices"
	"time"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/google/uuid"
)

func (t *tx) checkBegun(e journal.Entry, b snapshot.Begun) error {
	var used int
	if err := t.row(`SELECT count(*) FROM snapshot WHERE id = ?`, idText(e.Subject)).Scan(&used); err != nil {
		return err
	}
	if used > 0 {
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
	var finished string
	var dropped bool
	if err := t.row(`SELECT finished, dropped FROM snapshot WHERE id = ?`, idText(id)).Scan(&finished, &dropped); err != nil {
		return orNotFound(err)
	}
	if finished != "" || dropped {
		return fault.New(fault.Conflict, "This reading is closed. Begin a new one.")
	}
	return nil
}

func (t *tx) beginSnapshot(e journal.Entry, b snapshot.Begun) error {
	t.dirty[b.Fryer] = true
	readings, known, err := encodeReadings(nil, b.Readings, e.At)
	if err != nil {
		return err
	}
	return t.exec(`INSERT INTO snapshot (id, fryer_id, site_id, purpose, begun, finished, dropped, author, readings, known, note)
		VALUES (?, ?, ?, ?, ?, '', 0, ?, ?, ?, '') ON CONFLICT (id) DO NOTHING`,
		idText(e.Subject), idText(b.Fryer), idText(e.Site), string(b.Purpose), journal.FormatTime(e.At), idText(e.Author), readings, known)
}

// storedReading is a reading with its moment: what happened to the controller while it was read parts what was read before
// from what was read after.
type storedReading struct {
	snapshot.Reading
	At time.Time `json:"at"`
}

// encodeReadings lays new readings over old ones, the latest of each ref, in a fixed order, and counts the known.
func encodeReadings(old map[sheet.Ref]storedReading, add []snapshot.Reading, at time.Time) (string, int, error) {
	all := map[sheet.Ref]storedReading{}
	for ref, r := range old {
		all[ref] = r
	}
	for _, r := range add {
		all[r.Ref] = storedReading{r, at}
	}
	list := make([]storedReading, 0, len(all))
	known := 0
	for _, r := range all {
		list = append(list, r)
		if r.Value.Known() {
			known++
		}
	}
	slices.SortFunc(list, func(a, b storedReading) int {
		return cmp.Or(cmp.Compare(a.Ref.Key, b.Ref.Key), cmp.Compare(a.Ref.Vat, b.Ref.Vat))
	})
	text, err := json.Marshal(list)
	return string(text), known, err
}

func decodeReadings(text string) (map[sheet.Ref]storedReading, error) {
	var list []storedReading
	if err := json.Unmarshal([]byte(text), &list); err != nil {
		return nil, err
	}
	readings := make(map[sheet.Ref]storedReading, len(list))
	for _, r := range list {
		readings[r.Ref] = r
	}
	return readings, nil
}

// addReadings lays readings over a snapshot's and gives its fryer and all its readings.
func (t *tx) addReadings(e journal.Entry, add []snapshot.Reading) (fryer uuid.UUID, all map[sheet.Ref]storedReading, err error) {
	var text string
	if err := t.row(`SELECT fryer_id, readings FROM snapshot WHERE id = ?`, idText(e.Subject)).Scan(&fryer, &text); err != nil {
		return fryer, nil, err
	}
	t.dirty[fryer] = true
	if all, err = decodeReadings(text); err != nil || len(add) == 0 {
		return fryer, all, err
	}
	text, known, err := encodeReadings(all, add, e.At)
	if err != nil {
		return fryer, nil, err
	}
	for _, r := range add {
		all[r.Ref] = storedReading{r, e.At}
	}
	return fryer, all, t.exec(`UPDATE snapshot SET readings = ?, known = ? WHERE id = ?`, text, known, idText(e.Subject))
}

func (t *tx) readSnapshot(e journal.Entry, add []snapshot.Reading) error {
	_, _, err := t.addReadings(e, add)
	return err
}

func (t *tx) dropSnapshot(e journal.Entry) error {
	if _, _, err := t.addReadings(e, nil); err != nil {
		return err
	}
	return t.exec(`UPDATE snapshot SET dropped = 1 WHERE id = ?`, idText(e.Subject))
}

func (t *tx) finishSnapshot(e journal.Entry, b snapshot.Finished) error {
	fryer, all, err := t.addReadings(e, b.Readings)
	if err != nil {
		return err
	}
	err = t.exec(`UPDATE snapshot SET finished = ?, note = ? WHERE id = ?`, journal.FormatTime(e.At), b.Note, idText(e.Subject))
	if err != nil {
		return err
	}
	for ref, r := range all {
		if !r.Value.Known() {
			continue
		}
		// What was ticked off is superseded by what was read.
		err := t.exec(`DELETE FROM tick WHERE fryer_id = ? AND key = ? AND vat = ? AND at <= ?`, idText(fryer), ref.Key, ref.Vat, journal.FormatTime(r.At))
		if err != nil {
			return err
		}
	}
	known, err := t.learn(fryer, e, all)
	if err != nil {
		return err
	}
	return t.saveKnown(fryer, known)
}

// learn gives what is known of a fryer once a reading of it is finished. Where a later one was finished already, all of
// them are gone through again: since when a value is so depends on their order.
func (t *tx) learn(fryer uuid.UUID, e journal.Entry, all map[sheet.Ref]storedReading) (knownValues, error) {
	var later int
	err := t.row(`SELECT count(*) FROM snapshot WHERE fryer_id = ? AND finished > ?`, idText(fryer), journal.FormatTime(e.At)).Scan(&later)
	if err != nil {
		return nil, err
	}
	if later > 0 {
		return t.learnAnew(fryer)
	}
	known, err := loadKnown(t, fryer)
	if err != nil {
		return nil, err
	}
	known.readAll(all, e.Subject)
	return known, nil
}

func (t *tx) learnAnew(fryer uuid.UUID) (knownValues, error) {
	known := knownValues{}
	rows, err := t.query(`SELECT id, readings FROM snapshot WHERE fryer_id = ? AND finished <> '' ORDER BY finished, begun, id`, idText(fryer))
	err = each(rows, err, func(r *sql.Rows) error {
		var id uuid.UUID
		var text string
		if err := r.Scan(&id, &text); err != nil {
			return err
		}
		all, err := decodeReadings(text)
		known.readAll(all, id)
		return err
	})
	return known, err
}

// knownValue is the last value known of a ref.
type knownValue struct {
	Ref      sheet.Ref   `json:"r"`
	Value    sheet.Value `json:"v"`
	At       time.Time   `json:"at"`    // when it was read last
	Since    time.Time   `json:"since"` // when it was first read to be so
	Snapshot uuid.UUID   `json:"s"`
}

type knownValues map[sheet.Ref]knownValue

// read takes in a reading; an older one than what is known changes nothing.
func (k knownValues) read(ref sheet.Ref, v sheet.Value, at time.Time, from uuid.UUID) {
	old, had := k[ref]
	if had && old.At.After(at) {
		return
	}
	since := at
	if had && old.Value == v {
		since = old.Since
	}
	k[ref] = knownValue{ref, v, at, since, from}
}

// readAll takes in what one snapshot knows.
func (k knownValues) readAll(all map[sheet.Ref]storedReading, from uuid.UUID) {
	for ref, r := range all {
		if r.Value.Known() {
			k.read(ref, r.Value, r.At, from)
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

func loadKnown(q querier, fryer uuid.UUID) (knownValues, error) {
	var text string
	err := q.row(`SELECT readings FROM known WHERE fryer_id = ?`, idText(fryer)).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return knownValues{}, nil
	}
	if err != nil {
		return nil, err
	}
	var list []knownValue
	if err := json.Unmarshal([]byte(text), &list); err != nil {
		return nil, err
	}
	known := make(knownValues, len(list))
	for _, v := range list {
		known[v.Ref] = v
	}
	return known, nil
}

func (t *tx) saveKnown(fryer uuid.UUID, known knownValues) error {
	list := make([]knownValue, 0, len(known))
	for _, v := range known {
		list = append(list, v)
	}
	slices.SortFunc(list, func(a, b knownValue) int {
		return cmp.Or(cmp.Compare(a.Ref.Key, b.Ref.Key), cmp.Compare(a.Ref.Vat, b.Ref.Vat))
	})
	text, err := json.Marshal(list)
	if err != nil {
		return err
	}
	return t.exec(`INSERT INTO known (fryer_id, readings) VALUES (?, ?) ON CONFLICT (fryer_id) DO UPDATE SET readings = excluded.readings`,
		idText(fryer), string(text))
}

func (t *tx) noteEvent(e journal.Entry, b snapshot.Event) error {
	t.dirty[e.Subject] = true
	if b.Happened.After(e.At) {
		b.Happened = e.At // a watch that was ahead must not outdate what is read next
	}
	return t.exec(`INSERT INTO event (entry_id, fryer_id, what, happened, note, author) VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		e.ID.String(), idText(e.Subject), string(b.What), timeText(b.Happened), b.Note, idText(e.Author))
}

func (t *tx) tickLine(e journal.Entry, b snapshot.Ticked) error {
	t.dirty[e.Subject] = true
	if !b.Done {
		return t.exec(`DELETE FROM tick WHERE fryer_id = ? AND key = ? AND vat = ?`, idText(e.Subject), b.Ref.Key, b.Ref.Vat)
	}
	known, err := loadKnown(t, e.Subject)
	if err != nil || known[b.Ref].At.After(e.At) {
		return err // it comes late: the setting was read since
	}
	return t.exec(`INSERT INTO tick (fryer_id, key, vat, value, at, author) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (fryer_id, key, vat) DO UPDATE SET value = excluded.value, at = excluded.at, author = excluded.author`,
		idText(e.Subject), b.Ref.Key, b.Ref.Vat, string(b.Value), journal.FormatTime(e.At), idText(e.Author))
}
