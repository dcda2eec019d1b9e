// Package reading is the pages on which a controller is read: one setting after another in the controller's own order,
// then the result: what is off, what happened, what to do next. It must not know how a reading is stored, nor of the
// fryer's own pages.
package reading

import (
	"context"
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	Fryer(ctx context.Context, id uuid.UUID) (state.Fryer, error)
	ReadingResult(ctx context.Context, id uuid.UUID) (state.ReadingResult, error)
	Assessment(ctx context.Context, fryer uuid.UUID) (state.Assessment, error)
}

// Pages are the pages of readings.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const one = "/readings/{id}"
	read, see := access.TakeReading, access.SeeSettings
	return []form.Route{
		{Method: http.MethodPost, Pattern: "/fryers/{id}/readings", Handler: p.Begin, Action: read, Site: form.ByFryer, Local: true},
		{Method: http.MethodGet, Pattern: one, Handler: p.Show, Action: see, Site: form.ByReading, Local: true},
		{Method: http.MethodGet, Pattern: one + "/next", Handler: p.Next, Action: read, Site: form.ByReading, Local: true},
		{Method: http.MethodGet, Pattern: one + "/at/{pos}", Handler: p.ShowAt, Action: read, Site: form.ByReading, Local: true},
		{Method: http.MethodPost, Pattern: one + "/at/{pos}", Handler: p.SaveAt, Action: read, Site: form.ByReading, Local: true},
		{Method: http.MethodGet, Pattern: one + "/weigh", Handler: p.Weigh, Action: read, Site: form.ByReading, Local: true},
		{Method: http.MethodPost, Pattern: one + "/finish", Handler: p.Finish, Action: read, Site: form.ByReading, Local: true},
		{Method: http.MethodPost, Pattern: one + "/drop", Handler: p.Drop, Action: read, Site: form.ByReading, Local: true},
		{Method: http.MethodGet, Pattern: one + "/result", Handler: p.Result, Action: see, Site: form.ByReading, Local: true},
	}
}

// Begin begins a reading of a fryer. Where one is open already, it leads there: two half readings help nobody.
func (p *Pages) Begin(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	fryer, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	f, err := p.Store.Fryer(r.Context(), fryer)
	if err != nil {
		return err
	}
	if f.OpenID != uuid.Nil {
		return form.See(w, r, path.Reading(f.OpenID), "reading-open")
	}
	purpose := snapshot.Purpose(form.Text(r, "purpose"))
	order, err := p.order(r, fryer, purpose)
	if err != nil {
		return err
	}
	id := p.entry(r)
	// The reading takes the id of its first entry, so that a form sent twice begins one reading.
	_, err = p.Store.Record(r.Context(), journal.Draft{ID: id, Subject: id, Body: snapshot.Begun{Fryer: fryer, Purpose: purpose}})
	if err != nil {
		return err
	}
	return form.See(w, r, path.ReadingAt(id, order.first()), "")
}

// entry gives the id that the form was given, or a new one.
func (p *Pages) entry(r *http.Request) uuid.UUID {
	if id := form.EntryID(r); id != uuid.Nil {
		return id
	}
	return p.NewID()
}

// load reads the reading of the address, with all that it says so far.
func (p *Pages) load(r *http.Request) (state.ReadingResult, error) {
	id, err := form.ID(r, "id")
	if err != nil {
		return state.ReadingResult{}, err
	}
	return p.Store.ReadingResult(r.Context(), id)
}

// loadOpen reads the reading of the address and the order in which its settings are asked for.
func (p *Pages) loadOpen(r *http.Request) (state.ReadingResult, order, error) {
	res, err := p.load(r)
	if err != nil || !res.Snapshot.Open() {
		return res, order{}, err
	}
	o, err := p.order(r, res.Fryer.ID, res.Snapshot.Purpose)
	return res, o, err
}

// shown says whether an error is shown on the form again; other errors are for the error page.
func shown(err error) bool {
	kind := fault.KindOf(err)
	return err != nil && (kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable)
}

// Finish closes a reading as far as it goes.
func (p *Pages) Finish(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	res, err := p.load(r)
	if err != nil {
		return err
	}
	note := form.Text(r, "note")
	if len(res.Snapshot.Values()) == 0 && res.Snapshot.Open() {
		err = fault.New(fault.Invalid, "No value was read yet. Read one first, or give the reading up.")
	} else {
		_, err = p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: res.Snapshot.ID, Body: snapshot.Finished{Note: note}})
	}
	if shown(err) {
		return p.showOverview(w, r, res, finishing{Note: note, Err: err})
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.ReadingResult(res.Snapshot.ID), "reading-finished")
}

// Drop gives an open reading up: what was read in it does not count.
func (p *Pages) Drop(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	res, err := p.load(r)
	if err != nil {
		return err
	}
	why := form.Text(r, "why")
	_, err = p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: res.Snapshot.ID, Body: snapshot.Dropped{Why: why}})
	if shown(err) {
		return p.showOverview(w, r, res, finishing{Why: why, Err: err, Dropping: true})
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Fryer(res.Fryer.ID), "reading-dropped")
}
