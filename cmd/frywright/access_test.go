package main

import (
	"flag"
	"fmt"
	"net/http"
	"net/url"
	"os"
	"sort"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/web"
	"frywright/web/form"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the table of who may do what anew; look at the difference before committing it")

// accessTable is the committed table: every route, each kind of user, own and foreign site.
const accessTable = "testdata/access.tsv"

// visitors are the columns of the table.
var visitors = []struct {
	name  string
	role  access.Role
	other bool // at the site that is not theirs
}{
	{"nobody", "", false},
	{"administrator", access.Administrator, false},
	{"dispatcher", access.Dispatcher, false},
	{"technician", access.Technician, false},
	{"technician, foreign site", access.Technician, true},
	{"manager", access.Manager, false},
	{"manager, foreign site", access.Manager, true},
}

// outcome is what the table says of an answer. Which page of their own an allowed visitor gets, a 200, a form shown
// again or a redirect, is not its matter.
func outcome(status int, location string) string {
	switch {
	case status == http.StatusSeeOther && (location == "/signin" || strings.HasPrefix(location, "/signin?next=")):
		return "sign in"
	case status == http.StatusForbidden:
		return "not theirs"
	case status == http.StatusNotFound:
		return "hidden"
	case status >= 500:
		return fmt.Sprintf("failed %d", status)
	default:
		return "let in"
	}
}

// TestEveryRouteForEveryVisitor asks for every route of the table as every visitor and compares with the committed table.
// A new route without a row fails.
func TestEveryRouteForEveryVisitor(t *testing.T) {
	got := map[string]string{}
	for _, v := range visitors {
		x := newInstance(t) // one each: a visitor may change things, and must not change them for the next
		routes, _ := web.Routes(web.Parts{Backend: x.store, NewID: newID, Now: now})
		sort.SliceStable(routes, func(i, j int) bool { return rank(routes[i]) < rank(routes[j]) })
		c := x.client(v.role)
		for _, route := range routes {
			if rank(route) == endsSession {
				c = x.client(v.role)
			}
			key := route.Method + "\t" + route.Pattern
			got[key] += "\t" + x.ask(c, route, v.other)
		}
	}
	lines := make([]string, 0, len(got))
	for key, row := range got {
		lines = append(lines, key+row)
	}
	sort.Strings(lines)
	head := "method\troute"
	for _, v := range visitors {
		head += "\t" + v.name
	}
	text := head + "\n" + strings.Join(lines, "\n") + "\n"
	if *update {
		require.NoError(t, os.WriteFile(accessTable, []byte(text), 0o600))
	}
	want, err := os.ReadFile(accessTable)
	require.NoError(t, err)
	assert.Equal(t, string(want), text, "who may do what has changed: look at it, then run with -update")
}

// endsSession is the rank of what needs a fresh sign-in each.
const endsSession = 3

// rank puts reading before writing, and signing out last, so that one request does not spoil the next.
func rank(r form.Route) int {
	switch {
	case strings.HasPrefix(r.Pattern, "/signout"):
		return endsSession
	case r.Method != http.MethodGet:
		return 2
	default:
		return 1
	}
}

// ask sends one request and gives its outcome.
func (x *instance) ask(c *http.Client, route form.Route, other bool) string {
	path := x.fill(route, other)
	status, location := x.raw(c, route.Method, path)
	return outcome(status, location)
}

// fill puts ids of the instance into a route's pattern.
func (x *instance) fill(route form.Route, other bool) string {
	at := x.own
	if other {
		at = x.other
	}
	id := newID().String()
	switch {
	case strings.HasPrefix(route.Pattern, "/fryers/"):
		id = at.fryer.String()
	case strings.HasPrefix(route.Pattern, "/readings/"):
		id = at.open.String()
		if strings.HasSuffix(route.Pattern, "/result") {
			id = at.finished.String()
		}
	case strings.HasPrefix(route.Pattern, "/sites/"):
		id = at.site.String()
	case strings.HasPrefix(route.Pattern, "/sheets/"):
		id = x.sheet.String()
	case strings.HasPrefix(route.Pattern, "/models/"):
		id = x.model.String()
	case strings.HasPrefix(route.Pattern, "/customers/"):
		id = x.owner.String()
	case strings.HasPrefix(route.Pattern, "/people/"):
		id = x.people[access.Manager].String()
	}
	key := "setpoint"
	if strings.Contains(route.Pattern, "/interlocks/") {
		key = "pilot-gas"
	}
	kind := "sheets"
	tag := "T-1"
	if other {
		tag = "T-2"
	}
	query := ""
	if strings.HasSuffix(route.Pattern, "/weigh") {
		query = "?ref=setpoint@1&typed=340"
	}
	return strings.NewReplacer("{id}", id, "{key}", key, "{kind}", kind, "{ref}", "setpoint@1", "{pos}", "1", "{tag}", tag,
		"{level}", "customer", "{of}", x.owner.String(), "{sheet}", x.sheet.String(), "{token}", "no-such-token").Replace(route.Pattern) + query
}

func (x *instance) raw(c *http.Client, method, path string) (int, string) {
	req, err := http.NewRequest(method, x.server.URL+path, strings.NewReader(url.Values{}.Encode()))
	require.NoError(x.t, err)
	if method != http.MethodGet {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	req.Header.Set("Origin", x.server.URL)
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	resp, err := c.Do(req)
	require.NoError(x.t, err)
	require.NoError(x.t, resp.Body.Close())
	return resp.StatusCode, resp.Header.Get("Location")
}

// TestAnotherSitesFormChangesNothing sends what a stranger's page would make a browser send.
func TestAnotherSitesFormChangesNothing(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Technician)
	for header, value := range map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"} {
		req, err := http.NewRequest(http.MethodPost, x.server.URL+"/fryers/"+x.own.fryer.String()+"/notes", strings.NewReader("text=planted"))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set(header, value)
		resp, err := c.Do(req)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		assert.Equal(t, http.StatusForbidden, resp.StatusCode, header)
	}
	_, page := x.get(c, "/fryers/"+x.own.fryer.String()+"/history")
	assert.NotContains(t, page, "planted")
}

// TestEveryPageHasThePolicy looks at the headers of every page that can be read.
func TestEveryPageHasThePolicy(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Administrator)
	routes, _ := web.Routes(web.Parts{Backend: x.store, NewID: newID, Now: now})
	for _, route := range routes {
		if route.Method != http.MethodGet {
			continue
		}
		req, err := http.NewRequest(http.MethodGet, x.server.URL+x.fill(route, false), nil)
		require.NoError(t, err)
		resp, err := c.Do(req)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		policy := resp.Header.Get("Content-Security-Policy")
		assert.Contains(t, policy, "script-src 'self';", route.Pattern)
		assert.NotContains(t, policy, "unsafe-inline", route.Pattern)
		assert.Equal(t, "nosniff", resp.Header.Get("X-Content-Type-Options"), route.Pattern)
	}
}
