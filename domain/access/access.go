// Package access is the one function that says what a person may do: roles by actions by scope. The write
// transaction asks it, and the views ask it to hide what cannot be done. It must not know of HTTP, SQL or pages.
package access

import (
	"context"

	"github.com/google/uuid"
)

// Role is what a person is to the service company.
type Role string

// The roles.
const (
	Administrator Role = "administrator" // people and standards; sees everything
	Dispatcher    Role = "dispatcher"    // all sites, the desk, the standards
	Technician    Role = "technician"    // the sites of their areas and orders
	Manager       Role = "manager"       // own sites: reads, keeps out of settings
)

// Roles lists the roles in the order in which screens offer them.
func Roles() []Role { return []Role{Dispatcher, Technician, Manager, Administrator} }

// Action is something a person may want to do.
type Action string

// The actions. Those marked fleet-wide belong to no single site.
const (
	SeeSite         Action = "see-site"          // a site, its fryers, their state and history in plain words
	SeeSettings     Action = "see-settings"      // expected values, readings, put-back lists, odds
	TakeReading     Action = "take-reading"      // read settings, tick the put-back list, note events
	WriteNote       Action = "write-note"        // leave a note at a fryer
	AcceptDrift     Action = "accept-drift"      // accept a difference for one fryer
	SetSiteStandard Action = "set-site-standard" // standards of a site or a fryer; a site's checks
	EditFleet       Action = "edit-fleet"        // fleet-wide: customers, sites, models, fryers
	SetStandard     Action = "set-standard"      // fleet-wide: standards of a customer or a model
	EditSheet       Action = "edit-sheet"        // fleet-wide: settings sheets
	SeeDesk         Action = "see-desk"          // fleet-wide: what needs hands, what came in lately, what was set aside
	Import          Action = "import"            // fleet-wide: import files
	EditPeople      Action = "edit-people"       // fleet-wide: people, roles, invitations
)

// Actions lists every action, for tables and tests.
func Actions() []Action {
	return []Action{
		SeeSite, SeeSettings, TakeReading, WriteNote, AcceptDrift, SetSiteStandard,
		EditFleet, SetStandard, EditSheet, SeeDesk, Import, EditPeople,
	}
}

// reach says on which sites a role may do an action.
type reach int

const (
	nowhere    reach = iota
	ownSites         // the person's own sites only
	everywhere       // every site, and fleet-wide
)

// table is the whole of the permissions.
var table = map[Action]map[Role]reach{
	SeeSite:         {Administrator: everywhere, Dispatcher: everywhere, Technician: ownSites, Manager: ownSites},
	SeeSettings:     {Administrator: everywhere, Dispatcher: everywhere, Technician: ownSites},
	TakeReading:     {Administrator: everywhere, Dispatcher: everywhere, Technician: ownSites},
	WriteNote:       {Administrator: everywhere, Dispatcher: everywhere, Technician: ownSites},
	AcceptDrift:     {Administrator: everywhere, Dispatcher: everywhere},
	SetSiteStandard: {Administrator: everywhere, Dispatcher: everywhere},
	EditFleet:       {Administrator: everywhere, Dispatcher: everywhere},
	SetStandard:     {Administrator: everywhere, Dispatcher: everywhere},
	EditSheet:       {Administrator: everywhere, Dispatcher: everywhere},
	SeeDesk:         {Administrator: everywhere, Dispatcher: everywhere},
	Import:          {Administrator: everywhere, Dispatcher: everywhere},
	EditPeople:      {Administrator: everywhere},
}

// Verdict is the answer of Can.
type Verdict int

// The verdicts. Hidden and Denied differ so that a foreign site looks as if it did not exist.
const (
	Allowed Verdict = iota
	Denied          // the role may never do this
	Hidden          // the role may, but not at this site
)

// Actor is who acts, as of the moment of the request. The zero Actor is nobody and may do nothing.
type Actor struct {
	Person uuid.UUID
	Name   string
	Role   Role
	Sites  map[uuid.UUID]bool // own sites; ignored where the role reaches everywhere
	System bool               // the program itself at the command line: may do everything
}

// SignedIn says whether the actor is anybody at all.
func (a Actor) SignedIn() bool { return a.System || a.Role != "" }

// SeesAllSites says whether lists need no filter for this actor.
func (a Actor) SeesAllSites() bool { return a.System || table[SeeSite][a.Role] == everywhere }

// Can says whether the actor may do the action at the site. For a fleet-wide action the site is uuid.Nil.
func Can(a Actor, action Action, site uuid.UUID) Verdict {
	if a.System {
		return Allowed
	}
	switch table[action][a.Role] {
	case everywhere:
		return Allowed
	case ownSites:
		if site != uuid.Nil && a.Sites[site] {
			return Allowed
		}
		return Hidden
	default:
		return Denied
	}
}

// May says whether the role could do the action anywhere at all: for menus.
func May(a Actor, action Action) bool {
	return a.System || table[action][a.Role] != nowhere
}

type contextKey struct{}

// NewContext gives a context that carries the actor.
func NewContext(ctx context.Context, a Actor) context.Context {
	return context.WithValue(ctx, contextKey{}, a)
}

// FromContext gives the actor of the context; the zero Actor where there is none.
func FromContext(ctx context.Context) Actor {
	a, _ := ctx.Value(contextKey{}).(Actor)
	return a
}
