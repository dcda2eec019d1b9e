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

// SignIn checks the password and begins a session, or the second step. Whether anybody has the address shows neither in
// the answer nor in how long it takes.
func (p *Pages) SignIn(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	next := safeNext(r.Form.Get("next"))
	if access.FromContext(r.Context()).SignedIn() {
		return form.See(w, r, next, "")
	}
	email := form.Text(r, "email")
	a, err := p.check(r, email, typedPassword(r, "password"))
	if err != nil {
		return again(w, r, signInPage(p.signInView(r, email, next, err)), err)
	}
	return p.goOn(w, r, a, next)
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
	return p.open(r, person.CleanEmail(email[:min(len(email), emailMost)]), password)
}

// open does the same work for an address that nobody has as for one that somebody has.
func (p *Pages) open(r *http.Request, email, password string) (person.Account, error) {
	a, err := p.store.AccountByEmail(r.Context(), email)
	nobody := fault.KindOf(err) == fault.NotFound
	if err != nil && !nobody {
		return a, err
	}
	if nobody {
		a = person.Account{Email: email, PasswordHash: nobodysHash()}
	}
	right, err := p.prove(r, a, password)
	if err != nil {
		return person.Account{}, err
	}
	if nobody || !right {
		return person.Account{}, fault.New(fault.Invalid, "The e-mail address or the password is not right.")
	}
	return a, nil
}

// prove says whether a password is an account's, as often as the limits allow. A hash that is out of date is made anew.
func (p *Pages) prove(r *http.Request, a person.Account, password string) (bool, error) {
	ctx := r.Context()
	browser, err := p.knownBrowser(r, a.Person)
	if err != nil {
		return false, err
	}
	given, err := p.limits.count(p.now(), try{form.Network(r), a.Email, browser})
	if err != nil {
		return false, err
	}
	if !given.own {
		leave, err := p.hashing.wait()
		if err != nil {
			return false, err
		}
		defer leave()
	}
	if given.slow > 0 {
		if err := p.pause(ctx, given.slow); err != nil {
			return false, err
		}
	}
	found, err := p.hashing.compare(ctx, password, a.PasswordHash, given.own)
	if err != nil || !found.right {
		return false, err
	}
	given.good()
	if found.stale {
		return true, p.rehash(r, a, password)
	}
	return true, nil
}

func (p *Pages) rehash(r *http.Request, a person.Account, password string) error {
	hash, err := p.hashing.hash(r.Context(), password)
	if err != nil {
		return err
	}
	return p.store.Rehash(r.Context(), a.Person, a.PasswordHash, hash)
}

// goOn begins a session, or where the sign-in has a second step, that.
func (p *Pages) goOn(w http.ResponseWriter, r *http.Request, a person.Account, next string) error {
	ctx := r.Context()
	f, err := p.store.Factor(ctx, a.Person)
	if err != nil {
		return err
	}
	actor, err := p.store.Actor(ctx, a.Person)
	if err != nil {
		return err
	}
	required, err := p.store.RequiresFactor(ctx, actor.Role)
	if err != nil {
		return err
	}
	if !f.On() && !required {
		if err := p.begin(w, r, a.Person, false); err != nil {
			return err
		}
		return form.See(w, r, next, "")
	}
	if err := p.keepHalf(ctx, a, next); err != nil {
		return err
	}
	if f.On() {
		return form.See(w, r, path.SignInCode(), "")
	}
	return form.See(w, r, path.SignInFactor(), "")
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
