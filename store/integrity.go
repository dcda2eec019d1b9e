package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/migrations"
)

// wholeLimit is the size up to which a database is looked through at every start: at about 1 GB a second this is a
// fraction of a second. Of a larger one the start looks at the beginning of every table, and CheckFile is for the rest.
const wholeLimit = 64 << 20

// mostFindings bounds how much of what SQLite's check finds is told.
const mostFindings = 10

// damage is what SQLite's own check found in a database file.
type damage struct{ findings []string }

func (d *damage) Error() string { return strings.Join(d.findings, "; ") }

// damaged gives the fault of a damaged file, for whoever runs the program.
func damaged(findings []string) error {
	return fault.Wrap(&damage{findings}, fault.Unavailable, "The database file is damaged. Found by SQLite's own check:\n  %s\n"+
		"Nothing was changed. Put a backup in its place with \"frywright restore BACKUP\", which keeps the damaged file; "+
		"without a backup keep the whole folder as it is and have its tables recovered by somebody who knows SQLite.", strings.Join(findings, "\n  "))
}

// connection is what the checks need of a pool or of one connection.
type connection interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// probe looks at the file before anything is done to it, quickly enough for every start: whether it is a database of this
// program, of a form that it knows, and readable; a small one wholly.
func probe(ctx context.Context, db connection, path string) error {
	tables, err := texts(ctx, db, `SELECT name FROM sqlite_schema WHERE type = 'table'`)
	if err != nil || len(tables) == 0 {
		return unreadable(err)
	}
	if !slices.Contains(tables, "migration") { // the first table of all: a first start that was cut short has no other
		return fault.New(fault.Unavailable, "%s is a database of another program. Nothing was changed.", path)
	}
	if err := newer(ctx, db); err != nil {
		return err
	}
	size, err := length(ctx, db)
	if err != nil {
		return err
	}
	if size <= wholeLimit {
		return check(ctx, db, "quick_check")
	}
	for _, table := range tables {
		if _, err := texts(ctx, db, `SELECT 1 FROM "`+table+`" NOT INDEXED LIMIT 1`); err != nil {
			return unreadable(fmt.Errorf("table %s: %w", table, err))
		}
	}
	return nil
}

// newer refuses a database that a later version of the program has used: this one would not know what it must keep.
func newer(ctx context.Context, db connection) error {
	had, err := texts(ctx, db, `SELECT name FROM migration ORDER BY name`)
	if err != nil {
		return unreadable(err)
	}
	for _, name := range had {
		if _, err := migrations.Files.Open(name); err != nil {
			return fault.New(fault.Unavailable, "The database was last used by a newer version of the program (%s). Nothing was changed: use that version.", name)
		}
	}
	return nil
}

// length gives the size of the database in bytes. That its file is not shorter SQLite sees by itself.
func length(ctx context.Context, db connection) (size int64, err error) {
	rows, err := db.QueryContext(ctx, `SELECT page_count * page_size FROM pragma_page_count, pragma_page_size`)
	err = scanRows(rows, err, func(r *sql.Rows) error { return r.Scan(&size) })
	return size, unreadable(err)
}

// check runs one of SQLite's own checks.
func check(ctx context.Context, db connection, pragma string) error {
	findings, err := texts(ctx, db, fmt.Sprintf(`PRAGMA %s(%d)`, pragma, mostFindings))
	if err != nil {
		return unreadable(err)
	}
	if len(findings) == 1 && findings[0] == "ok" {
		return nil
	}
	roots := map[string]string{}
	rows, err := db.QueryContext(ctx, `SELECT rootpage, type || ' ' || name FROM sqlite_schema WHERE rootpage > 0`)
	err = scanRows(rows, err, func(r *sql.Rows) error {
		var root, name string
		err := r.Scan(&root, &name)
		roots[root] = name
		return err
	})
	if err != nil {
		return unreadable(err)
	}
	return damaged(named(findings, roots))
}

var treeNumber = regexp.MustCompile(`\bTree (\d+)\b`)

// named puts the names of tables and indexes in the place of SQLite's numbers for them.
func named(findings []string, roots map[string]string) []string {
	var list []string
	for _, f := range findings {
		f = strings.TrimSpace(strings.TrimPrefix(f, "*** in database main ***"))
		for line := range strings.Lines(f) {
			list = append(list, strings.TrimSpace(treeNumber.ReplaceAllStringFunc(line, func(text string) string {
				if name, ok := roots[strings.TrimPrefix(text, "Tree ")]; ok {
					return name
				}
				return text
			})))
		}
	}
	return list
}

// unreadable gives what SQLite says of a damaged file as a finding; every other error as it is.
func unreadable(err error) error {
	if !Damaged(err) || fault.KindOf(err) == fault.Unavailable {
		return err
	}
	return damaged([]string{err.Error()})
}

// checkedAt is the key under which the time of the last check of the whole file is kept.
const checkedAt = "checked_at"

// checkEvery is how often the whole file is looked through.
const checkEvery = 7 * 24 * time.Hour

// CheckDue says whether the whole file should be looked through: a week after the last time, and after a process that did
// not stop in order.
func (s *Store) CheckDue(ctx context.Context) (bool, error) {
	var text string
	err := s.reader(ctx).row(`SELECT value FROM meta WHERE key = ?`, checkedAt).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) || s.unclean {
		return true, nil
	}
	if err != nil {
		return false, err
	}
	at, err := journal.ParseTime(text)
	ago := s.now().Sub(at)
	return ago < 0 || ago >= checkEvery, err
}

// CheckFile has SQLite look at every page, table and index of the database, and gives a fault that names what it found.
// It takes about 10 s for each GB and holds nobody up; what it found, Healthy says from then on.
func (s *Store) CheckFile(ctx context.Context) error {
	err := check(ctx, s.read, "integrity_check")
	if Damaged(err) {
		s.broken.Store(&err)
	}
	return err
}

// CheckInTurn is CheckFile for a server: it notes that the file was looked through and found good.
func (s *Store) CheckInTurn(ctx context.Context) error {
	if err := s.CheckFile(ctx); err != nil {
		return err
	}
	return s.inTx(ctx, func(t *tx) error {
		s.unclean = false
		return t.exec(`INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value`, checkedAt, timeText(t.now))
	})
}

// texts gives the one column of a query.
func texts(ctx context.Context, db connection, query string) ([]string, error) {
	var list []string
	rows, err := db.QueryContext(ctx, query)
	err = scanRows(rows, err, func(r *sql.Rows) error {
		var text string
		err := r.Scan(&text)
		list = append(list, text)
		return err
	})
	return list, err
}

// scanRows runs fn for every row and closes the rows.
func scanRows(rows *sql.Rows, err error, fn func(*sql.Rows) error) error {
	return each(cursor{rows: rows, done: func() {}}, err, fn)
}
