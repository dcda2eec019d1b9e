package main

import (
	"context"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"frywright/domain/fault"
	"frywright/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestOneProcessWritesInAFolder has a second process try while the first is at work, and after it was killed.
func TestOneProcessWritesInAFolder(t *testing.T) {
	w := newWard(t)
	first := w.run("serve", "--listen", "127.0.0.1:0")
	base := first.address()
	file := w.elsewhere("fryers.csv")
	require.NoError(t, os.WriteFile(file, []byte("tag,site,model\nT-3,A,H1\n"), 0o600))
	backup := w.elsewhere("beside.db")
	for _, args := range [][]string{
		{"serve", "--listen", "127.0.0.1:0"}, {"import", file}, {"rebuild"}, {"user", "add", "--name", "Eve", "eve@frywright.example"}, {"restore", file},
	} {
		err := w.run(args...).wait()
		require.Error(t, err, args[0])
		assert.Contains(t, err.Error(), "frywright: Frywright is already at work in "+w.data+" (process ", args[0])
		assert.NotContains(t, err.Error(), "goroutine", args[0])
	}
	for _, args := range [][]string{{"verify"}, {"backup", backup}, {"user", "list"}, {"healthcheck", "--url", base + "/healthz"}} {
		require.NoError(t, w.run(args...).wait(), "%s works beside a server", args[0])
	}
	status, _, err := w.get(base + "/healthz")
	require.NoError(t, err)
	assert.Equal(t, http.StatusOK, status, "the first goes on")
	first.kill()
	second := w.run("serve", "--listen", "127.0.0.1:0")
	second.address()
	require.NoError(t, second.stop(), "a process that is gone is in nobody's way")
	require.NoError(t, w.run("import", file).wait())
	w.sound()
}

// TestAProcessThatDidNotStopInOrderIsNoticed asks whether the file is due to be looked through.
func TestAProcessThatDidNotStopInOrderIsNoticed(t *testing.T) {
	w := newWard(t)
	due := func() (is bool) {
		w.look(func(ctx context.Context, s *store.Store) {
			var err error
			is, err = s.CheckDue(ctx)
			require.NoError(t, err)
		})
		return is
	}
	require.True(t, due(), "it never was")
	w.look(func(ctx context.Context, s *store.Store) { require.NoError(t, s.CheckInTurn(ctx)) })
	require.False(t, due())
	l := w.run("serve", "--listen", "127.0.0.1:0")
	l.address()
	require.NoError(t, l.stop())
	require.False(t, due(), "stopped in order")
	l = w.run("serve", "--listen", "127.0.0.1:0")
	l.address()
	l.kill()
	require.True(t, due(), "killed")
	require.False(t, due(), "the process after it stopped in order")
}

// TestTheFileIsLookedThroughWhileServing lets a server's own check find damage.
func TestTheFileIsLookedThroughWhileServing(t *testing.T) {
	e, _ := shell(t)
	require.NoError(t, e.withStore(func(ctx context.Context, s *store.Store) error {
		require.NoError(t, e.checkInTurn(ctx, s))
		due, err := s.CheckDue(ctx)
		require.NoError(t, err)
		assert.False(t, due)
		require.NoError(t, e.checkInTurn(ctx, s), "nothing is due")
		e.watch(ctx, s, 0)() // stops at once, whatever it was at
		return s.Healthy(ctx)
	}))
}

// TestARestoreIsOneOfAFrywrightDatabase tries what is none.
func TestARestoreIsOneOfAFrywrightDatabase(t *testing.T) {
	w := newWard(t)
	good := w.elsewhere("good.db")
	w.look(func(ctx context.Context, s *store.Store) {
		_, err := s.Backup(ctx, good, true)
		require.NoError(t, err)
	})
	data, err := os.ReadFile(good)
	require.NoError(t, err)
	spoilt := append([]byte{}, data...)
	for page := 4; page < len(spoilt)/4096; page += 3 {
		copy(spoilt[page*4096:], "not a page of a database, this")
	}
	for name, what := range map[string][]byte{"text.db": []byte("this is no database, but a text that is long enough to look at"), "short.db": data[:len(data)/2], "spoilt.db": spoilt} {
		file := w.elsewhere(name)
		require.NoError(t, os.WriteFile(file, what, 0o600))
		err := restoreCommand{File: file}.Run(w.env)
		assert.Equal(t, fault.Unavailable, fault.KindOf(err), "%s: %v", name, err)
		assert.Contains(t, fault.MessageOf(err), "cannot be restored, and the database was left as it is", name)
		assert.NoDirExists(t, filepath.Join(w.data, incoming), name)
	}
	w.sound()
}
