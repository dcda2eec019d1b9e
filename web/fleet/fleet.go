// Package fleet is the forms that change the fleet: customers, restaurants, fryer models and fryers. It must not know of
// settings' values or readings.
package fleet

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/form"

	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	Customers(ctx context.Context) ([]fleet.Customer, error)
	Customer(ctx context.Context, id uuid.UUID) (fleet.Customer, uuid.UUID, error)
	Models(ctx context.Context) ([]fleet.Model, error)
	Model(ctx context.Context, id uuid.UUID) (fleet.Model, uuid.UUID, error)
	Sheets(ctx context.Context) ([]*sheet.Sheet, error)
	Site(ctx context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error)
	Sites(ctx context.Context, f state.SiteFilter) (state.SitePage, error)
	FryerRecord(ctx context.Context, id uuid.UUID) (fleet.Fryer, uuid.UUID, error)
	Fryer(ctx context.Context, id uuid.UUID) (state.Fryer, error)
}

// Pages are the pages of the fleet's records.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const edit = access.EditFleet
	return []form.Route{
		{Method: "GET", Pattern: "/customers", Handler: p.Customers, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/customers/new", Handler: p.EditCustomer, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/customers/{id}", Handler: p.EditCustomer, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/customers/{id}", Handler: p.SaveCustomer, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/models", Handler: p.Models, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/models/new", Handler: p.EditModel, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/models/{id}", Handler: p.EditModel, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/models/{id}", Handler: p.SaveModel, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sites/new", Handler: p.EditSite, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sites/{id}/edit", Handler: p.EditSite, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/sites/{id}/edit", Handler: p.SaveSite, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/fryers/new", Handler: p.EditFryer, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/fryers/{id}/edit", Handler: p.EditFryer, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/fryers/{id}/edit", Handler: p.SaveFryer, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/fryers/{id}/move", Handler: p.Move, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/fryers/{id}/move", Handler: p.SaveMove, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/fryers/{id}/retire", Handler: p.Retire, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/fryers/{id}/return", Handler: p.Return, Action: edit, Site: form.NoSite},
	}
}

// complaints gives the message beside each field.
type complaints map[string]string

func complaintsOf(err error) complaints {
	c := complaints{}
	for _, f := range fault.FieldsOf(err) {
		if c[f.Name] == "" {
			c[f.Name] = f.Message
		}
	}
	return c
}

// shown says whether an error is shown on the form again; other errors are for the error page.
func shown(err error) bool {
	kind := fault.KindOf(err)
	return err != nil && (kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable)
}

// subject gives the id of the address and whether it is a thing not made yet: "new" shows an empty form, and its POST
// goes to the id that the form was given.
func (p *Pages) subject(r *http.Request) (id uuid.UUID, fresh bool, err error) {
	if isNew(r) {
		return p.NewID(), true, nil
	}
	id, err = form.ID(r, "id")
	return id, false, err
}

// isNew says whether the address is one of the forms for something new.
func isNew(r *http.Request) bool {
	const tail = "/new"
	n := len(r.URL.Path)
	return n >= len(tail) && r.URL.Path[n-len(tail):] == tail
}

// floatText gives a number as a form shows it; empty for 0.
func floatText(n float64) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatFloat(n, 'f', -1, 64)
}

func intText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func optionalText(n *float64) string {
	if n == nil {
		return ""
	}
	return strconv.FormatFloat(*n, 'f', -1, 64)
}

// record records one change and gives its error together with the complaints of reading the form.
func (p *Pages) record(r *http.Request, read fault.Fields, subject uuid.UUID, body journal.Body) error {
	if err := read.Err(); err != nil {
		return err
	}
	_, err := p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: subject, Base: form.UUID(r, "base"), Body: body})
	return err
}
