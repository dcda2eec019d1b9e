package main

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"time"

	"frywright/domain/fault"
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

// Run looks the whole file and the whole journal through and says what does not hold.
func (verifyCommand) Run(e *environment) error {
	return e.beside(func(ctx context.Context, s *store.Store) error {
		if err := s.CheckFile(ctx); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(e.out, "The file is whole."); err != nil {
			return err
		}
		if err := s.Verify(ctx); err != nil {
			return err
		}
		if _, err := fmt.Fprintln(e.out, "The journal is whole."); err != nil {
			return err
		}
		return e.sweep(ctx, s)
	})
}

// sweep compares the whole fleet again and says whether every fryer is stored to stand as it does. A server at work may be
// just writing what differs, so that is looked at twice.
func (e *environment) sweep(ctx context.Context, s *store.Store) error {
	found, err := s.Sweep(ctx)
	if err == nil && found.Amiss > 0 {
		found, err = s.Sweep(ctx)
	}
	if err != nil {
		return err
	}
	if found.Amiss > 0 {
		return fault.New(fault.Invalid, "%d of %d fryers are stored to stand otherwise than their readings say. Stop the server and run: frywright rebuild", found.Amiss, found.Fryers)
	}
	_, err = fmt.Fprintf(e.out, "Every fryer stands as it is stored to: %d fryers, %d settings compared.\n", found.Fryers, found.Settings)
	return err
}

type backupCommand struct {
	To     string `arg:"" help:"The new file to write." type:"path"`
	Verify bool   `help:"Look the copy through: the file by SQLite's own check, the journal by its hashes." default:"true" negatable:""`
}

// Run writes a copy of the database.
func (c backupCommand) Run(e *environment) error {
	return e.beside(func(ctx context.Context, s *store.Store) error {
		held, err := s.Backup(ctx, c.To, c.Verify)
		if err != nil {
			return err
		}
		said := "Wrote " + c.To + ". It was not looked through."
		if c.Verify {
			said = "Wrote " + c.To + ", and looked it through. File and journal are whole: " + told(held)
		}
		_, err = fmt.Fprintln(e.out, said)
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

// When a server looks whether its file is due to be looked through: soon after its start, then every hour.
const (
	firstCheck = time.Minute
	checkGap   = time.Hour
)

// watch looks the whole file through when that is due. What it gives stops it and waits for it.
func (e *environment) watch(ctx context.Context, s *store.Store, first time.Duration) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for wait := first; ; wait = checkGap {
			select {
			case <-ctx.Done():
				return
			case <-time.After(wait):
			}
			if err := e.checkInTurn(ctx, s); err != nil && ctx.Err() == nil {
				e.log.Error("the database file", "error", err.Error())
			}
		}
	}()
	return func() {
		cancel()
		<-done
	}
}

func (e *environment) checkInTurn(ctx context.Context, s *store.Store) error {
	due, err := s.CheckDue(ctx)
	if err != nil || !due {
		return err
	}
	began := e.now()
	if err := s.CheckInTurn(ctx); err != nil {
		return err
	}
	e.log.Info("the database file was looked through and is whole", "took", e.now().Sub(began).Round(time.Millisecond))
	return nil
}
