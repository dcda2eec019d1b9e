package store

import (
	"context"
	"database/sql"
	"time"

	"frywright/domain/access"
	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// Assessment gives how a fryer's last known values stand, with everything behind it.
func (s *Store) Assessment(ctx context.Context, fryer uuid.UUID) (state.Assessment, error) {
	f, err := s.Fryer(ctx, fryer)
	if err != nil {
		return state.Assessment{}, err
	}
	if err := need(ctx, access.SeeSettings, f.SiteID); err != nil {
		return state.Assessment{}, err
	}
	q := s.reader(ctx)
	l := s.layering(q)
	a, err := assess(q, l, fryer, s.now())
	if err != nil {
		return state.Assessment{}, err
	}
	out := state.Assessment{
		Fryer: f, Expected: a.expected, Result: a.result, Ticks: a.ticks, Rules: a.rules, LastID: a.last.id,
		ReadAt: make(map[sheet.Ref]time.Time, len(a.known)),
	}
	for ref := range a.values {
		out.ReadAt[ref] = a.known[ref].At
	}
	c := a.result.Counts()
	if c.Worst() > 0 {
		out.Cause, err = a.weigh(l)
	}
	return out, err
}

const snapshotColumns = `x.id, x.fryer_id, x.site_id, x.purpose, x.begun, x.finished, x.dropped, x.author, coalesce(p.name, ''), x.readings, x.note`

func scanSnapshot(r interface{ Scan(...any) error }) (snapshot.Snapshot, error) {
	var x snapshot.Snapshot
	var packed []byte
	err := r.Scan(&x.ID, &x.Fryer, &x.Site, &x.Purpose, timeOf{&x.Begun}, timeOf{&x.Finished}, &x.Dropped, &x.Author, &x.AuthorName, &packed, &x.Note)
	if err != nil {
		return x, err
	}
	stored, err := unpackReadings(packed)
	x.Readings = make(map[sheet.Ref]snapshot.Reading, len(stored))
	for ref, r := range stored {
		x.Readings[ref] = r.Reading
	}
	return x, err
}

// Snapshot gives one reading.
func (s *Store) Snapshot(ctx context.Context, id uuid.UUID) (snapshot.Snapshot, error) {
	site, err := s.SiteOfReading(ctx, id)
	if err != nil {
		return snapshot.Snapshot{}, err
	}
	if err := need(ctx, access.SeeSettings, site); err != nil {
		return snapshot.Snapshot{}, err
	}
	x, err := scanSnapshot(s.reader(ctx).row(`SELECT `+snapshotColumns+` FROM snapshot x LEFT JOIN person p ON p.id = x.author WHERE x.id = ?`, idText(id)))
	return x, orNotFound(err)
}

// ReadingResult gives what one reading says against what is expected today, and the odds of what happened.
func (s *Store) ReadingResult(ctx context.Context, id uuid.UUID) (state.ReadingResult, error) {
	x, err := s.Snapshot(ctx, id)
	if err != nil {
		return state.ReadingResult{}, err
	}
	f, err := s.Fryer(ctx, x.Fryer)
	if err != nil {
		return state.ReadingResult{}, err
	}
	q := s.reader(ctx)
	l := s.layering(q)
	at := x.Finished
	if at.IsZero() {
		at = s.now()
	}
	a, err := assess(q, l, x.Fryer, at)
	if err != nil {
		return state.ReadingResult{}, err
	}
	a.values = x.Values()
	a.result = drift.Compare(a.expected, a.values, a.accepted, a.rules, at)
	if a.last, a.before, err = lastBefore(q, x, at); err != nil {
		return state.ReadingResult{}, err
	}
	out := state.ReadingResult{Fryer: f, Snapshot: x, Expected: a.expected, Result: a.result}
	out.Cause, err = a.weigh(l)
	return out, err
}

// lastBefore makes a reading the last one, and gives when the one before it was finished.
func lastBefore(q querier, x snapshot.Snapshot, at time.Time) (last snapshotRow, before time.Time, err error) {
	err = q.row(`SELECT coalesce(max(finished), '') FROM snapshot WHERE fryer_id = ? AND finished <> '' AND known > 0 AND finished < ?`,
		idText(x.Fryer), timeText(at)).Scan(timeOf{&before})
	return snapshotRow{id: x.ID, purpose: x.Purpose, finished: at}, before, err
}

// Readings lists the finished readings of a fryer, the latest first.
func (s *Store) Readings(ctx context.Context, fryer uuid.UUID, limit int) ([]state.Reading, error) {
	q := s.reader(ctx)
	p, err := loadPlacing(q, fryer)
	if err != nil {
		return nil, err
	}
	if err := need(ctx, access.SeeSettings, p.site); err != nil {
		return nil, err
	}
	a, err := assess(q, s.layering(q), fryer, s.now())
	if err != nil {
		return nil, err
	}
	return collect(q, `SELECT `+snapshotColumns+` FROM snapshot x LEFT JOIN person p ON p.id = x.author
		WHERE x.fryer_id = ? AND x.finished <> '' ORDER BY x.finished DESC, x.begun DESC, x.id DESC LIMIT ?`, func(r *sql.Rows) (state.Reading, error) {
		x, err := scanSnapshot(r)
		if err != nil {
			return state.Reading{}, err
		}
		values := x.Values()
		result := drift.Compare(a.expected, values, nil, a.rules, x.Finished)
		counts := result.Counts()
		return state.Reading{
			ID: x.ID, Purpose: x.Purpose, Begun: x.Begun, Finished: x.Finished, By: x.AuthorName, Known: len(values),
			Wrong: counts.Drifted + counts.Broken,
		}, nil
	}, idText(fryer), limit)
}
