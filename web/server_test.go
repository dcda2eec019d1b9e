package web_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/web"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// desk is who acts where a request bears the header Test-Desk.
var desk = access.Actor{Person: uuid.MustParse("0192f3a0-0000-7000-8000-000000000001"), Name: "Dee Desk", Role: access.Dispatcher}

func says(text string) form.Handler {
	return func(w http.ResponseWriter, _ *http.Request) error {
		_, err := w.Write([]byte(text))
		return err
	}
}

func fails(err error) form.Handler {
	return func(http.ResponseWriter, *http.Request) error { return err }
}

// serve gives a server of a few routes, and its log.
func serve() (*web.Server, *bytes.Buffer) {
	var log bytes.Buffer
	route := func(method, pattern string, h form.Handler, action access.Action) form.Route {
		return form.Route{Method: method, Pattern: pattern, Handler: h, Action: action, Site: form.NoSite}
	}
	return web.New(web.Config{
		Routes: []form.Route{
			route(http.MethodGet, "/", says("home"), form.Anyone),
			route(http.MethodGet, "/open", says("open"), form.Public),
			route(http.MethodGet, "/desk", says("desk"), access.SeeDesk),
			route(http.MethodPost, "/desk", says("done"), access.SeeDesk),
			route(http.MethodGet, "/people", says("people"), access.EditPeople),
			route(http.MethodGet, "/breaks", fails(errors.New("table standing is locked")), form.Public),
			route(http.MethodGet, "/wraps", fails(fault.Wrap(errors.New("pq: secret"), fault.Unavailable, "Not just now, please.")), form.Public),
			route(http.MethodGet, "/panics", func(http.ResponseWriter, *http.Request) error { panic("index out of range") }, form.Public),
			route(http.MethodGet, "/half", func(w http.ResponseWriter, _ *http.Request) error {
				_, _ = w.Write([]byte("half"))
				panic("half way")
			}, form.Public),
			route(http.MethodGet, "/welcome/{token}", says("welcome"), form.Public),
		},
		Identify: func(r *http.Request) (access.Actor, error) {
			if r.Header.Get("Test-Desk") != "" {
				return desk, nil
			}
			return access.Actor{}, nil
		},
		Healthy: func(context.Context) error { return nil },
		Log:     slog.New(slog.NewTextHandler(&log, nil)),
		Now:     func() time.Time { return time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC) },
	}), &log
}

func ask(s *web.Server, method, to string, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, to, nil)
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func TestAnswers(t *testing.T) {
	s, _ := serve()
	in := []string{"Test-Desk", "yes"}
	for name, c := range map[string]struct {
		method, to string
		header     []string
		status     int
		location   string
	}{
		"a page":                          {http.MethodGet, "/open", nil, http.StatusOK, ""},
		"only its head":                   {http.MethodHead, "/open", nil, http.StatusOK, ""},
		"health":                          {http.MethodHead, "/healthz", nil, http.StatusOK, ""},
		"signed out":                      {http.MethodGet, "/desk?worst=food", nil, http.StatusSeeOther, path.SignIn() + "?next=" + url.QueryEscape("/desk?worst=food")},
		"signed out, an action":           {http.MethodPost, "/desk", nil, http.StatusSeeOther, path.SignIn()},
		"signed out, no such page":        {http.MethodGet, "/no-such-page", nil, http.StatusNotFound, ""},
		"signed in":                       {http.MethodGet, "/desk", in, http.StatusOK, ""},
		"not meant for":                   {http.MethodGet, "/people", in, http.StatusForbidden, ""},
		"a slash too many":                {http.MethodGet, "/desk/?worst=food", in, http.StatusPermanentRedirect, "/desk?worst=food"},
		"a slash too many where is none":  {http.MethodGet, "/no-such-page/", in, http.StatusNotFound, ""},
		"a slash that leads elsewhere":    {http.MethodGet, "//elsewhere.example/", in, http.StatusNotFound, ""},
		"another method":                  {http.MethodDelete, "/desk", in, http.StatusMethodNotAllowed, ""},
		"another method, no such page":    {http.MethodDelete, "/no-such-page", in, http.StatusNotFound, ""},
		"another site's form":             {http.MethodPost, "/desk", append(in, "Sec-Fetch-Site", "cross-site"), http.StatusForbidden, ""},
		"something breaks":                {http.MethodGet, "/breaks", nil, http.StatusInternalServerError, ""},
		"something breaks and is wrapped": {http.MethodGet, "/wraps", nil, http.StatusServiceUnavailable, ""},
		"a panic":                         {http.MethodGet, "/panics", nil, http.StatusInternalServerError, ""},
		"a style that is not there":       {http.MethodGet, "/static/none.css", nil, http.StatusNotFound, ""},
	} {
		t.Run(name, func(t *testing.T) {
			w := ask(s, c.method, c.to, c.header...)
			assert.Equal(t, c.status, w.Code)
			assert.Equal(t, c.location, w.Header().Get("Location"))
			for _, inner := range []string{"locked", "pq:", "index out of range", "goroutine", "cross-origin"} {
				assert.NotContains(t, w.Body.String(), inner, "no page shows internals")
			}
			assert.Contains(t, w.Header().Get("Content-Security-Policy"), "default-src 'self'")
			assert.Equal(t, "nosniff", w.Header().Get("X-Content-Type-Options"))
			assert.NotEmpty(t, w.Header().Get("Referrer-Policy"))
		})
	}
}

func TestHalfAnAnswerIsBrokenOff(t *testing.T) {
	s, log := serve()
	assert.PanicsWithValue(t, http.ErrAbortHandler, func() { ask(s, http.MethodGet, "/half") })
	assert.Contains(t, log.String(), "half way")
}

func TestNoWayOfAskingBringsALinkIntoTheLog(t *testing.T) {
	s, log := serve()
	for _, to := range []string{"/welcome/SECRET", "/welcome/SECRET/", "/welcome/SECRET/x", "//setup/SECRET", "/static/welcome/SECRET"} {
		for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut} {
			ask(s, method, to)
		}
	}
	require.NotEmpty(t, log.String())
	assert.NotContains(t, log.String(), "SECRET")
	assert.Equal(t, 20, strings.Count(log.String(), "msg=request"))
}
