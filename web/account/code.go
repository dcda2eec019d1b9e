package account

import (
	"context"
	"net/http"
	"strings"
	"time"

	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// What a session keeps between the password and the second step. It is nobody's session until the second step is done.
const (
	halfPerson     = "half"            // the person's id as text
	halfGeneration = "half-generation" // of their sign-ins: a password changed meanwhile ends this
	halfBegan      = "half-began"      // seconds since 1970
	halfNext       = "half-next"       // where to go then
)

// halfLasts is how long the second step may follow the password.
const halfLasts = 10 * time.Minute

// half is a sign-in whose password was right and whose second step is still to come.
type half struct {
	account person.Account
	next    string
}

// keepHalf keeps a sign-in that is half done, under a fresh token.
func (p *Pages) keepHalf(ctx context.Context, a person.Account, next string) error {
	if err := p.sessions.RenewToken(ctx); err != nil {
		return err
	}
	p.sessions.Put(ctx, halfPerson, a.Person.String())
	p.sessions.Put(ctx, halfGeneration, a.Generation)
	p.sessions.Put(ctx, halfBegan, p.now().Unix())
	p.sessions.Put(ctx, halfNext, next)
	return nil
}

// half gives the sign-in that is half done in this session; ok is false where there is none, or it took too long.
func (p *Pages) half(ctx context.Context) (h half, ok bool, err error) {
	id, err := uuid.Parse(p.sessions.GetString(ctx, halfPerson))
	if err != nil || p.now().Sub(time.Unix(p.sessions.GetInt64(ctx, halfBegan), 0)) > halfLasts {
		return half{}, false, nil //nolint:nilerr // a session without a person is nobody's
	}
	a, err := p.store.Account(ctx, id)
	if err != nil || a.Generation != p.sessions.GetInt64(ctx, halfGeneration) {
		return half{}, false, unlessUnknown(err)
	}
	return half{a, safeNext(p.sessions.GetString(ctx, halfNext))}, true, nil
}

// fromTheStart sends a browser whose sign-in is not half done, or no longer, to the sign-in form.
func fromTheStart(w http.ResponseWriter, r *http.Request) error {
	return form.See(w, r, path.SignIn(), "sign-in-again")
}

// codeView is what the page of the second step shows.
type codeView struct {
	Frame ui.Frame
	Err   error
}

func codeViewOf(r *http.Request, err error) codeView {
	return codeView{ui.FrameFor(r, "Second step", ""), err}
}

// ShowCode asks for the code of the second step.
func (p *Pages) ShowCode(w http.ResponseWriter, r *http.Request) error {
	if _, ok, err := p.half(r.Context()); err != nil || !ok {
		return firstOf(err, func() error { return fromTheStart(w, r) })
	}
	return form.Show(w, r, http.StatusOK, codePage(codeViewOf(r, nil)))
}

// firstOf gives the error, or what comes of going on.
func firstOf(err error, goOn func() error) error {
	if err != nil {
		return err
	}
	return goOn()
}

// GiveCode takes the code of the second step, or a recovery code, and begins the session.
func (p *Pages) GiveCode(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	h, ok, err := p.half(r.Context())
	if err != nil || !ok {
		return firstOf(err, func() error { return fromTheStart(w, r) })
	}
	spare, err := p.proveCode(r, h.account)
	if err != nil {
		return again(w, r, codePage(codeViewOf(r, err)), err)
	}
	if err := p.begin(w, r, h.account.Person, true); err != nil {
		return err
	}
	if spare {
		return form.See(w, r, path.AccountFactor(), "spare-used")
	}
	return form.See(w, r, h.next, "")
}

// proveCode takes the code that was typed, as often as the limits allow. spare says that it was a recovery code.
func (p *Pages) proveCode(r *http.Request, a person.Account) (spare bool, err error) {
	code, recovery := typedCode(r), typedSpare(form.Text(r, "recovery"))
	if code == "" && recovery == "" {
		return false, complain("code", "Give the six digits that the app shows now.")
	}
	browser, err := p.knownBrowser(r, a.Person)
	if err != nil {
		return false, err
	}
	given, err := p.codes.count(p.now(), try{form.Network(r), a.Person.String(), browser})
	if err != nil {
		return false, err
	}
	if recovery != "" {
		err = p.useSpare(r.Context(), a.Person, recovery)
	} else {
		err = p.useCode(r.Context(), a.Person, code)
	}
	if err == nil {
		given.good()
	}
	return recovery != "", err
}

// typedCode gives the digits of the field, without what apps set between them.
func typedCode(r *http.Request) string {
	return strings.Map(func(c rune) rune {
		if c == ' ' || c == '-' || c == '\u00a0' {
			return -1
		}
		return c
	}, form.Text(r, "code"))
}

func (p *Pages) useSpare(ctx context.Context, id uuid.UUID, code string) error {
	used, err := p.store.UseCode(ctx, id, code)
	if err == nil && !used {
		return complain("recovery", "This is none of your recovery codes, or it was used already.")
	}
	return err
}

func (p *Pages) useCode(ctx context.Context, id uuid.UUID, code string) error {
	f, err := p.store.Factor(ctx, id)
	if err != nil {
		return err
	}
	secret, ok, err := p.seal.open(id, f.Secret)
	if err != nil {
		return err
	}
	if !ok {
		return complain("code", "Codes of the app cannot be checked here any more. Use a recovery code, or ask an administrator.")
	}
	step, right := matchStep(secret, code, p.now(), f.LastStep)
	if right {
		right, err = p.store.UseStep(ctx, id, step)
	}
	if err == nil && !right {
		return complain("code", wrongCode)
	}
	return err
}

// wrongCode says the same of a code that was never right and of one that was used: whoever looks over a shoulder learns
// nothing.
const wrongCode = "This code is not right, or was used already. Type the one that the app shows now."

// complain makes the complaint about one field.
func complain(field, message string) error {
	var f fault.Fields
	f.Add(field, "%s", message)
	return f.Err()
}
