//go:build replicate

package main

import (
	"context"
	"flag"
	"os"
	"os/exec"
	"testing"
	"time"

	"frywright/store"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var litestream = flag.String("litestream", "", "the program that streams the log")

// TestReplicatedWhileWriting streams the log to another folder while people write, kills both programs, loses the data
// folder's database, and goes on from the replica.
func TestReplicatedWhileWriting(t *testing.T) {
	w := newWard(t)
	live, replica, given := w.data+"/"+database, "file://"+w.elsewhere("replica"), w.elsewhere("given.db")
	server := w.run("serve", "--listen", "127.0.0.1:0")
	base := server.address()
	w.signIn(base)
	stream := exec.CommandContext(t.Context(), *litestream, "replicate", live, replica)
	stream.Stdout, stream.Stderr = os.Stderr, os.Stderr
	require.NoError(t, stream.Start())
	told := w.writeWhile(base, "streamed", func() { time.Sleep(8 * time.Second) })
	require.True(t, w.note(base, "the last before the pause"))
	time.Sleep(3 * time.Second) // it sends every second
	late := w.writeWhile(base, "late", func() { time.Sleep(300 * time.Millisecond) })
	server.kill()
	require.NoError(t, stream.Process.Kill())
	_ = stream.Wait()
	old := w.content()
	for _, name := range parts {
		_ = os.Remove(w.data + "/" + name) // the disk is gone
	}

	began := time.Now()
	out, err := exec.CommandContext(t.Context(), *litestream, "restore", "-o", given, replica).CombinedOutput()
	require.NoError(t, err, string(out))
	t.Logf("given back in %s:\n%s", time.Since(began).Round(time.Millisecond), out)
	require.NoError(t, w.run("restore", given).wait())
	w.look(func(ctx context.Context, s *store.Store) {
		there := held(t, s)
		assert.True(t, there["the last before the pause"])
		assert.Subset(t, keys(there), keys(told), "what was acknowledged a while before")
		kept := 0
		for text := range late {
			if there[text] {
				kept++
			}
		}
		c, err := s.Content(ctx)
		require.NoError(t, err)
		t.Logf("%d of %d entries are there; of the %d in the last 0.3 s, %d", c.Entries, old.Entries, len(late), kept)
		assert.NotEqual(t, old.Epoch, c.Epoch)
	})
	require.NoError(t, w.run("verify").wait())
	w.sound()
}
