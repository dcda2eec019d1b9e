package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"frywright/cmd/frywright/bench"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// build makes the program for the parts of the bench that start it: the test's own is another.
func build(t *testing.T, r *bench.Run) {
	t.Helper()
	built := filepath.Join(t.TempDir(), "frywright")
	text, err := exec.Command("go", "build", "-o", built, ".").CombinedOutput()
	require.NoError(t, err, string(text))
	begun := r.Server
	r.Server = func(folder, address, meter string) *bench.Server {
		s := begun(folder, address, meter)
		s.Command.Path, s.Command.Args[0] = built, built
		return s
	}
}

// tinyFleet is a bench over a small fleet.
func tinyFleet(t *testing.T) (*bench.Run, *bytes.Buffer) {
	t.Helper()
	e := &environment{ctx: t.Context(), now: now, log: slog.New(slog.NewTextHandler(io.Discard, nil))}
	var out bytes.Buffer
	e.out = &out
	host, err := e.benchHost()
	require.NoError(t, err)
	dir := t.TempDir()
	return &bench.Run{
		Host: host, Plan: bench.Plan{Seed: 7, Fryers: 300}, Dir: filepath.Join(dir, "fleets"), File: filepath.Join(dir, "rows.tsv"),
		Span: 40 * time.Millisecond, Requests: 120, Rate: 300,
	}, &out
}

// TestTheBenchMeasuresATinyFleet: every part gives figures that can be, and leaves nothing behind but the fleet.
func TestTheBenchMeasuresATinyFleet(t *testing.T) {
	r, out := tinyFleet(t)
	build(t, r)
	require.NoError(t, r.Do(t.Context(), "all"))
	require.NoError(t, r.Do(t.Context(), "soak"))
	rows, err := bench.Load(r.File)
	require.NoError(t, err)
	parts := map[string]int{}
	for _, row := range rows {
		parts[row.Part]++
		name := fmt.Sprintf("%+v", row)
		assert.Positive(t, row.Figure, name)
		assert.False(t, math.IsNaN(row.Figure) || math.IsInf(row.Figure, 0) || math.IsNaN(row.Ratio()), name)
		assert.GreaterOrEqual(t, row.Floor, 0.0, name)
		assert.Positive(t, row.N, name)
		assert.Equal(t, r.Fryers, row.Fryers)
		if row.Part != "start" && row.Part != "soak" {
			assert.Positive(t, row.Floor, name)
		}
	}
	for _, part := range []string{"pages", "write", "standard", "import", "sweep", "rebuild", "start", "soak"} {
		assert.Positive(t, parts[part], part)
		assert.Contains(t, out.String(), part)
	}
	kept, err := os.ReadDir(r.Dir)
	require.NoError(t, err)
	assert.Len(t, kept, 1, "only the fleet is kept")
	require.NoError(t, bench.Table(out, r.File))
	assert.Contains(t, out.String(), "| page, 300 fryers |")
}

// TestTheInventedFleetIsSound: the journal is whole, replaying it changes nothing, nothing was set aside, and the shares are
// those that the bench promises.
func TestTheInventedFleetIsSound(t *testing.T) {
	r, out := tinyFleet(t)
	folder, err := r.Make(t.Context())
	require.NoError(t, err)
	again, err := r.Make(t.Context())
	require.NoError(t, err)
	assert.Equal(t, folder, again)
	assert.Equal(t, 1, strings.Count(out.String(), "Making a fleet"), "it is made once")

	before := standings(t, folder)
	s, err := r.Open(folder)
	require.NoError(t, err)
	office := r.Office(context.Background())
	require.NoError(t, s.Verify(office))
	n, err := s.Rebuild(office)
	require.NoError(t, err)
	assert.Equal(t, r.Entries(), n)
	aside, err := s.SetAside(office)
	require.NoError(t, err)
	assert.Empty(t, aside)
	totals, err := s.Totals(office)
	require.NoError(t, err)
	assert.Equal(t, r.Fryers, totals.Fryers)
	wrong := totals.Fryers - totals.ByWorst[0]
	assert.InDelta(t, 0.1, float64(wrong)/float64(totals.Fryers), 0.05, "one in ten drifts")
	assert.Positive(t, totals.Stale)
	assert.Positive(t, totals.Open)
	assert.Positive(t, totals.Never)
	require.NoError(t, s.Close())
	assert.Equal(t, before, standings(t, folder))
}

// standings is how every fryer stands, as text.
func standings(t *testing.T, folder string) string {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(folder, database))
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	var all string
	require.NoError(t, db.QueryRow(`SELECT group_concat(hex(fryer_id) || worst || matching || unknown || since || last_read || cause, ';' ORDER BY fryer_id) FROM standing`).Scan(&all))
	return all
}
