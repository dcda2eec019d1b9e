package main

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/store"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// answer is what came of a request.
type answer struct {
	status   int
	location string
	body     string
	header   http.Header
}

// send sends a request of a method as a page of our own would.
func (x *instance) send(c *http.Client, method, path string, values url.Values) answer {
	x.t.Helper()
	req, err := http.NewRequest(method, x.server.URL+path, strings.NewReader(values.Encode()))
	require.NoError(x.t, err)
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	resp, err := c.Do(req)
	require.NoError(x.t, err)
	body, err := io.ReadAll(resp.Body)
	require.NoError(x.t, err)
	require.NoError(x.t, resp.Body.Close())
	return answer{resp.StatusCode, resp.Header.Get("Location"), string(body), resp.Header}
}

// signIn gives what a sign-in with the test's password answers.
func (x *instance) signIn(c *http.Client, email string) answer {
	return x.send(c, http.MethodPost, "/signin", url.Values{"email": {email}, "password": {testPassword}})
}

func emailOf(role access.Role) string { return string(role) + "@frywright.example" }

var (
	keyShown   = regexp.MustCompile(`<code class="key"[^>]*>([A-Z2-7 ]+)</code>`)
	spareShown = regexp.MustCompile(`<li><code>([A-Z2-7 ]+)</code></li>`)
)

// enrol sets a second step up at a page, as a person with an app would, and gives the recovery codes.
func (x *instance) enrol(c *http.Client, at string) []string {
	x.t.Helper()
	a := x.send(c, http.MethodPost, at, url.Values{"old-begin": {testPassword}})
	require.Equal(x.t, at, a.location, a.body)
	key := keyShown.FindStringSubmatch(x.send(c, http.MethodGet, at, nil).body)
	require.NotNil(x.t, key)
	code, err := totp.GenerateCode(strings.ReplaceAll(key[1], " ", ""), now())
	require.NoError(x.t, err)
	a = x.send(c, http.MethodPost, at+"/confirm", url.Values{"code": {code}})
	require.Equal(x.t, http.StatusOK, a.status, a.body)
	var spares []string
	for _, m := range spareShown.FindAllStringSubmatch(a.body, -1) {
		spares = append(spares, m[1])
	}
	require.Len(x.t, spares, 10)
	return spares
}

// administrator adds another administrator, who signs in with the test's password.
func (x *instance) administrator(email string) person.Person {
	x.t.Helper()
	p := person.Person{ID: newID(), Name: "Another One", Email: email, Role: access.Administrator}
	_, err := x.store.Record(x.office, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}})
	require.NoError(x.t, err)
	first, err := x.store.Account(x.office, x.people[access.Administrator])
	require.NoError(x.t, err)
	require.NoError(x.t, x.store.SetPassword(x.office, p.ID, first.PasswordHash))
	return p
}

// TestAnAdministratorWithoutTheSecondStepCanDoNothing asks the step of administrators, and goes round as one without it.
func TestAnAdministratorWithoutTheSecondStepCanDoNothing(t *testing.T) {
	x := newInstance(t)
	boss := x.client(access.Administrator)
	other := x.administrator("other@frywright.example")
	early := x.client("")
	require.Equal(t, "/", x.signIn(early, other.Email).location)
	a := x.send(boss, http.MethodPost, "/people/second-step", url.Values{"required": {"yes"}})
	assert.Equal(t, http.StatusUnprocessableEntity, a.status, "whoever asks it of others has it")
	x.enrol(boss, "/account/second-step")
	a = x.send(boss, http.MethodPost, "/people/second-step", url.Values{"required": {"yes"}})
	require.Equal(t, "/people?notice=factor-required", a.location)

	assert.Equal(t, "/signin?next=%2Fpeople", x.send(early, http.MethodGet, "/people", nil).location, "who was in without it is out")
	c := x.client("")
	require.Equal(t, "/signin/second-step", x.signIn(c, other.Email).location)
	for _, route := range x.routes() {
		path := x.fill(route, false)
		if strings.HasPrefix(path, "/signin") || strings.HasPrefix(path, "/welcome") || strings.HasPrefix(path, "/setup") {
			continue
		}
		a := x.send(c, route.Method, path, nil)
		assert.True(t, strings.HasPrefix(a.location, "/signin"), "%s %s: %d", route.Method, path, a.status)
	}
	x.enrol(c, "/signin/second-step")
	assert.Equal(t, http.StatusOK, x.send(c, http.MethodGet, "/people", nil).status)

	// Whoever becomes an administrator while signed in proves it too.
	tech := x.client(access.Technician)
	require.Equal(t, http.StatusOK, x.send(tech, http.MethodGet, "/sites", nil).status)
	p, base, err := x.store.Person(x.office, x.people[access.Technician])
	require.NoError(t, err)
	p.Role, p.Areas = access.Administrator, nil
	_, err = x.store.Record(x.office, journal.Draft{Subject: p.ID, Base: base, Body: person.Saved{Person: p}})
	require.NoError(t, err)
	assert.Equal(t, "/signin?next=%2Fsites", x.send(tech, http.MethodGet, "/sites", nil).location)
}

// TestALostSecondStepIsTakenAwayWithAReason goes from a lost phone to signing in with the password alone.
func TestALostSecondStepIsTakenAwayWithAReason(t *testing.T) {
	x := newInstance(t)
	tech := x.client(access.Technician)
	spares := x.enrol(tech, "/account/second-step")
	elsewhere := x.client("")
	require.Equal(t, "/signin/code", x.signIn(elsewhere, emailOf(access.Technician)).location)
	a := x.send(elsewhere, http.MethodPost, "/signin/code", url.Values{"recovery": {spares[0]}})
	require.Equal(t, "/account/second-step?notice=spare-used", a.location)
	assert.Contains(t, x.send(elsewhere, http.MethodGet, a.location, nil).body, "9 are left.")

	at := "/people/" + x.people[access.Technician].String()
	boss := x.client(access.Administrator)
	a = x.send(boss, http.MethodPost, at+"/second-step", nil)
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Say why: it is kept.")
	a = x.send(boss, http.MethodPost, at+"/second-step", url.Values{"reason": {"phone in the vat; called back"}})
	require.Equal(t, at+"?notice=factor-reset", a.location)
	for _, c := range []*http.Client{tech, elsewhere} {
		assert.Contains(t, x.send(c, http.MethodGet, "/account", nil).location, "/signin", "signed out")
	}
	assert.Equal(t, "/", x.signIn(tech, emailOf(access.Technician)).location)
	body := x.send(tech, http.MethodGet, "/account", nil).body
	for _, want := range []string{"Second step taken away", "by Test administrator", "phone in the vat; called back", "Signed in with a recovery code"} {
		assert.Contains(t, body, want)
	}
}

// TestWhereAPersonIsSignedIn ends sessions one by one, all others, and all.
func TestWhereAPersonIsSignedIn(t *testing.T) {
	x := newInstance(t)
	a, b, c := x.client(access.Technician), x.client(access.Technician), x.client(access.Technician)
	in := func(c *http.Client) bool { return x.send(c, http.MethodGet, "/account", nil).status == http.StatusOK }
	ends := regexp.MustCompile(`action="(/account/sessions/[0-9a-f-]{36}/end)"`).FindAllStringSubmatch(x.send(a, http.MethodGet, "/account/sessions", nil).body, -1)
	require.Len(t, ends, 2)
	dispatcher := x.client(access.Dispatcher)
	require.Equal(t, http.StatusSeeOther, x.send(dispatcher, http.MethodPost, ends[0][1], nil).status)
	assert.True(t, in(b) && in(c), "nobody ends those of others")
	x.send(a, http.MethodPost, ends[0][1], nil)
	assert.True(t, in(b) != in(c))
	assert.True(t, in(a))

	require.Equal(t, "/account/sessions?notice=sessions-ended", x.send(a, http.MethodPost, "/account/sessions/others/end", nil).location)
	assert.False(t, in(b) || in(c))
	d := x.client(access.Technician)
	const next = "a barge of late plums"
	got := x.send(a, http.MethodPost, "/account/password", url.Values{"old": {testPassword}, "password": {next}, "again": {next}})
	require.Equal(t, "/account?notice=password-changed", got.location, got.body)
	assert.True(t, in(a))
	assert.False(t, in(d), "another password ends the others")

	boss := x.client(access.Administrator)
	at := "/people/" + x.people[access.Technician].String()
	assert.Contains(t, x.send(boss, http.MethodGet, at, nil).body, "1 device, last used in the last few minutes")
	require.Equal(t, at+"?notice=person-sessions", x.send(boss, http.MethodPost, at+"/sessions", nil).location)
	assert.False(t, in(a))
}

// TestALinkIsNotUsedUpByLookingAtIt opens a link as mail scanners and previews do, then uses it once.
func TestALinkIsNotUsedUpByLookingAtIt(t *testing.T) {
	x := newInstance(t)
	boss := x.client(access.Administrator)
	link := func() string {
		a := x.send(boss, http.MethodPost, "/people/"+x.people[access.Manager].String()+"/link", nil)
		found := regexp.MustCompile(`/welcome/[A-Z2-7]{26}`).FindString(a.body)
		require.NotEmpty(t, found)
		return found
	}
	first, second := link(), link()
	c := x.client("")
	assert.Equal(t, http.StatusNotFound, x.send(c, http.MethodGet, first, nil).status, "a newer one ends it")
	for range 3 {
		for _, method := range []string{http.MethodGet, http.MethodHead} {
			a := x.send(c, method, second, nil)
			require.Equal(t, http.StatusOK, a.status)
			assert.Equal(t, "strict-origin", a.header.Get("Referrer-Policy"), "the address is told to nobody")
			assert.Equal(t, "no-store", a.header.Get("Cache-Control"))
		}
	}
	const chosen = "a barge of late plums"
	values := url.Values{"password": {chosen}, "again": {chosen}}
	var group sync.WaitGroup
	statuses := make(chan int, 4)
	for range cap(statuses) {
		group.Go(func() { statuses <- x.send(c, http.MethodPost, second, values).status })
	}
	group.Wait()
	close(statuses)
	used := 0
	for s := range statuses {
		if s == http.StatusSeeOther {
			used++
		} else {
			assert.Equal(t, http.StatusNotFound, s)
		}
	}
	assert.Equal(t, 1, used)
	for _, text := range x.everythingStored() {
		assert.NotContains(t, text, strings.TrimPrefix(second, "/welcome/"))
	}
}

// everythingStored gives the files of the database as text.
func (x *instance) everythingStored() []string {
	x.t.Helper()
	var file string
	require.NoError(x.t, x.store.Sessions().QueryRow(`SELECT file FROM pragma_database_list WHERE name = 'main'`).Scan(&file))
	var all []string
	for _, name := range []string{file, file + "-wal"} {
		text, err := os.ReadFile(name)
		require.NoError(x.t, err)
		all = append(all, string(text))
	}
	return all
}

// TestAnUnknownEmailIsAnsweredAlike compares status, headers and page over HTTP.
func TestAnUnknownEmailIsAnsweredAlike(t *testing.T) {
	x := newInstance(t)
	ask := func(email string) answer {
		a := x.send(x.client(""), http.MethodPost, "/signin", url.Values{"email": {email}, "password": {"not the password"}})
		for _, name := range []string{"Date", "Content-Length", "X-Request-Id"} {
			a.header.Del(name)
		}
		a.body = strings.ReplaceAll(a.body, email, "")
		return a
	}
	assert.Equal(t, ask(emailOf(access.Technician)), ask("nobody@frywright.example"))
}

// TestTheKeyOfSecondStepsLiesApart makes the key at its first use, readable for its owner alone. Where it is lost,
// recovery codes let people in.
func TestTheKeyOfSecondStepsLiesApart(t *testing.T) {
	x := newInstance(t)
	e := &environment{ctx: x.office, now: now, log: slog.New(slog.DiscardHandler), data: t.TempDir()}
	handler, stop := e.handler(x.store, false, nil)
	defer stop()
	x.server.Close()
	x.server = httptest.NewServer(handler)
	name := filepath.Join(e.data, factorKeyFile)
	_, err := os.Stat(name)
	require.ErrorIs(t, err, os.ErrNotExist, "nobody has a second step yet")

	spares := x.enrol(x.client(access.Technician), "/account/second-step")
	info, err := os.Stat(name)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	key, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Len(t, key, 32)
	for _, text := range x.everythingStored() {
		assert.NotContains(t, text, string(key))
	}

	require.NoError(t, os.Remove(name))
	c := x.client("")
	require.Equal(t, "/signin/code", x.signIn(c, emailOf(access.Technician)).location)
	a := x.send(c, http.MethodPost, "/signin/code", url.Values{"code": {"123456"}})
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "Use a recovery code")
	a = x.send(c, http.MethodPost, "/signin/code", url.Values{"recovery": {spares[9]}})
	assert.Equal(t, http.StatusSeeOther, a.status)
}

// TestKnowingWhoActsCostsTwoReadsAtMost counts what a page asks of the database before anything of its own: the session and the
// person with their restaurants. Nothing is written.
func TestKnowingWhoActsCostsTwoReadsAtMost(t *testing.T) {
	var mu sync.Mutex
	var asked []string
	office := asOffice(t.Context())
	s, err := store.Open(office, store.Config{Path: filepath.Join(t.TempDir(), "t.db"), Now: now, NewID: newID, Observe: func(query string, _ time.Duration) {
		mu.Lock()
		defer mu.Unlock()
		asked = append(asked, query)
	}})
	require.NoError(t, err)
	x := &instance{t: t, store: s, office: office}
	e := &environment{ctx: office, data: t.TempDir(), now: now, log: slog.New(slog.DiscardHandler)}
	handler, stop := e.handler(s, false, nil)
	x.server = httptest.NewServer(handler)
	t.Cleanup(func() {
		x.server.Close()
		stop()
		assert.NoError(t, s.Close())
	})
	hash, err := hashOf(testPassword)
	require.NoError(t, err)
	p := person.Person{ID: newID(), Name: "Tom", Email: "tom@frywright.example", Role: access.Dispatcher}
	made, err := s.Record(office, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}})
	require.NoError(t, err)
	require.NoError(t, s.SetPassword(office, p.ID, hash))
	c := x.client("")
	require.Equal(t, "/", x.signIn(c, p.Email).location)
	reads := func() []string {
		mu.Lock()
		asked = nil
		mu.Unlock()
		x.send(c, http.MethodGet, "/nothing/here", nil)
		mu.Lock()
		defer mu.Unlock()
		return slices.Clone(asked)
	}
	reads()
	assert.Empty(t, reads(), "nothing was committed since the page before")
	p.Name = "Tom Tern"
	_, err = s.Record(office, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}, Base: made[0].ID})
	require.NoError(t, err)
	assert.Len(t, reads(), 2, "the sign-in and the person are asked for again")
}

// TestTheWayBackInAtTheConsole prints a link for somebody who forgot the password, and takes a lost second step away.
func TestTheWayBackInAtTheConsole(t *testing.T) {
	e, out := shell(t)
	require.NoError(t, userAddCommand{Email: "ada@frywright.example", Name: "Ada", Role: "administrator"}.Run(e))
	out.Reset()
	require.NoError(t, userLinkCommand{Email: " Ada@Frywright.example ", Base: "https://fry.example/"}.Run(e))
	assert.Regexp(t, `https://fry\.example/welcome/[A-Z2-7]{26}\n`, out.String())
	out.Reset()
	require.NoError(t, userFactorCommand{Email: "ada@frywright.example", Reason: "phone lost"}.Run(e))
	assert.Contains(t, out.String(), "Ada signs in with the password alone from now on")
	assert.NotEmpty(t, fault.FieldsOf(userFactorCommand{Email: "ada@frywright.example"}.Run(e)), "a reason is needed")
	assert.Equal(t, fault.NotFound, fault.KindOf(userLinkCommand{Email: "nobody@frywright.example"}.Run(e)))
}

// TestASignInFromBeforeIsWorthNothing sends the cookie of a session that the list does not hold.
func TestASignInFromBeforeIsWorthNothing(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Dispatcher)
	require.Equal(t, http.StatusOK, x.send(c, http.MethodGet, "/desk", nil).status)
	at, err := url.Parse(x.server.URL)
	require.NoError(t, err)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	jar.SetCookies(at, c.Jar.Cookies(at))
	thief := &http.Client{Jar: jar, CheckRedirect: c.CheckRedirect}
	require.Equal(t, http.StatusOK, x.send(thief, http.MethodGet, "/desk", nil).status, "a cookie that was stolen opens what it opened")
	require.NoError(t, x.store.SignOutEverywhere(x.office, x.people[access.Dispatcher]))
	assert.Contains(t, x.send(thief, http.MethodGet, "/desk", nil).location, "/signin")
	x.signIn(c, emailOf(access.Dispatcher))
	assert.Contains(t, x.send(thief, http.MethodGet, "/desk", nil).location, "/signin", "and never again")
}
