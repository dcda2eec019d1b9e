package account

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/person"
	"frywright/web/path"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// codeAt gives the code that an app shows.
func codeAt(t require.TestingT, secret string, at time.Time) string {
	code, err := totp.GenerateCode(secret, at)
	require.NoError(t, err)
	return code
}

var (
	keyShown   = regexp.MustCompile(`<code class="key"[^>]*>([A-Z2-7 ]+)</code>`)
	spareShown = regexp.MustCompile(`<li><code>([A-Z2-7 ]+)</code></li>`)
)

func oldIs(which string) url.Values { return url.Values{oldField(which): {inesPassword}} }

// enrol sets the second step of whoever is signed in, or half so, up at a page, and gives secret and recovery codes.
func (b *browser) enrol(at string) (secret string, spares []string) {
	t := b.v.t
	w := b.post(at, oldIs(formBegin))
	require.Equal(t, at, w.Header().Get("Location"), w.Body.String())
	found := keyShown.FindStringSubmatch(b.get(at).Body.String())
	require.NotNil(t, found)
	secret = strings.ReplaceAll(found[1], " ", "")
	w = b.post(path.FactorConfirm(at), url.Values{"code": {codeAt(t, secret, b.v.now)}})
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	for _, m := range spareShown.FindAllStringSubmatch(w.Body.String(), -1) {
		spares = append(spares, m[1])
	}
	require.Len(t, spares, spareCodes)
	return secret, spares
}

// enrolled gives a world in which Ines has a second step, her browser, its secret and recovery codes. A minute has passed
// since: the first code is over.
func enrolled(t *testing.T) (v *world, b *browser, secret string, spares []string) {
	t.Helper()
	v = newWorld(t)
	b = v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	secret, spares = b.enrol(path.AccountFactor())
	v.now = v.now.Add(2 * time.Minute)
	return v, b, secret, spares
}

func (b *browser) give(field, value string) *httptest.ResponseRecorder {
	return b.post(path.SignInCode(), url.Values{field: {value}})
}

func TestSettingTheSecondStepUp(t *testing.T) {
	v := newWorld(t)
	b, other := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	b.signIn(inesEmail, inesPassword)
	other.signIn(inesEmail, inesPassword)
	assert.NotContains(t, b.get(path.AccountFactor()).Body.String(), "QR", "nothing is shown before the password was given once more")

	w := b.post(path.AccountFactor(), url.Values{oldField(formBegin): {"a guess at an open screen"}})
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "This is not your password.")
	assert.Empty(t, v.store.factors)

	require.Equal(t, http.StatusSeeOther, b.post(path.AccountFactor(), oldIs(formBegin)).Code)
	body := b.get(path.AccountFactor()).Body.String()
	assert.Contains(t, body, `<svg class="qr" role="img"`)
	assert.NotContains(t, body, "data:")
	secret := strings.ReplaceAll(keyShown.FindStringSubmatch(body)[1], " ", "")
	assert.NotContains(t, v.store.factors[id(1)].Secret, secret, "it is kept sealed")

	w = b.post(path.FactorConfirm(path.AccountFactor()), url.Values{"code": {"000000"}})
	if secretCode := codeAt(t, secret, v.now); secretCode != "000000" {
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		assert.Contains(t, w.Body.String(), "This is not the code of this secret.")
		assert.Contains(t, w.Body.String(), grouped(secret), "the same secret is shown again")
	}
	assert.False(t, v.store.factors[id(1)].On())
	before := b.session()
	w = b.post(path.FactorConfirm(path.AccountFactor()), url.Values{"code": {" " + codeAt(t, secret, v.now)[:3] + " " + codeAt(t, secret, v.now)[3:]}})
	require.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Body.String(), "Your recovery codes")
	assert.True(t, v.store.factors[id(1)].On())
	assert.NotEqual(t, before, b.session(), "the session goes on under another token")
	assert.Equal(t, "Ines Quill", b.who())
	assert.Empty(t, other.who(), "everywhere else she is signed out")

	body = b.get(path.AccountFactor()).Body.String()
	assert.Contains(t, body, "10 are left.")
	assert.NotContains(t, body, grouped(secret), "the secret is not shown again")
	for code := range v.store.spares {
		assert.NotContains(t, body, grouped(code), "nor are the codes")
	}
}

func TestASecretThatWaitsTooLongIsOver(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	b.post(path.AccountFactor(), oldIs(formBegin))
	secret := strings.ReplaceAll(keyShown.FindStringSubmatch(b.get(path.AccountFactor()).Body.String())[1], " ", "")
	v.now = v.now.Add(enrolLasts + time.Second)
	assert.Nil(t, keyShown.FindStringSubmatch(b.get(path.AccountFactor()).Body.String()))
	b.post(path.FactorConfirm(path.AccountFactor()), url.Values{"code": {codeAt(t, secret, v.now)}})
	assert.False(t, v.store.factors[id(1)].On())
}

func TestThePasswordAloneOpensNothing(t *testing.T) {
	v, _, secret, _ := enrolled(t)
	b := v.browser("192.0.2.9")
	w := b.post("/signin", url.Values{"email": {inesEmail}, "password": {inesPassword}, "next": {"/fryers?q=1"}})
	require.Equal(t, path.SignInCode(), w.Header().Get("Location"))
	assert.Empty(t, b.who())
	for _, page := range []string{path.Account(), path.AccountFactor(), path.AccountSessions()} {
		assert.Equal(t, http.StatusUnauthorized, b.get(page).Code, page)
	}
	assert.Equal(t, path.SignInCode(), b.get(path.SignInFactor()).Header().Get("Location"), "no other secret can be set up on the way in")
	assert.Equal(t, path.SignInCode(), b.post(path.SignInFactor(), nil).Header().Get("Location"))
	assert.Equal(t, http.StatusOK, b.get(path.SignInCode()).Code)

	half := b.session()
	w = b.give("code", codeAt(t, secret, v.now))
	assert.Equal(t, "/fryers?q=1", w.Header().Get("Location"), "where she wanted to go")
	assert.Equal(t, "Ines Quill", b.who())
	assert.NotEqual(t, half, b.session())
	old := v.browser("192.0.2.9")
	old.plant(half)
	assert.Empty(t, old.who(), "the token from before the second step opens nothing")
}

func TestACodeIsTakenOnce(t *testing.T) {
	v, _, secret, _ := enrolled(t)
	code := codeAt(t, secret, v.now)
	first, second := v.browser("192.0.2.8"), v.browser("192.0.2.9")
	first.signIn(inesEmail, inesPassword)
	second.signIn(inesEmail, inesPassword)
	require.Equal(t, http.StatusSeeOther, first.give("code", code).Code)
	w := second.give("code", code)
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "or was used already")
	w = second.give("code", codeAt(t, secret, v.now.Add(-stepSeconds*time.Second)))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code, "nor one from before it")
	v.now = v.now.Add(stepSeconds * time.Second)
	assert.Equal(t, http.StatusSeeOther, second.give("code", codeAt(t, secret, v.now)).Code)
}

func TestARecoveryCodeIsTakenOnce(t *testing.T) {
	v, _, _, spares := enrolled(t)
	b := v.browser("192.0.2.9")
	b.signIn(inesEmail, inesPassword)
	w := b.give("recovery", "ABCD EFGH IJKL MNOP QRST UVWX")
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "none of your recovery codes")
	w = b.give("recovery", strings.ToLower(strings.ReplaceAll(spares[3], " ", "-")))
	require.Equal(t, path.AccountFactor()+"?notice=spare-used", w.Header().Get("Location"))
	assert.Contains(t, b.get(path.AccountFactor()).Body.String(), "9 are left.")

	again := v.browser("192.0.2.10")
	again.signIn(inesEmail, inesPassword)
	assert.Equal(t, http.StatusUnprocessableEntity, again.give("recovery", spares[3]).Code)
	assert.Equal(t, http.StatusSeeOther, again.give("recovery", spares[4]).Code)
}

func TestTheSecondStepHasItsTime(t *testing.T) {
	v, _, secret, _ := enrolled(t)
	b := v.browser("192.0.2.9")
	assert.Equal(t, path.SignIn()+"?notice=sign-in-again", b.get(path.SignInCode()).Header().Get("Location"), "without the password there is no second step")
	assert.Equal(t, path.SignIn()+"?notice=sign-in-again", b.give("code", codeAt(t, secret, v.now)).Header().Get("Location"))

	b.signIn(inesEmail, inesPassword)
	v.now = v.now.Add(halfLasts + time.Second)
	assert.Equal(t, path.SignIn()+"?notice=sign-in-again", b.give("code", codeAt(t, secret, v.now)).Header().Get("Location"))

	b.signIn(inesEmail, inesPassword)
	require.NoError(t, v.store.SetPassword(t.Context(), id(1), v.store.accounts[id(1)].PasswordHash))
	assert.Equal(t, path.SignIn()+"?notice=sign-in-again", b.give("code", codeAt(t, secret, v.now)).Header().Get("Location"), "a password that was changed meanwhile ends it")
	assert.Empty(t, b.who())
}

// Whoever has the password guesses six digits: here they are refused, by address first and then from everywhere; the person
// comes in from their own browser meanwhile.
func TestCodesCannotBeGuessed(t *testing.T) {
	v, _, secret, _ := enrolled(t)
	victim := v.browser("198.51.100.7")
	victim.signIn(inesEmail, inesPassword)
	require.Equal(t, http.StatusSeeOther, victim.give("code", codeAt(t, secret, v.now)).Code)
	victim.post("/signout", nil)
	v.now = v.now.Add(time.Minute)

	guesses := 0
	for n := range 30 {
		guesser := v.browser("203.0.113." + string(rune('0'+n%10)) + string(rune('0'+n/10)))
		if guesser.signIn(inesEmail, inesPassword).Code != http.StatusSeeOther {
			continue
		}
		for range codeRules.pair.burst + 1 {
			if guesser.give("code", "000000").Code == http.StatusUnprocessableEntity {
				guesses++
			}
		}
	}
	assert.LessOrEqual(t, guesses, codeRules.person.burst)
	assert.Positive(t, guesses)

	victim.signIn(inesEmail, inesPassword)
	assert.Equal(t, http.StatusSeeOther, victim.give("code", codeAt(t, secret, v.now)).Code)
}

func TestOtherRecoveryCodes(t *testing.T) {
	v, b, _, spares := enrolled(t)
	w := b.post(path.FactorCodes(), url.Values{oldField(formCodes): {"a guess"}})
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	w = b.post(path.FactorCodes(), oldIs(formCodes))
	require.Equal(t, http.StatusOK, w.Code)
	fresh := spareShown.FindAllStringSubmatch(w.Body.String(), -1)
	require.Len(t, fresh, spareCodes)
	assert.Equal(t, "Ines Quill", b.who())

	out := v.browser("192.0.2.9")
	out.signIn(inesEmail, inesPassword)
	assert.Equal(t, http.StatusUnprocessableEntity, out.give("recovery", spares[0]).Code, "the earlier ones no longer work")
	assert.Equal(t, http.StatusSeeOther, out.give("recovery", fresh[0][1]).Code)
}

func TestSwitchingTheSecondStepOff(t *testing.T) {
	v, b, secret, _ := enrolled(t)
	other := v.browser("192.0.2.9")
	other.signIn(inesEmail, inesPassword)
	other.give("code", codeAt(t, secret, v.now))
	require.Equal(t, "Ines Quill", other.who())
	assert.Equal(t, http.StatusUnprocessableEntity, b.post(path.FactorOff(), nil).Code)
	w := b.post(path.FactorOff(), oldIs(formOff))
	require.Equal(t, path.AccountFactor()+"?notice=factor-off", w.Header().Get("Location"))
	assert.Empty(t, v.store.factors)
	assert.Empty(t, v.store.spares)
	assert.Equal(t, "Ines Quill", b.who())
	assert.Empty(t, other.who())
	assert.Equal(t, path.Home(), v.browser("192.0.2.9").signIn(inesEmail, inesPassword).Header().Get("Location"))
}

func TestWhereTheKeyIsLostRecoveryCodesStillOpen(t *testing.T) {
	v, _, secret, spares := enrolled(t)
	v.pages.seal = sealed('x')
	b := v.browser("192.0.2.9")
	b.signIn(inesEmail, inesPassword)
	w := b.give("code", codeAt(t, secret, v.now))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Use a recovery code")
	assert.Equal(t, http.StatusSeeOther, b.give("recovery", spares[0]).Code)
}

func TestAnAdministratorIsLedToTheSecondStepWhereItIsNeeded(t *testing.T) {
	v := newWorld(t)
	ines := v.store.people[id(1)]
	ines.Role = access.Administrator
	v.store.people[ines.ID] = ines
	early := v.browser("192.0.2.1")
	early.signIn(inesEmail, inesPassword)
	require.Equal(t, "Ines Quill", early.who())
	v.store.required = true
	assert.Empty(t, early.who(), "who is signed in without it is so no longer")

	b := v.browser("192.0.2.2")
	w := b.post("/signin", url.Values{"email": {inesEmail}, "password": {inesPassword}, "next": {"/people"}})
	require.Equal(t, path.SignInFactor(), w.Header().Get("Location"))
	assert.Empty(t, b.who(), "before it is set up she is nobody")
	assert.Equal(t, http.StatusUnauthorized, b.get(path.Account()).Code)
	assert.Equal(t, path.SignInFactor(), b.post(path.SignInFactor(), nil).Header().Get("Location"), "the password was given a moment ago")
	body := b.get(path.SignInFactor()).Body.String()
	secret := strings.ReplaceAll(keyShown.FindStringSubmatch(body)[1], " ", "")
	w = b.post(path.FactorConfirm(path.SignInFactor()), url.Values{"code": {codeAt(t, secret, v.now)}})
	require.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Body.String(), `href="/people"`, "then on to where she wanted to go")
	assert.Equal(t, "Ines Quill", b.who())

	w = b.post(path.FactorOff(), oldIs(formOff))
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "yours cannot be switched off")
	assert.True(t, v.store.factors[id(1)].On())
}

func TestTheSecondStepIsNotNeededOfOthers(t *testing.T) {
	v := newWorld(t)
	v.store.required = true
	assert.Equal(t, path.Home(), v.browser("192.0.2.1").signIn(inesEmail, inesPassword).Header().Get("Location"))
	assert.Equal(t, []person.AccountEvent(nil), v.store.notes)
}
