// Package account is how a person signs in and out, and what they do with their own sign-in: the first set-up of an
// instance, taking up an invitation, changing the password. It must not know of fryers, nor how passwords are stored.
package account

import (
	"context"
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"

	"github.com/a-h/templ"
	"github.com/alexedwards/argon2id"
	"github.com/alexedwards/scs/v2"
	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	AccountByEmail(ctx context.Context, email string) (person.Account, error)
	Account(ctx context.Context, id uuid.UUID) (person.Account, error)
	Generation(ctx context.Context, id uuid.UUID) (int64, error)
	Actor(ctx context.Context, id uuid.UUID) (access.Actor, error)
	SignedIn(ctx context.Context, id uuid.UUID) error
	SignOutEverywhere(ctx context.Context, id uuid.UUID) error
	SetPassword(ctx context.Context, id uuid.UUID, hash string) error
	Invited(ctx context.Context, token string) (person.Person, error)
	TakeUp(ctx context.Context, token, hash string) (uuid.UUID, error)
	SetUp(ctx context.Context, token string, p person.Person, hash string) error
}

// DemoUser is a sign-in of a demo instance: its sign-in page offers it with one tap.
type DemoUser struct {
	Name     string
	Email    string
	Password string
	Role     access.Role
	What     string // what this person does
}

// Pages are the pages of the sign-in.
type Pages struct {
	store    Store
	sessions *scs.SessionManager
	newID    func() uuid.UUID
	now      func() time.Time
	demo     []DemoUser
	limits   *limits
	hashing  hasher
	pause    func(ctx context.Context, d time.Duration) error
}

// New makes the pages. Where sessions is nil only the list of routes may be asked for.
func New(store Store, sessions *scs.SessionManager, newID func() uuid.UUID, now func() time.Time, demo []DemoUser) *Pages {
	return &Pages{store: store, sessions: sessions, newID: newID, now: now, demo: demo, limits: newLimits(), hashing: newHasher(), pause: pause}
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	return []form.Route{
		{Method: "GET", Pattern: "/signin", Handler: p.ShowSignIn, Action: form.Public, Site: form.NoSite},
		{Method: "POST", Pattern: "/signin", Handler: p.SignIn, Action: form.Public, Site: form.NoSite},
		{Method: "POST", Pattern: "/signout", Handler: p.SignOut, Action: form.Anyone, Site: form.NoSite},
		{Method: "POST", Pattern: "/signout/everywhere", Handler: p.SignOutEverywhere, Action: form.Anyone, Site: form.NoSite},
		{Method: "GET", Pattern: "/account", Handler: p.Show, Action: form.Anyone, Site: form.NoSite},
		{Method: "POST", Pattern: "/account/password", Handler: p.ChangePassword, Action: form.Anyone, Site: form.NoSite},
		{Method: "GET", Pattern: "/welcome/{token}", Handler: p.ShowWelcome, Action: form.Public, Site: form.NoSite},
		{Method: "POST", Pattern: "/welcome/{token}", Handler: p.Welcome, Action: form.Public, Site: form.NoSite},
		{Method: "GET", Pattern: "/setup/{token}", Handler: p.ShowSetup, Action: form.Public, Site: form.NoSite},
		{Method: "POST", Pattern: "/setup/{token}", Handler: p.Setup, Action: form.Public, Site: form.NoSite},
	}
}

// Keys of a session.
const (
	sessionPerson     = "person"     // the person's id as text
	sessionGeneration = "generation" // of the person's sign-ins when this one began
)

// Identify gives who acts, by the session; the zero Actor for nobody.
func (p *Pages) Identify(r *http.Request) (access.Actor, error) {
	if p.sessions == nil {
		return access.Actor{}, nil
	}
	id, err := uuid.Parse(p.sessions.GetString(r.Context(), sessionPerson))
	if err != nil {
		return access.Actor{}, nil //nolint:nilerr // a session without a person is nobody's
	}
	generation, err := p.store.Generation(r.Context(), id)
	if err != nil || generation != p.sessions.GetInt64(r.Context(), sessionGeneration) {
		return access.Actor{}, unlessUnknown(err)
	}
	actor, err := p.store.Actor(r.Context(), id)
	if err != nil {
		return access.Actor{}, unlessUnknown(err)
	}
	return actor, nil
}

// unlessUnknown passes an error on, except that somebody is not known: then nobody is signed in.
func unlessUnknown(err error) error {
	if fault.KindOf(err) == fault.NotFound {
		return nil
	}
	return err
}

// begin makes the session one of the person. The token is renewed, so that one that was known before is of no use.
func (p *Pages) begin(ctx context.Context, id uuid.UUID, generation int64) error {
	if err := p.sessions.RenewToken(ctx); err != nil {
		return err
	}
	p.sessions.Put(ctx, sessionPerson, id.String())
	p.sessions.Put(ctx, sessionGeneration, generation)
	return nil
}

// shown says whether an error is shown on the form again; other errors are for the error page.
func shown(err error) bool {
	kind := fault.KindOf(err)
	return err != nil && (kind == fault.Invalid || kind == fault.Conflict)
}

// refuse shows a form again that was sent too often.
func refuse(w http.ResponseWriter, r *http.Request, page templ.Component) error {
	w.Header().Set("Retry-After", retryAfter)
	return form.Show(w, r, http.StatusTooManyRequests, page)
}

// retryAfter is how many seconds a browser is asked to wait.
const retryAfter = "60"

// Hash gives the stored form of a password, for those who set one without a page.
func Hash(password string) (string, error) { return argon2id.CreateHash(password, cost) }
