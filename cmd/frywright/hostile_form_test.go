package main

import (
	"encoding/json"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/domain/legible"
	"frywright/web/form"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// nasty are values that people, spreadsheets and strangers put into fields.
var nasty = map[string]string{
	"html":         `<script>alert(1)</script><img src=x onerror=alert(1)>"'`,
	"long":         strings.Repeat("long ", 4_000),
	"not utf-8":    "caf\xff\xfe\x80",
	"lost":         "caf\ufffd",
	"nul":          "a\x00b\x1b[2J\x7f",
	"bidi":         "\u202egpj.exe",
	"zero width":   "ad\u200bmin\u2060\ufeff",
	"tags":         "a\U000e0041\U000e007f",
	"marks":        "e" + strings.Repeat("\u0301\u0302", 200),
	"apart":        "Cre\u0300me",
	"arabic":       "مقلاة",
	"blank":        " \u00a0\u3000\t\r\n ",
	"nothing":      "",
	"lines":        "one\r\ntwo\u2028three",
	"nan":          "NaN",
	"infinite":     "-Infinity",
	"huge":         "1e999",
	"digits":       strings.Repeat("9", 400),
	"negative":     "-999999999999999999999",
	"minus zero":   "-0",
	"hex":          "0x1p-2",
	"thousands":    "14,000",
	"arabic digit": "٣٥٠",
	"sql":          `'; DROP TABLE entry; --`,
	"formula":      `=HYPERLINK("http://elsewhere.example")`,
	"last day":     "9999-12-31",
	"last minute":  "9999-12-31T23:59",
	"first day":    "0000-01-01T00:00",
	"nil id":       "00000000-0000-0000-0000-000000000000",
	"template":     "{{.}}${7*7}%s%!d(MISSING)",
	"path":         "../../etc/passwd\x00.csv",
}

// unasked are fields that a form may not have, and that handlers read all the same.
var unasked = []string{"base", "entry", "step", "do", "next", "notice", "__proto__"}

// inside are marks of the inside of the program, which no page shows.
var inside = []string{"goroutine ", "sql:", "SQLITE", "panic", ".go:", "strconv.", "invalid UUID", "json:"}

// sound checks an answer: a page for people, that runs nothing and shows nothing of the inside.
func sound(t testing.TB, w *httptest.ResponseRecorder, what string) {
	t.Helper()
	page := w.Body.String()
	require.Less(t, w.Code, 500, what)
	require.NotContains(t, page, "<script>alert", what)
	require.NotContains(t, page, "<img src=x", what)
	for _, mark := range inside {
		require.NotContains(t, page, mark, what)
	}
	for name, values := range w.Header() {
		require.NotContains(t, strings.Join(values, ""), "\n", "%s of %s", name, what)
	}
	if w.Code == http.StatusUnprocessableEntity {
		require.Regexp(t, `data-focus-errors|class="blank blank-page"|aria-invalid="true"|class="error"`, page, what+": it says what is wrong")
	}
}

// notTaken are the answers to forms that need more than a form to be taken: nobody was checked at the door before, no second
// step is set up, somebody is there already, files are not sent as fields, nothing was looked at before it is written.
var notTaken = map[string]int{
	"/setup/{token}": http.StatusNotFound, "/import": http.StatusUnsupportedMediaType, "/import/write": http.StatusUnprocessableEntity,
	"/account/second-step/confirm": http.StatusUnprocessableEntity, "/people/{id}/second-step": http.StatusUnprocessableEntity,
}

// TestEveryFormIsRight makes sure that the forms that the other tests spoil are taken as they are, and that none is missing.
func TestEveryFormIsRight(t *testing.T) {
	x := newTarget(t)
	patterns := map[string]bool{}
	for _, route := range x.routes() {
		if route.Method != http.MethodPost {
			continue
		}
		patterns[route.Pattern] = true
		made := x.shown[route.Pattern]
		if !assert.NotNil(t, made, "%s has no form here: add one", route.Pattern) {
			continue
		}
		path, values := made()
		w := x.send(sender(route), http.MethodPost, path, values.Encode())
		if status := notTaken[route.Pattern]; status != 0 {
			assert.Equal(t, status, w.Code, route.Pattern)
		} else {
			assert.Less(t, w.Code, 400, "%s: %s", route.Pattern, w.Body)
		}
		if route.Action == form.Anyone { // they end the sign-in
			delete(x.cookies, sender(route))
		}
	}
	for pattern := range x.shown {
		assert.True(t, patterns[pattern], "%s takes no form any more", pattern)
	}
}

// aboutOneself says whether a form is about the sign-in of who sends it.
func aboutOneself(route form.Route) bool {
	return route.Action == form.Anyone || strings.HasPrefix(route.Pattern, "/signin")
}

// sender is who sends a form: for those about one's own sign-in, somebody whom nothing else needs.
func sender(route form.Route) access.Role {
	switch route.Action {
	case form.Public:
		return ""
	case form.Anyone:
		return access.Dispatcher
	default:
		return access.Administrator
	}
}

// TestNoFieldBreaksThePage puts every nasty value into every field of every form, alone; drops each field, and sends it
// twice. Each answer is a page for people, and nothing that cannot be read enters the journal.
func TestNoFieldBreaksThePage(t *testing.T) {
	x := newTarget(t)
	for _, route := range x.routes() {
		if route.Method != http.MethodPost || aboutOneself(route) {
			continue // about one's own sign-in: TestNoSignInBreaksThePage
		}
		x.spoilEach(route)
	}
	x.staysSound()
}

// deep are the values that get past a first look: they are tried alone in each field, where everything else is right.
var deep = []string{"html", "not utf-8", "bidi", "last minute", "first day", "nil id"}

func (x *target) spoilEach(route form.Route) {
	_, values := x.shown[route.Pattern]()
	names := fieldsOf(values)
	alone := deep
	if route.Action == form.Public { // each right password costs time
		alone = deep[:2]
	}
	for i, name := range slices.Sorted(maps.Keys(values)) {
		for _, what := range alone {
			x.spoil(route, what+" in "+name, func(v url.Values) { v[name] = []string{nasty[what]} })
		}
		x.spoil(route, "without "+name, func(v url.Values) { v.Del(name) })
		x.spoil(route, "twice "+name, func(v url.Values) { v[name] = []string{nasty["html"], v.Get(name)} })
		if i == len(values)/2 {
			x.spoil(route, "a megabyte in "+name, func(v url.Values) { v[name] = []string{strings.Repeat("x", 1<<20)} })
		}
	}
	whats := slices.Sorted(maps.Keys(nasty))
	for i := range whats { // each value in each field, all at once
		x.spoil(route, "all, from "+whats[i], func(v url.Values) {
			for j, name := range names {
				v[name] = []string{nasty[whats[(i+j)%len(whats)]]}
			}
		})
	}
}

// fieldsOf lists the fields of a form, and those besides.
func fieldsOf(values url.Values) []string {
	names := slices.Clone(unasked)
	for name := range values {
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names
}

// spoil sends a form with one thing wrong.
func (x *target) spoil(route form.Route, what string, change func(url.Values)) {
	x.t.Helper()
	path, made := x.shown[route.Pattern]()
	values := url.Values{}
	for k, v := range made {
		values[k] = slices.Clone(v)
	}
	change(values)
	sound(x.t, x.send(sender(route), http.MethodPost, path, values.Encode()), route.Pattern+": "+what)
}

// staysSound looks at what the journal holds in the end, and at every page.
func (x *target) staysSound() {
	x.t.Helper()
	x.legible()
	require.NoError(x.t, x.store.Verify(x.office))
	for _, role := range access.Roles() {
		for _, route := range x.routes() {
			if route.Method == http.MethodGet {
				path := x.fill(route, false)
				sound(x.t, x.send(role, http.MethodGet, path, ""), "GET "+path)
			}
		}
	}
	_, err := x.store.Rebuild(x.office)
	require.NoError(x.t, err, "what was taken can be replayed")
}

// legible reads every text of every entry that was taken.
func (x *target) legible() {
	x.t.Helper()
	rows, err := x.store.Sessions().QueryContext(x.office, `SELECT kind, body FROM entry WHERE id NOT IN (SELECT entry_id FROM quarantine)`)
	require.NoError(x.t, err)
	defer rows.Close()
	for rows.Next() {
		var kind, text string
		require.NoError(x.t, rows.Scan(&kind, &text))
		var body any
		require.NoError(x.t, json.Unmarshal([]byte(text), &body))
		everyText(body, func(s string) { require.Empty(x.t, legible.Problem(s, true), "%s holds %q", kind, whole(s)) })
	}
	require.NoError(x.t, rows.Err())
}

func everyText(v any, fn func(string)) {
	switch v := v.(type) {
	case string:
		fn(v)
	case []any:
		for _, one := range v {
			everyText(one, fn)
		}
	case map[string]any:
		for _, one := range v {
			everyText(one, fn)
		}
	}
}

// TestNoSignInBreaksThePage spoils the forms about one's own sign-in. They are few, for each right password costs time.
func TestNoSignInBreaksThePage(t *testing.T) {
	x := newTarget(t)
	for _, route := range x.routes() {
		if route.Method != http.MethodPost || !aboutOneself(route) {
			continue
		}
		_, values := x.shown[route.Pattern]()
		for what, value := range nasty {
			all := func(v url.Values) {
				for name := range values {
					v[name] = []string{value}
				}
				v["next"] = []string{value}
			}
			x.spoil(route, what+" in all", all)
			if strings.HasPrefix(route.Pattern, "/signout") {
				delete(x.cookies, sender(route))
				break
			}
		}
	}
	x.staysSound()
}

// TestTenThousandFields sends more fields than any form has.
func TestTenThousandFields(t *testing.T) {
	x := newTarget(t)
	for _, n := range []int{9_000, 10_000, 40_000} {
		many := make([]string, n)
		for i := range many {
			many[i] = "f" + strconv.Itoa(i) + "=1"
		}
		for _, route := range x.routes() {
			if route.Method != http.MethodPost || aboutOneself(route) {
				continue
			}
			path, values := x.shown[route.Pattern]()
			body := values.Encode() + "&" + strings.Join(many, "&")
			sound(t, x.send(sender(route), http.MethodPost, path, body), route.Pattern)
			sound(t, x.send(sender(route), http.MethodPost, path, strings.Repeat("area=a&site=b&v.pilot=on&", n)), route.Pattern)
		}
	}
}

// FuzzForms spoils the forms as a stranger's program would.
func FuzzForms(f *testing.F) {
	for i := range 40 {
		f.Add(uint8(i), uint8(i), "v.pilot=on&base=%00", "350")
	}
	i := uint8(0)
	for _, value := range nasty {
		if len(value) < 1000 {
			f.Add(i%40, i%11, "", value)
			i++
		}
	}
	x := newTarget(f)
	var posts []form.Route
	for _, route := range x.routes() {
		if route.Method == http.MethodPost && !aboutOneself(route) {
			posts = append(posts, route)
		}
	}
	f.Fuzz(func(t *testing.T, which, field uint8, more, value string) {
		x.t = t
		route := posts[int(which)%len(posts)]
		path, values := x.shown[route.Pattern]()
		names := fieldsOf(values)
		sent := url.Values{}
		for k, v := range values {
			sent[k] = v
		}
		sent[names[int(field)%len(names)]] = []string{value}
		w := x.send(sender(route), http.MethodPost, path, sent.Encode()+"&"+more)
		sound(t, w, route.Pattern)
	})
}
