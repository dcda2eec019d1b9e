// Package desk is the pages of the desk: which fryers need hands over the whole fleet, what came in lately, and what
// was set aside. It must not know how anything is stored, nor what stands on a fryer's own pages.
package desk

import (
	"context"
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Totals(ctx context.Context) (state.Totals, error)
	Fryers(ctx context.Context, f state.Filter) (state.Page, error)
	Customers(ctx context.Context) ([]fleet.Customer, error)
	Site(ctx context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error)
	Sites(ctx context.Context, f state.SiteFilter) (state.SitePage, error)
	Lately(ctx context.Context, page, perPage int) ([]state.Happening, error)
	SetAside(ctx context.Context) ([]state.Aside, error)
	SettleAside(ctx context.Context, id uuid.UUID, apply bool) error
}

// Pages are the pages of the desk.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const see = access.SeeDesk
	get, post := http.MethodGet, http.MethodPost
	return []form.Route{
		{Method: get, Pattern: "/", Handler: p.Home, Action: form.Anyone, Site: form.NoSite, Local: true},
		{Method: get, Pattern: "/desk", Handler: p.Desk, Action: see, Site: form.NoSite},
		{Method: get, Pattern: "/lately", Handler: p.Lately, Action: see, Site: form.NoSite},
		{Method: get, Pattern: "/set-aside", Handler: p.SetAside, Action: see, Site: form.NoSite},
		{Method: post, Pattern: "/set-aside/{id}", Handler: p.Settle, Action: see, Site: form.NoSite},
	}
}

// Home sends each role to its own first page, with the notice that came along.
func (p *Pages) Home(w http.ResponseWriter, r *http.Request) error {
	return form.See(w, r, first(access.FromContext(r.Context())), r.URL.Query().Get("notice"))
}

// first gives the page where a person's work begins.
func first(a access.Actor) string {
	switch {
	case access.May(a, access.SeeDesk):
		return path.Desk()
	case access.May(a, access.SeeSettings):
		return path.Fryers()
	default:
		return path.Sites()
	}
}
