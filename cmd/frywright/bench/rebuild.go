package bench

import (
	"context"
	"database/sql"
	"errors"
	"path/filepath"
	"time"

	"frywright/store"
)

// rebuild measures replaying the whole journal.
func (r *Run) rebuild(ctx context.Context) (rows []Row, err error) {
	err = r.opened(ctx, func(s *store.Store, folder string) error {
		bare, read, err := readAll(ctx, filepath.Join(folder, r.Database))
		if err != nil {
			return err
		}
		began := time.Now()
		n, err := s.Rebuild(r.Office(ctx))
		took := time.Since(began)
		rate := func(n int, took time.Duration) float64 { return float64(n) / took.Seconds() }
		rows = []Row{{
			What: "rebuild", Measure: "rate", Unit: "entries/s", Figure: rate(n, took), Floor: rate(read, bare), N: n, How: "a bare select of every entry",
		}}
		return err
	})
	return rows, err
}

// readAll reads every column of every entry and keeps none; it gives how long it took and how many there were.
func readAll(ctx context.Context, file string) (took time.Duration, n int, err error) {
	err = bareAt(file, func(db *sql.DB) error {
		began := time.Now()
		rows, err := db.QueryContext(ctx, `SELECT * FROM entry ORDER BY seq`)
		if err != nil {
			return err
		}
		defer rows.Close()
		names, err := rows.Columns()
		if err != nil {
			return err
		}
		values, into := make([]sql.RawBytes, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		for rows.Next() {
			if err := rows.Scan(into...); err != nil {
				return err
			}
			n++
		}
		took = time.Since(began)
		return errors.Join(rows.Err(), ctx.Err())
	})
	return took, n, err
}
