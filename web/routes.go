package web

import (
	"crypto/rand"
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/web/account"
	"frywright/web/desk"
	"frywright/web/fleet"
	"frywright/web/form"
	"frywright/web/fryer"
	"frywright/web/intake"
	"frywright/web/people"
	"frywright/web/reading"
	"frywright/web/sheet"
	"frywright/web/site"
	"frywright/web/standard"

	"github.com/alexedwards/scs/v2"
	"github.com/google/uuid"
)

// Backend is everything that the pages ask of a store.
type Backend interface {
	Sites
	account.Store
	people.Store
	desk.Store
	site.Store
	fryer.Store
	reading.Store
	standard.Store
	sheet.Store
	fleet.Store
	intake.Store
}

// Parts is what the routes are made of.
type Parts struct {
	Backend  Backend
	Sessions *scs.SessionManager
	NewID    func() uuid.UUID
	Now      func() time.Time
	Demo     []account.DemoUser
	Key      func() ([]byte, error) // seals second factors; see account.Config
}

// Routes is the whole table: every page and every action, what an actor must be allowed to do for it, and whether a
// phone can answer it from its replica. It also gives who acts, by the session.
func Routes(p Parts) (routes []form.Route, identify func(*http.Request) (access.Actor, error)) {
	accounts := account.New(account.Config{Store: p.Backend, Sessions: p.Sessions, NewID: p.NewID, Now: p.Now, Key: p.Key, Demo: p.Demo})
	for _, feature := range [][]form.Route{
		accounts.Routes(),
		(&desk.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&site.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&fryer.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&reading.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&fleet.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&standard.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&sheet.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&intake.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now}).Routes(),
		(&people.Pages{Store: p.Backend, NewID: p.NewID, Now: p.Now, NewToken: rand.Text}).Routes(),
	} {
		routes = append(routes, feature...)
	}
	return routes, accounts.Identify
}
