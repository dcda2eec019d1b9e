package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"frywright/domain/fault"
	"frywright/store"
)

type restoreCommand struct {
	File string `arg:"" help:"The backup: a file that backup wrote, or one that a replica gave back." type:"existingfile"`
}

const (
	// incoming is the folder, in the data folder, where a backup is made ready. It is on the same disk, so that the last
	// step is a rename.
	incoming = "restoring"
	// decided is the file in it that says that the backup is whole and where the old database goes. From then on the
	// restore is gone through with, by whichever process comes next.
	decided = "decided"
)

// parts are the files of a database: the file, and what SQLite keeps beside it.
var parts = []string{database, database + "-wal", database + "-shm"}

// Run puts a backup in the place of the database, which is kept aside.
func (c restoreCommand) Run(e *environment) error {
	return e.alone(func(bool) error {
		ready := filepath.Join(e.data, incoming)
		if err := os.RemoveAll(ready); err != nil { // of a restore that was cut short before it was decided
			return err
		}
		content, err := e.makeReady(c.File, ready)
		if err != nil {
			return errors.Join(err, os.RemoveAll(ready))
		}
		aside, err := e.decide(ready)
		if err != nil {
			return err
		}
		if err := e.finishRestore(); err != nil {
			return err
		}
		return c.tell(e, content, aside)
	})
}

// makeReady copies the backup, looks the copy through and renews it. The backup itself is only read.
func (e *environment) makeReady(file, ready string) (c store.Content, err error) {
	if err := os.Mkdir(ready, 0o700); err != nil {
		return c, err
	}
	name := filepath.Join(ready, database)
	for _, end := range []string{"", "-wal"} {
		if err := copyFile(file+end, name+end); err != nil && (end == "" || !errors.Is(err, fs.ErrNotExist)) {
			return c, store.Explain(fmt.Errorf("copy %s: %w", file+end, err))
		}
	}
	if c, err = store.VerifyCopy(e.ctx, name); err != nil {
		return c, notRestored(file, err)
	}
	s, err := store.Open(e.ctx, store.Config{Path: name, Now: e.now, NewID: newID})
	if err != nil {
		return c, err
	}
	err = e.using(s, func(ctx context.Context, s *store.Store) error { return s.Renew(ctx) })
	if err == nil {
		err = syncPath(name)
	}
	return c, err
}

// notRestored says that a backup cannot be used, and why.
func notRestored(file string, err error) error {
	if message := fault.MessageOf(err); message != "" {
		return fault.Wrap(err, fault.Unavailable, "%s cannot be restored, and the database was left as it is. Take another backup. What is wrong with this one:\n  %s",
			file, strings.SplitN(message, "\nNothing was changed", 2)[0])
	}
	return err
}

// decide writes down that the backup takes the database's place, and gives where that one goes.
func (e *environment) decide(ready string) (string, error) {
	aside := "kept-" + e.now().Format("20060102T150405Z")
	for i := 2; ; i++ {
		_, err := os.Lstat(filepath.Join(e.data, aside))
		if errors.Is(err, fs.ErrNotExist) {
			break
		}
		if err != nil {
			return "", err
		}
		aside = fmt.Sprintf("kept-%s-%d", e.now().Format("20060102T150405Z"), i)
	}
	name := filepath.Join(ready, decided)
	if err := errors.Join(os.WriteFile(name+".new", []byte(aside), 0o600), syncPath(name+".new"), os.Rename(name+".new", name), syncPath(ready)); err != nil {
		return "", err
	}
	return filepath.Join(e.data, aside), nil
}

// finishRestore goes through with a restore that was decided, wherever it was cut short: first the old database is moved
// aside, then the new one takes its place.
func (e *environment) finishRestore() error {
	ready := filepath.Join(e.data, incoming)
	text, err := os.ReadFile(filepath.Join(ready, decided))
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	next := filepath.Join(ready, database)
	if _, err := os.Lstat(next); err == nil {
		aside := filepath.Join(e.data, string(text))
		if err := e.setAside(aside); err != nil {
			return fmt.Errorf("keep the old database: %w", err)
		}
		if err := errors.Join(os.Rename(next, filepath.Join(e.data, database)), syncPath(e.data)); err != nil {
			return fmt.Errorf("put the backup in place: %w", err)
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return os.RemoveAll(ready)
}

// setAside moves what there is of the old database.
func (e *environment) setAside(aside string) error {
	if err := os.MkdirAll(aside, 0o700); err != nil {
		return err
	}
	for _, name := range parts {
		if err := os.Rename(filepath.Join(e.data, name), filepath.Join(aside, name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return errors.Join(syncPath(aside), syncPath(e.data))
}

// tell says what was done and what comes next.
func (c restoreCommand) tell(e *environment, content store.Content, aside string) error {
	_, err := fmt.Fprintf(e.out, `Restored %s: %s
The database that was there is kept in %s.
This is a new epoch: phones send again what they kept and this copy has not. Everybody signs in again, and links that were
open are over: send new ones.
Next: start the server, look at what came in last, make a backup, and begin replication anew.
`, c.File, told(content), aside)
	return err
}

// told gives in words what a database holds.
func told(c store.Content) string {
	if c.Entries == 0 {
		return "a journal without entries."
	}
	return fmt.Sprintf("%d entries, the last of %s.", c.Entries, c.Last.Format(time.RFC3339))
}

// copyFile copies a file to one that is not there yet and waits until it is on the disk.
func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close() //nolint:errcheck // it was only read
	out, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	if _, err := io.Copy(out, in); err != nil {
		return err
	}
	return out.Sync()
}

// syncPath waits until a file, or the names in a folder, are on the disk.
func syncPath(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
