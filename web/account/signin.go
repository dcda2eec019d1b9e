package account

import (
	"net/http"
	"net/url"
	"strings"
	"unicode"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// emailMost is the longest e-mail address that is looked up (RFC 5321, 4.5.3.1.3).
const emailMost = 254

// signInView is what the sign-in page shows.
type signInView struct {
	Frame ui.Frame
	Err   error
	Email string
	Next  string
	Demo  []DemoUser
}

// ShowSignIn shows the sign-in form.
func (p *Pages) ShowSignIn(w http.ResponseWriter, r *http.Request) error {
	next := safeNext(r.URL.Query().Get("next"))
	if access.FromContext(r.Context()).SignedIn() {
		return form.See(w, r, next, "")
	}
	return form.Show(w, r, http.StatusOK, signInPage(p.signInView(r, "", next, nil)))
}

func (p *Pages) signInView(r *http.Request, email, next string, err error) signInView {
	return signInView{ui.FrameFor(r, "Sign in", ""), err, email, next, p.demo}
}

// SignIn checks the password and begins a session. Whether anybody has the address shows neither in the answer nor in
// how long it takes.
func (p *Pages) SignIn(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	next := safeNext(r.Form.Get("next"))
	if access.FromContext(r.Context()).SignedIn() {
		return form.See(w, r, next, "")
	}
	email := form.Text(r, "email")
	password := typedPassword(r, "password")
	a, err := p.check(r, email, password)
	if fault.KindOf(err) == fault.TooMany {
		return refuse(w, r, signInPage(p.signInView(r, email, next, err)))
	}
	if shown(err) {
		return form.Write(w, r, signInPage(p.signInView(r, email, next, err)), err)
	}
	if err != nil {
		return err
	}
	if err := p.begin(r.Context(), a.Person, a.Generation); err != nil {
		return err
	}
	if err := p.store.SignedIn(r.Context(), a.Person); err != nil {
		return err
	}
	return form.See(w, r, next, "")
}

// check gives the account that an address and a password open.
func (p *Pages) check(r *http.Request, email, password string) (person.Account, error) {
	var f fault.Fields
	f.Need("email", email, "Give your e-mail address.")
	if password == "" {
		f.Add("password", "Give your password.")
	}
	if err := f.Err(); err != nil {
		return person.Account{}, err
	}
	if len(email) > emailMost {
		email = email[:emailMost]
	}
	return p.open(r, person.CleanEmail(email), password)
}

func (p *Pages) open(r *http.Request, email, password string) (person.Account, error) {
	a, err := p.store.AccountByEmail(r.Context(), email)
	known := err == nil
	if !known {
		if fault.KindOf(err) != fault.NotFound {
			return a, err
		}
		a = person.Account{PasswordHash: nobodysHash()}
	}
	match, err := p.prove(r, email, password, a.PasswordHash)
	if err != nil {
		return person.Account{}, err
	}
	if !known || !match {
		return person.Account{}, fault.New(fault.Invalid, "The e-mail address or the password is not right.")
	}
	return a, nil
}

// prove says whether a password is the one of a hash, as often as the limits allow.
func (p *Pages) prove(r *http.Request, email, password, hash string) (bool, error) {
	good, slow, err := p.limits.try(p.now(), addressOf(r), email)
	if err != nil {
		return false, err
	}
	if slow > 0 {
		if err := p.pause(r.Context(), slow); err != nil {
			return false, err
		}
	}
	right, err := p.hashing.matches(r.Context(), password, hash)
	if right {
		good()
	}
	return right, err
}

// SignOut ends the session on this device.
func (p *Pages) SignOut(w http.ResponseWriter, r *http.Request) error {
	if err := p.sessions.Destroy(r.Context()); err != nil {
		return err
	}
	return form.See(w, r, path.SignIn(), "signed-out")
}

// SignOutEverywhere ends every session of the person.
func (p *Pages) SignOutEverywhere(w http.ResponseWriter, r *http.Request) error {
	actor := access.FromContext(r.Context())
	if actor.Person == uuid.Nil {
		return fault.New(fault.SignedOut, "Please sign in.")
	}
	if err := p.store.SignOutEverywhere(r.Context(), actor.Person); err != nil {
		return err
	}
	if err := p.sessions.Destroy(r.Context()); err != nil {
		return err
	}
	return form.See(w, r, path.SignIn(), "signed-out-all")
}

// safeNext gives where to go after signing in: a page of this program, or the start page. Browsers read a backslash as a
// slash and pass over control characters, so neither may be in it.
func safeNext(next string) string {
	u, err := url.Parse(next)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") ||
		strings.ContainsFunc(next, func(c rune) bool { return c == '\\' || unicode.IsControl(c) }) || strings.HasPrefix(u.Path, path.SignIn()) ||
		strings.HasPrefix(u.Path, path.SignOut()) {
		return path.Home()
	}
	return next
}
