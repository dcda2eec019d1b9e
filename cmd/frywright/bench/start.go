package bench

import (
	"context"
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// starts is how often the program is started.
const starts = 5

// start measures starting the program over the fleet, its memory, and the size of the database.
func (r *Run) start(ctx context.Context) (rows []Row, err error) {
	var empty, full, rested, busy []float64
	err = r.scratch(func(folder string) error {
		empty, _, err = r.startOften(ctx, folder)
		return err
	})
	if err != nil {
		return nil, err
	}
	var size []Row
	err = r.copied(ctx, func(folder string) error {
		if full, rested, err = r.startOften(ctx, folder); err != nil {
			return err
		}
		if busy, err = r.busyMemory(ctx, folder); err != nil {
			return err
		}
		size, err = r.fileSize(ctx, folder)
		return err
	})
	if err != nil {
		return nil, err
	}
	return append([]Row{
		{What: "start until it is well", Measure: "median", Unit: "ms", Figure: median(full), Floor: median(empty), N: starts, How: "the same over an empty database"},
		{What: "resident after the start", Measure: "size", Unit: "MB", Figure: median(rested), N: starts},
		{What: "resident under load", Users: manyUsers, Measure: "most", Unit: "MB", Figure: busy[0], N: int(busy[2]), How: "of the process, the pages of the file that it maps included"},
		{What: "its own memory under load", Users: manyUsers, Measure: "size", Unit: "MB", Figure: busy[1], N: int(busy[2]), How: "without the pages of the file that it maps"},
	}, size...), nil
}

func median(list []float64) float64 {
	list = slices.Sorted(slices.Values(list))
	return list[len(list)/2]
}

// startOften starts and stops the program; it gives the times in ms and the resident memory in MB. The first start, which may
// make the database, does not count.
func (r *Run) startOften(ctx context.Context, folder string) (times, resident []float64, err error) {
	for i := range starts + 1 {
		err := r.running(ctx, folder, func(s *Server, took time.Duration) error {
			sizes, err := s.status("VmRSS")
			if err == nil && i > 0 {
				times = append(times, float64(took.Microseconds())/1000)
				resident = append(resident, sizes["VmRSS"])
			}
			return err
		})
		if err != nil {
			return nil, nil, err
		}
	}
	return times, resident, nil
}

// running gives fn the program at work over a data folder, and stops it afterwards.
func (r *Run) running(ctx context.Context, folder string, fn func(*Server, time.Duration) error) error {
	address, meter, err := freeAddresses()
	if err != nil {
		return err
	}
	s := r.Server(folder, address, meter)
	took, err := s.begin(ctx)
	if err != nil {
		return err
	}
	return errors.Join(fn(s, took), s.stop())
}

// busyMemory lets many users ask for all pages; it gives the most resident memory, the memory of the process alone, both in MB,
// and the number of requests.
func (r *Run) busyMemory(ctx context.Context, folder string) (found []float64, err error) {
	err = r.asked(ctx, folder, func(s *Server, x *site) error {
		t, err := x.caller.driveFor(ctx, manyUsers, 4*r.Span, mixed(x.kinds))
		if err != nil {
			return err
		}
		sizes, err := s.status("VmHWM", "RssAnon")
		found = []float64{sizes["VmHWM"], sizes["RssAnon"], float64(t.n())}
		return err
	})
	return found, err
}

// asked gives fn the program at work over a data folder, with everybody signed in there.
func (r *Run) asked(ctx context.Context, folder string, fn func(*Server, *site) error) error {
	cast, err := r.casting(ctx, folder)
	if err != nil {
		return err
	}
	return r.running(ctx, folder, func(s *Server, _ time.Duration) error {
		c := newCaller(manyUsers)
		defer c.close()
		session, err := signIn(ctx, c, s.Base)
		if err != nil {
			return err
		}
		return fn(s, &site{folder: folder, caller: c, session: session, cast: cast, kinds: session.pages(cast)})
	})
}

// casting looks for what the pages are asked about before the program opens the database for itself alone.
func (r *Run) casting(ctx context.Context, folder string) (*cast, error) {
	s, err := r.Open(folder)
	if err != nil {
		return nil, err
	}
	c, err := newCast(r.Office(ctx), s, r.Seed)
	return c, errors.Join(err, s.Close())
}

// fileSize tells the size of the database file; the floor is what the bodies of the entries are long.
func (r *Run) fileSize(ctx context.Context, folder string) ([]Row, error) {
	file := filepath.Join(folder, r.Database)
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	var n, bodies int64
	err = bareAt(file, func(db *sql.DB) error {
		return db.QueryRowContext(ctx, `SELECT count(*), sum(length(body)) FROM entry`).Scan(&n, &bodies)
	})
	if err != nil {
		return nil, err
	}
	const how = "the bodies of the entries alone, as they are stored"
	return []Row{
		{What: "database", Measure: "size", Unit: "MB", Figure: float64(info.Size()) / 1e6, Floor: float64(bodies) / 1e6, N: int(n), How: how},
		{What: "database, an entry", Measure: "size", Unit: "bytes", Figure: float64(info.Size()) / float64(n), Floor: float64(bodies) / float64(n), N: int(n), How: how},
	}, nil
}
