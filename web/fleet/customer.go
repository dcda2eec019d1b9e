package fleet

import (
	"net/http"

	"frywright/domain/fleet"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

type customersView struct {
	Frame     ui.Frame
	Customers []fleet.Customer
}

// Customers lists the restaurant companies.
func (p *Pages) Customers(w http.ResponseWriter, r *http.Request) error {
	list, err := p.Store.Customers(r.Context())
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, customersPage(customersView{ui.FrameFor(r, "Restaurant companies", "sites"), list}))
}

type customerView struct {
	Frame    ui.Frame
	Customer fleet.Customer
	Base     uuid.UUID
	Entry    uuid.UUID
	New      bool
	Err      error
	At       complaints
}

// EditCustomer shows the form of a customer.
func (p *Pages) EditCustomer(w http.ResponseWriter, r *http.Request) error {
	id, fresh, err := p.subject(r)
	if err != nil {
		return err
	}
	v := customerView{Frame: ui.FrameFor(r, "New restaurant company", "sites"), Customer: fleet.Customer{ID: id}, Entry: p.NewID(), New: fresh}
	if !fresh {
		if v.Customer, v.Base, err = p.Store.Customer(r.Context(), id); err != nil {
			return err
		}
		v.Frame.Title = v.Customer.Name
	}
	return form.Show(w, r, http.StatusOK, customerPage(v))
}

// SaveCustomer saves a customer.
func (p *Pages) SaveCustomer(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	c := fleet.Customer{ID: id, Code: form.Text(r, "code"), Name: form.Text(r, "name"), Note: form.Text(r, "note")}
	err = p.record(r, nil, id, fleet.CustomerSaved{Customer: c})
	if shown(err) {
		base := form.UUID(r, "base")
		v := customerView{ui.FrameFor(r, "Restaurant company", "sites"), c, base, p.NewID(), base == uuid.Nil, err, complaintsOf(err)}
		return form.Write(w, r, customerPage(v), err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Customers(), "saved")
}
