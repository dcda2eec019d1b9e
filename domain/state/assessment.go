package state

import (
	"time"

	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// Assessment is how a fryer's last known values stand to what is expected, with everything behind it.
type Assessment struct {
	Fryer    Fryer
	Expected *standard.Expected
	Result   drift.Result
	Cause    cause.Result              // where something is wrong
	Ticks    map[sheet.Ref]sheet.Value // ticked off, with the value that was put back
	ReadAt   map[sheet.Ref]time.Time   // when each value was read last
	Rules    []string                  // keys of the rules switched on for the site
	LastID   uuid.UUID                 // the last finished reading; Nil: none
}

// ReadingResult is what one reading says, on its own, against what is expected today.
type ReadingResult struct {
	Fryer    Fryer
	Snapshot snapshot.Snapshot
	Expected *standard.Expected
	Result   drift.Result
	Cause    cause.Result
}

// Preview is what a change of a standard would do, before it is saved.
type Preview struct {
	Fryers  int // fryers that the standard speaks of
	Touched int // of them, fryers where an expected value changes
	Unread  int // of them, fryers of which nothing is known
	Created []PreviewLine
	Cleared []PreviewLine
	// How many there are in all; Created and Cleared hold the first of them.
	CreatedTotal int
	ClearedTotal int
	Breaches     []string // interlocks that the new expected values would break, in plain words, each once
}

// PreviewLine is one drift that a change would create or clear.
type PreviewLine struct {
	FryerID  uuid.UUID
	Tag      string
	SiteName string
	Label    string // the setting, with its vat
	Class    sheet.Class
	Read     string // as shown
	Before   string // expected before, as shown
	After    string // expected after, as shown
}

// LayerSummary is one standard as the list of standards shows it.
type LayerSummary struct {
	Level     standard.Level
	Of        uuid.UUID
	OfName    string
	SheetID   uuid.UUID
	SheetName string
	Values    int
	Changed   time.Time
	By        string
}

// LayerChange is one version of a standard.
type LayerChange struct {
	EntryID uuid.UUID
	At      time.Time
	By      string
	Change  standard.Changed
}

// SheetChange is one version of a settings sheet.
type SheetChange struct {
	EntryID uuid.UUID
	At      time.Time
	By      string
	Why     string
	Sheet   *sheet.Sheet
}

// Aside is an entry that was kept but not applied.
type Aside struct {
	EntryID  uuid.UUID
	Kind     string
	At       time.Time
	Received time.Time
	By       string
	SiteName string
	Reason   string
	Body     string // as it came
	Settled  time.Time
	Outcome  string
}
