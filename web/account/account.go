// Package account is how a person signs in and out, and what they do with their own sign-in: the first set-up of an
// instance, taking up an invitation, the password, the second step, and where they are signed in. It must not know of
// fryers, nor how passwords are stored.
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
	Actor(ctx context.Context, id uuid.UUID) (access.Actor, error)
	AccountNotes(ctx context.Context, id uuid.UUID) ([]person.AccountNote, error)

	SetPassword(ctx context.Context, id uuid.UUID, hash string) error
	Rehash(ctx context.Context, id uuid.UUID, old, hash string) error
	Invited(ctx context.Context, token string) (person.Person, error)
	TakeUp(ctx context.Context, token, hash string) (uuid.UUID, error)
	SetUp(ctx context.Context, token string, p person.Person, hash string) error

	BeginSignIn(ctx context.Context, token string, in person.SignIn) error
	SignIn(ctx context.Context, token string) (person.SignIn, error)
	SeenSignIn(ctx context.Context, token string) error
	SignIns(ctx context.Context, id uuid.UUID) ([]person.SignIn, error)
	EndSignIn(ctx context.Context, id, signIn uuid.UUID) error
	EndOtherSignIns(ctx context.Context, id, but uuid.UUID) error
	SignOutEverywhere(ctx context.Context, id uuid.UUID) error
	KnowBrowser(ctx context.Context, id uuid.UUID, cookie string) error
	KnowsBrowser(ctx context.Context, id uuid.UUID, cookie string) (bool, error)

	Factor(ctx context.Context, id uuid.UUID) (person.Factor, error)
	BeginFactor(ctx context.Context, id uuid.UUID, sealed string) error
	ConfirmFactor(ctx context.Context, id uuid.UUID, step int64, codes []string) error
	UseStep(ctx context.Context, id uuid.UUID, step int64) (bool, error)
	UseCode(ctx context.Context, id uuid.UUID, code string) (bool, error)
	RenewCodes(ctx context.Context, id uuid.UUID, codes []string) error
	DropFactor(ctx context.Context, id uuid.UUID) error
	RequiresFactor(ctx context.Context, role access.Role) (bool, error)
}

// DemoUser is a sign-in of a demo instance: its sign-in page offers it with one tap.
type DemoUser struct {
	Name     string
	Email    string
	Password string
	Role     access.Role
	What     string // what this person does
}

// Config is what the pages are made of. Where Sessions is nil only the list of routes may be asked for.
type Config struct {
	Store    Store
	Sessions *scs.SessionManager
	NewID    func() uuid.UUID
	Now      func() time.Time
	Key      func() ([]byte, error) // the key that seals second factors; kept apart from the database
	Demo     []DemoUser
}

// Pages are the pages of the sign-in.
type Pages struct {
	store    Store
	sessions *scs.SessionManager
	newID    func() uuid.UUID
	now      func() time.Time
	demo     []DemoUser
	limits   *limits // of passwords
	codes    *limits // of codes of the second step
	hashing  *hasher
	seal     seal
	pause    func(ctx context.Context, d time.Duration) error
}

// New makes the pages.
func New(c Config) *Pages {
	return &Pages{
		store: c.Store, sessions: c.Sessions, newID: c.NewID, now: c.Now, demo: c.Demo, seal: seal{c.Key},
		limits: newLimits(passwordRules), codes: newLimits(codeRules), hashing: newHasher(), pause: pause,
	}
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	get := func(pattern string, action access.Action, h form.Handler) form.Route {
		return form.Route{Method: "GET", Pattern: pattern, Handler: h, Action: action, Site: form.NoSite}
	}
	post := func(pattern string, action access.Action, h form.Handler) form.Route {
		return form.Route{Method: "POST", Pattern: pattern, Handler: h, Action: action, Site: form.NoSite}
	}
	return []form.Route{
		get("/signin", form.Public, p.ShowSignIn), post("/signin", form.Public, p.SignIn),
		get("/signin/code", form.Public, p.ShowCode), post("/signin/code", form.Public, p.GiveCode),
		get("/signin/second-step", form.Public, p.ShowFactor), post("/signin/second-step", form.Public, p.BeginFactor),
		post("/signin/second-step/confirm", form.Public, p.ConfirmFactor),
		post("/signout", form.Anyone, p.SignOut), post("/signout/everywhere", form.Anyone, p.SignOutEverywhere),
		get("/account", form.Anyone, p.Show), post("/account/password", form.Anyone, p.ChangePassword),
		get("/account/sessions", form.Anyone, p.ShowSessions), post("/account/sessions/{id}/end", form.Anyone, p.EndSession),
		post("/account/sessions/others/end", form.Anyone, p.EndOthers),
		get("/account/second-step", form.Anyone, p.ShowFactor), post("/account/second-step", form.Anyone, p.BeginFactor),
		post("/account/second-step/confirm", form.Anyone, p.ConfirmFactor), post("/account/second-step/codes", form.Anyone, p.RenewCodes),
		post("/account/second-step/off", form.Anyone, p.DropFactor),
		get("/welcome/{token}", form.Public, p.ShowWelcome), post("/welcome/{token}", form.Public, p.Welcome),
		get("/setup/{token}", form.Public, p.ShowSetup), post("/setup/{token}", form.Public, p.Setup),
	}
}

// shown says whether an error is shown on the form again; other errors are for the error page.
func shown(err error) bool {
	switch fault.KindOf(err) {
	case fault.Invalid, fault.Conflict, fault.TooMany, fault.Unavailable:
		return err != nil
	default:
		return false
	}
}

// again shows a form again with what is wrong about it; an error that no form shows is passed on.
func again(w http.ResponseWriter, r *http.Request, page templ.Component, err error) error {
	switch {
	case !shown(err):
		return err
	case fault.KindOf(err) == fault.TooMany:
		w.Header().Set("Retry-After", retryAfter)
		return form.Show(w, r, http.StatusTooManyRequests, page)
	default:
		return form.Write(w, r, page, err)
	}
}

// retryAfter is how many seconds a browser is asked to wait.
const retryAfter = "60"

// Hash gives the stored form of a password, for those who set one without a page.
func Hash(password string) (string, error) { return argon2id.CreateHash(normal(password), cost) }
