package meter

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"frywright/domain/state"
	"frywright/web"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// look asks a meter for its numbers.
func look(t *testing.T, m *Meter, address string) (int, string) {
	t.Helper()
	w := httptest.NewRecorder()
	m.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, address, nil))
	return w.Code, w.Body.String()
}

func TestRequestsAndSignInsAreCounted(t *testing.T) {
	m := New()
	for _, a := range []web.Answer{
		{Route: "/signin", Method: http.MethodPost, Status: http.StatusUnprocessableEntity, Took: 20 * time.Millisecond},
		{Route: "/signin", Method: http.MethodPost, Status: http.StatusTooManyRequests},
		{Route: "/signin", Method: http.MethodPost, Status: http.StatusTooManyRequests},
		{Route: "/signin", Method: http.MethodPost, Status: http.StatusSeeOther},
		{Route: "/signin", Method: http.MethodGet, Status: http.StatusTooManyRequests},
		{Route: "/people/{id}", Method: http.MethodPost, Status: http.StatusUnprocessableEntity},
	} {
		m.Answered(a)
	}
	status, text := look(t, m, "/metrics")
	require.Equal(t, http.StatusOK, status)
	assert.Contains(t, text, `frywright_sign_in_failures_total{why="refused"} 1`)
	assert.Contains(t, text, `frywright_sign_in_failures_total{why="put off"} 2`)
	assert.Contains(t, text, `frywright_request_seconds_count{method="POST",route="/signin",status="4xx"} 3`)
	assert.Contains(t, text, `frywright_request_seconds_bucket{method="POST",route="/signin",status="4xx",le="0.01"} 2`)
	status, _ = look(t, m, "/")
	assert.Equal(t, http.StatusNotFound, status)
}

func TestKindsOfStatements(t *testing.T) {
	for query, kind := range map[string]string{
		"SELECT 1": reads, "  with x AS (SELECT 1) SELECT * FROM x": reads, "SELECT\n\t1": reads, "PRAGMA optimize": reads,
		"INSERT INTO meta VALUES (?)": writes, "BEGIN IMMEDIATE": writes, "": writes,
	} {
		assert.Equal(t, kind, kindOf(query), query)
	}
}

// shut is a store that answers nothing.
type shut struct{}

func (shut) Entries(context.Context) (int64, error)       { return 0, errors.New("shut") }
func (shut) Totals(context.Context) (state.Totals, error) { return state.Totals{}, errors.New("shut") }

func TestWhatCannotBeAskedHidesNothingElse(t *testing.T) {
	file := filepath.Join(t.TempDir(), "x.db")
	require.NoError(t, os.WriteFile(file, make([]byte, 4096), 0o600)) // and no log beside it
	m := New()
	m.Watch(context.Background(), shut{}, file)
	status, text := look(t, m, "/metrics")
	assert.Equal(t, http.StatusOK, status)
	assert.Contains(t, text, `frywright_database_bytes{file="main"} 4096`)
	assert.Contains(t, text, "go_goroutines")
	assert.NotContains(t, text, "frywright_journal_entries ")
	assert.NotContains(t, text, `frywright_fryers{`)
}
