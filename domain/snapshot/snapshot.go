// Package snapshot describes what a controller was read to be at one moment, and what is noted at a fryer besides:
// events, notes, ticks on the put-back list. A value that was not read is unknown, never assumed right. It must not
// know what any value should be.
package snapshot

import (
	"slices"
	"time"

	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/legible"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// The entry kinds of this package.
const (
	KindBegun    = "snapshot.begun"
	KindRead     = "snapshot.read"
	KindFinished = "snapshot.finished"
	KindDropped  = "snapshot.dropped"
	KindEvent    = "event.noted"
	KindNote     = "note.written"
	KindTicked   = "putback.ticked"
)

// Purpose says why the controller was read.
type Purpose string

// The purposes.
const (
	AsFound Purpose = "as-found"
	AsLeft  Purpose = "as-left"
	Routine Purpose = "routine"
)

// Purposes lists the purposes as forms offer them.
func Purposes() []Purpose { return []Purpose{AsFound, AsLeft, Routine} }

// Word gives the purpose as screens name it.
func (p Purpose) Word() string {
	switch p {
	case AsFound:
		return "as found"
	case AsLeft:
		return "as left"
	default:
		return "routine"
	}
}

// Reading is one value read off the controller, or the note that it could not be read.
type Reading struct {
	Ref        sheet.Ref   `json:"ref"`
	Value      sheet.Value `json:"value,omitempty"`       // empty: not read
	Typed      string      `json:"typed,omitempty"`       // what was typed, where it differs from Value
	AsExpected bool        `json:"as_expected,omitempty"` // taken by the one tap that says "as expected"
	Skipped    bool        `json:"skipped,omitempty"`     // could not be read: unknown
}

// Snapshot is one reading of one controller, folded from its entries.
type Snapshot struct {
	ID         uuid.UUID
	Fryer      uuid.UUID
	Site       uuid.UUID
	Purpose    Purpose
	Begun      time.Time
	Finished   time.Time // zero: still open
	Dropped    bool
	Author     uuid.UUID
	AuthorName string
	Readings   map[sheet.Ref]Reading // the latest of each ref
	Note       string
}

// Open says whether readings may still be added.
func (s *Snapshot) Open() bool { return s.Finished.IsZero() && !s.Dropped }

// Values gives the known values.
func (s *Snapshot) Values() map[sheet.Ref]sheet.Value {
	values := make(map[sheet.Ref]sheet.Value, len(s.Readings))
	for ref, r := range s.Readings {
		if r.Value.Known() {
			values[ref] = r.Value
		}
	}
	return values
}

// Begun is the entry that somebody began to read a controller. Its subject is the snapshot.
type Begun struct {
	Fryer    uuid.UUID `json:"fryer"`
	Purpose  Purpose   `json:"purpose"`
	Readings []Reading `json:"readings,omitempty"`
}

// Kind implements journal.Body.
func (Begun) Kind() string { return KindBegun }

// Validate implements journal.Body.
func (b Begun) Validate() error {
	var f fault.Fields
	if b.Fryer == uuid.Nil {
		f.Add("fryer", "Say which fryer is read.")
	}
	if !slices.Contains(Purposes(), b.Purpose) {
		f.Add("purpose", "A reading is as found, as left or routine.")
	}
	checkReadings(&f, b.Readings)
	return f.Err()
}

// Read is the entry that values were read. A later reading of a ref replaces an earlier one. Its subject is the
// snapshot.
type Read struct {
	Readings []Reading `json:"readings"`
}

// Kind implements journal.Body.
func (Read) Kind() string { return KindRead }

// Validate implements journal.Body.
func (b Read) Validate() error {
	var f fault.Fields
	if len(b.Readings) == 0 {
		f.Add("value", "Enter a value.")
	}
	checkReadings(&f, b.Readings)
	return f.Err()
}

// Finished is the entry that a reading is complete as far as it goes; nothing is added after it. Its subject is the
// snapshot.
type Finished struct {
	Readings []Reading `json:"readings,omitempty"`
	Note     string    `json:"note,omitempty"`
}

// Kind implements journal.Body.
func (Finished) Kind() string { return KindFinished }

// Validate implements journal.Body.
func (b Finished) Validate() error {
	var f fault.Fields
	checkReadings(&f, b.Readings)
	checkNote(&f, "note", b.Note)
	return f.Err()
}

// Dropped is the entry that an open reading was given up. Its subject is the snapshot.
type Dropped struct {
	Why string `json:"why,omitempty"`
}

// Kind implements journal.Body.
func (Dropped) Kind() string { return KindDropped }

// Validate implements journal.Body.
func (b Dropped) Validate() error {
	var f fault.Fields
	checkNote(&f, "why", b.Why)
	return f.Err()
}

// readingLimit is the largest number of readings of one entry; sheets are smaller.
const readingLimit = 1500

func checkReadings(f *fault.Fields, readings []Reading) {
	if len(readings) > readingLimit {
		f.Add("readings", "At most %d readings at once.", readingLimit)
		return
	}
	for _, r := range readings {
		if !r.Ref.Valid() {
			f.Add("value", "A reading names no setting.")
		}
		r.Value.Validate(f, "value")
		legible.Line(f, "value", r.Typed, 2*sheet.ValueLimit)
		if r.Skipped && r.Value.Known() {
			f.Add("value", "A value that could not be read is not known: give the one or the other.")
		}
	}
}

// Event is the entry that something happened to a controller that can make it lose its settings. Its subject is the
// fryer. Readings from before it say nothing about after it.
type Event struct {
	What     cause.EventKind `json:"what"`
	Happened time.Time       `json:"happened"`
	Note     string          `json:"note,omitempty"`
}

// Kind implements journal.Body.
func (Event) Kind() string { return KindEvent }

// Validate implements journal.Body.
func (b Event) Validate() error {
	var f fault.Fields
	if !slices.Contains(cause.EventKinds(), b.What) {
		f.Add("what", "Say what happened.")
	}
	switch {
	case b.Happened.IsZero():
		f.Add("happened", "Say when.")
	case !journal.Ordinary(b.Happened):
		f.Add("happened", "Give a date of our time.")
	}
	checkNote(&f, "note", b.Note)
	return f.Err()
}

// Note is the entry that somebody left a note at a fryer. Its subject is the fryer.
type Note struct {
	Text string `json:"text"`
}

// Kind implements journal.Body.
func (Note) Kind() string { return KindNote }

// Validate implements journal.Body.
func (b Note) Validate() error {
	var f fault.Fields
	f.Need("text", b.Text, "Write the note.")
	checkNote(&f, "text", b.Text)
	return f.Err()
}

// Ticked is the entry that a line of the put-back list was done, or was not after all. Its subject is the fryer.
type Ticked struct {
	Ref   sheet.Ref   `json:"ref"`
	Value sheet.Value `json:"value"` // the value that was put back
	Done  bool        `json:"done"`
}

// Kind implements journal.Body.
func (Ticked) Kind() string { return KindTicked }

// Validate implements journal.Body.
func (b Ticked) Validate() error {
	var f fault.Fields
	if !b.Ref.Valid() {
		f.Add("ref", "Say which setting.")
	}
	b.Value.Validate(&f, "value")
	return f.Err()
}

func checkNote(f *fault.Fields, field, text string) { legible.Text(f, field, text, legible.Note) }
