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

// aside gives the entries that were set aside, and those of them that were applied later, by the entry they came after.
func (t *tx) aside() (aside map[uuid.UUID]bool, late map[int64][]journal.Entry, err error) {
	aside, late = map[uuid.UUID]bool{}, map[int64][]journal.Entry{}
	ids, err := collect(t, `SELECT entry_id FROM quarantine`, func(r *sql.Rows) (uuid.UUID, error) {
		var id uuid.UUID
		err := r.Scan(&id)
		return id, err
	})
	if err != nil {
		return nil, nil, err
	}
	for _, id := range ids {
		aside[id] = true
		var after int64
		err := t.row(`SELECT after_seq FROM quarantine WHERE entry_id = ? AND outcome = 'applied'`, id.String()).Scan(&after)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return nil, nil, err
		}
		e, err := scanEntry(t.row(`SELECT `+entryColumns+` FROM entry j WHERE j.id = ?`, id.String()))
		if err != nil {
			return nil, nil, err
		}
		late[after] = append(late[after], e)
	}
	return aside, late, nil
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

// Backup writes a copy of the database, as of one moment, to a new file while the store is in use.
func (s *Store) Backup(ctx context.Context, path string) error {
	_, err := s.sessions.ExecContext(ctx, `VACUUM INTO ?`, path)
	if err != nil {
		return fmt.Errorf("back up: %w", err)
	}
	return nil
}
