package account

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/web/path"

	"github.com/alexedwards/argon2id"
	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSigningIn(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	assert.Equal(t, http.StatusOK, b.get("/signin").Code)
	assert.Empty(t, b.who())

	w := b.signIn(" Ines@Example.com ", inesPassword)
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	assert.Equal(t, path.Home(), w.Header().Get("Location"))
	assert.Equal(t, "Ines Quill", b.who())
	assert.Equal(t, []uuid.UUID{id(1)}, v.store.signedIn)
	assert.Equal(t, http.StatusSeeOther, b.get("/signin").Code, "whoever is signed in is sent on")
}

func TestEveryWrongSignInIsAnsweredTheSame(t *testing.T) {
	v := newWorld(t)
	gone := v.store.people[id(1)]
	gone.ID, gone.Email, gone.Gone = id(2), "gone@example.com", true
	v.store.people[gone.ID] = gone
	v.store.accounts[gone.ID] = v.store.accounts[id(1)]

	var first string
	for _, try := range []struct{ email, password string }{
		{inesEmail, "not her password"}, {"nobody@example.com", inesPassword}, {gone.Email, inesPassword}, {"no address at all", inesPassword},
	} {
		w := v.browser("192.0.2.1").signIn(try.email, try.password)
		assert.Equal(t, http.StatusUnprocessableEntity, w.Code, try.email)
		body := strings.ReplaceAll(w.Body.String(), try.email, "")
		if first == "" {
			first = body
		}
		assert.Equal(t, first, body, try.email)
		assert.NotContains(t, w.Body.String(), try.password)
	}
	assert.Contains(t, first, "The e-mail address or the password is not right.")
	assert.Empty(t, v.store.signedIn)
}

// Whoever measures the time learns nothing: a password is worked on for an unknown e-mail as for a known one. Here no
// place to work is free and nobody waits, so that whoever gets there fails.
func TestAnUnknownEmailCostsTheSameWork(t *testing.T) {
	params, _, _, err := argon2id.DecodeHash(nobodysHash())
	require.NoError(t, err)
	assert.Equal(t, cost, params)

	v := newWorld(t)
	for range cap(v.pages.hashing.turns) {
		v.pages.hashing.turns <- struct{}{}
	}
	for _, email := range []string{inesEmail, "nobody@example.com"} {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		r := httptest.NewRequestWithContext(ctx, http.MethodPost, "/signin", strings.NewReader(url.Values{"email": {email}, "password": {"x"}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := v.browser("192.0.2.1").send(r)
		assert.Equal(t, http.StatusTeapot, w.Code, email)
		assert.Contains(t, w.Body.String(), "Try again in a moment", email)
	}
}

func TestWhatIsMissingIsSaid(t *testing.T) {
	w := newWorld(t).browser("192.0.2.1").signIn(`<b>"`, "")
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Give your password.")
	assert.Contains(t, w.Body.String(), "&lt;b&gt;&#34;", "what was typed stays, escaped")
	assert.NotContains(t, w.Body.String(), `<b>"`)
}

func TestAFailureOfTheStoreIsNoWrongPassword(t *testing.T) {
	v := newWorld(t)
	v.store.broken = errors.New("disk full")
	assert.Equal(t, http.StatusTeapot, v.browser("192.0.2.1").signIn(inesEmail, inesPassword).Code)
}

func TestASessionFromBeforeTheSignInIsWorthNothing(t *testing.T) {
	v := newWorld(t)
	ctx, err := v.pages.sessions.Load(t.Context(), "")
	require.NoError(t, err)
	v.pages.sessions.Put(ctx, "planted", "yes")
	planted, _, err := v.pages.sessions.Commit(ctx)
	require.NoError(t, err)

	victim, attacker := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	victim.cookie, attacker.cookie = planted, planted
	require.Equal(t, http.StatusSeeOther, victim.signIn(inesEmail, inesPassword).Code)
	assert.NotEqual(t, planted, victim.cookie)
	assert.Equal(t, "Ines Quill", victim.who())
	assert.Empty(t, attacker.who())
}

func TestSigningOutEndsTheSessionItself(t *testing.T) {
	v := newWorld(t)
	b, other := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	b.signIn(inesEmail, inesPassword)
	other.signIn(inesEmail, inesPassword)
	kept := b.cookie
	w := b.post("/signout", nil)
	assert.Equal(t, path.SignIn()+"?notice=signed-out", w.Header().Get("Location"))
	b.cookie = kept
	assert.Empty(t, b.who(), "the old cookie opens nothing")
	assert.Equal(t, "Ines Quill", other.who(), "elsewhere she stays")
}

func TestSigningOutEverywhere(t *testing.T) {
	v := newWorld(t)
	b, other := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	b.signIn(inesEmail, inesPassword)
	other.signIn(inesEmail, inesPassword)
	w := b.post("/signout/everywhere", nil)
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, path.SignIn()+"?notice=signed-out-all", w.Header().Get("Location"))
	assert.Empty(t, b.who())
	assert.Empty(t, other.who())
	assert.Equal(t, http.StatusSeeOther, other.signIn(inesEmail, inesPassword).Code, "she can sign in again")
	assert.Equal(t, "Ines Quill", other.who())
	assert.Equal(t, http.StatusUnauthorized, b.post("/signout/everywhere", nil).Code, "nobody can do it for nobody")
}

func TestWhoActsIsAskedAnewEachTime(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	x := v.store.people[id(1)]
	x.Name = "Ines Quill-Marsh"
	v.store.people[x.ID] = x
	assert.Equal(t, "Ines Quill-Marsh", b.who())
	x.Gone = true
	v.store.people[x.ID] = x
	assert.Empty(t, b.who())
	x.Gone = false
	v.store.people[x.ID] = x
	v.store.broken = errors.New("disk full")
	assert.Equal(t, http.StatusTeapot, b.get("/who").Code, "not knowing is not the same as nobody")
}

func TestTheDemoOffersItsSignIns(t *testing.T) {
	v := newWorld(t)
	assert.NotContains(t, v.browser("192.0.2.1").get("/signin").Body.String(), "Look around")
	v.pages.demo = []DemoUser{{Name: "Ines Quill", Email: inesEmail, Password: inesPassword, Role: access.Technician, What: "the coast"}}
	body := v.browser("192.0.2.1").get("/signin?next=/fryers").Body.String()
	for _, want := range []string{"Ines Quill", "the coast", "with the password “" + inesPassword + "”", `name="password" value="` + inesPassword + `"`, `name="next" value="/fryers"`} {
		assert.Contains(t, body, want)
	}
	v.pages.demo = append(v.pages.demo, DemoUser{Name: "Bram Lock", Email: "bram@example.com", Password: "another", Role: access.Dispatcher})
	body = v.browser("192.0.2.1").get("/signin").Body.String()
	assert.NotContains(t, body, "with the password")
	assert.Contains(t, body, "<span class=\"row-meta\">another</span>")
}

func TestWhereToGoAfterSigningIn(t *testing.T) {
	for next, want := range map[string]string{
		"/fryers?q=a&page=2":     "/fryers?q=a&page=2",
		"/sites/x#there":         "/sites/x#there",
		"":                       "/",
		"fryers":                 "/",
		"//elsewhere.example":    "/",
		`/\elsewhere.example`:    "/",
		`\\elsewhere.example`:    "/",
		"/\t/elsewhere.example":  "/",
		"/\n/elsewhere.example":  "/",
		"https://elsewhere.test": "/",
		"javascript:alert(1)":    "/",
		"/signout":               "/",
		"/signin?next=/signin":   "/",
	} {
		w := newWorld(t).browser("192.0.2.1").post("/signin", url.Values{"email": {inesEmail}, "password": {inesPassword}, "next": {next}})
		assert.Equal(t, want, w.Header().Get("Location"), next)
	}
}

func FuzzNextStaysHere(f *testing.F) {
	for _, seed := range []string{"/", "//x", `/\x`, "/a?b=//c", "http://x", "/%2f/x", "/%5cx", "/\u2028/x", "/x y"} {
		f.Add(seed)
	}
	home, err := url.Parse("https://fry.example/signin")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, next string) {
		to, err := home.Parse(safeNext(next))
		require.NoError(t, err)
		assert.Equal(t, "fry.example", to.Host)
		assert.Equal(t, "https", to.Scheme)
		assert.Regexp(t, `^/([^/\\]|$)`, safeNext(next))
	})
}
