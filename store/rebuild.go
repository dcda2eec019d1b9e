package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"frywright/domain/entry"
	"frywright/domain/journal"

	"github.com/google/uuid"
)

// projections are the tables that the journal can make again.
var projections = []string{
	"customer", "site", "sheet", "model", "fryer", "layer", "layer_value", "acceptance", "site_rule", "person", "person_site",
	"snapshot", "event", "tick", "known", "standing",
}

// rebuildPage is how many entries are read at once.
const rebuildPage = 2000

// Rebuild drops the projections and replays the journal, in one transaction. It gives the number of entries replayed.
func (s *Store) Rebuild(ctx context.Context) (int, error) {
	replayed := 0
	err := s.inTx(ctx, func(t *tx) error {
		for _, table := range projections {
			if err := t.exec(`DELETE FROM ` + table); err != nil {
				return err
			}
		}
		t.lazy = true
		var err error
		if replayed, err = t.replay(); err != nil {
			return err
		}
		t.lazy = false
		return t.touch(`SELECT id FROM fryer`)
	})
	return replayed, err
}

// replay projects every entry that is not set aside, in the order of commit; one that was set aside and applied later
// comes where it was applied.
func (t *tx) replay() (int, error) {
	aside, late, err := t.aside()
	if err != nil {
		return 0, err
	}
	count, last := 0, int64(0)
	for {
		page, err := collect(t, `SELECT `+entryColumns+` FROM entry j WHERE j.seq > ? ORDER BY j.seq LIMIT ?`,
			func(r *sql.Rows) (journal.Entry, error) { return scanEntry(r) }, last, rebuildPage)
		if err != nil {
			return count, err
		}
		for _, e := range page {
			last = e.Seq
			due := late[e.Seq]
			if !aside[e.ID] {
				due = append([]journal.Entry{e}, due...)
			}
			for _, d := range due {
				if err := t.replayOne(d); err != nil {
					return count, err
				}
				count++
			}
		}
		if len(page) < rebuildPage {
			return count, nil
		}
	}
}

func (t *tx) replayOne(e journal.Entry) error {
	body, err := entry.Decode(e)
	if err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	return t.project(e, body)
}

// aside gives the entries that were set aside, and those of them that were applied later, in the order in which they were,
// by the entry they came after.
func (t *tx) aside() (aside map[uuid.UUID]bool, late map[int64][]journal.Entry, err error) {
	aside, late = map[uuid.UUID]bool{}, map[int64][]journal.Entry{}
	rows, err := t.query(`SELECT ` + entryColumns + `, q.outcome = 'applied', q.after_seq FROM quarantine q JOIN entry j ON j.id = q.entry_id ORDER BY q.settled_n`)
	err = each(rows, err, func(r *sql.Rows) error {
		var applied bool
		var after int64
		e, err := scanEntry(r, &applied, &after)
		aside[e.ID] = true
		if applied {
			late[after] = append(late[after], e)
		}
		return err
	})
	return aside, late, err
}

// Verify reads the whole journal and says what does not hold: a hash that does not match, a gap in a device's numbers.
func (s *Store) Verify(ctx context.Context) error {
	q := s.reader(ctx)
	last := map[uuid.UUID]int64{}
	rows, err := q.query(`SELECT ` + entryColumns + ` FROM entry j ORDER BY j.device, j.n`)
	var problems []error
	err = each(rows, err, func(r *sql.Rows) error {
		e, err := scanEntry(r)
		if err != nil {
			return err
		}
		if sum, err := e.Sum(); err != nil || sum != e.Hash {
			problems = append(problems, fmt.Errorf("entry %d: its hash does not match", e.Seq))
		}
		if e.N != last[e.Device]+1 {
			problems = append(problems, fmt.Errorf("device %s: after entry %d comes %d", e.Device, last[e.Device], e.N))
		}
		last[e.Device] = e.N
		return nil
	})
	return errors.Join(append(problems, err)...)
}
