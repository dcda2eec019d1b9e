package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/store"

	"github.com/gofrs/flock"
)

// What lies in the data folder.
const (
	database = "frywright.db"
	lockFile = "frywright.lock" // held while a process may write; its text is that process, and nothing after a clean stop
)

// alone runs fn while no other process may write in the data folder. The system drops the lock with the process, however
// it ends; the text it leaves then says that it did not stop cleanly.
func (e *environment) alone(fn func(unclean bool) error) (err error) {
	if err := os.MkdirAll(e.data, 0o750); err != nil {
		return fault.Wrap(err, fault.Unavailable, "The folder %s cannot be made. Make it, or let this user write there.", e.data)
	}
	name := filepath.Join(e.data, lockFile)
	lock := flock.New(name)
	held, err := lock.TryLock()
	if err != nil {
		return fault.Wrap(err, fault.Unavailable, "The folder %s cannot be written to. Nothing was changed. Look at whose it is, and whether its disk is mounted for reading only.", e.data)
	}
	if !held {
		return inUse(e.data, name)
	}
	defer func() { err = errors.Join(err, lock.Unlock()) }()
	left, err := os.ReadFile(name)
	if err != nil {
		return fmt.Errorf("read %s: %w", name, err)
	}
	if err := os.WriteFile(name, fmt.Appendf(nil, "process %d", os.Getpid()), 0o600); err != nil {
		return store.Explain(fault.Wrap(err, fault.Unavailable, "The folder %s cannot be written to. Is its disk full?", e.data))
	}
	if err := e.finishRestore(); err != nil {
		return err
	}
	err = fn(len(left) > 0)
	return errors.Join(err, os.Truncate(name, 0))
}

// inUse says which process is at work in the folder.
func inUse(folder, lock string) error {
	who := "another process"
	if text, err := os.ReadFile(lock); err == nil && len(text) > 0 {
		who = strings.TrimSpace(string(text))
	}
	return fault.New(fault.Unavailable, "Frywright is already at work in %s (%s). Nothing was changed. "+
		"Stop it first, or do this on its pages; verify, backup and healthcheck work beside it.", folder, who)
}

// withStore opens the database for this process alone, making it where it is missing, runs fn as the program itself, and
// closes it.
func (e *environment) withStore(fn func(ctx context.Context, s *store.Store) error) error {
	return e.alone(func(unclean bool) error { return e.opened(unclean, fn) })
}

// withFresh is withStore over an empty database: the one that is there is thrown away.
func (e *environment) withFresh(fn func(ctx context.Context, s *store.Store) error) error {
	return e.alone(func(bool) error {
		for _, name := range parts {
			if err := os.Remove(filepath.Join(e.data, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		return e.opened(false, fn)
	})
}

func (e *environment) opened(unclean bool, fn func(ctx context.Context, s *store.Store) error) error {
	s, err := store.Open(e.ctx, store.Config{Path: filepath.Join(e.data, database), Now: e.now, NewID: newID, Unclean: unclean, Observe: e.observe})
	if err != nil {
		return err
	}
	return e.using(s, fn)
}

// withData is withStore for commands that make no sense without a database: a folder mistyped must not become an empty one.
func (e *environment) withData(fn func(ctx context.Context, s *store.Store) error) error {
	if err := e.needData(); err != nil {
		return err
	}
	return e.withStore(fn)
}

// beside opens the database for reading, beside a server that may be at work on it.
func (e *environment) beside(fn func(ctx context.Context, s *store.Store) error) error {
	if err := e.needData(); err != nil {
		return err
	}
	s, err := store.OpenBeside(e.ctx, store.Config{Path: filepath.Join(e.data, database), Now: e.now, NewID: newID})
	if err != nil {
		return err
	}
	return e.using(s, fn)
}

func (e *environment) needData() error {
	if _, err := os.Stat(filepath.Join(e.data, database)); errors.Is(err, fs.ErrNotExist) {
		return fault.New(fault.NotFound, "There is no database in %s. Say with --data where it is.", e.data)
	}
	return nil
}

// using runs fn as the program itself and closes the store.
func (e *environment) using(s *store.Store, fn func(ctx context.Context, s *store.Store) error) (err error) {
	defer func() { err = store.Explain(errors.Join(err, s.Close())) }()
	return fn(asOffice(e.ctx), s)
}

// asOffice gives a context in which the program itself acts.
func asOffice(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Actor{Name: "the office", Role: access.Administrator, System: true})
}
