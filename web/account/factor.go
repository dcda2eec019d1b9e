package account

import (
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"rsc.io/qr"
)

// enrolLasts is how long a secret that was shown may be confirmed.
const enrolLasts = 15 * time.Minute

// factorView is what the page of the second step shows.
type factorView struct {
	Frame    ui.Frame
	Account  person.Account
	Factor   person.Factor
	Half     bool   // at the sign-in: nobody is signed in yet, and it is needed
	Next     string // where to go then
	Required bool   // it cannot be switched off
	Secret   string // being set up
	Code     *qr.Code
	Err      error
	Wrong    string // which form Err belongs to
}

// The forms of the page.
const (
	formBegin   = "begin"
	formConfirm = "confirm"
	formCodes   = "codes"
	formOff     = "off"
)

// factorOf gives what the page shows, to whoever is signed in or is half. ok is false for anybody else.
func (p *Pages) factorOf(r *http.Request) (v factorView, ok bool, err error) {
	ctx := r.Context()
	v.Frame = ui.FrameFor(r, "Second step", "")
	if v.Half = !v.Frame.Actor.SignedIn(); v.Half {
		h, ok, err := p.half(ctx)
		if err != nil || !ok {
			return v, false, err
		}
		v.Account, v.Next, v.Required = h.account, h.next, true
	} else if v.Account, err = p.store.Account(ctx, v.Frame.Actor.Person); err != nil {
		return v, false, err
	} else if v.Required, err = p.store.RequiresFactor(ctx, v.Frame.Actor.Role); err != nil {
		return v, false, err
	}
	if v.Factor, err = p.store.Factor(ctx, v.Account.Person); err != nil {
		return v, false, err
	}
	return v, true, p.enrolling(&v)
}

// enrolling fills in the secret that is being set up.
func (p *Pages) enrolling(v *factorView) error {
	if v.Factor.On() || v.Factor.Secret == "" || p.now().Sub(v.Factor.Begun) > enrolLasts {
		return nil
	}
	secret, ok, err := p.seal.open(v.Account.Person, v.Factor.Secret)
	if err != nil || !ok {
		return err
	}
	v.Secret = secret
	v.Code, err = enrolCode(secret, v.Account.Email)
	return err
}

// factorPages runs one of the handlers of the second step for whoever may see it.
func (p *Pages) factorPages(w http.ResponseWriter, r *http.Request, handle func(v factorView) error) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, ok, err := p.factorOf(r)
	switch {
	case err != nil:
		return err
	case !ok:
		return fromTheStart(w, r)
	case v.Half && v.Factor.On(): // at the sign-in a factor is given, never changed
		return form.See(w, r, path.SignInCode(), "")
	}
	return handle(v)
}

// oldField is the name of the field of a form in which the password is given once more.
func oldField(which string) string { return "old-" + which }

// errOf gives what is wrong about a form.
func (v factorView) errOf(which string) error {
	if v.Wrong != which {
		return nil
	}
	return v.Err
}

// wrong shows the page again with what is wrong about one of its forms.
func (v factorView) wrong(w http.ResponseWriter, r *http.Request, which string, err error) error {
	v.Wrong, v.Err = which, err
	return again(w, r, factorPage(v), err)
}

// ShowFactor shows how the second step stands, and while it is set up, its secret.
func (p *Pages) ShowFactor(w http.ResponseWriter, r *http.Request) error {
	return p.factorPages(w, r, func(v factorView) error { return form.Show(w, r, http.StatusOK, factorPage(v)) })
}

// BeginFactor makes a secret. Whoever is signed in gives the password once more: an open screen is not enough.
func (p *Pages) BeginFactor(w http.ResponseWriter, r *http.Request) error {
	return p.factorPages(w, r, func(v factorView) error {
		if !v.Half {
			if err := p.provePassword(r, v.Account, formBegin); err != nil {
				return v.wrong(w, r, formBegin, err)
			}
		}
		secret, err := newSecret(v.Account.Email)
		if err != nil {
			return err
		}
		sealed, err := p.seal.close(v.Account.Person, secret)
		if err != nil {
			return err
		}
		if err := p.store.BeginFactor(r.Context(), v.Account.Person, sealed); err != nil {
			return v.wrong(w, r, formBegin, err)
		}
		return form.See(w, r, v.at(), "")
	})
}

// at gives the address of the page, as the sign-in's or as the account's.
func (v factorView) at() string {
	if v.Half {
		return path.SignInFactor()
	}
	return path.AccountFactor()
}

// ConfirmFactor switches the second step on with its first code, and shows the recovery codes, once.
func (p *Pages) ConfirmFactor(w http.ResponseWriter, r *http.Request) error {
	return p.factorPages(w, r, func(v factorView) error {
		if v.Secret == "" {
			return form.See(w, r, v.at(), "")
		}
		step, err := p.firstStep(r, v)
		if err != nil {
			return v.wrong(w, r, formConfirm, err)
		}
		spares := newSpares()
		if err := p.store.ConfirmFactor(r.Context(), v.Account.Person, step, spares); err != nil {
			return v.wrong(w, r, formConfirm, err)
		}
		if err := p.begin(w, r, v.Account.Person, true); err != nil {
			return err
		}
		return p.showSpares(w, r, v, spares)
	})
}

// firstStep gives the time step of the code that was typed to confirm a secret, as often as the limits allow.
func (p *Pages) firstStep(r *http.Request, v factorView) (int64, error) {
	code := typedCode(r)
	if code == "" {
		return 0, complain("code", "Give the six digits that the app shows now.")
	}
	given, err := p.codes.count(p.now(), try{address: form.Network(r), who: v.Account.Person.String()})
	if err != nil {
		return 0, err
	}
	step, right := matchStep(v.Secret, code, p.now(), 0)
	if !right {
		return 0, complain("code", "This is not the code of this secret. Is the clock of the phone right? Type the one that the app shows now.")
	}
	given.good()
	return step, nil
}

// sparesView is what the page of the recovery codes shows, once.
type sparesView struct {
	Frame ui.Frame
	Email string
	Codes []string
	Next  string
	First bool // with the second step itself
}

// showSpares shows fresh recovery codes to the person, who is signed in by now.
func (p *Pages) showSpares(w http.ResponseWriter, r *http.Request, v factorView, spares []string) error {
	actor, err := p.store.Actor(r.Context(), v.Account.Person)
	if err != nil {
		return err
	}
	r = r.WithContext(access.NewContext(r.Context(), actor))
	next := v.Next
	if next == "" {
		next = path.AccountFactor()
	}
	return form.Show(w, r, http.StatusOK, sparesPage(sparesView{ui.FrameFor(r, "Recovery codes", ""), v.Account.Email, spares, next, !v.Factor.On()}))
}

// provePassword asks for the password once more.
func (p *Pages) provePassword(r *http.Request, a person.Account, which string) error {
	typed := typedPassword(r, oldField(which))
	if typed == "" {
		return complain(oldField(which), "Give your password.")
	}
	right, err := p.prove(r, a, typed)
	if err == nil && !right {
		return complain(oldField(which), "This is not your password.")
	}
	return err
}

// RenewCodes gives the person other recovery codes.
func (p *Pages) RenewCodes(w http.ResponseWriter, r *http.Request) error {
	return p.factorPages(w, r, func(v factorView) error {
		if !v.Factor.On() {
			return form.See(w, r, v.at(), "")
		}
		if err := p.provePassword(r, v.Account, formCodes); err != nil {
			return v.wrong(w, r, formCodes, err)
		}
		spares := newSpares()
		if err := p.store.RenewCodes(r.Context(), v.Account.Person, spares); err != nil {
			return err
		}
		return p.showSpares(w, r, v, spares)
	})
}

// DropFactor switches the second step off, where it is not needed. Everywhere else the person is signed out.
func (p *Pages) DropFactor(w http.ResponseWriter, r *http.Request) error {
	return p.factorPages(w, r, func(v factorView) error {
		if v.Required {
			return v.wrong(w, r, formOff, fault.New(fault.Invalid, "Administrators need the second step here, so yours cannot be switched off."))
		}
		if !v.Factor.On() {
			return form.See(w, r, v.at(), "")
		}
		if err := p.provePassword(r, v.Account, formOff); err != nil {
			return v.wrong(w, r, formOff, err)
		}
		if err := p.store.DropFactor(r.Context(), v.Account.Person); err != nil {
			return v.wrong(w, r, formOff, err)
		}
		if err := p.begin(w, r, v.Account.Person, false); err != nil {
			return err
		}
		return form.See(w, r, path.AccountFactor(), "factor-off")
	})
}
