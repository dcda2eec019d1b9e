package main

import (
	"context"
	"crypto/tls"
	"database/sql"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"frywright/cmd/frywright/edge"
	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/snapshot"
	"frywright/store"
	"frywright/web"
	"frywright/web/form"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestIDsOfAnotherRestaurantAreOfNoUse sends every form of a technician's own fryer, and of the other one, with the ids
// of the other restaurant in every hidden field: what stands there is as it was; what was taken went to their own.
func TestIDsOfAnotherRestaurantAreOfNoUse(t *testing.T) {
	x := newInstance(t)
	made, err := x.store.Record(x.office, journal.Draft{Subject: x.other.fryer, Body: snapshot.Note{Text: "the key hangs behind the freezer"}})
	require.NoError(t, err)
	fields := x.allFields(x.routes())
	before, own := x.footprint(x.other), x.footprint(x.own)
	for _, role := range []access.Role{access.Technician, access.Manager} {
		c := x.client(role)
		for _, stolen := range []uuid.UUID{x.other.fryer, x.other.site, x.other.open, x.other.finished, made[0].ID} {
			values := url.Values{}
			for name := range fields {
				values.Set(name, stolen.String())
			}
			for name, text := range map[string]string{"text": "planted", "why": "planted", "note": "planted", "reason": "planted", "what": "power-cut",
				"author": x.people[access.Administrator].String(), "device": stolen.String(), "role": "administrator", "system": "1",
				"happened": "2026-01-02T10:00", "ref": "setpoint@1", "value": "340", "typed": "341", "done": "1", "purpose": "routine"} {
				values.Set(name, text)
			}
			for _, route := range x.routes() {
				if route.Method == http.MethodGet || strings.HasPrefix(route.Pattern, "/signout") || strings.HasPrefix(route.Pattern, "/account") {
					continue
				}
				x.post(c, x.fill(route, false), values)
				x.post(c, x.fill(route, true), values)
			}
		}
	}
	assert.Equal(t, before, x.footprint(x.other))
	assert.NotEqual(t, own, x.footprint(x.own), "the forms were good enough to be taken where they may be")
	assert.Zero(t, x.count(`SELECT count(*) FROM entry WHERE body LIKE '%planted%' AND author <> ?`, x.people[access.Technician].String()), "nor in another's name")
}

func (x *instance) routes() []form.Route {
	routes, _ := web.Routes(web.Parts{Backend: x.store, NewID: newID, Now: now})
	return routes
}

// footprint counts everything that the journal and the tables hold of a place.
func (x *instance) footprint(p place) string {
	fryer, site := p.fryer.String(), p.site.String()
	return fmt.Sprint(
		x.count(`SELECT count(*) FROM entry WHERE site = ? OR fryer = ?`, site, fryer), " ",
		x.count(`SELECT count(*) FROM snapshot WHERE fryer_id = ? AND site_id = ?`, fryer, site), " ",
		x.count(`SELECT coalesce(sum(known + 100 * (finished <> '') + 1000 * dropped), 0) FROM snapshot WHERE fryer_id = ?`, fryer), " ",
		x.count(`SELECT count(*) FROM tick WHERE fryer_id = ?`, fryer), " ",
		x.count(`SELECT count(*) FROM acceptance WHERE fryer_id = ?`, fryer), " ",
		x.count(`SELECT count(*) FROM site_rule WHERE site_id = ?`, site))
}

// count gives a number out of the database as it is on the disk.
func (x *instance) count(query string, args ...any) int {
	x.t.Helper()
	var n int
	require.NoError(x.t, x.store.Sessions().QueryRowContext(context.Background(), query, args...).Scan(&n))
	return n
}

// TestListsTellNothingOfAnotherRestaurant asks every page of a technician and of a manager for what stands elsewhere.
func TestListsTellNothingOfAnotherRestaurant(t *testing.T) {
	x := newInstance(t)
	queries := []string{"", "q=T-", "q=2", "q=Port", "q=Otterly", "q=%25", "q=_", "site=" + x.other.site.String(), "customer=" + x.owner.String(),
		"customer=" + x.owner.String() + "&page=1", "class=food", "page=2", "show=retired"}
	theirs := []string{"Port Lumen", "America/Denver", ">T-2", "/fryers/" + x.other.fryer.String() + `"`, "/sites/" + x.other.site.String() + `"`}
	for _, role := range []access.Role{access.Technician, access.Manager} {
		c := x.client(role)
		shown := 0
		for _, route := range x.routes() {
			if route.Method != http.MethodGet {
				continue
			}
			for _, path := range []string{x.fill(route, false), x.fill(route, true)} {
				path, _, _ = strings.Cut(path, "?")
				for _, query := range queries {
					_, page := x.get(c, path+"?"+query)
					for _, told := range theirs {
						assert.NotContains(t, page, told, "%s asks %s?%s", role, route.Pattern, query)
					}
					if strings.Contains(page, "Vexley Quay") {
						shown++
					}
				}
			}
		}
		assert.Greater(t, shown, len(queries), "%s sees their own", role)
		totals, err := x.store.Totals(x.as(role))
		require.NoError(t, err)
		assert.Equal(t, 1, totals.Fryers, "nor do counts tell of it")
	}
}

// TestWhatIsForeignLooksAsIfItWereNotThere asks every route for what stands at the other restaurant and for what stands
// nowhere: whoever may see neither cannot tell them apart.
func TestWhatIsForeignLooksAsIfItWereNotThere(t *testing.T) {
	x := newInstance(t)
	compared := 0
	for _, role := range []access.Role{access.Technician, access.Manager, ""} {
		c := x.client(role)
		for _, route := range x.routes() {
			foreign := x.fill(route, true)
			nowhere := foreign
			for _, id := range []uuid.UUID{x.other.fryer, x.other.site, x.other.open, x.other.finished} {
				nowhere = strings.ReplaceAll(nowhere, id.String(), newID().String())
			}
			nowhere = strings.ReplaceAll(nowhere, "/T-2", "/T-9")
			if nowhere == foreign {
				continue
			}
			compared++
			status, page := x.do(c, route.Method, foreign, strings.NewReader("text=x"))
			status2, page2 := x.do(c, route.Method, nowhere, strings.NewReader("text=x"))
			name := func(page, path string) string {
				return strings.NewReplacer(url.QueryEscape(path), "", path, "", "T-2", "", "T-9", "").Replace(page)
			}
			assert.Equal(t, status2, status, "%s: %s %s", role, route.Method, route.Pattern)
			assert.Equal(t, name(page2, nowhere), name(page, foreign), "%s: %s %s", role, route.Method, route.Pattern)
		}
	}
	assert.Greater(t, compared, 60)
}

// as gives a context in which the person of a role acts.
func (x *instance) as(role access.Role) context.Context {
	x.t.Helper()
	a, err := x.store.Actor(x.office, x.people[role])
	require.NoError(x.t, err)
	return access.NewContext(context.Background(), a)
}

// TestAMovedFryerTellsItsNewManagerNothingOfTheOld brings a fryer to another restaurant: its new manager sees what is done
// there, not what was done before; those who service it see all of it.
func TestAMovedFryerTellsItsNewManagerNothingOfTheOld(t *testing.T) {
	x := newInstance(t)
	f, err := x.store.Fryer(x.office, x.other.fryer)
	require.NoError(t, err)
	_, err = x.store.Record(x.office, journal.Draft{Subject: f.ID, Base: f.Version, Body: fleet.FryerMoved{From: x.other.site, To: x.own.site, Why: "sold"}})
	require.NoError(t, err)
	path := "/fryers/" + f.ID.String() + "/history"
	_, page := x.get(x.client(access.Manager), path)
	assert.Contains(t, page, "Moved here")
	assert.NotContains(t, page, "The settings were checked.", "that was at the other restaurant")
	_, page = x.get(x.client(access.Technician), path)
	assert.Contains(t, page, "Read as found", "whoever works on it has its whole history")
}

// TestLosingARestaurantCountsAtOnce takes restaurants, a role and the sign-in from people who are signed in.
func TestLosingARestaurantCountsAtOnce(t *testing.T) {
	x := newInstance(t)
	change := func(role access.Role, to func(*person.Person)) {
		p, version, err := x.store.Person(x.office, x.people[role])
		require.NoError(t, err)
		to(&p)
		_, err = x.store.Record(x.office, journal.Draft{Subject: p.ID, Base: version, Body: person.Saved{Person: p}})
		require.NoError(t, err)
	}
	note := url.Values{"text": {"planted"}}
	path := "/fryers/" + x.own.fryer.String()
	c := x.client(access.Technician)
	status, _ := x.get(c, path)
	require.Equal(t, http.StatusOK, status)

	change(access.Technician, func(p *person.Person) { p.Areas = []string{"south"} })
	status, _ = x.get(c, path)
	assert.Equal(t, http.StatusNotFound, status)
	status, _ = x.post(c, path+"/notes", note)
	assert.Equal(t, http.StatusNotFound, status)

	change(access.Technician, func(p *person.Person) { p.Areas = []string{"north"} })
	status, _ = x.get(c, path)
	require.Equal(t, http.StatusOK, status)
	f, err := x.store.Fryer(x.office, x.own.fryer)
	require.NoError(t, err)
	_, err = x.store.Record(x.office, journal.Draft{Subject: f.ID, Base: f.Version, Body: fleet.FryerMoved{From: x.own.site, To: x.other.site, Why: "sold"}})
	require.NoError(t, err)
	for _, page := range []string{path, path + "/history", "/readings/" + x.own.open.String()} {
		status, _ = x.get(c, page)
		assert.Equal(t, http.StatusNotFound, status, "a fryer that is moved away is out of sight: %s", page)
	}
	status, _ = x.post(c, path+"/notes", note)
	assert.Equal(t, http.StatusNotFound, status)

	change(access.Technician, func(p *person.Person) { p.Gone = true })
	status, location := x.raw(c, http.MethodPost, path+"/notes")
	assert.Equal(t, "sign in", outcome(status, location))
	status, _ = x.post(c, "/signin", url.Values{"email": {"technician@frywright.example"}, "password": {testPassword}})
	assert.Equal(t, http.StatusUnprocessableEntity, status, "whoever left cannot come back")

	d := x.client(access.Dispatcher)
	change(access.Dispatcher, func(p *person.Person) { p.Role, p.Sites = access.Manager, []uuid.UUID{x.own.site} })
	status, _ = x.get(d, "/desk")
	assert.Equal(t, http.StatusForbidden, status)
	assert.Zero(t, x.count(`SELECT count(*) FROM entry WHERE body LIKE '%planted%'`))
}

// TestTheDiskHoldsNothingThatLetsIn looks through everything that is stored, as somebody with the disk or a backup would,
// for what would let them in: passwords, links and the tokens of sessions stand there only as hashes.
func TestTheDiskHoldsNothingThatLetsIn(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Administrator)
	const link = "LINK7WOULD7LET7SOMEBODY7IN"
	require.NoError(t, x.store.Invite(x.office, x.people[access.Manager], link, setupValid))
	at, err := url.Parse(x.server.URL)
	require.NoError(t, err)
	cookies := c.Jar.Cookies(at)
	require.Len(t, cookies, 1)
	stored := x.everything()
	require.Contains(t, stored, "administrator@frywright.example", "it was all read")
	for what, secret := range map[string]string{"password": testPassword, "link": link, "session": cookies[0].Value} {
		assert.NotContains(t, stored, secret, what)
	}
}

// TestTheDatabaseIsItsOwnersAlone looks at the rights of the files, as another user of the machine would.
func TestTheDatabaseIsItsOwnersAlone(t *testing.T) {
	e, _ := shell(t)
	require.NoError(t, e.withStore(func(ctx context.Context, s *store.Store) error {
		require.NoError(t, s.Invite(ctx, uuid.Nil, "a write, so that there is a log beside it", setupValid))
		for _, name := range parts {
			info, err := os.Stat(filepath.Join(e.data, name))
			require.NoError(t, err)
			assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), name)
		}
		return nil
	}))
	info, err := os.Stat(e.data)
	require.NoError(t, err)
	assert.Zero(t, info.Mode().Perm()&0o007, "others may not look into the folder")
}

// TestReadingAPageChangesNothing opens every page, and finds the journal and all that is made of it, people, links and
// passwords as they were. From every page there is a way to sign out.
func TestReadingAPageChangesNothing(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Administrator)
	tables := []string{"entry", "snapshot", "standing", "person", "person_site", "account", "invitation", "quarantine"}
	before := x.everything(tables...)
	pages := 0
	for _, route := range x.routes() {
		if route.Method != http.MethodGet {
			continue
		}
		status, page := x.get(c, x.fill(route, false))
		if status == http.StatusOK && strings.HasPrefix(page, "<!doctype html>") {
			pages++
			assert.Contains(t, page, `action="/signout"`, route.Pattern)
		}
	}
	assert.Greater(t, pages, 25)
	assert.Equal(t, before, x.everything(tables...))
}

// TestWhatAdministratorsDoToASignInIsNoted makes a link with which an administrator could take over somebody's sign-in, and
// uses it: the person and other administrators see whose doing it was.
func TestWhatAdministratorsDoToASignInIsNoted(t *testing.T) {
	x := newInstance(t)
	status, page := x.post(x.client(access.Administrator), "/people/"+x.people[access.Dispatcher].String()+"/link", nil)
	require.Equal(t, http.StatusOK, status)
	token := regexp.MustCompile(`/welcome/([A-Z2-7]{26})`).FindStringSubmatch(page)
	require.NotNil(t, token)
	const taken = "a sentence of somebody else"
	status, _ = x.post(x.client(""), "/welcome/"+token[1], url.Values{"password": {taken}, "again": {taken}})
	require.Equal(t, http.StatusSeeOther, status)
	notes, err := x.store.AccountNotes(x.as(access.Dispatcher), x.people[access.Dispatcher])
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(notes), 2)
	assert.Equal(t, []person.AccountEvent{person.PasswordSet, person.LinkMade}, []person.AccountEvent{notes[0].What, notes[1].What})
	assert.Equal(t, "Test administrator", notes[1].By)
	_, err = x.store.AccountNotes(x.as(access.Manager), x.people[access.Dispatcher])
	assert.Error(t, err, "that is nobody else's matter")
	for _, role := range []access.Role{access.Dispatcher, access.Technician, access.Manager} {
		assert.Error(t, x.store.Invite(x.as(role), x.people[role], "own", setupValid), role)
	}
}

// TestCookiesAreOurs signs in to a server that is reached by HTTPS and looks at every cookie that it sets, and whether it
// asks the browser to stay with HTTPS.
func TestCookiesAreOurs(t *testing.T) {
	x := newInstance(t)
	e := &environment{ctx: x.office, now: now, log: slog.New(slog.DiscardHandler), data: t.TempDir()}
	handler, stop := e.handler(x.store, true, nil)
	defer stop()
	r := httptest.NewRequest(http.MethodPost, "/signin", strings.NewReader(url.Values{"email": {"manager@frywright.example"}, "password": {testPassword}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.TLS = &tls.ConnectionState{}
	w := httptest.NewRecorder()
	edge.Proxies{}.Believe(handler, false).ServeHTTP(w, r)
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, "max-age=31536000", w.Header().Get("Strict-Transport-Security"))
	cookies := w.Result().Cookies()
	require.NotEmpty(t, cookies)
	for _, c := range cookies {
		assert.True(t, c.Secure, c.Name)
		assert.True(t, c.HttpOnly, c.Name)
		assert.Equal(t, http.SameSiteLaxMode, c.SameSite, c.Name)
		assert.Empty(t, c.Domain, "%s is of this host alone", c.Name)
		assert.GreaterOrEqual(t, len(c.Value), 26, "%s cannot be guessed", c.Name)
		if strings.HasPrefix(c.Name, "__Host-") {
			assert.Equal(t, "/", c.Path, "browsers refuse it otherwise")
		}
	}
	assert.Equal(t, "__Host-frywright", cookies[len(cookies)-1].Name)
}

var passwordField = regexp.MustCompile(`<input[^>]* name="(old|password|again)"[^>]*>`)

// TestPasswordFieldsHelpPasswordManagers looks at every field that takes a password: it is masked, tells managers what it is
// for, and neither cuts nor forbids what is put in.
func TestPasswordFieldsHelpPasswordManagers(t *testing.T) {
	x := newInstance(t)
	require.NoError(t, x.store.Invite(x.office, x.people[access.Manager], "welcome-token", setupValid))
	empty := emptyInstance(t)
	require.NoError(t, empty.store.Invite(empty.office, uuid.Nil, "setup-token", setupValid))
	_, signIn := x.get(x.client(""), "/signin")
	_, welcome := x.get(x.client(""), "/welcome/welcome-token")
	_, setup := empty.get(empty.client(""), "/setup/setup-token")
	_, own := x.get(x.client(access.Manager), "/account")
	for name, c := range map[string]struct {
		page   string
		fields int
	}{"sign in": {signIn, 1}, "welcome": {welcome, 2}, "setup": {setup, 2}, "own": {own, 3}} {
		found := passwordField.FindAllString(c.page, -1)
		require.Len(t, found, c.fields, name)
		for _, field := range found {
			assert.Contains(t, field, `type="password"`, name)
			assert.Regexp(t, `autocomplete="(current|new)-password"`, field, name)
			assert.NotRegexp(t, `(maxlength|onpaste|pattern|autocomplete="off")`, field, name)
		}
		assert.Contains(t, c.page, `autocomplete="username"`, name)
	}
}

// everything gives the text of every value of tables; without their names, of every table.
func (x *instance) everything(tables ...string) string {
	if len(tables) == 0 {
		x.each(`SELECT name FROM sqlite_schema WHERE type = 'table'`, func(values []sql.RawBytes) { tables = append(tables, string(values[0])) })
	}
	var all strings.Builder
	for _, table := range tables {
		x.each(`SELECT * FROM "`+table+`"`, func(values []sql.RawBytes) {
			for _, v := range values {
				all.Write(v)
				all.WriteByte('\n')
			}
		})
	}
	return all.String()
}

// each runs fn for every row of a query.
func (x *instance) each(query string, fn func(values []sql.RawBytes)) {
	rows, err := x.store.Sessions().QueryContext(context.Background(), query)
	require.NoError(x.t, err)
	defer func() { require.NoError(x.t, rows.Close()) }()
	columns, err := rows.Columns()
	require.NoError(x.t, err)
	values, to := make([]sql.RawBytes, len(columns)), make([]any, len(columns))
	for i := range values {
		to[i] = &values[i]
	}
	for rows.Next() {
		require.NoError(x.t, rows.Scan(to...))
		fn(values)
	}
	require.NoError(x.t, rows.Err())
}

// TestAStrangerLearnsNothing asks as somebody on the internet who is not signed in and has no link.
func TestAStrangerLearnsNothing(t *testing.T) {
	x := newInstance(t)
	c := x.client("")
	for _, path := range []string{"/.git/config", "/.env", "/t.db", "/debug/pprof/", "/metrics", "/static/", "/static/fonts/", "/static/../go.mod",
		"/static/%2e%2e/go.mod", "/static/..%2fgo.mod", "/fryers/" + x.own.fryer.String(), "/fryers/" + newID().String(), "/tag/t-1", "/tag/none",
		"/nothing", "/healthz", "/signin"} {
		for _, method := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodOptions, http.MethodTrace, "PROPFIND"} {
			req, err := http.NewRequestWithContext(context.Background(), method, x.server.URL+path, nil)
			require.NoError(t, err)
			req.Header.Set("X-Planted", "echoed")
			resp, err := c.Do(req)
			require.NoError(t, err)
			body, err := io.ReadAll(resp.Body)
			require.NoError(t, err)
			require.NoError(t, resp.Body.Close())
			at := method + " " + path
			assert.Less(t, resp.StatusCode, 500, at)
			if resp.StatusCode < 300 {
				assert.Contains(t, []string{"/healthz", "/signin"}, path, at)
				assert.Contains(t, []string{http.MethodGet, http.MethodHead}, method, at)
			}
			for _, told := range []string{"Vexley", "T-1", "frywright.example", "module frywright", "echoed", "go1."} {
				assert.NotContains(t, string(body), told, at)
			}
			h := resp.Header
			for name, want := range map[string]string{"Server": "", "X-Powered-By": "", "Access-Control-Allow-Origin": "", "X-Content-Type-Options": "nosniff",
				"Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin"} {
				assert.Equal(t, want, h.Get(name), "%s: %s", at, name)
			}
			if !strings.HasPrefix(path, "/static/") {
				assert.Equal(t, "no-store", h.Get("Cache-Control"), at)
			}
			if method != http.MethodHead && len(body) > 0 {
				assert.Contains(t, h.Get("Content-Type"), "charset=utf-8", at)
			}
			for _, part := range []string{"default-src 'self'", "object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"} {
				assert.Contains(t, h.Get("Content-Security-Policy"), part, at)
			}
		}
	}
}
