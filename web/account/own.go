package account

import (
	"net/http"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"
)

// ownView is what a person's own page shows.
type ownView struct {
	Frame   ui.Frame
	Account person.Account
	Err     error
}

// Show shows a person their own page.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error {
	v, err := p.own(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, ownPage(v))
}

func (p *Pages) own(r *http.Request) (ownView, error) {
	v := ownView{Frame: ui.FrameFor(r, "My account", "")}
	var err error
	v.Account, err = p.store.Account(r.Context(), v.Frame.Actor.Person)
	return v, err
}

// ChangePassword changes the person's password. It ends every other session of theirs.
func (p *Pages) ChangePassword(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.own(r)
	if err != nil {
		return err
	}
	err = p.changePassword(r, v.Account)
	switch kind := fault.KindOf(err); {
	case err == nil:
		return form.See(w, r, path.Account(), "password-changed")
	case kind == fault.TooMany:
		v.Err = err
		return refuse(w, r, ownPage(v))
	case kind == fault.Invalid:
		v.Err = err
		return form.Write(w, r, ownPage(v), err)
	default:
		return err
	}
}

// changePassword changes the password of the account where the old one is right and the new one will do, and goes on
// with a new session.
func (p *Pages) changePassword(r *http.Request, account person.Account) error {
	ctx := r.Context()
	var f fault.Fields
	f.Need("old", r.Form.Get("old"), "Give the password that you have now.")
	checkNew(&f, r.Form.Get("password"), r.Form.Get("again"), account.Name, account.Email)
	if err := f.Err(); err != nil {
		return err
	}
	right, err := p.prove(r, account.Email, r.Form.Get("old"), account.PasswordHash)
	if err != nil {
		return err
	}
	if !right {
		f.Add("old", "This is not the password that you have now.")
		return f.Err()
	}
	hash, err := p.hashing.hash(ctx, r.Form.Get("password"))
	if err != nil {
		return err
	}
	if err := p.store.SetPassword(ctx, account.Person, hash); err != nil {
		return err
	}
	generation, err := p.store.Generation(ctx, account.Person)
	if err != nil {
		return err
	}
	return p.begin(ctx, account.Person, generation)
}

// roleWords says what a role is for.
func roleWords(role access.Role) string {
	switch role {
	case access.Administrator:
		return "Administrator: people and standards, the whole fleet"
	case access.Dispatcher:
		return "Dispatcher: the desk, the fleet and its standards"
	case access.Technician:
		return "Technician: the fryers of your areas"
	default:
		return "Restaurant manager: the fryers of your restaurants"
	}
}
