package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"frywright/domain/access"
	"frywright/store"
)

// database is the name of the database file in the data folder.
const database = "frywright.db"

// openStore opens the database of the data folder, making both where they are missing.
func (e *environment) openStore() (*store.Store, error) {
	if err := os.MkdirAll(e.data, 0o750); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	return store.Open(e.ctx, store.Config{Path: filepath.Join(e.data, database), Now: now, NewID: newID})
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
