package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/store"
)

// database is the name of the database file in the data folder.
const database = "frywright.db"

// openStore opens the database of the data folder, making both where they are missing.
func (e *environment) openStore() (*store.Store, error) {
	if err := os.MkdirAll(e.data, 0o750); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	return store.Open(e.ctx, store.Config{Path: filepath.Join(e.data, database), Now: e.now, NewID: newID})
}

// withData is withStore for commands that make no sense without a database: a folder mistyped must not become an empty one.
func (e *environment) withData(fn func(ctx context.Context, s *store.Store) error) error {
	if _, err := os.Stat(filepath.Join(e.data, database)); errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.NotFound, "There is no database in %s. Say with --data where it is.", e.data)
	}
	return e.withStore(fn)
}

// asOffice gives a context in which the program itself acts.
func asOffice(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Actor{Name: "the office", Role: access.Administrator, System: true})
}

// withStore opens the database, runs fn as the program itself, and closes it.
func (e *environment) withStore(fn func(ctx context.Context, s *store.Store) error) (err error) {
	s, err := e.openStore()
	if err != nil {
		return err
	}
	defer func() {
		if closeErr := s.Close(); err == nil {
			err = closeErr
		}
	}()
	return fn(asOffice(e.ctx), s)
}
