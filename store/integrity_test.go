package store_test

import (
	"context"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/domain/state"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// file is a database file in memory, by https://www.sqlite.org/fileformat2.html.
type file struct {
	data []byte
	page int // bytes of a page
}

func readFile(t *testing.T, path string) *file {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	return &file{data, int(binary.BigEndian.Uint16(data[16:]))}
}

// at gives a page from its number; the first has the file's header before its own.
func (f *file) at(n int) []byte {
	from := (n - 1) * f.page
	if n == 1 {
		from = 100
	}
	return f.data[from : n*f.page]
}

// find gives the number of the first page of a kind behind the first, which is that of the tables' names.
func (f *file) find(t *testing.T, kind byte) int {
	t.Helper()
	for n := 2; n <= len(f.data)/f.page; n++ {
		if f.at(n)[0] == kind {
			return n
		}
	}
	require.Fail(t, "no such page", "kind %d", kind)
	return 0
}

// The kinds of pages.
const (
	indexInner, tableInner, indexLeaf, tableLeaf = 2, 5, 10, 13
)

// someFile gives the file of a world in which something happened, with every kind of page in it.
func someFile(t *testing.T) *file {
	t.Helper()
	w := newWorld(t)
	w.liveALittle()
	for i := range 400 {
		w.must(w.office, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: fmt.Sprintf("note %d %s", i, strings.Repeat("x", 40))}})
	}
	_, err := w.store.Sessions().Exec(`CREATE TABLE gone (a); INSERT INTO gone SELECT randomblob(3000) FROM entry; DROP TABLE gone`)
	require.NoError(t, err)
	require.NoError(t, w.store.Close())
	return readFile(t, w.path)
}

// opened opens a damaged file and asks it for everything. It gives what was said first, and by whom.
func opened(t *testing.T, f *file) (by string, said error) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "d.db")
	require.NoError(t, os.WriteFile(path, f.data, 0o600))
	s, err := store.Open(context.Background(), store.Config{Path: path, Now: func() time.Time { return time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC) }, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) }})
	if err != nil {
		return "open", err
	}
	defer s.Close() //nolint:errcheck // it is damaged
	if err := s.CheckFile(context.Background()); err != nil {
		assert.Error(t, s.Healthy(context.Background()), "who asks after its health is told")
		return "check", err
	}
	if err := s.Verify(context.Background()); err != nil {
		return "journal", err
	}
	return "nobody", nil
}

// TestADamagedPageIsTold spoils a page of each kind.
func TestADamagedPageIsTold(t *testing.T) {
	whole := someFile(t)
	by, err := opened(t, whole)
	require.NoError(t, err, by)
	for name, tt := range map[string]struct {
		spoil func(f *file)
		by    string
		says  string
	}{
		"the file's first words": {func(f *file) { copy(f.data, "SQLite format 9") }, "open", "damaged, or is no database of Frywright"},
		"the size of its pages":  {func(f *file) { binary.BigEndian.PutUint16(f.data[16:], 4000) }, "open", "damaged"},
		"the tables' names":      {func(f *file) { f.at(1)[0] = 77 }, "open", "damaged"},
		"the file's end":         {func(f *file) { f.data = f.data[:len(f.data)-3*f.page] }, "open", "damaged"},
		"inner page of a table":  {func(f *file) { f.at(f.find(t, tableInner))[0] = 77 }, "open", "table entry"},
		"inner page of an index": {func(f *file) { f.at(f.find(t, indexInner))[0] = 77 }, "open", "Found by SQLite's own check"},
		"page of a table":        {func(f *file) { f.at(f.find(t, tableLeaf))[0] = 77 }, "open", "Found by SQLite's own check"},
		"page of an index":       {func(f *file) { f.at(f.find(t, indexLeaf))[0] = 77 }, "open", "Found by SQLite's own check"},
		"where rows begin":       {func(f *file) { binary.BigEndian.PutUint16(f.at(f.find(t, tableLeaf))[8:], 3) }, "open", "Found by SQLite's own check"},
		"the list of free pages": {func(f *file) { binary.BigEndian.PutUint32(f.at(int(binary.BigEndian.Uint32(f.data[32:])))[4:], 1<<30) }, "open", "Found by SQLite's own check"},
		"a key of an index": {func(f *file) {
			// The same key stands in the table and in the index: only the whole check compares them.
			f.replaceIn(t, indexLeaf, "OT-1", "OU-1")
		}, "check", "Found by SQLite's own check"},
		"a text of the journal": {func(f *file) { f.replaceIn(t, tableLeaf, "note 77 xxxx", "note 78 xxxx") }, "journal", "hash does not match"},
	} {
		t.Run(name, func(t *testing.T) {
			f := &file{append([]byte{}, whole.data...), whole.page}
			tt.spoil(f)
			by, err := opened(t, f)
			require.Error(t, err, "nobody sees it")
			assert.Equal(t, tt.by, by, "%v", err)
			assert.Contains(t, err.Error(), tt.says)
			if by != "journal" {
				assert.Equal(t, fault.Unavailable, fault.KindOf(err))
				assert.Contains(t, fault.MessageOf(err), "frywright restore", "the way back")
				assert.True(t, store.Damaged(err))
			}
		})
	}
}

// replaceIn puts one text in the place of another in the first page of a kind that has it.
func (f *file) replaceIn(t *testing.T, kind byte, old, fresh string) {
	t.Helper()
	for n := 2; n <= len(f.data)/f.page; n++ {
		if page := f.at(n); page[0] == kind {
			if i := strings.Index(string(page), old); i >= 0 {
				copy(page[i:], fresh)
				return
			}
		}
	}
	require.Fail(t, "no page of that kind has it", old)
}

// TestNoDamageBreaksTheProgram flips bytes anywhere: whatever is asked gets an answer or a failure that people can read.
func TestNoDamageBreaksTheProgram(t *testing.T) {
	whole := someFile(t)
	seed := rand.Uint64()
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("seed %d", seed)
		}
	})
	r := rand.New(rand.NewPCG(seed, 1))
	seen := map[string]int{}
	for range 40 {
		f := &file{append([]byte{}, whole.data...), whole.page}
		for range 1 + r.IntN(30) {
			f.data[r.IntN(len(f.data))] ^= byte(1 + r.IntN(255))
		}
		by, err := opened(t, f)
		seen[by]++
		if by == "open" || by == "check" {
			assert.NotEmpty(t, fault.MessageOf(err), "%v", err)
			assert.NotContains(t, fault.MessageOf(err), "panic")
		}
	}
	t.Logf("seen by: %v", seen)
	assert.Positive(t, seen["open"]+seen["check"]+seen["journal"])
}

// TestADamagedLogEndsAtItsLastGoodCommit spoils the log that a killed process leaves beside the file: what it says is
// what stood at an earlier commit, never a mixture.
func TestADamagedLogEndsAtItsLastGoodCommit(t *testing.T) {
	w := newWorld(t)
	w.liveALittle()
	for i := range 30 {
		w.must(w.office, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: fmt.Sprintf("note %d", i)}})
	}
	data, err := os.ReadFile(w.path)
	require.NoError(t, err)
	log, err := os.ReadFile(w.path + "-wal")
	require.NoError(t, err)
	require.Greater(t, len(log), 10_000)
	all, err := w.store.Content(context.Background())
	require.NoError(t, err)
	for _, at := range []int{len(log) - 100, len(log) * 3 / 4, len(log) / 2, len(log) / 4, 10} {
		n := *w
		n.path = filepath.Join(t.TempDir(), "n.db")
		spoilt := append([]byte{}, log...)
		spoilt[at] ^= 0xff
		require.NoError(t, os.WriteFile(n.path, data, 0o600))
		require.NoError(t, os.WriteFile(n.path+"-wal", spoilt, 0o600))
		n.open()
		require.NoError(t, n.store.CheckFile(context.Background()), at)
		require.NoError(t, n.store.Verify(context.Background()), at)
		got, err := n.store.Content(context.Background())
		require.NoError(t, err)
		require.Less(t, got.Entries, all.Entries, at)
		if got.Entries > 0 {
			n.assertRebuildEqual()
		}
	}
}

func TestADatabaseOfAnotherOrNewerProgramIsLeftAlone(t *testing.T) {
	w := newWorld(t)
	_, err := w.store.Sessions().Exec(`INSERT INTO migration (name, at) VALUES ('9999_later.sql', '2031-01-01T00:00:00.000Z')`)
	require.NoError(t, err)
	require.NoError(t, w.store.Close())
	_, err = store.Open(context.Background(), store.Config{Path: w.path, Now: w.now, NewID: uuid.New})
	assert.Contains(t, fault.MessageOf(err), "newer version of the program (9999_later.sql)")

	w = newWorld(t)
	_, err = w.store.Sessions().Exec(`DROP TABLE migration`)
	require.NoError(t, err)
	require.NoError(t, w.store.Close())
	_, err = store.Open(context.Background(), store.Config{Path: w.path, Now: w.now, NewID: uuid.New})
	assert.Contains(t, fault.MessageOf(err), "of another program")
}

// TestTheWholeFileIsLookedThroughEveryWeek moves the clock.
func TestTheWholeFileIsLookedThroughEveryWeek(t *testing.T) {
	w := newWorld(t)
	ctx := context.Background()
	due := func() bool {
		is, err := w.store.CheckDue(ctx)
		require.NoError(t, err)
		return is
	}
	assert.True(t, due(), "never yet")
	require.NoError(t, w.store.CheckInTurn(ctx))
	assert.False(t, due())
	w.clock = w.clock.Add(7*24*time.Hour - time.Second)
	assert.False(t, due())
	w.clock = w.clock.Add(time.Second)
	assert.True(t, due())
	w.clock = w.clock.Add(-30 * 24 * time.Hour)
	assert.True(t, due(), "checked in the future: the clock was set back")
}

// TestTheClockMayBeSetBack records on, through a clock that goes back and forth.
func TestTheClockMayBeSetBack(t *testing.T) {
	w := newWorld(t)
	w.liveALittle()
	var last int64
	for i, back := range []time.Duration{0, -time.Hour, -40 * 24 * time.Hour, 50 * 24 * time.Hour, -20 * 365 * 24 * time.Hour} {
		w.clock = w.clock.Add(back)
		e := w.must(w.office, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: fmt.Sprintf("note %d", i)}})[0]
		assert.Greater(t, e.Seq, last, "in the order in which they came in")
		assert.Equal(t, w.clock, e.At, "the time is what the clock said")
		last = e.Seq
		w.read(w.office, w.fryer.ID, snapshot.Routine, all(nil))
		_, err := w.store.Fryers(w.office, state.Filter{})
		require.NoError(t, err)
	}
	assert.Len(t, w.notes(w.fryer.ID), 5+1, "one was there")
	require.NoError(t, w.store.Verify(context.Background()))
	w.assertRebuildEqual()
}
