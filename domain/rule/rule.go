// Package rule holds the rules that the outside world sets for settings: each can be switched on for a site, and names
// its source. It reads settings by their role in the sheet, and must not know of any house standard.
package rule

import (
	"fmt"
	"slices"

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

// subject is what a rule looks at: the places of an appliance, with values.
type subject struct {
	places []sheet.Place
	value  func(sheet.Ref) sheet.Value
}

// limit is a temperature as a rule prints it, in both units: they are not always the same to the last digit, and a
// setting is held to the one in its own unit.
type limit struct {
	fahrenheit, celsius float64
}

// The limits of the rules. At the first the fat must not arrive; at the second the high limit must have shut off.
var (
	potatoLimit = limit{347, 175}
	highLimit   = limit{475, 246}
)

// reached says whether a temperature value is at the limit or above it.
func (l limit) reached(set *sheet.Setting, v sheet.Value) bool {
	n, ok := v.Number()
	switch set.Unit {
	case "°F":
		return ok && n >= l.fahrenheit-1e-9
	case "°C":
		return ok && n >= l.celsius-1e-9
	default:
		return false
	}
}

var rules = []Rule{
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
		Class:  sheet.Safety, judge: tooHot,
	},
}

// Rules lists the rules that a site can switch on.
func Rules() []Rule { return slices.Clone(rules) }

// Find gives the rule of a key.
func Find(key string) (Rule, bool) {
	i := slices.IndexFunc(rules, func(r Rule) bool { return r.Key == key })
	if i < 0 {
		return Rule{}, false
	}
	return rules[i], true
}

// Check gives what the rules of the keys do not allow among the known values of an appliance. Unknown keys are passed
// over.
func Check(keys []string, s *sheet.Sheet, a sheet.Appliance, value func(sheet.Ref) sheet.Value) []Breach {
	if len(keys) == 0 {
		return nil
	}
	var found []Breach
	judged := subject{s.Places(a), value}
	for _, k := range keys {
		if r, ok := Find(k); ok {
			for _, b := range r.judge(judged) {
				b.Rule, b.Title, b.Source, b.Class = r.Key, r.Title, r.Source, r.Class
				found = append(found, b)
			}
		}
	}
	return found
}

func potato(s subject) []Breach {
	var found []Breach
	for _, p := range s.places {
		if v := s.value(p.Ref); p.Setting.Role == sheet.RoleSetpoint && potatoLimit.reached(p.Setting, v) && s.isPotato(p) {
			found = append(found, Breach{Ref: p.Ref, Value: v, Message: fmt.Sprintf(
				"%s is %s; potato products are fried below 175 °C (347 °F).", p.Setting.Label, p.Setting.Show(v))})
		}
	}
	return found
}

// isPotato says whether the menu slot of a setpoint cooks a potato product.
func (s subject) isPotato(setpoint sheet.Place) bool {
	for _, p := range s.places {
		if p.Setting.Role == sheet.RoleProduct && p.Setting.Menu == setpoint.Setting.Menu && p.Setting.Menu != 0 &&
			(p.Ref.Vat == setpoint.Ref.Vat || p.Ref.Vat == 0 || setpoint.Ref.Vat == 0) &&
			s.value(p.Ref) == sheet.ProductPotato {
			return true
		}
	}
	return false
}

func tooHot(s subject) []Breach {
	var found []Breach
	for _, role := range []sheet.Role{sheet.RoleTopTemp, sheet.RoleSetpoint} {
		for _, p := range s.places {
			if v := s.value(p.Ref); p.Setting.Role == role && highLimit.reached(p.Setting, v) {
				found = append(found, Breach{Ref: p.Ref, Value: v, Message: fmt.Sprintf(
					"%s is %s; the high limit shuts off at 475 °F (246 °C).", p.Setting.Label, p.Setting.Show(v))})
			}
		}
	}
	return found
}
