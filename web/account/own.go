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
	Factor  person.Factor
	Places  int // where they are signed in
	Notes   []person.AccountNote
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
	where, err := p.whereabouts(r)
	if err != nil {
		return ownView{}, err
	}
	v := ownView{Frame: ui.FrameFor(r, "My account", ""), Places: len(where.Others) + 1}
	if v.Account, err = p.store.Account(r.Context(), v.Frame.Actor.Person); err != nil {
		return v, err
	}
	if v.Factor, err = p.store.Factor(r.Context(), v.Account.Person); err != nil {
		return v, err
	}
	v.Notes, err = p.store.AccountNotes(r.Context(), v.Account.Person)
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
	if v.Err = p.changePassword(r, v.Account); v.Err != nil {
		return again(w, r, ownPage(v), v.Err)
	}
	if err := p.begin(w, r, v.Account.Person, v.Factor.On()); err != nil {
		return err
	}
	return form.See(w, r, path.Account(), "password-changed")
}

// changePassword changes the password of the account where the old one is right and the new one will do.
func (p *Pages) changePassword(r *http.Request, account person.Account) error {
	old, password := typedPassword(r, "old"), r.Form.Get("password")
	var f fault.Fields
	if old == "" {
		f.Add("old", "Give the password that you have now.")
	}
	checkNew(&f, password, r.Form.Get("again"), account.Name, account.Email)
	if err := f.Err(); err != nil {
		return err
	}
	right, err := p.prove(r, account, old)
	if err != nil {
		return err
	}
	if !right {
		return complain("old", "This is not the password that you have now.")
	}
	hash, err := p.hashing.hash(r.Context(), password)
	if err != nil {
		return err
	}
	return p.store.SetPassword(r.Context(), account.Person, hash)
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
