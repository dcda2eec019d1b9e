package store

import (
	"context"
	"database/sql"
	"sync"

	"frywright/domain/access"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// sweepers is how many go through the fleet side by side.
const sweepers = 2

// Sweep compares the last known values of every fryer in use with what is expected, without regard to what is stored of
// how it stands, and says how many of them are stored otherwise.
func (s *Store) Sweep(ctx context.Context) (state.Sweep, error) {
	if err := need(ctx, access.SeeDesk, uuid.Nil); err != nil {
		return state.Sweep{}, err
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var (
		taking, counting sync.Mutex
		at               string
		all              state.Sweep
		failed           error
		work             sync.WaitGroup
	)
	next := func() (ids []uuid.UUID, err error) {
		taking.Lock()
		defer taking.Unlock()
		ids, err = collect(s.reader(ctx), `SELECT fryer_id FROM standing WHERE fryer_id > ? ORDER BY fryer_id LIMIT ?`, scanID, at, refreshPage)
		if len(ids) > 0 {
			at = ids[len(ids)-1].String()
		}
		return ids, err
	}
	for range sweepers {
		work.Go(func() {
			part, err := s.sweep(ctx, next)
			counting.Lock()
			defer counting.Unlock()
			all.Add(part)
			if err != nil && failed == nil {
				failed = err
				stop()
			}
		})
	}
	work.Wait()
	return all, failed
}

// sweep goes through the fryers that it is given, page after page.
func (s *Store) sweep(ctx context.Context, next func() ([]uuid.UUID, error)) (state.Sweep, error) {
	var part state.Sweep
	q := s.reader(ctx)
	l := s.layering(q)
	if err := l.forMany(); err != nil {
		return part, err
	}
	for {
		ids, err := next()
		if err != nil || len(ids) == 0 {
			return part, err
		}
		if err := ctx.Err(); err != nil {
			return part, err
		}
		all, err := loadAssessments(q, l, ids)
		if err != nil {
			return part, err
		}
		stored, err := storedStandings(q, ids)
		if err != nil {
			return part, err
		}
		now := s.now()
		for i := range all {
			a := &all[i]
			if a.placing.retired {
				continue
			}
			a.compare(now)
			st := a.standing()
			part.Count(&st, stored[a.placing.fryer] != briefly(&st))
		}
	}
}

// stands is what a sweep compares of a stored standing.
type stands struct {
	places, right, unknown, accepted, broken, worst int
	stale                                           bool
}

func briefly(st *state.Standing) stands {
	return stands{st.Places, st.Right, st.Unknown, st.Accepted, st.Broken, int(st.Worst()), !st.StaleSince.IsZero()}
}

func storedStandings(q querier, ids []uuid.UUID) (map[uuid.UUID]stands, error) {
	list, err := idList(ids)
	if err != nil {
		return nil, err
	}
	stored := make(map[uuid.UUID]stands, len(ids))
	rows, err := q.query(`SELECT t.fryer_id, t.places, t.matching, t.unknown, t.accepted, t.broken, t.worst, t.stale_since <> ''`+many+
		`standing t ON t.fryer_id = k.value`, list)
	err = each(rows, err, func(r *sql.Rows) error {
		var id uuid.UUID
		var x stands
		err := r.Scan(&id, &x.places, &x.right, &x.unknown, &x.accepted, &x.broken, &x.worst, &x.stale)
		stored[id] = x
		return err
	})
	return stored, err
}
