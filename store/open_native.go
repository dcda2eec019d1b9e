//go:build !js

package store

import (
	"database/sql"
	"net/url"
	"os"
	"runtime"

	_ "modernc.org/sqlite" // the driver
)

// openPools opens the writer's pool, which syncs fully at every commit, the readers', and the sessions'.
func openPools(path string) (write, read, sessions *sql.DB, err error) {
	private(path)
	if write, err = sql.Open("sqlite", dsn(path, "journal_mode(WAL)", "synchronous(FULL)", "cache_size(-48000)")); err != nil {
		return nil, nil, nil, err
	}
	write.SetMaxOpenConns(1)
	if read, err = sql.Open("sqlite", dsn(path, "query_only(1)", "cache_size(-64000)")); err != nil {
		return write, nil, nil, err
	}
	// No more than can work at once: each has a cache of its own to warm, and nothing asks while it reads.
	readers := max(2, runtime.NumCPU())
	read.SetMaxOpenConns(readers)
	read.SetMaxIdleConns(readers)
	if sessions, err = sql.Open("sqlite", dsn(path, "synchronous(NORMAL)")); err != nil {
		return write, read, nil, err
	}
	sessions.SetMaxOpenConns(4)
	return write, read, sessions, nil
}

// private makes the file where there is none, for its owner alone: it holds the hashes of passwords. What SQLite keeps
// beside it gets the same rights.
func private(path string) {
	if f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o600); err == nil {
		_ = f.Close() // nothing was written
	} // else it is there, or cannot be made, which opening it says
}

// openBeside opens a pool that only reads a database, which another process may be writing.
func openBeside(path, how string) (*sql.DB, error) {
	return sql.Open("sqlite", dsn(path)+"&mode=ro"+how)
}

func dsn(path string, pragmas ...string) string {
	q := url.Values{}
	for _, p := range append([]string{"busy_timeout(10000)", "temp_store(MEMORY)", "cell_size_check(1)"}, pragmas...) {
		q.Add("_pragma", p)
	}
	return "file:" + (&url.URL{Path: path}).EscapedPath() + "?" + q.Encode()
}
