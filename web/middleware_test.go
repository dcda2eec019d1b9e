package web_test

import (
	"bytes"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/web"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/stretchr/testify/assert"
)

func TestTheLogKeepsLinksThatLetPeopleInToItself(t *testing.T) {
	fails := func(http.ResponseWriter, *http.Request) error { return errors.New("disk full") }
	var log bytes.Buffer
	s := web.New(web.Config{
		Routes: []form.Route{
			{Method: http.MethodGet, Pattern: "/welcome/{token}", Handler: fails, Action: form.Public, Site: form.NoSite},
			{Method: http.MethodGet, Pattern: "/fryers/{id}", Handler: fails, Action: form.Public, Site: form.NoSite},
		},
		Identify: func(*http.Request) (access.Actor, error) { return access.Actor{}, nil },
		Log:      slog.New(slog.NewTextHandler(&log, nil)),
		Now:      func() time.Time { return time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC) },
	})
	for _, to := range []string{path.Welcome("SECRET"), "/fryers/7?q=private"} {
		w := httptest.NewRecorder()
		s.ServeHTTP(w, httptest.NewRequest(http.MethodGet, to, nil))
		assert.Equal(t, http.StatusInternalServerError, w.Code)
		assert.NotContains(t, w.Body.String(), "disk full")
	}
	assert.Contains(t, log.String(), "route=/welcome/{token}")
	assert.Contains(t, log.String(), "route=/fryers/{id}")
	assert.Contains(t, log.String(), "disk full")
	assert.NotContains(t, log.String(), "/fryers/7")
	assert.NotContains(t, log.String(), "SECRET")
	assert.NotContains(t, log.String(), "private")
}
