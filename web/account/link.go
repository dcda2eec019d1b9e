package account

import (
	"net/http"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// welcomeView is what the page of an invitation shows.
type welcomeView struct {
	Frame  ui.Frame
	Token  string
	Person person.Person
	Err    error
}

// ShowWelcome shows an invited person the form with which they choose a password.
func (p *Pages) ShowWelcome(w http.ResponseWriter, r *http.Request) error {
	hideAddress(w)
	v, err := p.welcomed(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, welcomePage(v))
}

// Welcome uses an invitation up: from now on its person signs in with the password that they chose.
func (p *Pages) Welcome(w http.ResponseWriter, r *http.Request) error {
	hideAddress(w)
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.welcomed(r)
	if err != nil {
		return err
	}
	var f fault.Fields
	checkNew(&f, r.Form.Get("password"), r.Form.Get("again"), v.Person.Name, v.Person.Email)
	if v.Err = f.Err(); v.Err != nil {
		return form.Write(w, r, welcomePage(v), v.Err)
	}
	hash, err := p.hashing.hash(r.Context(), r.Form.Get("password"))
	if err != nil {
		return err
	}
	if _, err := p.store.TakeUp(r.Context(), v.Token, hash); err != nil {
		return err
	}
	return form.See(w, r, path.SignIn(), "password-set")
}

// hideAddress keeps the address of a page that bears a secret from being told to the next: only its origin is.
func hideAddress(w http.ResponseWriter) { w.Header().Set("Referrer-Policy", "strict-origin") }

// welcomed gives what the page of an invitation shows, while its link can be used.
func (p *Pages) welcomed(r *http.Request) (welcomeView, error) {
	v := welcomeView{Frame: ui.FrameFor(r, "Welcome", ""), Token: chi.URLParam(r, "token")}
	var err error
	if v.Person, err = p.store.Invited(r.Context(), v.Token); err != nil {
		return v, err
	}
	if v.Person.ID == uuid.Nil { // the link that sets the instance up
		return v, linkOver()
	}
	return v, nil
}

func linkOver() error {
	return fault.New(fault.NotFound, "This link was used already or is over. Ask for a new one.")
}

// setupView is what the page of the set-up link shows.
type setupView struct {
	Frame  ui.Frame
	Token  string
	Person person.Person // as typed
	Err    error
}

// ShowSetup shows the form that makes the first administrator.
func (p *Pages) ShowSetup(w http.ResponseWriter, r *http.Request) error {
	hideAddress(w)
	v, err := p.settingUp(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, setupPage(v))
}

// Setup makes the first administrator and uses the link up.
func (p *Pages) Setup(w http.ResponseWriter, r *http.Request) error {
	hideAddress(w)
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.settingUp(r)
	if err != nil {
		return err
	}
	v.Person = person.Person{
		ID: p.newID(), Name: form.Text(r, "name"), Email: person.CleanEmail(form.Text(r, "email")), Role: access.Administrator,
	}
	if v.Err = p.setUp(r, v.Token, v.Person); v.Err == nil {
		return form.See(w, r, path.SignIn(), "password-set")
	}
	if fault.KindOf(v.Err) != fault.Invalid {
		return v.Err
	}
	return form.Write(w, r, setupPage(v), v.Err)
}

// setUp makes the first administrator, unless something on the form is wrong.
func (p *Pages) setUp(r *http.Request, token string, first person.Person) error {
	f := fault.Fields(fault.FieldsOf(person.Saved{Person: first}.Validate()))
	checkNew(&f, r.Form.Get("password"), r.Form.Get("again"), first.Name, first.Email)
	if err := f.Err(); err != nil {
		return err
	}
	hash, err := p.hashing.hash(r.Context(), r.Form.Get("password"))
	if err != nil {
		return err
	}
	return p.store.SetUp(r.Context(), token, first, hash)
}

// settingUp gives what the page of the set-up link shows, while the link can be used.
func (p *Pages) settingUp(r *http.Request) (setupView, error) {
	v := setupView{Frame: ui.FrameFor(r, "First sign-in", ""), Token: chi.URLParam(r, "token")}
	invited, err := p.store.Invited(r.Context(), v.Token)
	if err != nil {
		return v, err
	}
	if invited.ID != uuid.Nil { // somebody's invitation
		return v, linkOver()
	}
	return v, nil
}
