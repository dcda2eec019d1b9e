package main

import (
	"context"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"frywright/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTheDrill is what whoever runs an instance should have done once: back up while people write, lose the database,
// restore, serve, go on.
func TestTheDrill(t *testing.T) {
	w := newWard(t)
	copied := w.elsewhere("copy.db")
	server := w.run("serve", "--listen", "127.0.0.1:0")
	base := server.address()
	w.signIn(base)
	before := w.writeWhile(base, "before", func() {
		for i := range 20 {
			require.True(t, w.note(base, fmt.Sprintf("before the copy, %d", i)))
		}
	})
	during := w.writeWhile(base, "during", func() {
		require.NoError(t, w.run("backup", copied).wait())
	})
	assert.NotEmpty(t, during, "a backup holds nobody up")
	after := w.writeWhile(base, "after", func() { require.True(t, w.note(base, "after the copy")) })
	server.kill()
	old := w.content()
	for _, name := range parts {
		if err := os.Remove(filepath.Join(w.data, name)); !os.IsNotExist(err) {
			require.NoError(t, err)
		}
	}

	restore := w.run("restore", copied)
	said, err := io.ReadAll(restore.out)
	require.NoError(t, err)
	require.NoError(t, restore.wait())
	for _, part := range []string{"Restored " + copied, "entries, the last of ", "new epoch", "Everybody signs in again", "Next: "} {
		assert.Contains(t, string(said), part)
	}
	fresh := w.content()
	assert.NotEqual(t, old.Epoch, fresh.Epoch)
	assert.NotEqual(t, old.Device, fresh.Device)
	assert.Less(t, fresh.Entries, old.Entries)

	server = w.run("serve", "--listen", "127.0.0.1:0")
	base = server.address()
	status, _, err := w.get(base + "/fryers")
	require.NoError(t, err)
	assert.Equal(t, 303, status, "nobody stays signed in")
	w.signIn(base)
	require.True(t, w.note(base, "going on"))
	require.NoError(t, server.stop())
	w.look(func(ctx context.Context, s *store.Store) {
		there := held(t, s)
		assert.Subset(t, keys(there), keys(before), "all that was there when the copy began")
		assert.True(t, there["going on"])
		assert.False(t, there["after the copy"])
		lost := 0
		for text := range after {
			if !there[text] {
				lost++
			}
		}
		assert.Equal(t, len(after), lost)
		devices := rows(t, s.Sessions(), `SELECT DISTINCT device FROM entry ORDER BY seq`)
		assert.Equal(t, []string{fmt.Sprintf("|%q", old.Device), fmt.Sprintf("|%q", fresh.Device)}, devices, "new entries are the new device's")
	})
	require.NoError(t, w.run("verify").wait())
	w.sound()
}

// TestARestoreKeepsWhatWasThere restores over a database that is alive, and one that is damaged.
func TestARestoreKeepsWhatWasThere(t *testing.T) {
	w := newWard(t)
	copied := w.elsewhere("copy.db")
	require.NoError(t, w.run("backup", "--no-verify", copied).wait())
	live := filepath.Join(w.data, database)
	data, err := os.ReadFile(live)
	require.NoError(t, err)
	copy(data[2*4096:], "this is no page")
	require.NoError(t, os.WriteFile(live, data, 0o600))
	err = w.run("serve", "--listen", "127.0.0.1:0").wait()
	require.Error(t, err)
	assert.Contains(t, err.Error(), "The database file is damaged. Found by SQLite's own check:")
	assert.Contains(t, err.Error(), "frywright restore BACKUP")
	assert.NotContains(t, err.Error(), "goroutine")
	for range 2 {
		require.NoError(t, w.run("restore", copied).wait())
	}
	kept, err := filepath.Glob(filepath.Join(w.data, "kept-*", database))
	require.NoError(t, err)
	require.Len(t, kept, 2)
	first, err := os.ReadFile(kept[0])
	require.NoError(t, err)
	assert.Equal(t, data, first, "as it was, damage and all")
	w.sound()
}

// writeWhile has several people write notes while fn runs, and gives what was acknowledged.
func (w *ward) writeWhile(base, what string, fn func()) map[string]bool {
	var (
		all  sync.WaitGroup
		mu   sync.Mutex
		told = map[string]bool{}
		done = make(chan struct{})
	)
	for who := range writers {
		all.Go(func() {
			for i := 0; ; i++ {
				select {
				case <-done:
					return
				default:
				}
				text := fmt.Sprintf("%s, writer %d, note %d", what, who, i)
				if w.note(base, text) {
					mu.Lock()
					told[text] = true
					mu.Unlock()
				}
			}
		})
	}
	fn()
	close(done)
	all.Wait()
	return told
}

// content gives what the database holds.
func (w *ward) content() (c store.Content) {
	w.look(func(ctx context.Context, s *store.Store) {
		var err error
		c, err = s.Content(ctx)
		require.NoError(w.t, err)
	})
	return c
}

func keys(m map[string]bool) []string {
	return slices.Collect(maps.Keys(m))
}
