package web_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/web"
	"frywright/web/form"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// parses reads the form as every page of ours does.
func parses(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	_, err := io.WriteString(w, "taken")
	return err
}

// swallows reads whatever comes.
func swallows(w http.ResponseWriter, r *http.Request) error {
	n, err := io.Copy(io.Discard, r.Body)
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "The files could not be read.")
	}
	_, err = io.WriteString(w, strings.Repeat("x", int(n>>20)))
	return err
}

func open(c web.Config, routes ...form.Route) *web.Server {
	for i := range routes {
		routes[i].Action, routes[i].Site = form.Public, form.NoSite
	}
	c.Routes = routes
	c.Identify = func(*http.Request) (access.Actor, error) { return access.Actor{}, nil }
	c.Healthy = func(context.Context) error { return nil }
	c.Now = func() time.Time { return time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC) }
	if c.Log == nil {
		c.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	return web.New(c)
}

// sized is a body of n bytes; with its length told or not.
func sized(n int, told bool) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "/form", io.LimitReader(letters{}, int64(n)))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if told {
		r.ContentLength = int64(n)
	}
	return r
}

type letters struct{}

func (letters) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = 'a'
	}
	return len(p), nil
}

func TestBodiesHaveLimits(t *testing.T) {
	s := open(web.Config{},
		form.Route{Method: http.MethodPost, Pattern: "/form", Handler: parses},
		form.Route{Method: http.MethodPost, Pattern: "/files", Handler: swallows, Body: 16 << 20})
	for name, c := range map[string]struct {
		to, kind string
		bytes    int
		told     bool
		status   int
	}{
		"a form":                     {"/form", "application/x-www-form-urlencoded", 1000, true, http.StatusOK},
		"a form of another alphabet": {"/form", "application/x-www-form-urlencoded; charset=utf-8", 1000, true, http.StatusOK},
		"a form too large":           {"/form", "application/x-www-form-urlencoded", 5 << 20, true, http.StatusRequestEntityTooLarge},
		"too large and not told":     {"/form", "application/x-www-form-urlencoded", 5 << 20, false, http.StatusRequestEntityTooLarge},
		"files":                      {"/files", "multipart/form-data; boundary=x", 9 << 20, false, http.StatusOK},
		"files too large":            {"/files", "multipart/form-data; boundary=x", 17 << 20, true, http.StatusRequestEntityTooLarge},
		"files too large, not told":  {"/files", "multipart/form-data; boundary=x", 17 << 20, false, http.StatusRequestEntityTooLarge},
		"files for a form":           {"/form", "multipart/form-data; boundary=x", 1000, true, http.StatusUnsupportedMediaType},
		"a form for files":           {"/files", "application/x-www-form-urlencoded", 1000, true, http.StatusUnsupportedMediaType},
		"something else":             {"/form", "application/json", 1000, true, http.StatusUnsupportedMediaType},
		"nobody knows what":          {"/form", "", 1000, true, http.StatusUnsupportedMediaType},
		"not even a type":            {"/form", ";;;", 1000, true, http.StatusUnsupportedMediaType},
	} {
		t.Run(name, func(t *testing.T) {
			r := sized(c.bytes, c.told)
			r.URL.Path = c.to
			r.Header.Set("Content-Type", c.kind)
			w := httptest.NewRecorder()
			s.ServeHTTP(w, r)
			assert.Equal(t, c.status, w.Code)
			if c.status != http.StatusOK {
				assert.Contains(t, w.Body.String(), "Nothing was written.")
				assert.Contains(t, w.Body.String(), "To the start page", "it is a page")
			}
			assert.Equal(t, c.status == http.StatusRequestEntityTooLarge, w.Header().Get("Connection") == "close")
		})
	}
}

func TestAPostWithoutABodyNeedsNoType(t *testing.T) {
	s := open(web.Config{}, form.Route{Method: http.MethodPost, Pattern: "/form", Handler: parses})
	assert.Equal(t, http.StatusOK, ask(s, http.MethodPost, "/form").Code)
}

func TestAnotherMethodIsToldWhatThePageTakes(t *testing.T) {
	s := open(web.Config{},
		form.Route{Method: http.MethodGet, Pattern: "/both/{id}", Handler: says("")}, form.Route{Method: http.MethodPost, Pattern: "/both/{id}", Handler: parses},
		form.Route{Method: http.MethodPost, Pattern: "/act", Handler: parses})
	for _, c := range []struct{ method, to, allow string }{
		{http.MethodDelete, "/both/7", "GET, POST, HEAD"}, {http.MethodGet, "/act", "POST"}, {http.MethodHead, "/act", "POST"},
		{http.MethodOptions, "/act", "POST"}, {http.MethodPost, "/healthz", "GET, HEAD"},
	} {
		w := ask(s, c.method, c.to)
		assert.Equal(t, http.StatusMethodNotAllowed, w.Code, "%s %s", c.method, c.to)
		assert.Equal(t, c.allow, w.Header().Get("Allow"), "%s %s", c.method, c.to)
		assert.Contains(t, w.Body.String(), "Not in this way")
	}
}

// TestTooMuchAtOnceIsPutOff holds requests open until no more are let in.
func TestTooMuchAtOnceIsPutOff(t *testing.T) {
	entered, goOn := make(chan bool), make(chan bool)
	s := open(web.Config{Limits: web.Limits{Requests: 3, EachClient: 2}},
		form.Route{Method: http.MethodGet, Pattern: "/slow", Handler: func(http.ResponseWriter, *http.Request) error {
			entered <- true
			<-goOn
			return nil
		}},
		form.Route{Method: http.MethodGet, Pattern: "/quick", Handler: says("quick")})
	from := func(address, to string) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, to, nil)
		r.RemoteAddr = address
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		return w
	}
	done := make(chan int)
	hold := func(address string) {
		go func() { done <- from(address, "/slow").Code }()
		<-entered
	}
	hold("[2001:db8::1]:4711")
	hold("[2001:db8::2]:4712") // the same connection's network
	w := from("[2001:db8::3]:4713", "/quick")
	assert.Equal(t, http.StatusServiceUnavailable, w.Code, "two from there are enough")
	assert.Equal(t, "5", w.Header().Get("Retry-After"))
	assert.Contains(t, w.Body.String(), "Too busy just now")
	assert.Equal(t, http.StatusOK, from("[2001:db8:0:1::1]:4714", "/quick").Code, "others are let in")
	hold("192.0.2.1:4715")
	assert.Equal(t, http.StatusServiceUnavailable, from("192.0.2.2:4716", "/quick").Code, "three in all are enough")
	assert.Equal(t, http.StatusOK, from("192.0.2.2:4716", "/healthz").Code, "whoever watches over the server is always let in")
	close(goOn)
	for range 3 {
		require.Equal(t, http.StatusOK, <-done)
	}
	assert.Equal(t, http.StatusOK, from("[2001:db8::3]:4713", "/quick").Code, "afterwards it goes on")
}

func TestEveryRequestHasANumber(t *testing.T) {
	var log strings.Builder
	var seen []web.Answer
	s := open(web.Config{
		Log: slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug})), LogLevel: slog.LevelDebug,
		Observe: func(a web.Answer) { seen = append(seen, a) },
	},
		form.Route{Method: http.MethodGet, Pattern: "/fryers/{id}", Handler: fails(errors.New("disk full"))},
		form.Route{Method: http.MethodGet, Pattern: "/fine", Handler: says("fine")})
	w := ask(s, http.MethodGet, "/fryers/7?q=private", "X-Request-Id", "made-up")
	id := w.Header().Get("X-Request-Id")
	assert.Regexp(t, `^[A-Z2-7]{14}$`, id, "what the asking side says is not heard")
	assert.Contains(t, w.Body.String(), "this number: "+id)
	lines := strings.Split(strings.TrimSpace(log.String()), "\n")
	require.Len(t, lines, 2)
	for _, line := range lines {
		assert.Contains(t, line, "id="+id)
		assert.Contains(t, line, "route=/fryers/{id}")
		assert.NotContains(t, line, "/fryers/7")
		assert.NotContains(t, line, "private")
	}
	assert.Contains(t, lines[0], "level=ERROR")
	assert.Contains(t, lines[1], "level=DEBUG")

	assert.NotEqual(t, id, ask(s, http.MethodGet, "/fine").Header().Get("X-Request-Id"))
	ask(s, "BREW", "/fine")
	ask(s, http.MethodGet, "/no-such-page/SECRET")
	require.Len(t, seen, 4)
	assert.Equal(t, web.Answer{Method: http.MethodGet, Route: "/fryers/{id}", Status: http.StatusInternalServerError}, seen[0])
	assert.Equal(t, web.Answer{Method: http.MethodGet, Route: "/fine", Status: http.StatusOK}, seen[1])
	assert.Equal(t, web.Answer{Method: "other", Route: "none", Status: http.StatusMethodNotAllowed}, seen[2])
	assert.Equal(t, web.Answer{Method: http.MethodGet, Route: "none", Status: http.StatusNotFound}, seen[3])

	r := httptest.NewRequest(http.MethodGet, "/fine", nil)
	w = httptest.NewRecorder()
	s.ServeHTTP(w, r.WithContext(web.WithRequestID(r.Context(), "from-the-proxy")))
	assert.Equal(t, "from-the-proxy", w.Header().Get("X-Request-Id"))
}
