// Package site is the pages of the restaurants: the list of those that the actor sees, and one restaurant with its
// fryers, in plain words for its manager. It must not know how anything is stored, nor how a restaurant is edited.
package site

import (
	"context"
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/state"
	"frywright/web/form"

	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	Sites(ctx context.Context, f state.SiteFilter) (state.SitePage, error)
	Site(ctx context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error)
	SiteRules(ctx context.Context, id uuid.UUID) ([]string, error)
	SiteHistory(ctx context.Context, site uuid.UUID, page, perPage int) ([]state.Happening, error)
	Fryers(ctx context.Context, f state.Filter) (state.Page, error)
	Customers(ctx context.Context) ([]fleet.Customer, error)
}

// Pages are the pages of the restaurants.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	get, post := http.MethodGet, http.MethodPost
	return []form.Route{
		{Method: get, Pattern: "/sites", Handler: p.List, Action: access.SeeSite, Site: form.NoSite, Local: true},
		{Method: get, Pattern: "/sites/{id}", Handler: p.Show, Action: access.SeeSite, Site: form.BySite, Local: true},
		{Method: post, Pattern: "/sites/{id}/rules", Handler: p.SwitchRule, Action: access.SetSiteStandard, Site: form.BySite},
	}
}

// may says whether the actor of a request may do an action at a restaurant; uuid.Nil for what is fleet-wide.
func may(r *http.Request, action access.Action, site uuid.UUID) bool {
	return access.Can(access.FromContext(r.Context()), action, site) == access.Allowed
}
