// Package rule holds the rules that the outside world sets for settings: each can be switched on for a site, and names
// its source. It reads settings by their role in the sheet, and must not know of any house standard.
package rule

import (
	"fmt"

	"frywright/domain/fault"
	"frywright/domain/sheet"
)

// KindSwitched is the entry kind of Switched.
const KindSwitched = "check.switched"

// Switched is the entry that a rule was switched on or off for a site. Its subject is the site.
type Switched struct {
	Rule string `json:"rule"`
	On   bool   `json:"on"`
}

// Kind implements journal.Body.
func (Switched) Kind() string { return KindSwitched }

// Validate implements journal.Body.
func (b Switched) Validate() error {
	if _, ok := Find(b.Rule); !ok {
		return fault.New(fault.Invalid, "There is no such rule.")
	}
	return nil
}

// Rule is one rule of the outside world.
type Rule struct {
	Key    string // for files and URLs
	Title  string
	Text   string // what it asks, in our words
	Source string // the law or standard, with its edition
	Class  sheet.Class
	judge  func(subject) []Breach
}

// Breach is a value that a rule does not allow.
type Breach struct {
	Rule    string
	Title   string
	Source  string
	Class   sheet.Class
	Ref     sheet.Ref
	Value   sheet.Value
	Message string // in plain words, with the limit
}

// subject is what a rule looks at: a sheet on an appliance, with values.
type subject struct {
	sheet     *sheet.Sheet
	appliance sheet.Appliance
	value     func(sheet.Ref) sheet.Value
}

// The limits of the rules.
const (
	potatoLimitC  = 175.0 // °C; the fat must stay below
	highLimitC    = 246.0 // °C; 475 °F
	highLimitTopF = 475.0 // °F
)

// Rules lists the rules that a site can switch on.
func Rules() []Rule {
	return []Rule{
		{
			Key: "eu-2017-2158-potato", Title: "Potato products fried below 175 °C",
			Text:   "The frying temperature of potato products is kept below 175 °C (347 °F), and as low as is safe.",
			Source: "Commission Regulation (EU) 2017/2158, Annex II part A",
			Class:  sheet.Food, judge: potato,
		},
		{
			Key: "nfpa-96-high-limit", Title: "No temperature above the high limit of 475 °F",
			Text:   "Nothing that can be set lets the fat reach 475 °F (246 °C), where the separate high limit must shut off the heat.",
			Source: "NFPA 96, high-limit control of fryers (475 °F, 246 °C, 25 mm below the surface), as in NYC Fire Code 609.4.1.1.2",
			Class:  sheet.Safety, judge: highLimit,
		},
	}
}

// Find gives the rule of a key.
func Find(key string) (Rule, bool) {
	for _, r := range Rules() {
		if r.Key == key {
			return r, true
		}
	}
	return Rule{}, false
}

// Check gives what the rules of the keys do not allow among the known values of an appliance. Unknown keys are passed
// over.
func Check(keys []string, s *sheet.Sheet, a sheet.Appliance, value func(sheet.Ref) sheet.Value) []Breach {
	var found []Breach
	for _, k := range keys {
		if r, ok := Find(k); ok {
			for _, b := range r.judge(subject{s, a, value}) {
				b.Rule, b.Title, b.Source, b.Class = r.Key, r.Title, r.Source, r.Class
				found = append(found, b)
			}
		}
	}
	return found
}

// celsius gives a temperature value in °C by the unit of its setting.
func celsius(set *sheet.Setting, v sheet.Value) (float64, bool) {
	n, ok := v.Number()
	switch {
	case !ok:
		return 0, false
	case set.Unit == "°F":
		return (n - 32) / 1.8, true
	case set.Unit == "°C":
		return n, true
	default:
		return 0, false
	}
}

func potato(s subject) []Breach {
	var found []Breach
	for _, p := range s.places(sheet.RoleSetpoint) {
		v := s.value(p.Ref)
		c, ok := celsius(p.Setting, v)
		if ok && c >= potatoLimitC-1e-9 && s.isPotato(p) {
			found = append(found, Breach{Ref: p.Ref, Value: v, Message: fmt.Sprintf(
				"%s is %s; potato products are fried below 175 °C (347 °F).", p.Setting.Label, p.Setting.Show(v))})
		}
	}
	return found
}

// isPotato says whether the menu slot of a setpoint cooks a potato product.
func (s subject) isPotato(setpoint sheet.Place) bool {
	for _, p := range s.places(sheet.RoleProduct) {
		if p.Setting.Menu == setpoint.Setting.Menu && p.Setting.Menu != 0 &&
			(p.Ref.Vat == setpoint.Ref.Vat || p.Ref.Vat == 0 || setpoint.Ref.Vat == 0) &&
			s.value(p.Ref) == sheet.ProductPotato {
			return true
		}
	}
	return false
}

func highLimit(s subject) []Breach {
	var found []Breach
	for _, role := range []sheet.Role{sheet.RoleTopTemp, sheet.RoleSetpoint} {
		for _, p := range s.places(role) {
			v := s.value(p.Ref)
			if c, ok := celsius(p.Setting, v); ok && c >= (highLimitTopF-32)/1.8-1e-9 {
				found = append(found, Breach{Ref: p.Ref, Value: v, Message: fmt.Sprintf(
					"%s is %s; the high limit shuts off at 475 °F (%.0f °C).", p.Setting.Label, p.Setting.Show(v), highLimitC)})
			}
		}
	}
	return found
}

func (s subject) places(role sheet.Role) []sheet.Place {
	var found []sheet.Place
	for _, p := range s.sheet.Places(s.appliance) {
		if p.Setting.Role == role {
			found = append(found, p)
		}
	}
	return found
}
