package form

import (
	"frywright/domain/access"
)

// SiteOf says how the site of a route's address is found, for the table of who may do what.
type SiteOf string

// The ways.
const (
	NoSite    SiteOf = "none"    // fleet-wide, or about oneself
	BySite    SiteOf = "site"    // {id} is a site
	ByFryer   SiteOf = "fryer"   // {id} is a fryer
	ByReading SiteOf = "reading" // {id} is a snapshot
)

// Public marks a route that needs no sign-in, and Anyone one that needs a sign-in only.
const (
	Public access.Action = "public"
	Anyone access.Action = "anyone"
)

// Route is one row of the route table.
type Route struct {
	Method  string
	Pattern string // chi's
	Handler Handler
	Action  access.Action // what the actor must be allowed to do: checked before the handler, and again by the store
	Site    SiteOf
	Body    int64 // most bytes of a request's body; 0: as much as a plain form may have. More than that: files
	Local   bool  // a phone can answer it from its replica; otherwise online only
}
