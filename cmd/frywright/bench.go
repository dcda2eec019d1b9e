package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"frywright/cmd/frywright/bench"
	"frywright/store"
)

type benchCommand struct {
	Part     string        `arg:"" help:"make (only the fleet), pages, write, standard, import, sweep, rebuild, start, all, soak, or table (of what --out saved)." enum:"make,pages,write,standard,import,sweep,rebuild,start,all,soak,table"`
	File     string        `arg:"" optional:"" help:"table: the file that --out named." type:"path"`
	Fryers   int           `help:"How many fryers: 1000, 10000 or 100000." default:"10000"`
	Seed     uint64        `help:"Another number makes another fleet." default:"7"`
	Dir      string        `help:"Where the invented fleets are kept; by default with what the user's programs keep." type:"path"`
	Out      string        `help:"Add the rows to this file too, tab-separated, for table." type:"path"`
	Span     time.Duration `help:"How long each page is asked for, at each number of users." default:"2s"`
	Only     string        `help:"pages: measure this page alone, as the table names it."`
	Requests int           `help:"soak: how many requests." default:"18000"`
	Rate     int           `help:"soak: how many a second; 0 for as many as can be." default:"300"`
}

// Run makes the fleet where it is not there yet, and measures.
func (c benchCommand) Run(e *environment) error {
	if c.Part == "table" {
		return bench.Table(e.out, c.File)
	}
	if c.Dir == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return fmt.Errorf("say with --dir where the fleets are kept: %w", err)
		}
		c.Dir = filepath.Join(cache, "frywright-bench")
	}
	host, err := e.benchHost()
	if err != nil {
		return err
	}
	r := &bench.Run{
		Host: host, Plan: bench.Plan{Seed: c.Seed, Fryers: c.Fryers}, Dir: c.Dir, File: c.Out, Only: c.Only, Span: c.Span, Requests: c.Requests, Rate: c.Rate,
	}
	folder, err := r.Make(e.ctx)
	if err != nil {
		return err
	}
	if c.Part == "make" {
		_, err = fmt.Fprintln(e.out, folder)
		return err
	}
	return r.Do(e.ctx, c.Part)
}

// benchHost is what the bench is given of the program. Requests are logged as ever, but to nowhere.
func (e *environment) benchHost() (bench.Host, error) {
	self, err := os.Executable()
	return bench.Host{
		Open: func(folder string) (*store.Store, error) {
			return store.Open(e.ctx, store.Config{Path: filepath.Join(folder, database), Now: e.now, NewID: newID})
		},
		Serve: func(ctx context.Context, l net.Listener, s *store.Store) (err error) {
			nowhere, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
			if err != nil {
				return err
			}
			defer func() { err = errors.Join(err, nowhere.Close()) }()
			x := *e
			x.log = slog.New(slog.NewTextHandler(nowhere, nil))
			return x.serve(ctx, l, s, false, nil)
		},
		Server: func(folder, address, meter string) *bench.Server {
			c := exec.Command(self, "--data", folder, "--log", "info", "serve", "--listen", address, "--metrics", meter) //nolint:noctx // it is asked to stop, not killed
			c.Stdout = io.Discard
			return &bench.Server{Command: c, Base: "http://" + address, Meter: "http://" + meter + "/metrics", Log: filepath.Join(folder, "log")}
		},
		Office: asOffice, NewID: newID, Database: database, Out: e.out,
	}, err
}
