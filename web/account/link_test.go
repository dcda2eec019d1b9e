package account

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"testing"

	"frywright/domain/access"
	"frywright/domain/person"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const newPassword = "a barge of late plums"

func both(password string) url.Values { return url.Values{"password": {password}, "again": {password}} }

// linkIsOver asserts that a link answers as one that never was.
func linkIsOver(t *testing.T, w *httptest.ResponseRecorder) {
	t.Helper()
	assert.Equal(t, http.StatusTeapot, w.Code)
	assert.NotContains(t, w.Body.String(), "password")
}

func TestAnInvitationIsTakenUpOnce(t *testing.T) {
	v := newWorld(t)
	v.store.people[id(7)] = person.Person{ID: id(7), Name: "Piotr <Sand>", Email: "piotr@example.com", Role: access.Technician}
	v.store.links["TOKEN"] = id(7)
	b := v.browser("192.0.2.1")
	w := b.get(path.Welcome("TOKEN"))
	require.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Body.String(), "Piotr &lt;Sand&gt;")

	w = b.post(path.Welcome("TOKEN"), both("too short"))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.NotContains(t, w.Body.String(), "too short", "a password is never shown")
	assert.Contains(t, v.store.links, "TOKEN", "a slip does not use it up")

	w = b.post(path.Welcome("TOKEN"), both(newPassword))
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, path.SignIn()+"?notice=password-set", w.Header().Get("Location"))
	assert.Contains(t, b.get(w.Header().Get("Location")).Body.String(), "Your password is set. Sign in with it.")
	assert.NotContains(t, v.store.accounts[id(7)].PasswordHash, newPassword)
	assert.Empty(t, b.who(), "the link itself signs nobody in")

	linkIsOver(t, b.get(path.Welcome("TOKEN")))
	linkIsOver(t, b.post(path.Welcome("TOKEN"), both("some other plums again")))
	require.Equal(t, http.StatusSeeOther, b.signIn("piotr@example.com", newPassword).Code)
	assert.Equal(t, "Piotr <Sand>", b.who())
}

func TestALinkForAForgottenPasswordEndsOldSessions(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	v.store.links["TOKEN"] = id(1)
	require.Equal(t, http.StatusSeeOther, v.browser("192.0.2.2").post(path.Welcome("TOKEN"), both(newPassword)).Code)
	assert.Empty(t, b.who())
	assert.Equal(t, http.StatusUnprocessableEntity, b.signIn(inesEmail, inesPassword).Code)
	assert.Equal(t, http.StatusSeeOther, b.signIn(inesEmail, newPassword).Code)
}

func TestTheSetUpLinkMakesTheFirstAdministratorOnce(t *testing.T) {
	v := newWorld(t)
	v.store.links["FIRST"] = uuid.Nil
	b := v.browser("192.0.2.1")
	require.Equal(t, http.StatusOK, b.get(path.Setup("FIRST")).Code)

	values := both(newPassword)
	values.Set("name", `Ottoline "O" Marsh`)
	values.Set("email", "no address")
	w := b.post(path.Setup("FIRST"), values)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Ottoline &#34;O&#34; Marsh")
	assert.Contains(t, w.Body.String(), "Give an e-mail address")
	assert.Contains(t, v.store.links, "FIRST")

	values.Set("email", " Lead@Example.com ")
	require.Equal(t, http.StatusSeeOther, b.post(path.Setup("FIRST"), values).Code)
	assert.Equal(t, person.Person{ID: id(501 + 1), Name: `Ottoline "O" Marsh`, Email: "lead@example.com", Role: access.Administrator}, v.store.people[id(502)])
	linkIsOver(t, b.get(path.Setup("FIRST")))
	linkIsOver(t, b.post(path.Setup("FIRST"), values))
	assert.Equal(t, http.StatusSeeOther, b.signIn("lead@example.com", newPassword).Code)
}

func TestALinkIsOnlyForWhatItWasMadeFor(t *testing.T) {
	v := newWorld(t)
	v.store.links["FIRST"], v.store.links["TOKEN"] = uuid.Nil, id(1)
	b := v.browser("192.0.2.1")
	values := both(newPassword)
	values.Set("name", "Mallory")
	values.Set("email", "mallory@example.com")
	for _, to := range []string{path.Welcome("FIRST"), path.Setup("TOKEN"), path.Setup("nonsense"), path.Welcome("nonsense")} {
		linkIsOver(t, b.get(to))
		linkIsOver(t, b.post(to, values))
	}
	assert.Len(t, v.store.links, 2, "neither was used up")
	assert.Len(t, v.store.people, 1, "nobody was made")
}

func TestChangingThePassword(t *testing.T) {
	v := newWorld(t)
	b, other := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	b.signIn(inesEmail, inesPassword)
	other.signIn(inesEmail, inesPassword)
	body := b.get(path.Account()).Body.String()
	assert.Contains(t, body, `action="`+path.AccountPassword()+`"`)
	for _, want := range []string{"Ines Quill", inesEmail, "Technician"} {
		assert.Contains(t, body, want)
	}
	assert.NotContains(t, body, path.People(), "a technician changes nobody's role")

	values := both(newPassword)
	values.Set("old", "not the old one")
	w := b.post(path.AccountPassword(), values)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "This is not the password that you have now.")
	assert.Equal(t, "Ines Quill", other.who(), "nothing was changed")

	values.Set("old", inesPassword)
	before := b.session()
	w = b.post(path.AccountPassword(), values)
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, path.Account()+"?notice=password-changed", w.Header().Get("Location"))
	assert.NotEqual(t, before, b.session(), "she goes on with a new session")
	assert.Equal(t, "Ines Quill", b.who())
	assert.Empty(t, other.who(), "everywhere else she is signed out")
	assert.Equal(t, http.StatusSeeOther, other.signIn(inesEmail, newPassword).Code)
}

func TestTheOldPasswordCannotBeGuessedThroughTheAccountPage(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	values := both(newPassword)
	values.Set("old", "a guess")
	for range 2 * passwordRules.pair.burst { // those of the session, and those of anybody
		require.Equal(t, http.StatusUnprocessableEntity, b.post(path.AccountPassword(), values).Code)
	}
	values.Set("old", inesPassword)
	w := b.post(path.AccountPassword(), values)
	assert.Equal(t, http.StatusTooManyRequests, w.Code)
	assert.Contains(t, w.Body.String(), "Too many tries")
}

func TestOnlyWhoeverIsSignedInHasAnAccountPage(t *testing.T) {
	b := newWorld(t).browser("192.0.2.1")
	assert.Equal(t, http.StatusUnauthorized, b.get(path.Account()).Code)
	assert.Equal(t, http.StatusUnauthorized, b.post(path.AccountPassword(), nil).Code)
}
