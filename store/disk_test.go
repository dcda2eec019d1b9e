package store

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/person"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// coded is an error as a driver of SQLite gives it.
type coded int

func (c coded) Error() string { return fmt.Sprintf("code %d", int(c)) }

func (c coded) Code() int { return int(c) }

// TestWhatTheDiskDoesNotDoIsSaidPlainly takes the numbers from https://www.sqlite.org/rescode.html.
func TestWhatTheDiskDoesNotDoIsSaidPlainly(t *testing.T) {
	for name, tt := range map[string]struct {
		err  error
		says string
	}{
		"SQLITE_FULL":             {coded(13), "disk is full"},
		"SQLITE_IOERR_WRITE":      {coded(778), "does not do what it is asked to"},
		"SQLITE_IOERR_FSYNC":      {coded(1034), "does not do what it is asked to"},
		"SQLITE_READONLY":         {coded(8), "may not write"},
		"SQLITE_READONLY_DBMOVED": {coded(1032), "may not write"},
		"SQLITE_CANTOPEN":         {coded(14), "may not write"},
		"SQLITE_BUSY":             {coded(5), "another program holds the database"},
		"SQLITE_BUSY_SNAPSHOT":    {coded(517), "another program holds the database"},
		"SQLITE_CORRUPT":          {coded(11), "is damaged"},
		"SQLITE_CORRUPT_INDEX":    {coded(779), "is damaged"},
		"SQLITE_NOTADB":           {coded(26), "is no database of Frywright"},
		"wrapped":                 {fmt.Errorf("insert entry: %w", coded(13)), "disk is full"},
		"no room for a file":      {fmt.Errorf("write x: %w", syscall.ENOSPC), "disk is full"},
		"a disk for reading":      {fmt.Errorf("write x: %w", syscall.EROFS), "may not write"},
		"SQLITE_CONSTRAINT":       {coded(19), ""},
		"something else":          {errors.New("x"), ""},
	} {
		t.Run(name, func(t *testing.T) {
			got := Explain(tt.err)
			require.ErrorIs(t, got, tt.err, "the log gets it all")
			if tt.says == "" {
				assert.Equal(t, tt.err, got)
				return
			}
			assert.Equal(t, fault.Unavailable, fault.KindOf(got))
			assert.Contains(t, fault.MessageOf(got), tt.says)
		})
	}
	assert.NoError(t, Explain(nil))
	said := fault.Wrap(coded(13), fault.Invalid, "Said already.")
	assert.Equal(t, error(said), Explain(said))
}

// TestWritingResumesWhenThereIsRoom has SQLite itself refuse to grow, then refuse to write, and lets it again.
func TestWritingResumesWhenThereIsRoom(t *testing.T) {
	clock := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	s, err := Open(context.Background(), Config{Path: filepath.Join(t.TempDir(), "d.db"), Now: func() time.Time { return clock }, NewID: uuid.New})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	office := access.NewContext(context.Background(), access.Actor{System: true, Role: access.Administrator})
	add := func(n int) error {
		p := person.Person{ID: uuid.New(), Name: strings.Repeat("n", 90), Email: fmt.Sprintf("p%d@frywright.example", n), Role: access.Dispatcher}
		_, err := s.Record(office, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}})
		return err
	}
	set := func(pragma string) {
		_, err := s.conn.ExecContext(office, "PRAGMA "+pragma)
		require.NoError(t, err)
	}
	require.NoError(t, add(0))
	for pragma, tt := range map[string]struct{ undo, says string }{
		"max_page_count = 1": {"max_page_count = 1000000", saidFull}, // 1: as many as there are
		"query_only = 1":     {"query_only = 0", saidReadOnly},
	} {
		set(pragma)
		had, err := s.Content(office)
		require.NoError(t, err)
		good := 0
		for err = nil; err == nil && good < 1000; good++ {
			err = add(1000*len(pragma) + good)
		}
		require.Error(t, err, pragma)
		assert.Equal(t, fault.Unavailable, fault.KindOf(err))
		assert.Equal(t, tt.says, fault.MessageOf(err))
		now, err := s.Content(office)
		require.NoError(t, err, "reading goes on")
		assert.Equal(t, had.Entries+int64(good)-1, now.Entries, "what was acknowledged, and nothing of what was not")
		set(tt.undo)
		require.NoError(t, add(1_000_000*len(pragma)), "after %s", pragma)
	}
	require.NoError(t, s.CheckFile(office))
	require.NoError(t, s.Verify(office))
}
