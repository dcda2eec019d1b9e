package store

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"sort"
	"strings"
	"time"

	"frywright/migrations"
)

// migrate runs the migrations that the database has not had, each in a transaction of its own.
func migrate(ctx context.Context, db *sql.Conn, now func() time.Time) error {
	if _, err := db.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS migration (name TEXT PRIMARY KEY, at TEXT NOT NULL) STRICT, WITHOUT ROWID`); err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	names, err := fs.Glob(migrations.Files, "*.sql")
	if err != nil {
		return err
	}
	sort.Strings(names)
	for _, name := range names {
		if err := migrateOne(ctx, db, name, timeText(now())); err != nil {
			return fmt.Errorf("migrate %s: %w", name, err)
		}
	}
	return nil
}

func migrateOne(ctx context.Context, db *sql.Conn, name, at string) error {
	text, err := migrations.Files.ReadFile(name)
	if err != nil {
		return err
	}
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	var had int
	if err := t.QueryRowContext(ctx, `SELECT count(*) FROM migration WHERE name = ?`, name).Scan(&had); err != nil || had > 0 {
		return err
	}
	if _, err := t.ExecContext(ctx, string(text)); err != nil {
		return err
	}
	if _, err := t.ExecContext(ctx, `INSERT INTO migration (name, at) VALUES (?, ?)`, name, at); err != nil {
		return err
	}
	return t.Commit()
}

// Schema gives the database's form as SQL text, for the committed dump.
func (s *Store) Schema(ctx context.Context) (string, error) {
	var b strings.Builder
	rows, err := s.reader(ctx).query(`SELECT sql FROM sqlite_schema WHERE sql IS NOT NULL AND name NOT LIKE 'sqlite_%' ORDER BY tbl_name, type DESC, name`)
	err = each(rows, err, func(r *sql.Rows) error {
		var text string
		if err := r.Scan(&text); err != nil {
			return err
		}
		b.WriteString(text + ";\n\n")
		return nil
	})
	return b.String(), err
}
