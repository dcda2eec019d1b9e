package main

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"frywright/cmd/frywright/edge"
	"frywright/domain/fault"
	"frywright/domain/state"
	"frywright/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// shell gives an environment with a folder of its own, and what its commands print.
func shell(t *testing.T) (*environment, *bytes.Buffer) {
	t.Helper()
	var out bytes.Buffer
	return &environment{
		ctx: context.Background(), data: filepath.Join(t.TempDir(), "data"), log: slog.New(slog.NewTextHandler(io.Discard, nil)), out: &out, now: now,
	}, &out
}

// csv writes the fixture's files and gives their names.
func csv(t *testing.T) map[string]string {
	t.Helper()
	folder, names := t.TempDir(), map[string]string{}
	for name, text := range fixtureFiles {
		names[name] = filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(names[name], []byte(text), 0o600))
	}
	return names
}

func TestImportTellsWhatChangesAndWhatIsWorthKnowing(t *testing.T) {
	e, out := shell(t)
	names := csv(t)
	var all []string
	for _, name := range names {
		all = append(all, name)
	}
	require.NoError(t, importCommand{Files: all, DryRun: true}.Run(e))
	assert.Contains(t, out.String(), "nothing was written")
	require.NoError(t, importCommand{Files: all}.Run(e))
	out.Reset()
	require.NoError(t, importCommand{Files: all}.Run(e))
	assert.Contains(t, out.String(), "Wrote 0 entries.", "a second run changes nothing")

	out.Reset()
	require.NoError(t, os.WriteFile(names["fryers.csv"], []byte("tag,site,model,name\nT-1,A,H1,line 4\n"), 0o600))
	require.NoError(t, importCommand{Files: []string{names["fryers.csv"]}}.Run(e))
	assert.Contains(t, out.String(), "line 4", "what it changes is said")

	out.Reset()
	require.NoError(t, os.WriteFile(names["fryers.csv"], []byte("tag,site,model\nT-9,A,H1\nT-8,NOWHERE,H1\n"), 0o600))
	require.ErrorIs(t, importCommand{Files: []string{names["fryers.csv"]}}.Run(e), errNotWritten)
	assert.Contains(t, out.String(), "fryers.csv:3: wrong")
	assert.Contains(t, out.String(), "    site: ")
	out.Reset()
	require.NoError(t, importCommand{Files: []string{names["fryers.csv"]}, GoodRows: true}.Run(e))
	assert.Contains(t, out.String(), "Wrote 1 entries.")
}

func TestAUsersLinkIsPrinted(t *testing.T) {
	e, out := shell(t)
	add := userAddCommand{Email: "Ada@Frywright.example", Name: "Ada", Role: "dispatcher", Base: "https://fry.example/"}
	require.NoError(t, add.Run(e))
	assert.Regexp(t, `(?m)^  https://fry\.example/welcome/[A-Z2-7]{26}$`, out.String())
	out.Reset()
	require.NoError(t, userListCommand{}.Run(e))
	assert.Contains(t, out.String(), "ada@frywright.example")
	assert.Equal(t, fault.Invalid, fault.KindOf(add.Run(e)), "the address is taken")
}

func TestCommandsThatNeedADatabaseMakeNone(t *testing.T) {
	e, _ := shell(t)
	for name, run := range map[string]func(*environment) error{
		"rebuild": rebuildCommand{}.Run, "verify": verifyCommand{}.Run, "list": userListCommand{}.Run,
		"backup": backupCommand{To: filepath.Join(t.TempDir(), "b.db")}.Run,
	} {
		assert.Contains(t, fault.MessageOf(run(e)), "There is no database in", name)
	}
	_, err := os.Stat(e.data)
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestBackupVerifyRebuild(t *testing.T) {
	e, out := shell(t)
	names := csv(t)
	require.NoError(t, importCommand{Files: []string{names["sheets.csv"]}}.Run(e))
	to := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, backupCommand{To: to}.Run(e))
	assert.Contains(t, fault.MessageOf(backupCommand{To: to}.Run(e)), "exists already")
	info, err := os.Stat(to)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "it holds the hashes of passwords")
	require.NoError(t, verifyCommand{}.Run(e))
	assert.Contains(t, out.String(), "The journal is whole.")
	assert.Contains(t, out.String(), "Every fryer stands as it is stored to")
	require.NoError(t, rebuildCommand{}.Run(e))
	assert.Contains(t, out.String(), "Replayed 1 entries")
}

// TestServeOffersASetUpAndStops runs the server as a machine would, and asks it to stop.
func TestServeOffersASetUpAndStops(t *testing.T) {
	e, _ := shell(t)
	r, w := io.Pipe()
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	e.ctx, e.out = ctx, w
	done := make(chan error, 1)
	go func() { done <- serveCommand{Listen: "127.0.0.1:0"}.Run(e) }()
	var said strings.Builder
	for part := make([]byte, 512); !strings.Contains(said.String(), "Frywright is at"); {
		n, err := r.Read(part)
		require.NoError(t, err)
		said.Write(part[:n])
	}
	assert.Contains(t, said.String(), "/setup/")
	base := strings.TrimSpace(said.String()[strings.LastIndex(said.String(), " ")+1:])
	resp, err := http.Get(base + "/healthz") //nolint:noctx // a test of a server beside it
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	assert.Equal(t, http.StatusOK, resp.StatusCode)
	stop()
	select {
	case err := <-done:
		require.NoError(t, err)
	case <-time.After(edge.UsualTimes().Stop):
		t.Fatal("it does not stop")
	}
}

func TestAddressOfAListener(t *testing.T) {
	for listen, want := range map[string]string{"127.0.0.1:0": "http://127.0.0.1:", ":0": "http://localhost:"} {
		l, err := net.Listen("tcp", listen) //nolint:noctx // a test of a listener beside it
		require.NoError(t, err)
		assert.Contains(t, addressOf(l), want)
		require.NoError(t, l.Close())
	}
}

// TestTheDemosYearCameInAsItHappened fills the demo at a moment that is not now.
func TestTheDemosYearCameInAsItHappened(t *testing.T) {
	at := time.Date(2026, 11, 24, 10, 0, 0, 0, time.UTC)
	clock := &storyClock{real: func() time.Time { return at }}
	e, _ := shell(t)
	e.now = clock.now
	require.NoError(t, e.withStore(func(ctx context.Context, s *store.Store) error {
		_, err := fill(ctx, s, clock, 7)
		require.NoError(t, err)
		assert.Equal(t, at, clock.now(), "then the clock is the real one")
		var late []state.Happening
		total := 0
		for page := 0; ; page++ {
			list, err := s.Lately(ctx, page, 200)
			require.NoError(t, err)
			if len(list) == 0 {
				break
			}
			total += len(list)
			for _, h := range list {
				if wait := h.Received.Sub(h.At); wait < 0 || wait > sentWithin {
					late = append(late, h)
				}
			}
		}
		assert.Greater(t, total, 1000)
		assert.Empty(t, late)
		n, err := s.Recheck(ctx)
		assert.Zero(t, n, "what ran out within the year was looked at")
		return err
	}))
}
