// Package fryer is the pages of one fryer, and of finding it: how it stands in a sentence, what to do next, what is
// expected of it and why, what has to be put back, what was done to it. It must not know how anything is stored, nor
// how a controller is read setting by setting.
package fryer

import (
	"context"
	"net/http"
	"net/url"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	Fryers(ctx context.Context, f state.Filter) (state.Page, error)
	Fryer(ctx context.Context, id uuid.UUID) (state.Fryer, error)
	FryerByTag(ctx context.Context, tag string) (uuid.UUID, error)
	Assessment(ctx context.Context, fryer uuid.UUID) (state.Assessment, error)
	Readings(ctx context.Context, fryer uuid.UUID, limit int) ([]state.Reading, error)
	FryerHistory(ctx context.Context, fryer uuid.UUID, page, perPage int) ([]state.Happening, error)
	Sites(ctx context.Context, f state.SiteFilter) (state.SitePage, error)
	Customers(ctx context.Context) ([]fleet.Customer, error)
}

// Pages are the pages of the fryers.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const one = "/fryers/{id}"
	get, post := http.MethodGet, http.MethodPost
	return []form.Route{
		{Method: get, Pattern: "/fryers", Handler: p.Find, Action: access.SeeSite, Site: form.NoSite, Local: true},
		{Method: get, Pattern: "/tag/{tag}", Handler: p.Tag, Action: access.SeeSite, Site: form.NoSite, Local: true},
		{Method: get, Pattern: one, Handler: p.Show, Action: access.SeeSite, Site: form.ByFryer, Local: true},
		{Method: get, Pattern: one + "/history", Handler: p.History, Action: access.SeeSite, Site: form.ByFryer, Local: true},
		{Method: get, Pattern: one + "/expected", Handler: p.Expected, Action: access.SeeSettings, Site: form.ByFryer, Local: true},
		{Method: get, Pattern: one + "/expected/{ref}", Handler: p.ExpectedOne, Action: access.SeeSettings, Site: form.ByFryer, Local: true},
		{Method: get, Pattern: one + "/put-back", Handler: p.PutBack, Action: access.SeeSettings, Site: form.ByFryer, Local: true},
		{Method: post, Pattern: one + "/put-back/tick", Handler: p.Tick, Action: access.TakeReading, Site: form.ByFryer, Local: true},
		{Method: post, Pattern: one + "/events", Handler: p.NoteEvent, Action: access.TakeReading, Site: form.ByFryer, Local: true},
		{Method: post, Pattern: one + "/notes", Handler: p.WriteNote, Action: access.WriteNote, Site: form.ByFryer, Local: true},
		{Method: post, Pattern: one + "/acceptances", Handler: p.Accept, Action: access.AcceptDrift, Site: form.ByFryer, Local: true},
		{Method: post, Pattern: one + "/acceptances/end", Handler: p.EndAcceptance, Action: access.AcceptDrift, Site: form.ByFryer, Local: true},
	}
}

// Tag leads from an asset tag to its fryer, or to the search where there is none.
func (p *Pages) Tag(w http.ResponseWriter, r *http.Request) error {
	tag := chi.URLParam(r, "tag")
	if r.URL.RawPath != "" { // the router then hands out what is still escaped
		if plain, err := url.PathUnescape(tag); err == nil {
			tag = plain
		}
	}
	tag = form.Clean(tag)
	id, err := p.Store.FryerByTag(r.Context(), tag)
	switch {
	case fault.KindOf(err) == fault.NotFound && err != nil:
		return form.See(w, r, path.Fryers()+"?q="+url.QueryEscape(tag), "")
	case err != nil:
		return err
	}
	return form.See(w, r, path.Fryer(id), "")
}

// may says whether the actor of a request may do an action at the fryer's restaurant.
func may(r *http.Request, action access.Action, f *state.Fryer) bool {
	return access.Can(access.FromContext(r.Context()), action, f.SiteID) == access.Allowed
}

// shown says whether an error is shown on the form again; other errors are for the error page.
func shown(err error) bool {
	kind := fault.KindOf(err)
	return err != nil && (kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable)
}
