package main

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"

	"frywright/domain/access"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/snapshot"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// asProgram tells the test program to be the program itself: what the tests kill is the real one.
const asProgram = "FRYWRIGHT_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// ward is a data folder on which the real program runs as a process of its own, and is killed.
type ward struct {
	t      *testing.T
	data   string
	env    *environment // the tests' own look at the folder, while no process is at work there
	client *http.Client // signed in as a dispatcher; a session outlives the process
	fryer  uuid.UUID
}

// newWard makes a data folder with the fixture's small fleet and one person.
func newWard(t *testing.T) *ward {
	t.Helper()
	e, _ := shell(t)
	w := &ward{t: t, data: e.data, env: e}
	w.look(func(ctx context.Context, s *store.Store) {
		var files []intake.File
		for name, text := range fixtureFiles {
			files = append(files, intake.File{Name: name, Data: []byte(text)})
		}
		_, written, err := s.Import(ctx, files, false)
		require.NoError(t, err)
		require.True(t, written)
		w.fryer, err = s.FryerByTag(ctx, "T-1")
		require.NoError(t, err)
		p := person.Person{ID: newID(), Name: "Dee Desk", Email: "dee@frywright.example", Role: access.Dispatcher}
		_, err = s.Record(ctx, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}})
		require.NoError(t, err)
		hash, err := hashOf(testPassword)
		require.NoError(t, err)
		require.NoError(t, s.SetPassword(ctx, p.ID, hash))
	})
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	w.client = &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	return w
}

// look opens the database in the tests' own process, as the next process would.
func (w *ward) look(fn func(ctx context.Context, s *store.Store)) {
	w.t.Helper()
	require.NoError(w.t, w.env.withStore(func(ctx context.Context, s *store.Store) error {
		fn(ctx, s)
		return nil
	}))
}

// run starts a command of the real program on the folder.
func (w *ward) run(args ...string) *life {
	w.t.Helper()
	exe, err := os.Executable()
	require.NoError(w.t, err)
	l := &life{t: w.t, ended: make(chan struct{})}
	l.cmd = exec.CommandContext(w.t.Context(), exe, append([]string{"--data", w.data}, args...)...)
	l.cmd.Env = append(os.Environ(), asProgram+"=1", "GORACE=atexit_sleep_ms=0") // else the race detector sleeps at the end
	out, err := l.cmd.StdoutPipe()
	require.NoError(w.t, err)
	l.cmd.Stderr = &l.complaints
	require.NoError(w.t, l.cmd.Start())
	l.out = bufio.NewReader(out)
	return l
}

// life is one process.
type life struct {
	t          *testing.T
	cmd        *exec.Cmd
	out        *bufio.Reader
	complaints bytes.Buffer
	once       sync.Once
	ended      chan struct{}
	err        error
}

// address waits until a server says where it is.
func (l *life) address() string {
	l.t.Helper()
	for {
		line, err := l.out.ReadString('\n')
		if _, at, ok := strings.Cut(line, "Frywright is at "); ok {
			return strings.TrimSpace(at)
		}
		if err != nil {
			require.NoError(l.t, l.wait())
			require.NoError(l.t, err, "it ended without a word; %s", l.complaints.String())
		}
	}
}

// kill ends the process at once, as kill -9 does.
func (l *life) kill() {
	_ = l.cmd.Process.Kill() // it may have ended by itself
	_ = l.wait()
}

// stop asks the process to end.
func (l *life) stop() error {
	_ = l.cmd.Process.Signal(syscall.SIGTERM)
	return l.wait()
}

// wait gives how the process ended.
func (l *life) wait() error {
	l.once.Do(func() {
		_, _ = io.Copy(io.Discard, l.out)
		l.err = l.cmd.Wait()
		close(l.ended)
	})
	<-l.ended
	if l.err != nil {
		return fmt.Errorf("%w: %s", l.err, l.complaints.String())
	}
	return nil
}

// signIn signs in at a server; the cookie is good for every later one at any port of this host.
func (w *ward) signIn(base string) {
	w.t.Helper()
	status, page, err := w.post(base+"/signin", url.Values{"email": {"dee@frywright.example"}, "password": {testPassword}})
	require.NoError(w.t, err)
	require.Equal(w.t, http.StatusSeeOther, status, page)
}

// post sends a form as a page would; an error is a server that is gone.
func (w *ward) post(to string, values url.Values) (int, string, error) {
	req, err := http.NewRequestWithContext(w.t.Context(), http.MethodPost, to, strings.NewReader(values.Encode()))
	require.NoError(w.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	return w.send(req)
}

func (w *ward) get(from string) (int, string, error) {
	req, err := http.NewRequestWithContext(w.t.Context(), http.MethodGet, from, nil)
	require.NoError(w.t, err)
	return w.send(req)
}

func (w *ward) send(req *http.Request) (int, string, error) {
	resp, err := w.client.Do(req)
	if err != nil {
		return 0, "", err
	}
	defer resp.Body.Close() //nolint:errcheck // nothing more is read from it
	page, err := io.ReadAll(resp.Body)
	return resp.StatusCode, string(page), err
}

// note records a note and says whether the server acknowledged it.
func (w *ward) note(base, text string) bool {
	status, page, err := w.post(base+"/fryers/"+w.fryer.String()+"/notes", url.Values{"text": {text}})
	if err == nil && status != http.StatusSeeOther {
		w.t.Errorf("a note got %d: %s", status, page)
	}
	return err == nil && status == http.StatusSeeOther
}

// rows gives a query's rows as text.
func rows(t *testing.T, db *sql.DB, query string) []string {
	t.Helper()
	r, err := db.QueryContext(t.Context(), query)
	require.NoError(t, err)
	defer r.Close()
	columns, err := r.Columns()
	require.NoError(t, err)
	var list []string
	for r.Next() {
		values := make([]any, len(columns))
		for i := range values {
			values[i] = new(sql.NullString)
		}
		require.NoError(t, r.Scan(values...))
		var line strings.Builder
		for _, v := range values {
			fmt.Fprintf(&line, "|%q", v.(*sql.NullString).String)
		}
		list = append(list, line.String())
	}
	require.NoError(t, r.Err())
	return list
}

// notMade are the tables that a rebuild does not make: the journal, what belongs to no entry, and what the system keeps.
var notMade = map[string]bool{
	"entry": true, "quarantine": true, "meta": true, "migration": true, "account": true, "invitation": true, "sessions": true,
	"signin": true, "factor": true, "recovery_code": true, "known_browser": true, "account_note": true, "_litestream_lock": true,
	"_litestream_seq": true,
}

// projected gives every row of every table that the journal can make again.
func projected(t *testing.T, s *store.Store) map[string][]string {
	t.Helper()
	all := map[string][]string{}
	for _, quoted := range rows(t, s.Sessions(), `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`) {
		table := strings.Trim(quoted, `|"`)
		query := `SELECT * FROM "` + table + `"`
		if table == "tally" {
			query += ` WHERE n > 0` // what no fryer stands like any more may stay with none
		}
		if !notMade[table] {
			all[table] = rows(t, s.Sessions(), query)
			slices.Sort(all[table])
		}
	}
	return all
}

// sound asserts that the folder opens cleanly, that file and journal are whole, and that what is shown is what the journal
// says.
func (w *ward) sound() {
	w.t.Helper()
	w.look(func(ctx context.Context, s *store.Store) {
		require.NoError(w.t, s.CheckFile(ctx))
		require.NoError(w.t, s.Verify(ctx))
		before := projected(w.t, s)
		require.NotEmpty(w.t, before["fryer"])
		_, err := s.Rebuild(ctx)
		require.NoError(w.t, err)
		require.Equal(w.t, before, projected(w.t, s))
	})
}

// held gives the texts of the notes in the journal.
func held(t *testing.T, s *store.Store) map[string]bool {
	t.Helper()
	texts := map[string]bool{}
	for _, text := range rows(t, s.Sessions(), `SELECT body ->> 'text' FROM entry WHERE kind = '`+snapshot.KindNote+`'`) {
		texts[strings.Trim(text, `|"`)] = true
	}
	return texts
}

// elsewhere gives a folder for what does not belong into the data folder.
func (w *ward) elsewhere(name string) string { return filepath.Join(filepath.Dir(w.data), name) }

// noteOn drafts a note on a fryer.
func noteOn(fryer uuid.UUID, text string) journal.Draft {
	return journal.Draft{Subject: fryer, Body: snapshot.Note{Text: text}}
}
