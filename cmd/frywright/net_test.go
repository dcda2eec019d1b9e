package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"frywright/cmd/frywright/edge"
	"frywright/cmd/frywright/meter"
	"frywright/domain/access"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// notebook is a log that goroutines write and a test reads.
type notebook struct {
	mu sync.Mutex
	b  bytes.Buffer
}

// Write implements io.Writer.
func (n *notebook) Write(p []byte) (int, error) {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.b.Write(p)
}

func (n *notebook) String() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.b.String()
}

// impatient serves an instance over TCP as the serve command does, with short times, and gives its address and its log.
func impatient(t *testing.T, x *instance, d *door) (string, *notebook) {
	t.Helper()
	log := &notebook{}
	ctx, stop := context.WithCancel(x.office)
	e := &environment{ctx: ctx, now: now, door: d, log: slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug})), data: t.TempDir()}
	l, err := net.Listen("tcp", "127.0.0.1:0") //nolint:noctx // the server closes it
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() { done <- e.serve(ctx, l, x.store, false, nil) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-done)
	})
	return l.Addr().String(), log
}

var short = edge.Times{Header: 300 * time.Millisecond, Read: 600 * time.Millisecond, Write: 2 * time.Second, Idle: time.Second, Stop: time.Second}

// trickle sends a text and then a byte now and then until the other side has had enough; it gives what that side said.
func trickle(t *testing.T, at, head string) (answer string, took time.Duration) {
	t.Helper()
	conn, err := net.Dial("tcp", at) //nolint:noctx // it has a deadline
	require.NoError(t, err)
	defer conn.Close() //nolint:errcheck // it was closed on the other side
	began := time.Now()
	require.NoError(t, conn.SetDeadline(began.Add(10*time.Second)))
	_, err = io.WriteString(conn, head)
	require.NoError(t, err)
	go func() {
		for {
			time.Sleep(50 * time.Millisecond)
			if _, err := io.WriteString(conn, "a"); err != nil {
				return
			}
		}
	}()
	text, _ := io.ReadAll(conn) // a reset after the answer says the same as an end
	return string(text), time.Since(began)
}

func TestWhoDawdlesIsCutOff(t *testing.T) {
	x := newInstance(t)
	at, _ := impatient(t, x, &door{times: short})
	_, took := trickle(t, at, "GET /signin HTTP/1.1\r\nHost: fry.example\r\nX-Slow: ")
	assert.Less(t, took, 2*time.Second, "a head that never ends")
	post := "POST %s HTTP/1.1\r\nHost: fry.example\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 100000\r\n\r\nemail="
	for path, status := range map[string]string{"/signin": "408", "/no-such-page": "404"} {
		answer, took := trickle(t, at, fmt.Sprintf(post, path))
		assert.Less(t, took, 3*time.Second, "%s: a body that never ends", path)
		assert.True(t, strings.HasPrefix(answer, "HTTP/1.1 "+status), "%s: %.200s", path, answer)
	}
}

// TestWhoDawdlesHoldsNobodyUp writes while a slow form is coming in.
func TestWhoDawdlesHoldsNobodyUp(t *testing.T) {
	x := newInstance(t)
	slow := short
	slow.Read, slow.Write = 2*time.Second, 5*time.Second
	at, _ := impatient(t, x, &door{times: slow})
	x.server.URL = "http://" + at
	c := x.client(access.Technician)
	u, err := url.Parse(x.server.URL)
	require.NoError(t, err)
	var cookies strings.Builder
	for _, cookie := range c.Jar.Cookies(u) {
		fmt.Fprintf(&cookies, "%s=%s; ", cookie.Name, cookie.Value)
	}
	notes := "/fryers/" + x.own.fryer.String() + "/notes"
	done := make(chan string)
	go func() {
		answer, _ := trickle(t, at, "POST "+notes+" HTTP/1.1\r\nHost: "+at+"\r\nCookie: "+cookies.String()+
			"\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 100000\r\n\r\ntext=slow")
		done <- answer
	}()
	time.Sleep(200 * time.Millisecond) // by now its head is there and its handler waits for the body
	began := time.Now()
	status, page := x.post(c, notes, url.Values{"text": {"written meanwhile"}})
	assert.Equal(t, http.StatusSeeOther, status, page)
	assert.Less(t, time.Since(began), time.Second)
	assert.Contains(t, <-done, "HTTP/1.1 408")
	_, page = x.get(c, "/fryers/"+x.own.fryer.String()+"/history")
	assert.Contains(t, page, "written meanwhile")
	assert.NotContains(t, page, "slow")
}

func TestTooMuchIsRefusedOverTCP(t *testing.T) {
	x := newInstance(t)
	at, _ := impatient(t, x, &door{})
	x.server.URL = "http://" + at
	status, page := x.do(x.client(""), http.MethodPost, "/signin", strings.NewReader(strings.Repeat("a", 5<<20)))
	assert.Equal(t, http.StatusRequestEntityTooLarge, status, page)
	answer, _ := trickle(t, at, "GET /signin HTTP/1.1\r\nHost: fry.example\r\nX-Large: "+strings.Repeat("a", 64<<10)+"\r\n\r\n")
	assert.Contains(t, answer, "431")
}

// TestTheLogIsOfNobody signs in, fails to, opens links and sends forms, and looks for what was typed in the log.
func TestTheLogIsOfNobody(t *testing.T) {
	x := newInstance(t)
	at, log := impatient(t, x, &door{})
	x.server.URL = "http://" + at
	c := x.client(access.Administrator)
	secrets := []string{"SECRETTOKEN", "typed-wrong-password", "nobody@frywright.example", "Query Person", "Zephyrine", "zephyrine@frywright.example", testPassword, "administrator@frywright.example", "Test administrator"}
	x.post(x.client(""), "/signin", url.Values{"email": {"nobody@frywright.example"}, "password": {"typed-wrong-password"}})
	x.get(x.client(""), "/welcome/SECRETTOKEN")
	x.get(c, "/fryers?q="+url.QueryEscape("Query Person"))
	x.post(c, "/people/"+newID().String(), url.Values{"name": {"Zephyrine"}, "email": {"zephyrine@frywright.example"}, "role": {"dispatcher"}})
	x.post(c, "/people/"+newID().String(), url.Values{"name": {"Zephyrine"}, "email": {"not an address"}})
	x.get(c, "/no-such-page/SECRETTOKEN")
	u, err := url.Parse(x.server.URL)
	require.NoError(t, err)
	for _, cookie := range c.Jar.Cookies(u) {
		secrets = append(secrets, cookie.Value)
	}
	_, err = x.store.Sessions().Exec(`ALTER TABLE standing RENAME TO elsewhere`) //nolint:noctx // a test
	require.NoError(t, err)                                                      // what fails within is logged, without what was typed
	status, page := x.get(c, "/desk?q=Zephyrine")
	assert.Equal(t, http.StatusInternalServerError, status)
	x.post(x.client(""), "/signin", url.Values{"email": {"nobody@frywright.example"}, "password": {"typed-wrong-password"}})
	text := log.String()
	assert.Contains(t, text, "route=/welcome/{token}")
	assert.Contains(t, text, "level=ERROR")
	assert.Regexp(t, `this number: [A-Z2-7]{14}`, page)
	for _, secret := range secrets {
		assert.NotContains(t, text, secret)
		assert.NotContains(t, text, url.QueryEscape(secret))
	}
}

func TestNumbersAreAtAnAddressOfTheirOwn(t *testing.T) {
	x := newInstance(t)
	d := &door{meter: meter.New()}
	var err error
	d.metrics, err = listenAt("127.0.0.1:0")
	require.NoError(t, err)
	var file string
	require.NoError(t, x.store.Sessions().QueryRow(`SELECT file FROM pragma_database_list WHERE name = 'main'`).Scan(&file)) //nolint:noctx // a test
	d.meter.Watch(x.office, x.store, file)
	slow := d.ran(slog.New(slog.NewTextHandler(io.Discard, nil)), time.Second)
	slow("SELECT 1", 2*time.Second)
	slow("INSERT INTO meta VALUES (?)", time.Millisecond)
	at, _ := impatient(t, x, d)
	x.server.URL = "http://" + at
	c := x.client(access.Dispatcher)
	x.get(c, "/fryers/"+x.own.fryer.String())
	x.post(x.client(""), "/signin", url.Values{"email": {"nobody@frywright.example"}, "password": {"wrong"}})
	status, _ := x.get(c, "/metrics")
	assert.Equal(t, http.StatusNotFound, status, "not where the pages are")

	x.server.URL = "http://" + d.metrics.Addr().String()
	status, _ = x.get(c, "/desk")
	assert.Equal(t, http.StatusNotFound, status, "no pages there")
	status, text := x.get(c, "/metrics")
	require.Equal(t, http.StatusOK, status)
	for _, line := range []string{
		`frywright_request_seconds_count{method="GET",route="/fryers/{id}",status="2xx"} 1`,
		`frywright_sign_in_failures_total{why="refused"} 1`, `frywright_sign_in_failures_total{why="put off"} 0`,
		`frywright_statement_seconds_count{kind="read"} 1`, `frywright_statement_seconds_count{kind="write"} 1`,
		`frywright_slow_statements_total{kind="read"} 1`, `frywright_slow_statements_total{kind="write"} 0`,
		"frywright_requests_in_flight 0", `frywright_fryers{worst="safety"} 0`, "frywright_readings_open 2",
		`frywright_database_bytes{file="main"}`, `frywright_database_bytes{file="wal"}`, "go_goroutines", "process_open_fds",
	} {
		assert.Contains(t, text, line)
	}
	n, err := x.store.Entries(x.office)
	require.NoError(t, err)
	assert.Contains(t, text, fmt.Sprintf("frywright_journal_entries %d", n))
	assert.NotContains(t, text, x.own.fryer.String())
	assert.NotContains(t, text, "frywright.example")
}
