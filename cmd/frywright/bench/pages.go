package bench

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"time"
)

// manyUsers is how many ask at once where it is busy.
const manyUsers = 32

// turns is how often page and floor take turns, so that what else the machine does falls on both.
const turns = 4

// pages measures every page for one user and for many, and all of them while somebody writes.
func (r *Run) pages(ctx context.Context) (rows []Row, err error) {
	err = r.served(ctx, func(x *site) error {
		for _, p := range x.kinds {
			if r.Only != "" && r.Only != p.name {
				continue
			}
			more, err := r.page(ctx, x, p)
			if err != nil {
				return fmt.Errorf("%s: %w", p.name, err)
			}
			rows = append(rows, more...)
		}
		if r.Only != "" {
			return r.measuredOnly(rows)
		}
		more, err := r.whileWriting(ctx, x)
		rows = append(rows, more...)
		return err
	})
	return rows, err
}

// measuredOnly complains where there is no page of the name that was asked for.
func (r *Run) measuredOnly(rows []Row) error {
	if len(rows) == 0 {
		return fmt.Errorf("there is no page %q", r.Only)
	}
	return nil
}

// page measures one page beside its floor.
func (r *Run) page(ctx context.Context, x *site, p page) (rows []Row, err error) {
	f, err := newFloor(ctx, x.caller, p.next)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.close()) }()
	for _, users := range []int{1, manyUsers} {
		warm, err := x.caller.driveFor(ctx, users, r.Span/(2*turns), p.next) // caches and connections
		if err != nil {
			return rows, err
		}
		full, bare := newTally(), newTally()
		for range turns {
			if warm.took > r.Span && full.n() > 0 {
				break // a page so slow that one turn is as long as all of them are meant to be
			}
			if err := r.turn(ctx, x, users, full, p.next); err != nil {
				return nil, err
			}
			if err := r.turn(ctx, x, users, bare, f.next(p.next)); err != nil {
				return nil, err
			}
		}
		rows = append(rows, compare(p.name, users, full, bare, "a bare handler that writes the same bytes")...)
	}
	return rows, nil
}

func (r *Run) turn(ctx context.Context, x *site, users int, into *tally, next func(*rand.Rand) hit) error {
	t, err := x.caller.driveFor(ctx, users, r.Span/turns, next)
	if err == nil {
		into.add(t)
	}
	return err
}

// compare makes the rows of a drive beside its floor.
func compare(what string, users int, full, bare *tally, how string) []Row {
	row := func(measure, unit string, figure, floor float64) Row {
		return Row{What: what, Users: users, Measure: measure, Unit: unit, Figure: figure, Floor: floor, N: full.n(), How: how}
	}
	return []Row{
		row("p50", "ms", full.millis(50), bare.millis(50)), row("p99", "ms", full.millis(99), bare.millis(99)),
		row("rate", "requests/s", full.rate(), bare.rate()), row("size", "kB", full.size()/1000, bare.size()/1000),
	}
}

// whileWriting measures all pages mixed for many users while one more saves values without a pause; the floor is the same
// mix while nobody writes.
func (r *Run) whileWriting(ctx context.Context, x *site) ([]Row, error) {
	next := mixed(x.kinds)
	quiet, busy, writes := newTally(), newTally(), 0
	for range turns {
		if err := r.turn(ctx, x, manyUsers, quiet, next); err != nil {
			return nil, err
		}
		n, err := r.amidWrites(ctx, x, busy, next)
		if err != nil {
			return nil, err
		}
		writes += n
	}
	how := fmt.Sprintf("the same while nobody writes; %d values were saved meanwhile", writes)
	return compare("all, while one writes", manyUsers, busy, quiet, how), nil
}

// amidWrites drives for a turn while one more user saves values; it gives how many.
func (r *Run) amidWrites(ctx context.Context, x *site, into *tally, next func(*rand.Rand) hit) (int, error) {
	done := make(chan struct{})
	type result struct {
		t   *tally
		err error
	}
	written := make(chan result, 1)
	go func() {
		t, err := x.caller.drive(ctx, 1, x.saveValue, done)
		written <- result{t, err}
	}()
	began := time.Now()
	err := r.turn(ctx, x, manyUsers, into, next)
	close(done)
	w := <-written
	if err = errors.Join(err, w.err); err != nil {
		return 0, fmt.Errorf("after %s: %w", since(began), err)
	}
	return w.t.n(), nil
}
