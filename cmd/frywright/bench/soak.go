package bench

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"sync/atomic"
	"time"
)

// Of so many requests of a soak one saves a value and one writes a note.
const (
	everyValue = 20
	everyNote  = 50
)

// sampleEvery is how often a soak looks at the process; a short one looks samplesLeast times at least.
const (
	sampleEvery  = 5 * time.Second
	samplesLeast = 30
)

// sample is how the process stood at a moment.
type sample struct {
	resident, own, handles, goroutines float64
}

// soak lets reads and writes come in at a rate, over the real program in a process of its own, and tells whether it grows.
func (r *Run) soak(ctx context.Context) (rows []Row, err error) {
	err = r.copied(ctx, func(folder string) error {
		return r.asked(ctx, folder, func(s *Server, x *site) error {
			// What fills up once, connections and caches, is full before anything is watched.
			if _, err := x.caller.driveFor(ctx, manyUsers, 4*r.Span, mixed(x.kinds)); err != nil {
				return err
			}
			watched, stop := context.WithCancel(ctx)
			samples := make(chan []sample, 1)
			failed := make(chan error, 1)
			go func() {
				list, err := s.watch(watched, r.gap())
				samples <- list
				failed <- err
			}()
			t, err := r.pour(ctx, x)
			stop()
			list := <-samples
			if err = errors.Join(err, <-failed); err != nil {
				return err
			}
			rows = soaked(t, list)
			return nil
		})
	})
	return rows, err
}

func (r *Run) gap() time.Duration {
	if r.Rate == 0 {
		return sampleEvery / 10
	}
	return min(sampleEvery, time.Duration(r.Requests/r.Rate)*time.Second/samplesLeast)
}

// watch looks at the process every while, until the context ends.
func (s *Server) watch(ctx context.Context, gap time.Duration) (list []sample, err error) {
	tick := time.NewTicker(max(gap, time.Millisecond))
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return list, nil
		case <-tick.C:
		}
		sizes, err := s.status("VmRSS", "RssAnon")
		if err != nil {
			return list, err
		}
		handles, err := s.handles()
		if err != nil {
			return list, err
		}
		goroutines, err := s.goroutines(context.WithoutCancel(ctx))
		if err != nil {
			return list, err
		}
		list = append(list, sample{sizes["VmRSS"], sizes["RssAnon"], float64(handles), goroutines})
	}
}

// pour sends the requests, each at its moment; where all users are busy it comes late, and how late counts as its time.
func (r *Run) pour(ctx context.Context, x *site) (*tally, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var sent atomic.Int64
	var wait sync.WaitGroup
	next, began := x.soaking(), time.Now()
	tallies := make([]*tally, manyUsers)
	for i := range tallies {
		tallies[i] = newTally()
		wait.Go(func() {
			rnd := rand.New(rand.NewPCG(r.Seed, uint64(i)))
			for n := sent.Add(1); n <= int64(r.Requests) && ctx.Err() == nil; n = sent.Add(1) {
				if err := r.drop(ctx, x, tallies[i], next(rnd, n), r.moment(began, n)); err != nil {
					cancel(err)
				}
			}
		})
	}
	wait.Wait()
	all := newTally()
	for _, t := range tallies {
		all.add(t)
	}
	all.took = time.Since(began)
	return all, context.Cause(ctx)
}

// moment gives when the request n is to be sent; the zero time for at once.
func (r *Run) moment(began time.Time, n int64) time.Time {
	if r.Rate == 0 {
		return time.Time{}
	}
	return began.Add(time.Duration(float64(n) / float64(r.Rate) * float64(time.Second)))
}

func (r *Run) drop(ctx context.Context, x *site, t *tally, h hit, due time.Time) error {
	if due.IsZero() {
		due = time.Now()
	}
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(time.Until(due)):
	}
	n, err := x.caller.call(ctx, h)
	if err != nil {
		return err
	}
	return t.note(time.Since(due), n)
}

// soaking mixes the pages with what writes.
func (s *site) soaking() func(rnd *rand.Rand, n int64) hit {
	read := mixed(s.kinds)
	return func(rnd *rand.Rand, n int64) hit {
		switch {
		case n%everyNote == 0:
			return s.writeNote(rnd)
		case n%everyValue == 1:
			return s.saveValue(rnd)
		default:
			return read(rnd)
		}
	}
}

// soaked puts the thirds of a soak beside each other: the figure is of the last third, the floor of the first.
func soaked(t *tally, list []sample) []Row {
	rows := []Row{
		{What: "requests", Users: manyUsers, Measure: "rate", Unit: "requests/s", Figure: t.rate(), N: t.n(), How: fmt.Sprintf("in %s", t.took.Round(time.Second))},
		{What: "requests", Users: manyUsers, Measure: "p50", Unit: "ms", Figure: t.millis(50), N: t.n(), How: "from the moment when it was due"},
		{What: "requests", Users: manyUsers, Measure: "p99", Unit: "ms", Figure: t.millis(99), N: t.n(), How: "from the moment when it was due"},
	}
	third := len(list) / 3
	if third == 0 {
		return rows
	}
	for _, w := range []struct {
		what, unit string
		of         func(sample) float64
	}{
		{"resident memory", "MB", func(s sample) float64 { return s.resident }}, {"its own memory", "MB", func(s sample) float64 { return s.own }},
		{"open files and sockets", "", func(s sample) float64 { return s.handles }}, {"goroutines", "", func(s sample) float64 { return s.goroutines }},
	} {
		first, middle, last := mean(list[:third], w.of), mean(list[third:len(list)-third], w.of), mean(list[len(list)-third:], w.of)
		if last == 0 {
			continue // it is not counted
		}
		rows = append(rows, Row{
			What: w.what, Measure: "mean", Unit: w.unit, Figure: last, Floor: first, N: len(list),
			How: fmt.Sprintf("the last third beside the first; between them %s: %s", short(middle), grew(first, middle, last)),
		})
	}
	return rows
}

func mean(list []sample, of func(sample) float64) float64 {
	sum := 0.0
	for _, s := range list {
		sum += of(s)
	}
	return sum / float64(len(list))
}

// grew says whether something grew all through a soak. What rises in the first third and then stays was filled, not lost.
func grew(first, middle, last float64) string {
	const much = 1.05
	switch {
	case last > middle*much && middle > first*much:
		return "it grew"
	case last > middle*much:
		return "it grew at the end"
	case last > first*much:
		return "it rose and stayed"
	default:
		return "it did not grow"
	}
}
