package fleet

import (
	"net/http"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

type siteView struct {
	Frame     ui.Frame
	Site      fleet.Site
	Typed     func(name, stands string) string // a number as typed, or as it stands
	Customers []fleet.Customer
	Base      uuid.UUID
	Entry     uuid.UUID
	New       bool
	Err       error
	At        complaints
}

func asStands(_, stands string) string { return stands }

// typedIn gives what was typed into a field, so that a form shown again keeps it.
func typedIn(r *http.Request) func(name, stands string) string {
	return func(name, stands string) string {
		if r.Form.Has(name) {
			return form.Text(r, name)
		}
		return stands
	}
}

// EditSite shows the form of a restaurant.
func (p *Pages) EditSite(w http.ResponseWriter, r *http.Request) error {
	id, fresh, err := p.subject(r)
	if err != nil {
		return err
	}
	v := siteView{Frame: ui.FrameFor(r, "New restaurant", "sites"), Site: fleet.Site{ID: id, Gas: fleet.NaturalGas}, Typed: asStands, Entry: p.NewID(), New: fresh}
	if !fresh {
		if v.Site, v.Base, err = p.Store.Site(r.Context(), id); err != nil {
			return err
		}
		v.Frame.Title = v.Site.Name
	}
	if v.Customers, err = p.Store.Customers(r.Context()); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, sitePage(v))
}

// SaveSite saves a restaurant.
func (p *Pages) SaveSite(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	var f fault.Fields
	s := readSite(r, &f, id)
	err = p.record(r, f, id, fleet.SiteSaved{Site: s})
	if !shown(err) {
		if err != nil {
			return err
		}
		return form.See(w, r, path.Site(id), "saved")
	}
	base := form.UUID(r, "base")
	v := siteView{
		Frame: ui.FrameFor(r, "Restaurant", "sites"), Site: s, Typed: typedIn(r), Base: base, Entry: p.NewID(), New: base == uuid.Nil,
		Err: err, At: complaintsOf(err),
	}
	var lists error
	if v.Customers, lists = p.Store.Customers(r.Context()); lists != nil {
		return lists
	}
	return form.Write(w, r, sitePage(v), err)
}

func readSite(r *http.Request, f *fault.Fields, id uuid.UUID) fleet.Site {
	return fleet.Site{
		ID: id, Code: form.Text(r, "code"), Customer: form.UUID(r, "customer"), Name: form.Text(r, "name"), Address: form.Text(r, "address"),
		Town: form.Text(r, "town"), Country: form.Text(r, "country"), Area: form.Text(r, "area"),
		Lat: form.OptionalNumber(r, f, "lat", "The latitude"), Lon: form.OptionalNumber(r, f, "lon", "The longitude"),
		ElevationM: form.Number(r, f, "elevation_m", "The elevation"), Zone: form.Text(r, "zone"),
		SupplyVolts: form.Number(r, f, "supply_volts", "The supply voltage"), Gas: fleet.GasSupply(form.Text(r, "gas")), Access: form.Text(r, "access"),
	}
}
