package bench

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"time"

	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/store"

	"github.com/google/uuid"
)

// readersBeside is how many users ask for pages while a standard changes.
const readersBeside = 8

// changes is how often the standard is changed.
const changes = 3

// standard measures a change of the large customer's standard, which touches a tenth of the fleet, and what the change does
// to those who read meanwhile.
func (r *Run) standard(ctx context.Context) (rows []Row, err error) {
	err = r.served(ctx, func(x *site) error {
		next := mixed(x.kinds)
		quiet, err := x.caller.driveFor(ctx, readersBeside, r.Span, next)
		if err != nil {
			return err
		}
		busy, took, touched, err := r.change(ctx, x, next)
		if err != nil {
			return err
		}
		began := time.Now()
		waited, err := x.store.Recheck(r.Office(ctx))
		if err != nil {
			return err
		}
		left := float64(time.Since(began).Microseconds()) / 1000
		bare, err := r.bareUpdates(ctx, x)
		if err != nil {
			return err
		}
		what := "change a customer's standard"
		rows = []Row{
			{What: what, Measure: "median", Unit: "ms", Figure: took, Floor: bare, N: changes, How: fmt.Sprintf("touches %d fryers; floor: a bare update of their standings", touched)},
			{What: "what the changes left to the recheck", Measure: "once", Unit: "ms", Figure: left, Floor: bare, N: max(1, waited), How: fmt.Sprintf("%d fryers whose odds waited; floor: as above", waited)},
			{What: "pages meanwhile", Users: readersBeside, Measure: "p99", Unit: "ms", Figure: busy.millis(99), Floor: quiet.millis(99), N: busy.n(), How: "the same while nothing changes"},
			{What: "pages meanwhile", Users: readersBeside, Measure: "max", Unit: "ms", Figure: busy.max(), Floor: quiet.max(), N: busy.n(), How: "the same while nothing changes"},
		}
		return nil
	})
	return rows, err
}

// change changes the standard while others read; it gives what they met, how long a change took in ms, and how many fryers
// it touched.
func (r *Run) change(ctx context.Context, x *site, next func(*rand.Rand) hit) (busy *tally, took float64, touched int, err error) {
	office := r.Office(ctx)
	of, sh, err := largeStandard(office, x.store)
	if err != nil {
		return nil, 0, 0, err
	}
	done := make(chan struct{})
	type result struct {
		t   *tally
		err error
	}
	read := make(chan result, 1)
	go func() {
		t, err := x.caller.drive(ctx, readersBeside, next, done)
		read <- result{t, err}
	}()
	var times []float64
	for i := range changes {
		b := standard.Changed{
			Level: standard.OfCustomer, Of: of, Sheet: sh, Why: "A new menu.",
			Set: []standard.Value{{Ref: sheet.Ref{Key: "p1.cook"}, Value: sheet.Num(float64(300 + 10*i))}},
		}
		var preview int
		if preview, err = r.changeOnce(office, x.store, b, &times); err != nil {
			break
		}
		touched = preview
	}
	close(done)
	w := <-read
	slices.Sort(times)
	if err = errors.Join(err, w.err); err != nil {
		return nil, 0, 0, err
	}
	return w.t, times[len(times)/2], touched, nil
}

// changeOnce changes a standard and gives how many fryers it holds for.
func (r *Run) changeOnce(ctx context.Context, s *store.Store, b standard.Changed, times *[]float64) (int, error) {
	_, version, err := s.Layer(ctx, b.Level, b.Of, b.Sheet)
	if err != nil {
		return 0, err
	}
	began := time.Now()
	_, err = s.Record(ctx, journal.Draft{Subject: standard.LayerID(b.Level, b.Of, b.Sheet), Base: version, Body: b})
	*times = append(*times, float64(time.Since(began).Microseconds())/1000)
	return r.Fryers / largeShare, err
}

// largeStandard gives the large customer and the sheet of all of its fryers.
func largeStandard(ctx context.Context, s *store.Store) (of, sh uuid.UUID, err error) {
	customers, err := s.Customers(ctx)
	if err != nil {
		return of, sh, err
	}
	i := slices.IndexFunc(customers, func(c fleet.Customer) bool { return c.Code == largeCode })
	sheets, err := s.Sheets(ctx)
	if err != nil {
		return of, sh, err
	}
	j := slices.IndexFunc(sheets, func(s *sheet.Sheet) bool { return s.Code == largeSheet })
	if i < 0 || j < 0 {
		return of, sh, errors.New("the large customer is not there")
	}
	return customers[i].ID, sheets[j].ID, nil
}

// bareUpdates gives the median time in ms of writing as many rows of the same table anew, and nothing else.
func (r *Run) bareUpdates(ctx context.Context, x *site) (float64, error) {
	var times []float64
	err := bareAt(filepath.Join(x.folder, r.Database), func(db *sql.DB) error {
		for range changes {
			began := time.Now()
			res, err := db.ExecContext(ctx, `UPDATE standing SET matching = matching + 1 WHERE fryer_id IN
				(SELECT f.id FROM fryer f JOIN site s ON s.id = f.site_id JOIN customer c ON c.id = s.customer_id WHERE c.code = ?)`, largeCode)
			if err != nil {
				return err
			}
			if n, err := res.RowsAffected(); err != nil || int(n) != r.Fryers/largeShare {
				return errors.Join(err, fmt.Errorf("%d standings, not %d", n, r.Fryers/largeShare))
			}
			times = append(times, float64(time.Since(began).Microseconds())/1000)
		}
		return nil
	})
	slices.Sort(times)
	if err != nil {
		return 0, err
	}
	return times[len(times)/2], nil
}
