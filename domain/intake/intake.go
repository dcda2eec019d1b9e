// Package intake is the pure part of importing CSV files: it reads them, judges every row, and says what would be
// written. Files of settings sheets, interlocks, fryer models, sites, fryers and standards may come together and in any
// order. The package also writes such files, so that what it wrote can be edited in a spreadsheet and read again.
//
// A column that a file does not have leaves what is known alone; a column that is there with an empty cell clears it.
// Codes and tags are the same thing in any case, and keep the spelling that they have. Text in cells is kept safe from
// spreadsheets, which run cells that begin with =, +, - or @: the writer puts one apostrophe before such a text (never
// before a number), and the reader takes exactly one apostrophe away before them (OWASP's advice on CSV injection, from
// memory).
//
// It must not know where files come from, how drafts are stored, or what a screen looks like; ids are handed in.
package intake

import (
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// File is one uploaded or named file.
type File struct {
	Name string
	Data []byte
}

// Kind is what a file is about. Its header tells.
type Kind string

// The kinds of file.
const (
	Sheets     Kind = "sheets"
	Interlocks Kind = "interlocks"
	Models     Kind = "models"
	Sites      Kind = "sites"
	Fryers     Kind = "fryers"
	Standards  Kind = "standards"
)

// Kinds lists the kinds in the order in which files are taken, so that each finds what it refers to.
func Kinds() []Kind { return []Kind{Sheets, Interlocks, Models, Sites, Fryers, Standards} }

// Item is something known already, with the id of the last entry that changed it.
type Item[T any] struct {
	Value   T
	Version uuid.UUID
}

// Known is what the instance holds already, and how to make ids. Absent maps and an absent Layer mean that nothing is
// known.
type Known struct {
	Customers map[string]Item[fleet.Customer] // by code, lower case
	Sites     map[string]Item[fleet.Site]     // by code, lower case
	Models    map[string]Item[fleet.Model]    // by code, lower case
	Sheets    map[string]Item[sheet.Sheet]    // by code, lower case
	Fryers    map[string]Item[fleet.Fryer]    // by tag, lower case
	// Layer gives what a layer holds already. It is asked once for a layer, and only for owners and sheets that are known.
	Layer func(level standard.Level, of, sheetID uuid.UUID) Item[map[sheet.Ref]sheet.Value]
	NewID func() uuid.UUID // UUIDv7, for new things and for entries that another one builds on
}

// Outcome is what becomes of a row.
type Outcome string

// The outcomes.
const (
	New     Outcome = "new"
	Changed Outcome = "changed"
	Same    Outcome = "same"
	Moved   Outcome = "moved"   // the fryer goes to another site; what else changes is among the changes
	Cleared Outcome = "cleared" // the standard's value is taken away
	Held    Outcome = "held"    // right in itself, but its sheet is not written because another row of it is wrong
	Wrong   Outcome = "wrong"
)

// Outcomes lists the outcomes as screens list them: what needs attention first.
func Outcomes() []Outcome { return []Outcome{Wrong, Held, New, Changed, Moved, Cleared, Same} }

// Row is what becomes of one record of a file.
type Row struct {
	File     string
	Kind     Kind
	Line     int // where the record starts in the file, counting physical lines from 1
	Outcome  Outcome
	What     string    // what it is about, in plain words: "fryer OT-014 at Vexley Harbour"
	Problems []Problem // what is wrong with it
	Changes  []string  // what it changes: "name: A → B"
	Notes    []string  // what is worth knowing and is not wrong
}

// Problem is one complaint about a row.
type Problem struct {
	Column  string // empty: the row as a whole
	Message string
}

// FileProblem is a complaint about a file itself.
type FileProblem struct {
	File    string
	Line    int    // 0: the whole file
	Column  string // empty: no single column
	Message string
}

// Plan is what an import would do. The caller writes nothing if Problems is not 0, unless told to write the good rows:
// Drafts holds nothing of the others.
type Plan struct {
	Rows         []Row           // every record, in the order of the files as given and of their lines
	Drafts       []journal.Draft // in an order in which each finds what it refers to
	Problems     int             // of rows and files together
	Counts       map[Outcome]int
	FileProblems []FileProblem
	Skipped      int // records without anything in them
}
