package bench

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"frywright/migrations"
	"frywright/store"
	"frywright/web/account"
)

// Make gives the data folder of the plan's fleet, and makes it where it is not there yet.
func (r *Run) Make(ctx context.Context) (string, error) {
	name, err := r.name()
	if err != nil {
		return "", err
	}
	folder := filepath.Join(r.Dir, name)
	if _, err := os.Stat(folder); err == nil {
		return folder, nil
	} else if !errors.Is(err, fs.ErrNotExist) {
		return "", err
	}
	if err := os.MkdirAll(r.Dir, 0o750); err != nil {
		return "", err
	}
	under, err := os.MkdirTemp(r.Dir, "making-")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(under) //nolint:errcheck // what is left of a failed attempt is in the way of nothing
	if err := r.make(r.Office(ctx), under); err != nil {
		return "", err
	}
	return folder, os.Rename(under, folder)
}

// name tells fleets apart: by what is told, and by the form of the database.
func (r *Run) name() (string, error) {
	sum := sha256.New()
	names, err := fs.Glob(migrations.Files, "*.sql")
	if err != nil {
		return "", err
	}
	for _, n := range names {
		text, err := migrations.Files.ReadFile(n)
		if err != nil {
			return "", err
		}
		sum.Write(text)
	}
	return fmt.Sprintf("fleet-%d-%d-%d-%s", r.Fryers, r.Seed, story, hex.EncodeToString(sum.Sum(nil))[:10]), nil
}

// make loads the story into a new database and lets the program work out the rest.
func (r *Run) make(ctx context.Context, folder string) error {
	s, err := r.Open(folder)
	if err != nil {
		return err
	}
	err = r.populate(ctx, s)
	return errors.Join(err, s.Close())
}

func (r *Run) populate(ctx context.Context, s *store.Store) error {
	if _, err := fmt.Fprintf(r.Out, "Making a fleet of %d fryers with %d entries, once.\n", r.Fryers, r.Entries()); err != nil {
		return err
	}
	began := time.Now()
	n, err := s.Load(ctx, r.Tell())
	if err != nil {
		return err
	}
	loaded, began := since(began), time.Now()
	if _, err := s.Rebuild(ctx); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(r.Out, "Loaded %d entries in %s, replayed them in %s.\n", n, loaded, since(began)); err != nil {
		return err
	}
	return errors.Join(r.letIn(ctx, s), s.CheckInTurn(ctx)) // or the server would do it while it is measured
}

func since(began time.Time) time.Duration { return time.Since(began).Round(time.Millisecond) }

// letIn gives the sign-ins their password.
func (r *Run) letIn(ctx context.Context, s *store.Store) error {
	hash, err := account.Hash(password)
	if err != nil {
		return err
	}
	people, err := s.People(ctx)
	if err != nil {
		return err
	}
	for _, p := range people {
		switch p.Email {
		case leadEmail, deskEmail, technicianEmail, managerEmail:
			if err := s.SetPassword(ctx, p.ID, hash); err != nil {
				return err
			}
		}
	}
	return nil
}
