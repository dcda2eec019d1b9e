package desk

import (
	"net/http"

	"frywright/domain/fault"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// What can be done with an entry that was set aside.
const (
	doApply = "apply"
	doLeave = "leave"
)

type asideView struct {
	Frame ui.Frame
	List  []state.Aside
	Err   error
	ErrOf uuid.UUID // the entry that could not be settled
}

// SetAside lists the entries that were kept but not applied.
func (p *Pages) SetAside(w http.ResponseWriter, r *http.Request) error {
	return p.showAside(w, r, uuid.Nil, nil)
}

func (p *Pages) showAside(w http.ResponseWriter, r *http.Request, id uuid.UUID, invalid error) error {
	list, err := p.Store.SetAside(r.Context())
	if err != nil {
		return err
	}
	v := asideView{ui.FrameFor(r, "Set aside", "lately"), list, invalid, id}
	return form.Write(w, r, asidePage(v), invalid)
}

// Settle applies an entry that was set aside, or leaves it out for good.
func (p *Pages) Settle(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	do := form.Text(r, "do")
	if do != doApply && do != doLeave {
		return p.showAside(w, r, id, fault.New(fault.Invalid, "Say whether it is applied or left out."))
	}
	err = p.Store.SettleAside(r.Context(), id, do == doApply)
	switch kind := fault.KindOf(err); {
	case err == nil && do == doApply:
		return form.See(w, r, path.SetAside(), "aside-applied")
	case err == nil:
		return form.See(w, r, path.SetAside(), "aside-left-out")
	case kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable:
		return p.showAside(w, r, id, err)
	default:
		return err
	}
}
