// Package sheet describes a controller type by its settings sheet: the settings in the order in which the controller
// presents them, in groups, with what each may be, and the interlocks between them. It is data; the package reads and
// checks it, and must not know of any fryer's readings or standards.
package sheet

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
)

// Kind says what sort of value a setting takes.
type Kind string

// The kinds of setting.
const (
	Number Kind = "number"
	Choice Kind = "choice"
	Switch Kind = "switch" // on or off
	Text   Kind = "text"
)

// Class says what a wrong value can lead to. A larger class is worse.
type Class int

// The consequence classes.
const (
	Minor  Class = iota + 1 // neither safety nor food nor output
	Output                  // slow, wasteful
	Food                    // undercooked, overcooked, or outside a food rule
	Safety                  // can burn, ignite or hide a fault
)

// Classes lists the classes, worst first.
func Classes() []Class { return []Class{Safety, Food, Output, Minor} }

// String gives the class's word in files, URLs and on screens.
func (c Class) String() string {
	switch c {
	case Safety:
		return "safety"
	case Food:
		return "food"
	case Output:
		return "output"
	case Minor:
		return "minor"
	default:
		return "none"
	}
}

// Matter gives the class as it stands in a sentence: "a food matter", "an output matter".
func (c Class) Matter() string {
	if c == Output {
		return "an " + c.String() + " matter"
	}
	return "a " + c.String() + " matter"
}

// ParseClass reads a class's word.
func ParseClass(s string) (Class, bool) {
	for _, c := range Classes() {
		if c.String() == s {
			return c, true
		}
	}
	return 0, false
}

// Scope says how often a controller has the setting.
type Scope string

// The scopes.
const (
	PerController Scope = "controller"
	PerVat        Scope = "vat"
)

// Energy is what heats the fryer.
type Energy string

// The energies.
const (
	Gas      Energy = "gas"
	Electric Energy = "electric"
)

// Pot is the layout of a fryer's vats.
type Pot string

// The pot layouts.
const (
	SinglePot Pot = "single"
	SplitPot  Pot = "split"
)

// Role is the meaning of a setting that rules outside the sheet look for. Most settings have none.
type Role string

// The roles.
const (
	RoleNone      Role = ""
	RoleProduct   Role = "product"   // what a menu slot cooks: an option key such as "potato"
	RoleSetpoint  Role = "setpoint"  // the frying temperature of a menu slot or of a vat
	RoleCookTime  Role = "cook-time" // the cook time of a menu slot
	RoleTopTemp   Role = "top-temp"  // the highest temperature that the controller lets be set or reached
	RoleChecksum  Role = "checksum"  // the program checksum, read-only
	RoleTempUnit  Role = "temp-unit" // which unit the display shows
	ProductPotato      = "potato"    // the option key that marks potato products, in every sheet
)

// Roles lists the roles, none first.
func Roles() []Role {
	return []Role{RoleNone, RoleProduct, RoleSetpoint, RoleCookTime, RoleTopTemp, RoleChecksum, RoleTempUnit}
}

// Option is one value of a choice.
type Option struct {
	Key   string `json:"key"`
	Label string `json:"label"`
}

// Setting is one line of a sheet.
type Setting struct {
	Key       string   `json:"key"`   // unique in the sheet: lower-case letters, digits, . and -
	Label     string   `json:"label"` // as the technician would name it
	Group     string   `json:"group"` // settings of a group stand together
	Kind      Kind     `json:"kind"`
	Unit      string   `json:"unit,omitempty"`    // shown behind a number: °F, s, %
	Min       *float64 `json:"min,omitempty"`     // number: lowest, in Unit
	Max       *float64 `json:"max,omitempty"`     // number: highest, in Unit
	Step      float64  `json:"step,omitempty"`    // number: 0 for any
	Options   []Option `json:"options,omitempty"` // choice
	Factory   Value    `json:"factory,omitempty"` // empty: the factory sets none
	Scope     Scope    `json:"scope"`
	ReadOnly  bool     `json:"read_only,omitempty"` // recorded, never put back
	Kept      bool     `json:"kept,omitempty"`      // a factory reset leaves it alone
	Class     Class    `json:"class"`
	Tolerance float64  `json:"tolerance,omitempty"` // number: largest difference that is not drift, in Unit
	Energies  []Energy `json:"energies,omitempty"`  // applies to these; empty: all
	Pots      []Pot    `json:"pots,omitempty"`      // applies to these; empty: all
	After     []string `json:"after,omitempty"`     // keys that must be entered before this one can be
	Note      string   `json:"note,omitempty"`      // how to reach it on the controller
	Role      Role     `json:"role,omitempty"`
	Menu      int      `json:"menu,omitempty"` // menu slot from 1; 0: not of the menu
}

// Op compares in a condition.
type Op string

// The operations of conditions. The last two compare numbers.
const (
	Is      Op = "is"
	IsNot   Op = "is-not"
	OneOf   Op = "one-of"
	AtLeast Op = "at-least"
	AtMost  Op = "at-most"
)

// The facts of the appliance that a condition may name in place of a setting.
const (
	FactEnergy = "@energy" // gas or electric
	FactPot    = "@pot"    // single or split
)

// Condition is one test of an interlock.
type Condition struct {
	Setting string  `json:"setting"` // a key of the sheet, or a fact
	Op      Op      `json:"op"`
	Values  []Value `json:"values,omitempty"` // what to compare with; one, or several with one-of
	Than    string  `json:"than,omitempty"`   // at-least, at-most: compare with this other setting instead
	Plus    float64 `json:"plus,omitempty"`   // with Than: the other's value plus this
}

// Interlock is a rule between settings: when all of When hold, all of Must must hold.
type Interlock struct {
	Key   string      `json:"key"`   // unique in the sheet
	Label string      `json:"label"` // the rule in one plain sentence
	When  []Condition `json:"when,omitempty"`
	Must  []Condition `json:"must"`
	Class Class       `json:"class"`
	Why   string      `json:"why,omitempty"`
}

// Sheet is the settings sheet of one controller type.
type Sheet struct {
	ID         uuid.UUID   `json:"id"`
	Code       string      `json:"code"` // short, unique, for files and URLs
	Name       string      `json:"name"` // the controller type's name
	Note       string      `json:"note,omitempty"`
	Settings   []Setting   `json:"settings"`
	Interlocks []Interlock `json:"interlocks,omitempty"`
}

// Appliance is what of a fryer decides which settings apply.
type Appliance struct {
	Energy Energy
	Pot    Pot
}

// Vats gives the number of vats.
func (a Appliance) Vats() int {
	if a.Pot == SplitPot {
		return 2
	}
	return 1
}

// Ref names one value of one controller: a setting, and the vat where the setting is per vat. In a standard, Vat 0 of a
// per-vat setting means every vat.
type Ref struct {
	Key string `json:"key"`
	Vat int    `json:"vat,omitempty"` // 0 whole controller; 1 the only or left vat; 2 the right vat
}

// String gives the ref's text in files, URLs and forms: "key", or "key@1".
func (r Ref) String() string {
	if r.Vat == 0 {
		return r.Key
	}
	return fmt.Sprintf("%s@%d", r.Key, r.Vat)
}

// Valid says whether the ref can be of a setting.
func (r Ref) Valid() bool { return keyPattern.MatchString(r.Key) && r.Vat >= 0 && r.Vat <= 2 }

// ParseRef reads what Ref.String wrote.
func ParseRef(text string) (Ref, bool) {
	key, vat, has := strings.Cut(text, "@")
	switch {
	case key == "":
		return Ref{}, false
	case !has:
		return Ref{Key: key}, true
	case vat == "1":
		return Ref{Key: key, Vat: 1}, true
	case vat == "2":
		return Ref{Key: key, Vat: 2}, true
	default:
		return Ref{}, false
	}
}

// Setting gives the setting of a key.
func (s *Sheet) Setting(key string) (*Setting, bool) {
	i := slices.IndexFunc(s.Settings, func(x Setting) bool { return x.Key == key })
	if i < 0 {
		return nil, false
	}
	return &s.Settings[i], true
}

// Groups lists the groups in the controller's order.
func (s *Sheet) Groups() []string {
	var groups []string
	for i := range s.Settings {
		if !slices.Contains(groups, s.Settings[i].Group) {
			groups = append(groups, s.Settings[i].Group)
		}
	}
	return groups
}

// Applies says whether an appliance has the setting.
func (s *Setting) Applies(a Appliance) bool {
	return (len(s.Energies) == 0 || slices.Contains(s.Energies, a.Energy)) &&
		(len(s.Pots) == 0 || slices.Contains(s.Pots, a.Pot))
}

// Place is one value to read on an appliance, in the controller's order.
type Place struct {
	Ref     Ref
	Setting *Setting
}

// Places lists what an appliance's controller has to be read, in the controller's own order; per-vat settings give one
// place a vat.
func (s *Sheet) Places(a Appliance) []Place {
	places := make([]Place, 0, len(s.Settings)*a.Vats())
	for i := range s.Settings {
		set := &s.Settings[i]
		if !set.Applies(a) {
			continue
		}
		if set.Scope != PerVat {
			places = append(places, Place{Ref{set.Key, 0}, set})
			continue
		}
		for vat := 1; vat <= a.Vats(); vat++ {
			places = append(places, Place{Ref{set.Key, vat}, set})
		}
	}
	return places
}

// VatName names a vat of an appliance for the screen; empty for the whole controller and for the vat of a single pot.
func VatName(a Appliance, vat int) string {
	switch {
	case vat == 0 || a.Pot != SplitPot:
		return ""
	case vat == 1:
		return "left vat"
	default:
		return "right vat"
	}
}
