package main

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestADiskThatIsFullLosesNothing takes the room away while the server runs, and gives it back.
func TestADiskThatIsFullLosesNothing(t *testing.T) {
	t.Run("no file may grow", func(t *testing.T) {
		w := newWard(t)
		l := w.run("serve", "--listen", "127.0.0.1:0")
		limit := func(size string) {
			out, err := exec.CommandContext(t.Context(), "prlimit", "--pid", strconv.Itoa(l.cmd.Process.Pid), "--fsize="+size).CombinedOutput()
			require.NoError(t, err, string(out))
		}
		w.withoutRoom(l, func() { limit("1:unlimited") }, func() { limit("unlimited") })
	})
	t.Run("no room", func(t *testing.T) {
		w := newWard(t)
		disk, may := smallDisk(t)
		if !may {
			return // the limit above gives the same failures; whoever may mount has this one, too
		}
		require.NoError(t, os.CopyFS(filepath.Join(disk, "data"), os.DirFS(w.data)))
		w.data = filepath.Join(disk, "data")
		w.env.data = w.data
		ballast := filepath.Join(disk, "ballast")
		fill := func() {
			f, err := os.Create(ballast)
			require.NoError(t, err)
			for err == nil {
				_, err = f.Write(bytes.Repeat([]byte("x"), 4096))
			}
			require.ErrorIs(t, err, syscall.ENOSPC)
			require.NoError(t, f.Close())
		}
		w.withoutRoom(w.run("serve", "--listen", "127.0.0.1:0"), fill, func() { require.NoError(t, os.Remove(ballast)) })

		fill()
		err := w.run("serve", "--listen", "127.0.0.1:0").wait()
		require.Error(t, err, "it starts with room only")
		assert.Contains(t, err.Error(), "disk")
		assert.NotContains(t, err.Error(), "goroutine")
		err = w.run("backup", filepath.Join(disk, "copy.db")).wait()
		require.Error(t, err)
		assert.Contains(t, err.Error(), "disk")
		for _, name := range []string{"copy.db", "copy.db.part"} {
			assert.NoFileExists(t, filepath.Join(disk, name), "half a copy is none")
		}
		require.NoError(t, os.Remove(ballast))
		w.sound()
	})
}

// smallDisk mounts a disk of a few megabytes; false where this user may not.
func smallDisk(t *testing.T) (string, bool) {
	t.Helper()
	disk := t.TempDir()
	err := syscall.Mount("none", disk, "tmpfs", 0, "size=6m")
	if errors.Is(err, syscall.EPERM) {
		t.Log("this user may not mount a disk")
		return "", false
	}
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, syscall.Unmount(disk, 0)) })
	return disk, true
}

// withoutRoom writes until there is no room, looks at what people see then, and gives the room back.
func (w *ward) withoutRoom(l *life, take, give func()) {
	t := w.t
	base := l.address()
	w.signIn(base)
	require.True(t, w.note(base, "while there is room"))
	take()
	fryer := base + "/fryers/" + w.fryer.String()
	refused := ""
	for i := 0; refused == ""; i++ {
		require.Less(t, i, 2000, "there is room still")
		status, page, err := w.post(fryer+"/notes", map[string][]string{"text": {fmt.Sprintf("typed once %d %s", i, strings.Repeat("x", 2000))}})
		require.NoError(t, err, "the server goes on")
		if status != http.StatusSeeOther {
			require.Equal(t, http.StatusServiceUnavailable, status, page)
			refused = page
		}
	}
	assert.Contains(t, refused, "This was not saved: the server")
	assert.Contains(t, refused, "typed once", "what was typed is kept")
	assert.NotContains(t, refused, "SQL")
	for _, path := range []string{"/fryers", "/desk", "/fryers/" + w.fryer.String(), "/fryers/" + w.fryer.String() + "/history"} {
		status, _, err := w.get(base + path)
		require.NoError(t, err)
		assert.Equal(t, http.StatusOK, status, "%s can be read", path)
	}
	give()
	require.True(t, w.note(base, "there is room again"))
	status, page, err := w.get(fryer + "/history")
	require.NoError(t, err)
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, page, "there is room again")
	require.NoError(t, l.stop(), l.complaints.String())
	w.sound()
}

// TestAFolderThatCannotBeWrittenTo takes the right to write away, from the superuser, too.
func TestAFolderThatCannotBeWrittenTo(t *testing.T) {
	w := newWard(t)
	entries, err := os.ReadDir(w.data)
	require.NoError(t, err)
	for _, e := range entries {
		require.NoError(t, os.Chmod(filepath.Join(w.data, e.Name()), 0o400))
	}
	require.NoError(t, os.Chmod(w.data, 0o500))
	t.Cleanup(func() { _ = os.Chmod(w.data, 0o700) })
	run := func(args ...string) error {
		exe, err := os.Executable()
		require.NoError(t, err)
		args = append([]string{exe, "--data", w.data}, args...)
		if os.Geteuid() == 0 {
			args = append([]string{"setpriv", "--bounding-set=-all", "--inh-caps=-all"}, args...)
		}
		cmd := exec.CommandContext(t.Context(), args[0], args[1:]...)
		cmd.Env = append(os.Environ(), asProgram+"=1")
		out, err := cmd.CombinedOutput()
		if err != nil {
			return fmt.Errorf("%w: %s", err, out)
		}
		return nil
	}
	for _, args := range [][]string{{"serve", "--listen", "127.0.0.1:0"}, {"rebuild"}, {"restore", filepath.Join(w.data, database)}} {
		err := run(args...)
		require.Error(t, err, args[0])
		assert.Contains(t, err.Error(), "frywright: The folder "+w.data+" cannot be written to.", args[0])
	}
	require.NoError(t, run("verify"), "reading goes on")
	require.NoError(t, run("backup", w.elsewhere("copy.db")))
	err = run("backup", filepath.Join(w.data, "copy.db"))
	require.Error(t, err)
	assert.Contains(t, err.Error(), "may not write to the folder")
}
