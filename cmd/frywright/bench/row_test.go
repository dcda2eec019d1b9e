package bench

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(file, []byte(got), 0o600))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), got)
}

// measured are rows as three runs save them.
func measured() []Row {
	var rows []Row
	for i, size := range []int{1000, 10_000, 100_000} {
		for _, users := range []int{1, manyUsers} {
			for _, m := range []struct {
				measure, unit string
				figure, floor float64
			}{{"p50", "ms", 1.25, 0.25}, {"p99", "ms", 4.5, 0.5}, {"rate", "requests/s", 800, 16_000}, {"size", "kB", 61.84, 61.84}} {
				rows = append(rows, Row{
					Part: "pages", What: "desk", Users: users, Measure: m.measure, Unit: m.unit, Fryers: size,
					Figure: m.figure * float64(1+i) * float64(users), Floor: m.floor, N: 1600, How: "a bare handler",
				})
			}
		}
		rows = append(rows,
			Row{Part: "import", What: "import", Measure: "rate", Unit: "rows/s", Fryers: size, Figure: 9000 - float64(i), Floor: 180_000, N: size, How: "bare inserts"},
			Row{Part: "start", What: "resident after the start", Measure: "size", Unit: "MB", Fryers: size, Figure: 51.5, N: 5},
			Row{Part: "standard", What: "pages meanwhile", Users: 8, Measure: "max", Unit: "ms", Fryers: size, Figure: 40, Floor: 20, N: 86})
	}
	return rows
}

func TestTheTablesOfTheDocumentation(t *testing.T) {
	golden(t, "table.md", tables(measured()))
	assert.Empty(t, tables(nil))
}

func TestTheListOfARun(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, list(&b, measured()[:11]))
	golden(t, "list.txt", b.String())
}

// TestRowsComeBackAsTheyWere: what one run saved, another puts together, and the later measurement counts.
func TestRowsComeBackAsTheyWere(t *testing.T) {
	file := filepath.Join(t.TempDir(), "rows.tsv")
	rows := measured()
	require.NoError(t, save(file, rows))
	again := rows[2*11+3]
	again.Figure, again.How = 77, "measured again"
	require.NoError(t, save(file, []Row{again}))
	got, err := Load(file)
	require.NoError(t, err)
	rows[2*11+3] = again
	assert.Equal(t, rows, got)

	var b bytes.Buffer
	require.NoError(t, Table(&b, file))
	assert.Contains(t, b.String(), "| desk | 77.0 |")
}

func TestFilesThatAreNoRows(t *testing.T) {
	good := measured()[0].line()
	for name, text := range map[string]string{
		"too few": "pages\tdesk\n", "no number of users": good[:len("pages\tdesk\t")] + "x\tp50\tms\t1\t1\t1\t1\t\n", "no figure": "a\tb\t1\tp50\tms\t1\tx\t1\t1\t\n",
	} {
		file := filepath.Join(t.TempDir(), "rows.tsv")
		require.NoError(t, os.WriteFile(file, []byte(good+text), 0o600))
		_, err := Load(file)
		require.ErrorContains(t, err, ":2: ", name)
		require.Error(t, Table(&bytes.Buffer{}, file), name)
	}
	_, err := Load(filepath.Join(t.TempDir(), "none"))
	require.Error(t, err)
}

func TestRatios(t *testing.T) {
	assert.InDelta(t, 5, Row{Unit: "ms", Figure: 10, Floor: 2}.Ratio(), 1e-9)
	assert.InDelta(t, 20, Row{Unit: "rows/s", Figure: 9000, Floor: 180_000}.Ratio(), 1e-9)
	assert.Zero(t, Row{Unit: "ms", Figure: 10}.Ratio())
}

func TestShort(t *testing.T) {
	for x, want := range map[float64]string{0: "–", 0.123: "0.12", 1.5: "1.50", 12.34: "12.3", 123.4: "123", 999.6: "1,000", 1234.5: "1,235", 2_000_000: "2,000,000", -1234: "-1,234"} {
		assert.Equal(t, want, short(x))
	}
}
