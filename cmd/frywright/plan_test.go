package main

import (
	"context"
	"database/sql"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/web"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asked collects the statements that an instance runs.
type asked struct {
	mu    sync.Mutex
	texts map[string]bool
}

func (a *asked) note(query string, _ time.Duration) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.texts != nil {
		a.texts[query] = true
	}
}

// begin forgets what was asked so far and listens from now on.
func (a *asked) begin() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.texts = map[string]bool{}
}

func (a *asked) list() []string {
	a.mu.Lock()
	defer a.mu.Unlock()
	return slices.Sorted(maps.Keys(a.texts))
}

// small are the names, in queries, of tables that stay small however large the fleet grows, and of what a query has bounded
// before: d and hit are what a search found, k a page of ids, z the restaurants of a person.
var small = map[string]bool{
	"customer": true, "c": true, "model": true, "m": true, "sheet": true, "h": true, "meta": true, "y": true, "person": true, "p": true,
	"d": true, "k": true, "z": true, "hit": true, "a": true, "CONSTANT": true,
}

// ordered are the indexes that give a list in its order, so that its LIMIT ends the walk.
var ordered = map[string]bool{
	"standing_place": true, "standing_desk": true, "standing_stale": true, "standing_open": true, "standing_never": true, "site_name": true,
	"quarantine_open": true,
}

var (
	scanned = regexp.MustCompile(`^SCAN (\S+)`)
	index   = regexp.MustCompile(`USING (?:COVERING )?INDEX (\S+)`)
)

// TestEveryQueryOfAPageUsesAnIndex reads the plans of all queries that any page makes for anybody: none may go through a
// table that grows with the fleet, and none may walk a whole index unless its LIMIT ends the walk.
func TestEveryQueryOfAPageUsesAnIndex(t *testing.T) {
	x := newInstance(t)
	routes, _ := web.Routes(web.Parts{Backend: x.store, NewID: newID, Now: now})
	clients := map[access.Role]*http.Client{}
	for _, role := range access.Roles() {
		clients[role] = x.client(role)
	}
	x.asked.begin()
	for _, c := range clients {
		for _, route := range routes {
			if route.Method != http.MethodGet {
				continue
			}
			address := x.fill(route, false)
			for _, query := range narrowed[route.Pattern] {
				x.get(c, address+query)
			}
			x.get(c, address)
		}
	}
	queries := x.asked.list()
	require.Greater(t, len(queries), 60, "the pages were asked")
	for _, query := range queries {
		for _, step := range plan(t, x.store.Sessions(), query) {
			complain(t, query, step)
		}
	}
}

// narrowed are lists as they are narrowed.
var narrowed = map[string][]string{
	"/desk":    {"?show=stale", "?show=open", "?show=never", "?class=food", "?days=7", "?page=2"},
	"/fryers":  {"?q=t-1", "?q=vexley+t", "?class=food", "?page=2"},
	"/sites":   {"?q=vex", "?q=vexley+quay", "?page=2"},
	"/lately":  {"?page=2"},
	"/people":  {"?q=a"},
	"/history": {"?page=2"},
}

var numbered = regexp.MustCompile(`\?[0-9]*`)

// parameters counts the parameters of a statement: one without a number has the one after the highest so far.
func parameters(query string) int {
	highest := 0
	for _, p := range numbered.FindAllString(query, -1) {
		if n, err := strconv.Atoi(p[1:]); err == nil {
			highest = max(highest, n)
		} else {
			highest++
		}
	}
	return highest
}

func plan(t *testing.T, db *sql.DB, query string) []string {
	t.Helper()
	statement, err := db.PrepareContext(context.Background(), "EXPLAIN QUERY PLAN "+query)
	require.NoError(t, err)
	defer func() { require.NoError(t, statement.Close()) }()
	rows, err := statement.QueryContext(context.Background(), make([]any, parameters(query))...)
	require.NoError(t, err, query)
	defer func() { require.NoError(t, rows.Close()) }()
	var steps []string
	for rows.Next() {
		var id, parent, unused int
		var step string
		require.NoError(t, rows.Scan(&id, &parent, &unused, &step))
		steps = append(steps, step)
	}
	require.NoError(t, rows.Err())
	return steps
}

// complain fails where a step of a plan goes through a table.
func complain(t *testing.T, query, step string) {
	t.Helper()
	m := scanned.FindStringSubmatch(step)
	if m == nil || small[m[1]] || strings.HasPrefix(m[1], "(subquery") {
		return
	}
	if along := index.FindStringSubmatch(step); along != nil && ordered[along[1]] && strings.Contains(query, "LIMIT") {
		return
	}
	// The journal, the latest entries first.
	if m[1] == "j" && strings.Contains(query, "ORDER BY j.seq DESC LIMIT") {
		return
	}
	assert.Fail(t, "goes through a table", "%s\n%s", step, query)
}
