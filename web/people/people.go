// Package people is the pages on which an administrator keeps the people who may sign in: their roles, their areas and
// restaurants, the links with which they choose a password, and what becomes of their sign-ins. It must not know
// passwords, codes, or how anything is stored.
package people

import (
	"context"
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/state"
	"frywright/web/form"

	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	People(ctx context.Context) ([]person.Person, error)
	Person(ctx context.Context, id uuid.UUID) (person.Person, uuid.UUID, error)
	Invite(ctx context.Context, id uuid.UUID, token string, valid time.Duration) error
	SignIns(ctx context.Context, id uuid.UUID) ([]person.SignIn, error)
	SignOutEverywhere(ctx context.Context, id uuid.UUID) error
	Factor(ctx context.Context, id uuid.UUID) (person.Factor, error)
	ResetFactor(ctx context.Context, id uuid.UUID, reason string) error
	RequiresFactor(ctx context.Context, role access.Role) (bool, error)
	RequireFactor(ctx context.Context, required bool) error
	AccountNotes(ctx context.Context, id uuid.UUID) ([]person.AccountNote, error)
	Areas(ctx context.Context) ([]string, error)
	Sites(ctx context.Context, f state.SiteFilter) (state.SitePage, error)
	Site(ctx context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error)
}

// Pages are the pages of the people.
type Pages struct {
	Store    Store
	NewID    func() uuid.UUID
	Now      func() time.Time
	NewToken func() string // as hard to guess as a key: at least 128 random bits
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const edit = access.EditPeople
	return []form.Route{
		{Method: "GET", Pattern: "/people", Handler: p.List, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/people/new", Handler: p.Add, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/people/{id}", Handler: p.Show, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/people/{id}/edit", Handler: p.Edit, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/people/{id}/edit", Handler: p.Save, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/people/{id}/link", Handler: p.Link, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/people/{id}/gone", Handler: p.Gone, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/people/{id}/sessions", Handler: p.EndSessions, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/people/{id}/second-step", Handler: p.ResetFactor, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/people/second-step", Handler: p.RequireFactor, Action: edit, Site: form.NoSite},
	}
}

// shown says whether an error is shown on the page again; other errors are for the error page.
func shown(err error) bool {
	kind := fault.KindOf(err)
	return err != nil && (kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable)
}

// keeps says why a change of a person may not be made: somebody has to stay who can let people in, and nobody can take
// that from themselves by mistake.
func (p *Pages) keeps(r *http.Request, changed person.Person) error {
	if changed.Role == access.Administrator && !changed.Gone {
		return nil
	}
	people, err := p.Store.People(r.Context())
	if err != nil {
		return err
	}
	was, others := false, 0
	for _, x := range people {
		switch {
		case x.Role != access.Administrator || x.Gone:
		case x.ID == changed.ID:
			was = true
		default:
			others++
		}
	}
	switch {
	case !was:
		return nil
	case others == 0:
		return refused("This is the last administrator. Make somebody else an administrator first: without one, nobody could be let in any more.")
	case changed.ID == access.FromContext(r.Context()).Person:
		return refused("You cannot take this from yourself. Another administrator can.")
	}
	return nil
}

func refused(message string) error {
	var f fault.Fields
	f.Add("role", "%s", message)
	return f.Err()
}
