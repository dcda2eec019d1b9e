package e2e

import (
	"strings"
	"testing"
	"time"

	"frywright/cmd/frywright/scenario"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// somebodyElse is a person of the demo whose sign-in no other test uses.
func somebodyElse(t *testing.T) string {
	t.Helper()
	for _, x := range scenario.People() {
		if x.Email != lead && x.Email != desk && x.Email != ines && x.Email != manager {
			return x.Email
		}
	}
	require.Fail(t, "everybody is used")
	return ""
}

// TestTheSecondStep sets the second step up, signs in with it elsewhere, looks at where that is, ends it, and switches the
// step off again.
func TestTheSecondStep(t *testing.T) {
	who := somebodyElse(t)
	v := newVisitor(t, who)
	v.open("/account")
	v.inspect("account-own")
	v.press(`main a[href="/account/second-step"]`)
	v.inspect("account-step-off")
	v.fill("old-begin", "not the password")
	v.submit("main [name=old-begin]")
	v.inspect("account-step-refused")
	v.fill("old-begin", password)
	v.submit("main [name=old-begin]")
	v.inspect("account-step-secret")

	key := strings.ReplaceAll(v.text("main code.key"), " ", "")
	v.fill("code", "12345")
	v.submit("main [name=code]")
	v.inspect("account-step-wrong-code")
	code, err := totp.GenerateCode(key, time.Now())
	require.NoError(t, err)
	v.fill("code", code)
	v.submit("main [name=code]")
	require.Equal(t, 10, v.count("main .spares li"))
	v.inspect("account-step-codes")
	spare := v.text("main .spares li:first-child")
	v.pressText("I have kept them")
	assert.Contains(t, v.text("main"), "10 are left.")
	v.inspect("account-step-on")

	elsewhere := newVisitor(t, "")
	elsewhere.open("/signin?next=/fryers")
	elsewhere.fill("email", who)
	elsewhere.fill("password", password)
	elsewhere.submit(`main form:not([data-demo]) input[name=password][type=password]`)
	require.Equal(t, "/signin/code", elsewhere.at())
	elsewhere.inspect("account-code")
	elsewhere.fill("code", code)
	elsewhere.submit("main [name=code]")
	assert.Contains(t, elsewhere.text("main"), "was used already")
	elsewhere.inspect("account-code-wrong")
	run[bool](elsewhere, `document.querySelector("main details").open = true`)
	elsewhere.fill("recovery", strings.ToLower(spare))
	elsewhere.submit("main [name=recovery]")
	assert.Contains(t, elsewhere.text("main"), "9 are left.")

	v.open("/account/sessions")
	assert.Contains(t, v.text("main"), "This one")
	v.inspect("account-sessions")
	v.pressText("Sign out everywhere else")
	assert.Contains(t, v.text("main"), "Nowhere else.")
	elsewhere.open("/account")
	assert.Contains(t, elsewhere.at(), "/signin")

	office := newVisitor(t, lead)
	office.open("/people")
	office.pressText("Piotr")
	office.inspect("desk-person-step-on")

	v.open("/account/second-step")
	v.fillIn(`form[action$="/off"] [name=old-off]`, password)
	v.submit(`form[action$="/off"] [name=old-off]`)
	assert.Contains(t, v.text("main"), "switched off")
}

// TestAPasswordCanBeShown presses the key beside the field. Without scripts there is no key, and the field works.
func TestAPasswordCanBeShown(t *testing.T) {
	v := newVisitor(t, "")
	v.open("/signin")
	v.fill("password", "heron")
	kind := func() string { return run[string](v, `document.getElementById("f-password").type`) }
	assert.Equal(t, "password", kind())
	assert.Equal(t, "Show the password", run[string](v, `document.querySelector(".show-key").getAttribute("aria-label")`))
	run[bool](v, `(document.querySelector(".show-key").click(), true)`)
	assert.Equal(t, "text", kind())
	v.inspect("outside-password-shown")
	run[bool](v, `(document.querySelector(".show-key").click(), true)`)
	assert.Equal(t, "password", kind())
	assert.Equal(t, "heron", run[string](v, `document.getElementById("f-password").value`), "what was typed stays")
}
