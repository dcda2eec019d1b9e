package main

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"time"

	"frywright/store"
)

type rebuildCommand struct{}

// Run drops the projections and replays the journal.
func (rebuildCommand) Run(e *environment) error {
	return e.withData(func(ctx context.Context, s *store.Store) error {
		began := e.now()
		n, err := s.Rebuild(ctx)
		if err == nil {
			_, err = fmt.Fprintf(e.out, "Replayed %d entries in %s.\n", n, e.now().Sub(began).Round(time.Millisecond))
		}
		return err
	})
}

type verifyCommand struct{}

// Run reads the whole journal and says what does not hold.
func (verifyCommand) Run(e *environment) error {
	return e.withData(func(ctx context.Context, s *store.Store) error {
		if err := s.Verify(ctx); err != nil {
			return err
		}
		_, err := fmt.Fprintln(e.out, "The journal is whole.")
		return err
	})
}

type backupCommand struct {
	To string `arg:"" help:"The new file to write." type:"path"`
}

// Run writes a copy of the database.
func (c backupCommand) Run(e *environment) error {
	return e.withData(func(ctx context.Context, s *store.Store) error {
		if err := s.Backup(ctx, c.To); err != nil {
			return err
		}
		_, err := fmt.Fprintln(e.out, "Wrote "+c.To)
		return err
	})
}

type schemaCommand struct{}

// Run prints the form of a new database, made in a folder that is thrown away.
func (schemaCommand) Run(e *environment) error {
	folder, err := os.MkdirTemp("", "frywright-schema-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder) //nolint:errcheck // the system clears temporary folders too
	empty := *e
	empty.data = folder
	return empty.withStore(func(ctx context.Context, s *store.Store) error {
		text, err := s.Schema(ctx)
		if err == nil {
			_, err = fmt.Fprint(e.out, text)
		}
		return err
	})
}

type healthcheckCommand struct {
	URL string `help:"The server's address." default:"http://127.0.0.1:8080/healthz" env:"FRYWRIGHT_HEALTH_URL"`
}

// Run asks a running server whether it is well.
func (c healthcheckCommand) Run(e *environment) error {
	ctx, cancel := context.WithTimeout(e.ctx, 3*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, c.URL, nil)
	if err != nil {
		return err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return err
	}
	defer resp.Body.Close() //nolint:errcheck // nothing more is read from it
	if resp.StatusCode != http.StatusOK {
		return fmt.Errorf("the server answers %s", resp.Status)
	}
	return nil
}
