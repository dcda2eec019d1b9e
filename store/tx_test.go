package store

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"frywright/domain/fault"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func empty(t *testing.T, path string) *Store {
	t.Helper()
	clock := time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
	s, err := Open(context.Background(), Config{Path: path, Now: func() time.Time { return clock }, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) }})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func (s *Store) metas(t *testing.T) int {
	t.Helper()
	var n int
	require.NoError(t, s.reader(context.Background()).row(`SELECT count(*) FROM meta`).Scan(&n))
	return n
}

func TestAPanicInAWriteLeavesNothingBehind(t *testing.T) {
	s := empty(t, filepath.Join(t.TempDir(), "t.db"))
	ctx, before := context.Background(), 0
	before = s.metas(t)
	assert.PanicsWithValue(t, "half way", func() {
		_ = s.inTx(ctx, func(t *tx) error {
			if err := t.exec(`INSERT INTO meta (key, value) VALUES ('half', 'way')`); err != nil {
				return err
			}
			panic("half way")
		})
	})
	assert.Equal(t, before, s.metas(t))
	require.NoError(t, s.inTx(ctx, func(t *tx) error { return t.exec(`INSERT INTO meta (key, value) VALUES ('next', 'one')`) }))
	assert.Equal(t, before+1, s.metas(t), "the next write goes on")
}

func TestAWriteThatFailsLeavesNothingBehind(t *testing.T) {
	s := empty(t, filepath.Join(t.TempDir(), "t.db"))
	before := s.metas(t)
	ctx, cancel := context.WithCancel(context.Background())
	err := s.inTx(ctx, func(t *tx) error {
		cancel()
		return firstOf(t.exec(`INSERT INTO meta (key, value) VALUES ('half', 'way')`), t.exec(`SELECT no_such_column FROM meta`))
	})
	require.ErrorContains(t, err, "no_such_column", "a context that ends does not cut a write short")
	assert.Equal(t, before, s.metas(t))
}

func TestAnyFolderWillDo(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "50% off? #1 & more")
	require.NoError(t, os.Mkdir(folder, 0o700))
	path := filepath.Join(folder, "f.db")
	empty(t, path)
	_, err := os.Stat(path)
	assert.NoError(t, err)
}

func TestTheCommittedSchemaIsTheDatabases(t *testing.T) {
	s := empty(t, filepath.Join(t.TempDir(), "t.db"))
	is, err := s.Schema(context.Background())
	require.NoError(t, err)
	committed, err := os.ReadFile("schema.sql")
	require.NoError(t, err)
	assert.Equal(t, string(committed), is, "run make generate")
}

func TestAServerWithoutAReadableNameIsDamaged(t *testing.T) {
	path := filepath.Join(t.TempDir(), "t.db")
	s := empty(t, path)
	require.NoError(t, s.inTx(context.Background(), func(t *tx) error { return t.exec(`UPDATE meta SET value = 'no id' WHERE key = 'device'`) }))
	_, err := Open(context.Background(), Config{Path: path, Now: s.now, NewID: s.newID})
	assert.True(t, Damaged(err), "%v", err)
	assert.Contains(t, fault.MessageOf(err), "damaged")
}
