package state

import (
	"time"

	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/google/uuid"
)

// Filter narrows a list of fryers. Zero fields do not narrow.
type Filter struct {
	Query    string // words that begin words of the tag, the name, the serial, the restaurant, its town or its company
	Customer uuid.UUID
	Site     uuid.UUID
	Worst    sheet.Class // at least this class
	OlderH   int         // wrong for at least so many hours
	Hands    bool        // only those that need hands, worst first; otherwise by site and tag
	Stale    bool        // only those not read since something happened
	Open     bool        // only those being read
	Never    bool        // only those never read
	Retired  bool        // the retired ones too
	Page     int         // from 0
	PerPage  int         // 0: 50
}

// Count is how many rows a list has and which page of them is shown.
type Count struct {
	Total  int  // of all pages
	More   bool // there are more than Total: it says how many were counted
	Number int  // of the page, from 0
	Pages  int  // those that can be shown
}

// Cut sets which page is shown, the last one at most, where the first most rows can be paged to.
func (c *Count) Cut(most, page, perPage int) {
	c.Pages = (min(c.Total, most) + perPage - 1) / perPage
	c.Number = min(max(page, 0), max(c.Pages-1, 0))
}

// Beyond says whether the list goes on behind what can be paged to.
func (c *Count) Beyond(perPage int) bool { return c.More || c.Total > c.Pages*perPage }

// Page is one page of a list of fryers.
type Page struct {
	Fryers []Fryer
	Count
}

// SiteFilter narrows a list of restaurants.
type SiteFilter struct {
	Query    string // words that begin words of the name, the town, the code or the company; not with Hands
	Customer uuid.UUID
	Hands    bool // only those where somebody has to go or go on, the worst first; otherwise by name
	Page     int  // from 0
	PerPage  int  // 0: 50
}

// SitePage is one page of a list of restaurants.
type SitePage struct {
	Sites []Site
	Count
}

// Totals counts fryers for the head of the desk.
type Totals struct {
	Fryers  int
	ByWorst [sheet.Safety + 1]int // fryers by their worst class; index 0: nothing wrong
	Stale   int                   // not read since something happened
	Never   int                   // never read
	Open    int                   // being read
}

// Site is one restaurant as lists show it.
type Site struct {
	ID           uuid.UUID
	Code         string
	Name         string
	Town         string
	Area         string
	CustomerID   uuid.UUID
	CustomerName string
	Zone         string
	Fryers       int
	Wrong        int // fryers with something wrong
	Stale        int
	Worst        sheet.Class
}

// Happening is one line of a timeline or of what came in lately.
type Happening struct {
	EntryID   uuid.UUID
	Kind      string
	At        time.Time
	Received  time.Time
	Skew      time.Duration // how far the device's clock was off
	By        string
	SiteID    uuid.UUID
	SiteName  string
	Zone      string
	FryerID   uuid.UUID // Nil where it is about no fryer
	FryerTag  string
	SubjectID uuid.UUID
	Title     string // in plain words, for those who service
	Plain     string // in plain words, for a restaurant manager; empty: not for them
	Detail    string
}

// Reading is a snapshot with what a list shows of it.
type Reading struct {
	ID       uuid.UUID
	Purpose  snapshot.Purpose
	Begun    time.Time
	Finished time.Time
	By       string
	Known    int // values read
	Wrong    int // against what is expected today
}

// Sweep is what going through the whole fleet found.
type Sweep struct {
	Fryers   int // in use
	Settings int // compared
	Wrong    int // fryers with something wrong
	Amiss    int // fryers that are stored to stand otherwise than they do
}

// Count counts a fryer.
func (s *Sweep) Count(st *Standing, amiss bool) {
	s.Fryers++
	s.Settings += st.Places
	if st.Wrong() > 0 {
		s.Wrong++
	}
	if amiss {
		s.Amiss++
	}
}

// Add adds what another part of the fleet counted.
func (s *Sweep) Add(o Sweep) {
	s.Fryers += o.Fryers
	s.Settings += o.Settings
	s.Wrong += o.Wrong
	s.Amiss += o.Amiss
}

// LayersListed is how many of the restaurants' own standards, and of the fryers' own, a list shows.
const LayersListed = 200
