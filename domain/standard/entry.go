package standard

import (
	"slices"
	"time"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/legible"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// The entry kinds of this package.
const (
	KindChanged  = "standard.changed"
	KindAccepted = "difference.accepted"
	KindEnded    = "difference.ended"
)

// Value is one value that a change sets.
type Value struct {
	Ref   sheet.Ref   `json:"ref"`
	Value sheet.Value `json:"value"`
}

// Changed is the entry that a layer was changed: the values set and the refs cleared. Its subject is the LayerID.
type Changed struct {
	Level Level       `json:"level"`
	Of    uuid.UUID   `json:"of"`
	Sheet uuid.UUID   `json:"sheet"`
	Set   []Value     `json:"set,omitempty"`
	Clear []sheet.Ref `json:"clear,omitempty"`
	Why   string      `json:"why"`
}

// Kind implements journal.Body.
func (Changed) Kind() string { return KindChanged }

// Validate implements journal.Body.
func (b Changed) Validate() error {
	var f fault.Fields
	if !slices.Contains(Levels()[1:], b.Level) {
		f.Add("level", "A standard belongs to a model, a customer, a site or a fryer.")
	}
	if b.Of == uuid.Nil || b.Sheet == uuid.Nil {
		f.Add("of", "Say whose standard it is, and for which controller type.")
	}
	switch n := len(b.Set) + len(b.Clear); {
	case n == 0:
		f.Add("set", "Nothing was changed.")
	case n > changeLimit:
		f.Add("set", "At most %d values are changed at once.", changeLimit)
	default:
		b.validateRefs(&f)
	}
	f.Need("why", b.Why, "Say why, in a few words: the next person will ask.")
	legible.Text(&f, "why", b.Why, legible.Note)
	return f.Err()
}

// changeLimit is the largest number of values of one change; sheets are smaller.
const changeLimit = 1500

// validateRefs checks that every value says something, and of one place: of two values for one place, or a value and its
// clearing, it would be chance which one stands.
func (b Changed) validateRefs(f *fault.Fields) {
	seen := make(map[sheet.Ref]bool, len(b.Set)+len(b.Clear))
	check := func(r sheet.Ref) {
		switch {
		case !r.Valid():
			f.Add("set", "A value names no setting.")
		case seen[r]:
			f.Add("set", "%s is changed twice.", r)
		}
		seen[r] = true
	}
	for _, v := range b.Set {
		check(v.Ref)
		if !v.Value.Known() {
			f.Add("set", "%s has no value: clear it instead.", v.Ref)
		}
		v.Value.Validate(f, "set")
	}
	for _, r := range b.Clear {
		check(r)
	}
}

// Accepted is the entry that a difference was accepted for one fryer until a date. Its subject is the fryer.
type Accepted struct {
	Ref    sheet.Ref   `json:"ref"`
	Value  sheet.Value `json:"value"` // the value that may stay
	Reason string      `json:"reason"`
	Until  time.Time   `json:"until"` // from then on it is drift again
}

// Kind implements journal.Body.
func (Accepted) Kind() string { return KindAccepted }

// Validate implements journal.Body.
func (b Accepted) Validate() error {
	var f fault.Fields
	if !b.Ref.Valid() || !b.Value.Known() {
		f.Add("ref", "Say which setting and which value.")
	}
	b.Value.Validate(&f, "ref")
	f.Need("reason", b.Reason, "Say why the difference may stay.")
	legible.Text(&f, "reason", b.Reason, legible.Note)
	switch {
	case b.Until.IsZero():
		f.Add("until", "Give a date until which it may stay.")
	case !journal.Ordinary(b.Until):
		f.Add("until", "Give a date of this century.")
	}
	return f.Err()
}

// Ended is the entry that an accepted difference was ended before its date. Its subject is the fryer.
type Ended struct {
	Ref    sheet.Ref `json:"ref"`
	Reason string    `json:"reason"`
}

// Kind implements journal.Body.
func (Ended) Kind() string { return KindEnded }

// Validate implements journal.Body.
func (b Ended) Validate() error {
	var f fault.Fields
	if !b.Ref.Valid() {
		f.Add("ref", "Say which setting.")
	}
	f.Need("reason", b.Reason, "Say why it ends.")
	legible.Text(&f, "reason", b.Reason, legible.Note)
	return f.Err()
}

// Acceptance is a difference that stands accepted for a fryer.
type Acceptance struct {
	Ref    sheet.Ref
	Value  sheet.Value
	Reason string
	Until  time.Time
	By     string
	At     time.Time
}
