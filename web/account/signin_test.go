package account

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/web/path"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
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
	assert.Equal(t, id(1), v.store.signIns[b.session()].Person)
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
	assert.Empty(t, v.store.signIns)
}

// Whoever measures the time learns nothing: as many passwords are hashed, with the same parameters, for an e-mail that
// nobody has as for one that somebody has, whatever is typed.
func TestAnUnknownEmailCostsTheSameWork(t *testing.T) {
	params, _, _, err := argon2id.DecodeHash(nobodysHash())
	require.NoError(t, err)
	assert.Equal(t, cost, params)

	rapid.Check(t, func(rt *rapid.T) {
		v := newWorld(t)
		password := rapid.String().Draw(rt, "password") + "x"
		if password == inesPassword {
			return
		}
		work := map[string][]argon2id.Params{}
		for _, email := range []string{inesEmail, "nobody@example.com"} {
			v.pages.hashing.check = func(_, hash string) (bool, *argon2id.Params, error) {
				params, _, _, err := argon2id.DecodeHash(hash)
				require.NoError(t, err)
				work[email] = append(work[email], *params)
				return false, params, nil
			}
			v.browser("192.0.2.1").signIn(email, password)
		}
		require.NotEmpty(t, work[inesEmail])
		require.Equal(t, work[inesEmail], work["nobody@example.com"])
	})
}

// The same, measured: the median of some tries of each, in turn, so that a noisy machine is as noisy for both. A
// difference of the work itself would be ten times what is let pass here.
func TestAnUnknownEmailTakesAsLong(t *testing.T) {
	const rounds = 9
	v := newWorld(t)
	took := map[bool][]time.Duration{}
	for n := range 2 * rounds {
		known := n%2 == 0
		email := "nobody@example.com"
		if known {
			email = inesEmail
		}
		b := v.browser(fmt.Sprintf("192.0.2.%d", n))
		began := time.Now() //nolint:forbidigo // what is measured here is the real time
		require.Equal(t, http.StatusUnprocessableEntity, b.signIn(email, "not the password").Code)
		took[known] = append(took[known], time.Since(began)) //nolint:forbidigo // as above
	}
	slices.Sort(took[true])
	slices.Sort(took[false])
	a, b := took[true][rounds/2], took[false][rounds/2]
	assert.Less(t, max(a, b), 2*min(a, b), "known %s, unknown %s", a, b)
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
	victim.plant(planted)
	attacker.plant(planted)
	require.Equal(t, http.StatusSeeOther, victim.signIn(inesEmail, inesPassword).Code)
	assert.NotEqual(t, planted, victim.session())
	assert.Equal(t, "Ines Quill", victim.who())
	assert.Empty(t, attacker.who())
}

func TestSigningOutEndsTheSessionItself(t *testing.T) {
	v := newWorld(t)
	b, other := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	b.signIn(inesEmail, inesPassword)
	other.signIn(inesEmail, inesPassword)
	kept := b.session()
	w := b.post("/signout", nil)
	assert.Equal(t, path.SignIn()+"?notice=signed-out", w.Header().Get("Location"))
	b.plant(kept)
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
