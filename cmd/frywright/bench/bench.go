// Package bench measures the program at fleet scale: it invents a fleet once, and measures pages, imports, changes of
// standards, rebuilding and starting over it, each beside a floor from the same run. What it serves and opens is handed in
// by the command; it must not have a server or a database of its own making besides the floors.
package bench

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"time"

	"frywright/store"

	"github.com/google/uuid"
)

// Host is what the bench is given of the program that it measures.
type Host struct {
	Open     func(folder string) (*store.Store, error)               // opens the database of a data folder as the server does
	Serve    func(context.Context, net.Listener, *store.Store) error // serves it as the server does, until the context ends
	Server   func(folder, address, meter string) *Server             // the program itself over a data folder, in a process of its own, not begun yet
	Office   func(context.Context) context.Context                   // gives a context in which the program itself acts
	NewID    func() uuid.UUID
	Database string // name of the database file in a data folder
	Out      io.Writer
}

// Run is one run of the bench.
type Run struct {
	Host
	Plan
	Dir      string        // where fleets are kept
	File     string        // where rows are added; empty: nowhere
	Only     string        // pages: the one page that is measured; empty: all
	Span     time.Duration // how long a page is asked for, at each number of users
	Requests int           // soak: how many
	Rate     int           // soak: how many a second; 0: as many as can be
}

// patience is how long a part of a server may take before it counts as stuck.
const patience = 30 * time.Second

// part is one part of the bench; it gives what it measured.
type part struct {
	name string
	run  func(*Run, context.Context) ([]Row, error)
}

// parts are in the order in which all of them run; a soak runs only where it is named.
var parts = []part{
	{"pages", (*Run).pages}, {"write", (*Run).write}, {"standard", (*Run).standard}, {"import", (*Run).imports}, {"sweep", (*Run).sweep},
	{"rebuild", (*Run).rebuild}, {"start", (*Run).start},
}

// Do runs a part, or all of them, prints what it measured and saves it.
func (r *Run) Do(ctx context.Context, name string) error {
	for _, p := range append(parts, part{"soak", (*Run).soak}) {
		if p.name != name && (name != "all" || p.name == "soak") {
			continue
		}
		rows, err := p.run(r, ctx)
		if err != nil {
			err = fmt.Errorf("%s: %w", p.name, err)
		}
		for i := range rows {
			rows[i].Part, rows[i].Fryers = p.name, r.Fryers
		}
		if told := r.report(rows); err != nil || told != nil { // what was measured before something went wrong counts
			return errors.Join(err, told)
		}
	}
	return nil
}

// report prints and saves rows.
func (r *Run) report(rows []Row) error {
	if len(rows) == 0 {
		return nil
	}
	err := list(r.Out, rows)
	if r.File != "" {
		err = errors.Join(err, save(r.File, rows))
	}
	return err
}

// copied gives fn a data folder with a copy of the fleet, to be written to, and throws it away afterwards.
func (r *Run) copied(ctx context.Context, fn func(folder string) error) (err error) {
	from, err := r.Make(ctx)
	if err != nil {
		return err
	}
	return r.scratch(func(folder string) error {
		if err := copyFile(filepath.Join(from, r.Database), filepath.Join(folder, r.Database)); err != nil {
			return err
		}
		return fn(folder)
	})
}

// scratch gives fn an empty folder beside the fleets and throws it away afterwards.
func (r *Run) scratch(fn func(folder string) error) (err error) {
	if err := os.MkdirAll(r.Dir, 0o750); err != nil {
		return err
	}
	folder, err := os.MkdirTemp(r.Dir, "run-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	return fn(folder)
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close() //nolint:errcheck // it was only read
	out, err := os.Create(to)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}

// opened gives fn the store of a copy of the fleet.
func (r *Run) opened(ctx context.Context, fn func(s *store.Store, folder string) error) error {
	return r.copied(ctx, func(folder string) (err error) {
		s, err := r.Open(folder)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.Close()) }()
		return fn(s, folder)
	})
}

// site is the real server over a copy of the fleet, in this process, with everybody signed in.
type site struct {
	store  *store.Store
	folder string
	caller *caller
	*session
	cast  *cast
	kinds []page
}

// served gives fn the real server over a copy of the fleet, over real connections.
func (r *Run) served(ctx context.Context, fn func(*site) error) error {
	return r.opened(ctx, func(s *store.Store, folder string) error {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return err
		}
		serving, stop := context.WithCancel(r.Office(ctx))
		ended := make(chan error, 1)
		go func() { ended <- r.Serve(serving, l, s) }()
		c := newCaller(manyUsers)
		err = r.signedIn(ctx, &site{store: s, folder: folder, caller: c}, "http://"+l.Addr().String(), fn)
		c.close()
		stop()
		return errors.Join(err, <-ended)
	})
}

func (r *Run) signedIn(ctx context.Context, x *site, base string, fn func(*site) error) (err error) {
	if x.session, err = signIn(ctx, x.caller, base); err != nil {
		return err
	}
	if x.cast, err = newCast(r.Office(ctx), x.store, r.Seed); err != nil {
		return err
	}
	x.kinds = x.session.pages(x.cast)
	return fn(x)
}
