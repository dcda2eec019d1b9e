package state

import (
	"time"

	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/google/uuid"
)

// Filter narrows a list of fryers. Zero fields do not narrow.
type Filter struct {
	Query    string // in tag, name, serial, site name, town
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

// Page is one page of a list of fryers.
type Page struct {
	Fryers []Fryer
	Total  int // of all pages
	Number int // from 0
	Pages  int
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
