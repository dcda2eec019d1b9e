package fleet

import (
	"net/http"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

type fryerView struct {
	Frame    ui.Frame
	Fryer    fleet.Fryer
	SiteName string
	Sites    []state.Site // for a new fryer without a restaurant
	Models   []fleet.Model
	Base     uuid.UUID
	Entry    uuid.UUID
	New      bool
	Retired  bool
	Why      string // why it is retired or returned, as typed
	Err      error
	At       complaints
}

// EditFryer shows the form of a fryer.
func (p *Pages) EditFryer(w http.ResponseWriter, r *http.Request) error {
	id, fresh, err := p.subject(r)
	if err != nil {
		return err
	}
	v := fryerView{Frame: ui.FrameFor(r, "New fryer", "fryers"), Fryer: fleet.Fryer{ID: id}, Entry: p.NewID(), New: fresh}
	if fresh {
		v.Fryer.Site, _ = uuid.Parse(r.URL.Query().Get("site")) // without one, the form asks
	} else {
		if v.Fryer, v.Base, err = p.Store.FryerRecord(r.Context(), id); err != nil {
			return err
		}
		v.Frame.Title = "Fryer " + v.Fryer.Tag
		stands, err := p.Store.Fryer(r.Context(), id)
		if err != nil {
			return err
		}
		v.Retired = !stands.Retired.IsZero()
	}
	return p.showFryer(w, r, v, nil)
}

// showFryer fills in the lists of the form and shows it.
func (p *Pages) showFryer(w http.ResponseWriter, r *http.Request, v fryerView, invalid error) (err error) {
	if v.Models, err = p.Store.Models(r.Context()); err != nil {
		return err
	}
	site, _, err := p.Store.Site(r.Context(), v.Fryer.Site)
	switch {
	case err == nil:
		v.SiteName = site.Name
	case fault.KindOf(err) != fault.NotFound:
		return err
	default: // none yet, or one that is not there: the form asks
		v.Fryer.Site = uuid.Nil
		if v.Sites, err = p.sites(r); err != nil {
			return err
		}
	}
	return form.Write(w, r, fryerPage(v), invalid)
}

// SaveFryer saves a fryer.
func (p *Pages) SaveFryer(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	f := fleet.Fryer{
		ID: id, Tag: form.Text(r, "tag"), Site: form.UUID(r, "site"), Model: form.UUID(r, "model"), Name: form.Text(r, "name"),
		Serial: form.Text(r, "serial"), Installed: form.Text(r, "installed"), Note: form.Text(r, "note"),
	}
	err = p.record(r, nil, id, fleet.FryerSaved{Fryer: f})
	if shown(err) {
		base := form.UUID(r, "base")
		return p.showFryer(w, r, fryerView{
			Frame: ui.FrameFor(r, "Fryer", "fryers"), Fryer: f, Base: base, Entry: p.NewID(), New: base == uuid.Nil, Err: err, At: complaintsOf(err),
		}, err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Fryer(id), "saved")
}

type moveView struct {
	Frame ui.Frame
	Fryer state.Fryer
	Sites []state.Site
	To    uuid.UUID
	Why   string
	Base  uuid.UUID
	Entry uuid.UUID
	Err   error
	At    complaints
}

// Move shows the form that brings a fryer to another restaurant.
func (p *Pages) Move(w http.ResponseWriter, r *http.Request) error {
	return p.showMove(w, r, moveView{}, nil)
}

func (p *Pages) showMove(w http.ResponseWriter, r *http.Request, v moveView, invalid error) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	if v.Fryer, err = p.Store.Fryer(r.Context(), id); err != nil {
		return err
	}
	if v.Sites, err = p.sites(r); err != nil {
		return err
	}
	v.Frame, v.Entry, v.Base = ui.FrameFor(r, "Move "+v.Fryer.Tag, "fryers"), p.NewID(), v.Fryer.Version
	v.Err, v.At = invalid, complaintsOf(invalid)
	return form.Write(w, r, movePage(v), invalid)
}

// SaveMove brings a fryer to another restaurant.
func (p *Pages) SaveMove(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	b := fleet.FryerMoved{From: form.UUID(r, "from"), To: form.UUID(r, "to"), Why: form.Text(r, "why")}
	err = p.record(r, nil, id, b)
	if shown(err) {
		return p.showMove(w, r, moveView{To: b.To, Why: b.Why}, err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Fryer(id), "moved")
}

// Retire takes a fryer out of use; its history stays.
func (p *Pages) Retire(w http.ResponseWriter, r *http.Request) error {
	return p.endOrReturn(w, r, func(why string) journal.Body { return fleet.FryerRetired{Why: why} }, "retired")
}

// Return takes a retired fryer back into use.
func (p *Pages) Return(w http.ResponseWriter, r *http.Request) error {
	return p.endOrReturn(w, r, func(why string) journal.Body { return fleet.FryerReturned{Why: why} }, "returned")
}

func (p *Pages) endOrReturn(w http.ResponseWriter, r *http.Request, body func(string) journal.Body, notice string) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	why := form.Text(r, "why")
	err = p.record(r, nil, id, body(why))
	if shown(err) {
		f, base, loadErr := p.Store.FryerRecord(r.Context(), id)
		if loadErr != nil {
			return loadErr
		}
		return p.showFryer(w, r, fryerView{
			Frame: ui.FrameFor(r, "Fryer "+f.Tag, "fryers"), Fryer: f, Base: base, Entry: p.NewID(), Retired: notice == "returned", Why: why,
			Err: err, At: complaintsOf(err),
		}, err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Fryer(id), notice)
}

// mostChoices is how many restaurants there are to choose from.
const mostChoices = 500

func (p *Pages) sites(r *http.Request) ([]state.Site, error) {
	page, err := p.Store.Sites(r.Context(), state.SiteFilter{PerPage: mostChoices})
	return page.Sites, err
}
