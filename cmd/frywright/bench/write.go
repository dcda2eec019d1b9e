package bench

import (
	"context"
	"database/sql"
	"errors"
	"math/rand/v2"
	"net/url"
	"path/filepath"
	"strconv"
	"time"

	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/web/path"
)

// saveValue saves a probe offset in one of the open readings.
func (s *site) saveValue(rnd *rand.Rand) hit {
	form := url.Values{"ref": {"offset@1"}, "typed": {strconv.Itoa(rnd.IntN(3))}}
	return hit{address: s.base + path.ReadingAt(pick(rnd, s.cast.openFryers).OpenID, 8), cookie: s.desk, form: form.Encode()}
}

// writeNote leaves a note at a fryer.
func (s *site) writeNote(rnd *rand.Rand) hit {
	return hit{address: s.base + path.FryerNotes(pick(rnd, s.cast.fryers).ID), cookie: s.desk, form: url.Values{"text": {pick(rnd, remarks)}}.Encode()}
}

// write measures how long it takes until something is saved for good.
func (r *Run) write(ctx context.Context) (rows []Row, err error) {
	err = r.served(ctx, func(x *site) error {
		const how = "a bare insert and commit, synced fully"
		for _, w := range []struct {
			what  string
			users int
			next  func(*rand.Rand) hit
		}{{"save a value", 1, x.saveValue}, {"save a value", manyUsers, x.saveValue}, {"write a note", 1, x.writeNote}} {
			full, bare, err := r.writes(ctx, x, w.users, w.next)
			if err != nil {
				return err
			}
			rows = append(rows, compare(w.what, w.users, full, bare, how)[:3]...)
		}
		full, bare, err := r.records(ctx, x)
		rows = append(rows, compare("record a note, without HTTP", 1, full, bare, how)[:3]...)
		return err
	})
	return rows, err
}

// writes takes turns between a request that writes and the bare database.
func (r *Run) writes(ctx context.Context, x *site, users int, next func(*rand.Rand) hit) (full, bare *tally, err error) {
	full, bare = newTally(), newTally()
	err = r.besideInserts(ctx, bare, func() error { return r.turn(ctx, x, users, full, next) })
	return full, bare, err
}

// records takes turns between recording in the store and the bare database.
func (r *Run) records(ctx context.Context, x *site) (full, bare *tally, err error) {
	full, bare = newTally(), newTally()
	rnd := rand.New(rand.NewPCG(r.Seed, 5))
	ctx = r.Office(ctx)
	err = r.besideInserts(ctx, bare, func() error {
		return full.repeat(ctx, r.Span/turns, func() error {
			d := journal.Draft{Subject: pick(rnd, x.cast.fryers).ID, Body: snapshot.Note{Text: pick(rnd, remarks)}}
			_, err := x.store.Record(ctx, d)
			return err
		})
	})
	return full, bare, err
}

// repeat does something again and again for a time.
func (t *tally) repeat(ctx context.Context, span time.Duration, fn func() error) error {
	for began := time.Now(); time.Since(began) < span; {
		at := time.Now()
		if err := errors.Join(fn(), ctx.Err()); err != nil {
			return err
		}
		if err := t.note(time.Since(at), 0); err != nil {
			return err
		}
		t.took += time.Since(at)
	}
	return nil
}

// besideInserts takes turns between fn and inserting single rows into a bare table of a database of its own, each for good.
func (r *Run) besideInserts(ctx context.Context, bare *tally, fn func() error) error {
	return r.bareDatabase(func(db *sql.DB) error {
		if _, err := db.ExecContext(ctx, `CREATE TABLE bare (id TEXT PRIMARY KEY, body TEXT NOT NULL) STRICT, WITHOUT ROWID`); err != nil {
			return err
		}
		insert, err := db.PrepareContext(ctx, `INSERT INTO bare (id, body) VALUES (?, ?)`)
		if err != nil {
			return err
		}
		defer insert.Close() //nolint:errcheck // the database is thrown away
		return r.takeTurns(ctx, bare, insert, fn)
	})
}

func (r *Run) takeTurns(ctx context.Context, bare *tally, insert *sql.Stmt, fn func() error) error {
	for range turns {
		if err := fn(); err != nil {
			return err
		}
		err := bare.repeat(ctx, r.Span/turns, func() error {
			_, err := insert.ExecContext(ctx, r.NewID().String(), remarks[0])
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// bareDatabase gives fn an empty database that syncs as the program's does, with one connection.
func (r *Run) bareDatabase(fn func(db *sql.DB) error) error {
	return r.scratch(func(folder string) error { return bareAt(filepath.Join(folder, "bare.db"), fn) })
}

func bareAt(file string, fn func(db *sql.DB) error) error {
	pragmas := url.Values{"_pragma": {"busy_timeout(10000)", "journal_mode(WAL)", "synchronous(FULL)", "cache_size(-32000)", "mmap_size(268435456)"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: file}).EscapedPath()+"?"+pragmas.Encode())
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	return errors.Join(fn(db), db.Close())
}
