package main

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"frywright/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	killSeed = flag.Uint64("killseed", 0, "the seed of the moments at which processes are killed; 0 for another one each time")
	kills    = flag.Int("kills", usualKills, "how many processes are killed, in all")
)

// within gives a random time up to the longest.
func within(r *rand.Rand, longest time.Duration) time.Duration {
	return time.Duration(r.Int64N(int64(longest)))
}

// pace gives moments at which about every second process of a kind is done already, however quick the machine is.
type pace struct {
	r    *rand.Rand
	took time.Duration // nearly what a process takes
}

// cut kills a process at a random moment and says whether it was done before.
func (p *pace) cut(l *life) (done bool) {
	if p.took == 0 { // the first is left alone, to know how long one takes
		began := time.Now()
		done = l.wait() == nil
		p.took = time.Since(began)
		return done
	}
	time.Sleep(p.took/4 + within(p.r, p.took))
	l.kill()
	if done = l.err == nil; done {
		p.took = p.took * 9 / 10
	} else {
		p.took = p.took * 11 / 10
	}
	return done
}

// TestKilledAtAnyMoment kills the real program at random moments of serving, importing, rebuilding and restoring. What
// was acknowledged is there, the journal is whole, what is shown is what it says, and the next process starts cleanly.
func TestKilledAtAnyMoment(t *testing.T) {
	seed := *killSeed
	if seed == 0 {
		seed = rand.Uint64()
	}
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("nearly the same again with: go test ./cmd/frywright -run %s -killseed %d", t.Name(), seed)
		}
	})
	t.Run("serve", func(t *testing.T) {
		t.Parallel()
		r := rand.New(rand.NewPCG(seed, 1))
		killFirstStarts(t, r, *kills/20)
		killServing(t, r, *kills/2-*kills/20)
	})
	t.Run("rest", func(t *testing.T) {
		t.Parallel()
		r := rand.New(rand.NewPCG(seed, 2))
		killImports(t, r, *kills/5)
		killRebuilds(t, r, *kills/5)
		killRestores(t, r, *kills/10)
	})
}

// writers is how many people write at once while the server is killed.
const writers = 4

func killServing(t *testing.T, r *rand.Rand, lives int) {
	w := newWard(t)
	acknowledged := map[string]bool{}
	for n := range lives {
		l := w.run("serve", "--listen", "127.0.0.1:0")
		if n%10 == 9 {
			// Killed while it starts: nobody was told anything.
			time.Sleep(within(r, 60*time.Millisecond))
			l.kill()
			continue
		}
		base := l.address()
		if n == 0 {
			w.signIn(base)
		}
		for text := range w.writeUntil(l, base, n, within(r, 150*time.Millisecond)) {
			acknowledged[text] = true
		}
		w.look(func(ctx context.Context, s *store.Store) {
			require.NoError(t, s.Verify(ctx))
			there := held(t, s)
			for text := range acknowledged {
				require.True(t, there[text], "life %d: %q was acknowledged and is gone", n, text)
			}
		})
	}
	require.Greater(t, len(acknowledged), lives/4, "hardly anything was written")
	t.Logf("%d notes were acknowledged in %d lives", len(acknowledged), lives)
	w.sound()
}

// killFirstStarts kills the program while it makes its database: the next start goes on.
func killFirstStarts(t *testing.T, r *rand.Rand, lives int) {
	for range lives {
		e, _ := shell(t)
		w := &ward{t: t, data: e.data, env: e}
		l := w.run("serve", "--listen", "127.0.0.1:0")
		time.Sleep(20*time.Millisecond + within(r, 100*time.Millisecond))
		l.kill()
		w.look(func(ctx context.Context, s *store.Store) {
			require.NoError(t, s.CheckFile(ctx))
			had, err := s.HasPeople(ctx)
			require.NoError(t, err)
			require.False(t, had)
		})
	}
}

// writeUntil has several people write notes until the process is killed, and gives what was acknowledged.
func (w *ward) writeUntil(l *life, base string, n int, after time.Duration) map[string]bool {
	var (
		mu   sync.Mutex
		told = map[string]bool{}
		all  sync.WaitGroup
	)
	for who := range writers {
		all.Go(func() {
			for i := 0; ; i++ {
				text := fmt.Sprintf("life %d, writer %d, note %d", n, who, i)
				if !w.note(base, text) {
					return
				}
				mu.Lock()
				told[text] = true
				mu.Unlock()
			}
		})
	}
	time.Sleep(after)
	l.kill()
	all.Wait()
	return told
}

// killImports imports a hundred new fryers again and again: all of them are there or none.
func killImports(t *testing.T, r *rand.Rand, lives int) {
	const size = 100
	w := newWard(t)
	moments := pace{r: r}
	whole, cut := 0, 0
	for n := range lives {
		var file strings.Builder
		file.WriteString("tag,site,model\n")
		for i := range size {
			fmt.Fprintf(&file, "K-%d-%d,A,H1\n", n, i)
		}
		name := w.elsewhere("fryers.csv")
		require.NoError(t, os.WriteFile(name, []byte(file.String()), 0o600))
		acknowledged := moments.cut(w.run("import", name))
		w.look(func(ctx context.Context, s *store.Store) {
			require.NoError(t, s.Verify(ctx))
			there := len(rows(t, s.Sessions(), fmt.Sprintf(`SELECT tag FROM fryer WHERE tag LIKE 'K-%d-%%'`, n)))
			entries := len(rows(t, s.Sessions(), fmt.Sprintf(`SELECT seq FROM entry WHERE body LIKE '%%K-%d-%%'`, n)))
			require.Contains(t, []int{0, size}, there, "import %d is there in part", n)
			require.Equal(t, there, entries, "journal and tables")
			if acknowledged {
				require.Equal(t, size, there, "import %d was acknowledged", n)
			}
			if there == size {
				whole++
			} else {
				cut++
			}
		})
	}
	t.Logf("of %d imports %d are there wholly, %d not at all", lives, whole, cut)
	assert.Positive(t, whole)
	assert.Positive(t, cut)
	w.sound()
}

// killRebuilds spoils a table and rebuilds: afterwards all tables are the old ones or all are the new ones.
func killRebuilds(t *testing.T, r *rand.Rand, lives int) {
	w := newWard(t)
	var right, spoilt map[string][]string
	w.look(func(ctx context.Context, s *store.Store) {
		for i := range 300 {
			_, err := s.Record(ctx, noteOn(w.fryer, fmt.Sprintf("note %d", i)))
			require.NoError(t, err)
		}
		right = projected(t, s)
	})
	spoil := func(_ context.Context, s *store.Store) {
		for _, statement := range []string{`UPDATE fryer SET name = 'spoilt'`, `UPDATE event SET note = 'spoilt'`, `UPDATE site SET name = 'spoilt ' || id`} {
			_, err := s.Sessions().ExecContext(t.Context(), statement)
			require.NoError(t, err)
		}
		spoilt = projected(t, s)
	}
	moments := pace{r: r}
	before, after := 0, 0
	for n := range lives {
		w.look(spoil)
		acknowledged := moments.cut(w.run("rebuild"))
		w.look(func(ctx context.Context, s *store.Store) {
			require.NoError(t, s.Verify(ctx))
			if got := projected(t, s); assert.ObjectsAreEqual(spoilt, got) {
				before++
				require.False(t, acknowledged, "it said that it had rebuilt")
			} else {
				require.Equal(t, right, got, "rebuild %d", n)
				after++
			}
		})
	}
	t.Logf("of %d rebuilds %d left the old tables, %d the new ones", lives, before, after)
	assert.Positive(t, before)
	assert.Positive(t, after)
}

// killRestores restores an older copy: afterwards the folder holds the old database or the restored one, never none.
func killRestores(t *testing.T, r *rand.Rand, lives int) {
	w := newWard(t)
	copied := w.elsewhere("copy.db")
	w.look(func(ctx context.Context, s *store.Store) {
		_, err := s.Backup(ctx, copied, true)
		require.NoError(t, err)
	})
	moments := pace{r: r}
	left, restored := 0, 0
	for n := range lives {
		text := fmt.Sprintf("after the copy, %d", n)
		w.look(func(ctx context.Context, s *store.Store) {
			_, err := s.Record(ctx, noteOn(w.fryer, text))
			require.NoError(t, err)
		})
		acknowledged := moments.cut(w.run("restore", copied))
		require.FileExists(t, filepath.Join(w.data, lockFile))
		w.look(func(ctx context.Context, s *store.Store) {
			require.NoError(t, s.Verify(ctx))
			require.Len(t, projected(t, s)["fryer"], 2, "restore %d left no fleet", n)
			if held(t, s)[text] {
				left++
				require.False(t, acknowledged, "it said that it had restored")
			} else {
				restored++
			}
		})
	}
	kept, err := filepath.Glob(filepath.Join(w.data, "kept-*", database))
	require.NoError(t, err)
	require.Len(t, kept, restored, "every database that was replaced is kept")
	t.Logf("of %d restores %d left the old database, %d the restored one", lives, left, restored)
	assert.Positive(t, restored)
	w.sound()
}
