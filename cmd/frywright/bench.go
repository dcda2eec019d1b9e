package main

import (
	"fmt"
	"os"
	"path/filepath"

	"frywright/cmd/frywright/bench"
	"frywright/store"
)

type benchCommand struct {
	Part   string `arg:"" help:"What to do: make." enum:"make"`
	Fryers int    `help:"How many fryers: 1000, 10000 or 100000." default:"10000"`
	Seed   uint64 `help:"Another number makes another fleet." default:"7"`
	Dir    string `help:"Where the invented fleets are kept." type:"path"`
}

// Run makes the fleet where it is not there yet, and measures.
func (c benchCommand) Run(e *environment) error {
	if c.Dir == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return fmt.Errorf("say with --dir where the fleets are kept: %w", err)
		}
		c.Dir = filepath.Join(cache, "frywright-bench")
	}
	r := &bench.Run{Host: e.benchHost(), Plan: bench.Plan{Seed: c.Seed, Fryers: c.Fryers}, Dir: c.Dir}
	folder, err := r.Make(e.ctx)
	if err == nil {
		_, err = fmt.Fprintln(e.out, folder)
	}
	return err
}

// benchHost is what the bench is given of the program.
func (e *environment) benchHost() bench.Host {
	return bench.Host{
		Open: func(folder string) (*store.Store, error) {
			return store.Open(e.ctx, store.Config{Path: filepath.Join(folder, database), Now: e.now, NewID: newID})
		},
		Office:   asOffice,
		Database: database, Out: e.out,
	}
}
