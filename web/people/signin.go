package people

import (
	"net/http"
	"time"

	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// signInView is what the page of a person shows of their sign-in.
type signInView struct {
	Places []person.SignIn // the latest used first
	Factor person.Factor
	Notes  []person.AccountNote
	Now    time.Time
	Reason string // as typed
}

func (p *Pages) signIn(r *http.Request, id uuid.UUID) (signInView, error) {
	v := signInView{Now: p.Now()}
	var err error
	if v.Places, err = p.Store.SignIns(r.Context(), id); err != nil {
		return v, err
	}
	if v.Factor, err = p.Store.Factor(r.Context(), id); err != nil {
		return v, err
	}
	v.Notes, err = p.Store.AccountNotes(r.Context(), id)
	return v, err
}

// EndSessions signs a person out everywhere.
func (p *Pages) EndSessions(w http.ResponseWriter, r *http.Request) error {
	v, err := p.show(r)
	if err != nil {
		return err
	}
	if err := p.Store.SignOutEverywhere(r.Context(), v.Person.ID); err != nil {
		return err
	}
	return form.See(w, r, path.Person(v.Person.ID), "person-sessions")
}

// ResetFactor takes the second step of somebody who lost it, with a reason.
func (p *Pages) ResetFactor(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.show(r)
	if err != nil {
		return err
	}
	v.SignIn.Reason = form.Text(r, "reason")
	switch {
	case v.Self:
		v.Err = fault.New(fault.Invalid, "This is you. Change your own second step under My account; another administrator can take it away.")
	case !v.SignIn.Factor.On():
		v.Err = fault.New(fault.Conflict, "%s has no second step.", v.Person.Name)
	default:
		v.Err = p.Store.ResetFactor(r.Context(), v.Person.ID, v.SignIn.Reason)
	}
	switch {
	case v.Err == nil:
		return form.See(w, r, path.Person(v.Person.ID), "factor-reset")
	case !shown(v.Err):
		return v.Err
	}
	return form.Write(w, r, showPage(v), v.Err)
}

// RequireFactor says whether administrators need the second step.
func (p *Pages) RequireFactor(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	required := r.Form.Get("required") == "yes"
	err := p.Store.RequireFactor(r.Context(), required)
	switch {
	case err == nil && required:
		return form.See(w, r, path.People(), "factor-required")
	case err == nil:
		return form.See(w, r, path.People(), "factor-optional")
	case !shown(err):
		return err
	}
	v, listErr := p.list(r)
	if listErr != nil {
		return listErr
	}
	v.Err = err
	return form.Write(w, r, listPage(v), err)
}

// placesWords says in how many places somebody is signed in, and when they last were.
func (v signInView) placesWords() string {
	if len(v.Places) == 0 {
		return "Nowhere"
	}
	return counted(len(v.Places), "device", "devices") + ", last used " + ui.Ago(v.Places[0].Seen, v.Now)
}

func (v signInView) factorWords() string {
	if v.Factor.On() {
		return "On, " + counted(v.Factor.CodesLeft, "recovery code", "recovery codes") + " left"
	}
	return "Off"
}
