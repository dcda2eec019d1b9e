// Package standard lays the house standards over each other: factory, fryer model, customer, site, fryer; the later
// over the earlier. Its result is the expected settings of one fryer, each with the layer it came from, who set it,
// when and why. It must not know of readings.
package standard

import (
	"time"

	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// Level says whose layer it is. The later in Levels wins.
type Level string

// The levels.
const (
	OfFactory  Level = "factory"
	OfModel    Level = "model"
	OfCustomer Level = "customer"
	OfSite     Level = "site"
	OfFryer    Level = "fryer"
)

// Levels lists the levels, the later over the earlier. The factory level is the sheet itself.
func Levels() []Level { return []Level{OfFactory, OfModel, OfCustomer, OfSite, OfFryer} }

// Word gives the level as a screen names it.
func (l Level) Word() string {
	switch l {
	case OfFactory:
		return "factory value"
	case OfModel:
		return "model standard"
	case OfCustomer:
		return "customer standard"
	case OfSite:
		return "site standard"
	case OfFryer:
		return "this fryer's own standard"
	default:
		return string(l)
	}
}

// Set is one value of a layer, with its provenance.
type Set struct {
	Ref   sheet.Ref // Vat 0 of a per-vat setting: every vat
	Value sheet.Value
	By    string    // who set it
	At    time.Time // when
	Why   string
}

// Layer is the values that one level sets for one controller type.
type Layer struct {
	Level Level
	Of    uuid.UUID // the model, customer, site or fryer
	Name  string    // its name for the screen
	Sets  []Set
}

var layerSpace = uuid.MustParse("6f0f2a0e-5b0f-5d9e-9c5e-0d4d8a1c7b11")

// LayerID gives the subject id of the layer of a level, its owner and a controller type: a UUIDv5 of the three.
func LayerID(level Level, of, sheetID uuid.UUID) uuid.UUID {
	return uuid.NewSHA1(layerSpace, []byte(string(level)+"|"+of.String()+"|"+sheetID.String()))
}

// Step is what one layer said of a value.
type Step struct {
	Level Level
	Name  string
	Set   Set
}

// Expectation is the expected value of one place, and how it came to be.
type Expectation struct {
	sheet.Place
	Value sheet.Value // empty: no layer says anything
	Steps []Step      // every layer that spoke, earliest first; the last one won
}

// From gives the step that won; ok is false where no layer spoke.
func (e *Expectation) From() (Step, bool) {
	if len(e.Steps) == 0 {
		return Step{}, false
	}
	return e.Steps[len(e.Steps)-1], true
}

// Informative says whether reading the value can tell a reset from its absence: it is expected to differ from the
// factory value, by more than the tolerance, and a reset erases it.
func (e *Expectation) Informative() bool {
	if !e.Value.Known() || !e.Setting.Factory.Known() || e.Setting.ReadOnly || e.Setting.Kept {
		return false
	}
	_, beyond := e.Setting.Differ(e.Setting.Factory, e.Value)
	return beyond
}

// Expected is the expected settings of one fryer, in the controller's order.
type Expected struct {
	Sheet     *sheet.Sheet
	Appliance sheet.Appliance
	List      []Expectation
	index     map[sheet.Ref]int
	bound     []sheet.Bound
}

// At gives the expectation of a ref.
func (x *Expected) At(r sheet.Ref) (*Expectation, bool) {
	i, ok := x.index[r]
	if !ok {
		return nil, false
	}
	return &x.List[i], true
}

// Position gives the place of a ref in the controller's order from 0; -1 where the fryer has no such ref.
func (x *Expected) Position(r sheet.Ref) int {
	if i, ok := x.index[r]; ok {
		return i
	}
	return -1
}

// Value gives the expected value of a ref; empty where none.
func (x *Expected) Value(r sheet.Ref) sheet.Value {
	if e, ok := x.At(r); ok {
		return e.Value
	}
	return ""
}

// Interlocks gives the interlocks that bind the fryer's controller.
func (x *Expected) Interlocks() []sheet.Bound { return x.bound }

// Breaches lists the interlocks that the expected values themselves break.
func (x *Expected) Breaches() []sheet.Breach { return sheet.Breaches(x.bound, x.Value) }
