package main

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/web/form"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// queried are the names that addresses of lists and forms carry.
var queried = []string{
	"q", "customer", "site", "class", "days", "show", "page", "notice", "of", "sheet", "group", "ref", "typed", "next", "kind", "after", "before", "cause", "to", "from", "level",
}

// TestNoQueryBreaksThePage puts nasty values behind the question mark, in every place at once.
func TestNoQueryBreaksThePage(t *testing.T) {
	x := newTarget(t)
	for what, value := range nasty {
		q := url.Values{}
		for _, name := range queried {
			q[name] = []string{value, "again"}
		}
		for _, route := range x.routes() {
			if route.Method != http.MethodGet {
				continue
			}
			path, _, _ := strings.Cut(x.fill(route, false), "?")
			w := x.send(access.Administrator, http.MethodGet, path+"?"+q.Encode(), "")
			sound(t, w, route.Pattern+" with "+what)
			staysHere(t, w, route.Pattern+" with "+what)
		}
	}
	for _, raw := range []string{"%", "%zz", "q=%", "a;b;c", "&&&", "=", "page=%00", strings.Repeat("q=1&", 20_000)} {
		sound(t, x.send(access.Administrator, http.MethodGet, "/fryers?"+raw, ""), raw)
	}
}

// staysHere checks that an answer sends nobody to another site. Browsers take a backslash for a slash, and two slashes for
// the beginning of a host (WHATWG, URL Standard).
func staysHere(t testing.TB, w *httptest.ResponseRecorder, what string) {
	t.Helper()
	to := w.Header().Get("Location")
	if to == "" {
		return
	}
	require.Regexp(t, `^/([^/\\]|$)`, to, what)
	require.NotRegexp(t, "[\x00-\x20\\\\]", to, what)
}

// tricks are what strangers put into addresses where an id is expected.
var tricks = []string{
	"..", ".", "...", "%2e%2e", "%2e%2e%2f", "..%2f..%2f..%2fetc%2fpasswd", "%252e%252e%252f", "..%5c..%5cgo.mod", "%00", "x%00.csv", "%ff%fe", "%c0%ae%c0%ae",
	"%0d%0aSet-Cookie:%20a=b", "%e2%80%ae", "x.", "x%20", "%20", "%2f%2fevil.example", "%5c%5cevil.example", ";a=b", "%3f", "%23", "{id}", "*", "$(id)", "%25",
	"00000000-0000-0000-0000-000000000000", "%7B00000000-0000-0000-0000-000000000000%7D", "urn:uuid:00000000-0000-0000-0000-000000000000",
	"setpoint@1", "setpoint@3", "setpoint@", "@", "-1", "99999999999999999999", strings.Repeat("a", 8_000), strings.Repeat("%2e%2e/", 500),
}

var parameter = regexp.MustCompile(`\{[a-z]+\}`)

// TestNoPathBreaksThePage puts tricks into each place of each address, one by one.
func TestNoPathBreaksThePage(t *testing.T) {
	x := newTarget(t)
	for _, route := range x.routes() {
		if route.Method != http.MethodGet {
			continue
		}
		right, _, _ := strings.Cut(x.fill(route, false), "?")
		for _, trick := range tricks {
			for _, path := range spoiled(route.Pattern, right, trick) {
				w := x.send(access.Administrator, http.MethodGet, path, "")
				sound(t, w, path)
				staysHere(t, w, path)
			}
		}
	}
}

// spoiled gives the address with a trick in each of its places, in all of them, and behind it.
func spoiled(pattern, right, trick string) []string {
	paths := []string{right + "/" + trick, right + trick, "/" + trick + right, strings.ReplaceAll(right, "/", "//")}
	places, parts := strings.Split(pattern, "/"), strings.Split(right, "/")
	for i, place := range places {
		if parameter.MatchString(place) {
			changed := append([]string{}, parts...)
			changed[i] = parameter.ReplaceAllLiteralString(place, trick)
			paths = append(paths, strings.Join(changed, "/"))
		}
	}
	return append(paths, parameter.ReplaceAllLiteralString(pattern, trick))
}

// TestNothingBesidesStaticIsServed asks for files that lie elsewhere.
func TestNothingBesidesStaticIsServed(t *testing.T) {
	x := newTarget(t)
	require.Equal(t, http.StatusOK, x.send("", http.MethodGet, "/static/mark.svg", "").Code, "what is there is served")
	for _, trick := range append([]string{
		"", "/", "../static.go", "..%2fstatic.go", "%2e%2e/static.go", "dist", "dist/", "./mark.svg/", "mark.svg/..", "../css/tokens.css", "//etc/passwd", "\\..\\static.go",
		"..%5cstatic.go", ".gitkeep", "app.css%00", "app.css.", "static.go", "css/..%2f..%2fstatic.go", "../../go.mod", "readme/",
	}, tricks...) {
		w := x.send("", http.MethodGet, "/static/"+trick, "")
		require.NotEqual(t, http.StatusOK, w.Code, "/static/%s: %s", trick, whole(w.Body.String()))
		require.Less(t, w.Code, 500, trick)
		require.NotContains(t, w.Body.String(), "package static", trick)
		staysHere(t, w, trick)
	}
}

// elsewhere are addresses that a careless program takes for its own.
var elsewhere = []string{
	"//evil.example", "///evil.example", "////evil.example", "/\\evil.example", "\\\\evil.example", "/\t/evil.example", "/\n/evil.example", "https://evil.example", "https:evil.example",
	"javascript:alert(1)", "data:text/html,x", "//evil.example/%2f..", "/..//evil.example", "/./\\evil.example", "/%09/evil.example", " //evil.example", "\u2028//evil.example",
	"http:///evil.example", "//frywright.example@evil.example", "/fryers\r\nSet-Cookie: a=b", "?x", "evil.example", "/desk//evil.example",
}

// TestNobodyIsSentElsewhere tries every place that tells where to go next.
func TestNobodyIsSentElsewhere(t *testing.T) {
	x := newTarget(t)
	for _, to := range elsewhere {
		next := url.Values{"next": {to}, "email": {"technician@frywright.example"}, "password": {testPassword}}
		sound(t, x.send("", http.MethodGet, "/signin?"+next.Encode(), ""), to)
		staysHere(t, x.send(access.Manager, http.MethodGet, "/signin?"+next.Encode(), ""), to)
		w := x.send("", http.MethodPost, "/signin", next.Encode())
		require.Equal(t, http.StatusSeeOther, w.Code, to)
		staysHere(t, w, to)
		for _, path := range []string{to, to + "/", to + "/fryers/", "/" + to + "/desk/", "/fryers/" + to + "/", "/%2f" + to, "/desk/" + to} {
			if _, err := url.ParseRequestURI(path); err != nil || !strings.HasPrefix(path, "/") {
				continue // no server is asked so
			}
			staysHere(t, x.send(access.Administrator, http.MethodGet, path, ""), path)
			staysHere(t, x.send("", http.MethodGet, path, ""), path)
		}
	}
}

// TestAnotherSitesFormsAreNotTaken sends every form as a stranger's page would make a browser send it.
func TestAnotherSitesFormsAreNotTaken(t *testing.T) {
	x := newTarget(t)
	for _, route := range x.routes() {
		if route.Method != http.MethodPost {
			continue
		}
		for name, headers := range map[string]map[string]string{
			"cross-site":               {"Sec-Fetch-Site": "cross-site", "Origin": "https://evil.example"},
			"a neighbour":              {"Sec-Fetch-Site": "same-site", "Origin": "http://other.example.com"},
			"an old browser":           {"Origin": "https://evil.example"},
			"a page without an origin": {"Origin": "null"},
			"a frame that is fenced":   {"Origin": "null", "Sec-Fetch-Site": "cross-site"},
			"another port":             {"Origin": "http://example.com:8081"},
		} {
			path, values := x.shown[route.Pattern]()
			role := sender(route)
			x.as(role)
			before := x.count(`SELECT count(*) FROM entry`)
			r := ask(http.MethodPost, path, values.Encode())
			r.Header.Del("Origin")
			r.Header.Del("Sec-Fetch-Site")
			for k, v := range headers {
				r.Header.Set(k, v)
			}
			w := x.answer(role, r)
			require.Equal(t, http.StatusForbidden, w.Code, "%s, %s", route.Pattern, name)
			require.Contains(t, w.Body.String(), "from a page of another site", "%s, %s", route.Pattern, name)
			require.Equal(t, before, x.count(`SELECT count(*) FROM entry`), "%s, %s", route.Pattern, name)
			require.Empty(t, w.Result().Cookies(), "%s, %s", route.Pattern, name)
		}
	}
}

// TestEveryAnswerHasThePolicy looks at the headers of pages, forms, files, errors and redirects.
func TestEveryAnswerHasThePolicy(t *testing.T) {
	x := newTarget(t)
	answers := map[string]*httptest.ResponseRecorder{
		"static":         x.send("", http.MethodGet, "/static/mark.svg", ""),
		"no static file": x.send("", http.MethodGet, "/static/none.css", ""),
		"health":         x.send("", http.MethodGet, "/healthz", ""),
		"nothing":        x.send("", http.MethodGet, "/nothing", ""),
		"a slash":        x.send("", http.MethodGet, "/fryers/", ""),
		"another method": x.send("", http.MethodDelete, "/fryers", ""),
		"not theirs":     x.send(access.Manager, http.MethodGet, "/people", ""),
		"too large":      x.send(access.Administrator, http.MethodPost, "/fryers/"+x.own.fryer.String()+"/notes", strings.Repeat("x", 5<<20)),
		"nobody":         x.send("", http.MethodGet, "/desk", ""),
	}
	for _, route := range x.routes() {
		path := x.fill(route, false)
		if route.Method == http.MethodPost {
			path, _ = x.shown[route.Pattern]()
		}
		if route.Action != form.Anyone {
			answers[route.Method+" "+route.Pattern] = x.send(sender(route), route.Method, path, "")
		}
	}
	for what, w := range answers {
		h := w.Header()
		policy := h.Get("Content-Security-Policy")
		assert.Contains(t, policy, "default-src 'self'", what)
		assert.Contains(t, policy, "script-src 'self'", what)
		assert.NotContains(t, policy, "unsafe-inline", what)
		assert.NotContains(t, policy, "'unsafe-eval'", what)
		for _, directive := range []string{"object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
			assert.Contains(t, policy, directive, what)
		}
		assert.Equal(t, "nosniff", h.Get("X-Content-Type-Options"), what)
		assert.Contains(t, []string{"same-origin", "strict-origin"}, h.Get("Referrer-Policy"), "%s: no address of ours is told to others, a token least of all", what)
		assert.Equal(t, "same-origin", h.Get("Cross-Origin-Opener-Policy"), what)
		if w.Body.Len() > 0 {
			assert.NotEmpty(t, h.Get("Content-Type"), what)
		}
	}
	assert.Equal(t, http.StatusRequestEntityTooLarge, answers["too large"].Code)
	assert.Contains(t, answers["too large"].Body.String(), "<h1>", "a page says what is wrong")
}
