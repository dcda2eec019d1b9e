package scenario

import (
	"math"
	"math/rand/v2"
	"time"

	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// values is what a controller shows.
type values map[sheet.Ref]sheet.Value

// fryer is one fryer while its story is told.
type fryer struct {
	fleet.Fryer
	at       *place
	model    fleet.Model
	sheet    *sheet.Sheet
	version  uuid.UUID // the last entry that changed it
	shows    values    // what its controller really shows
	accepted map[sheet.Ref]acceptance
	read     bool // it was commissioned
	gone     bool // retired
}

// acceptance is a difference that stands accepted.
type acceptance struct {
	value sheet.Value
	until time.Time
}

// right gives what the controller shows where everything is as expected.
func right(x *standard.Expected) values {
	v := make(values, len(x.List))
	for i := range x.List {
		if e := &x.List[i]; e.Value.Known() {
			v[e.Ref] = e.Value
		}
	}
	return v
}

// reset brings what a factory reset erases back to factory values.
func (v values) reset(x *standard.Expected) {
	for i := range x.List {
		if e := &x.List[i]; !e.Setting.Kept && e.Setting.Factory.Known() {
			v[e.Ref] = e.Setting.Factory
		}
	}
}

// off lists what is not as expected and not accepted, in the controller's order.
func (f *fryer) off(x *standard.Expected, at time.Time) []*standard.Expectation {
	var found []*standard.Expectation
	for i := range x.List {
		e := &x.List[i]
		v := f.shows[e.Ref]
		if !e.Value.Known() || !v.Known() || e.Setting.ReadOnly {
			continue
		}
		if a, ok := f.accepted[e.Ref]; ok && a.value == v && at.Before(a.until) {
			continue
		}
		if _, beyond := e.Setting.Differ(e.Value, v); beyond {
			found = append(found, e)
		}
	}
	return found
}

// readings gives what somebody reads off the controller; where skip says so, that it could not be read.
func (f *fryer) readings(x *standard.Expected, at time.Time, skip func(*sheet.Setting) bool) []snapshot.Reading {
	list := make([]snapshot.Reading, 0, len(x.List))
	for i := range x.List {
		e := &x.List[i]
		v := f.shows[e.Ref]
		switch {
		case skip != nil && skip(e.Setting):
			list = append(list, snapshot.Reading{Ref: e.Ref, Skipped: true})
		case !v.Known():
			list = append(list, snapshot.Reading{Ref: e.Ref, Value: f.heatHours(at)})
		default:
			list = append(list, snapshot.Reading{Ref: e.Ref, Value: v, AsExpected: v == e.Value})
		}
	}
	return list
}

// heatHours is what a counter of hours of heat has come to: six hours and a half a day.
func (f *fryer) heatHours(at time.Time) sheet.Value {
	const hoursADay = 6.5
	installed, err := time.Parse(time.DateOnly, f.Installed)
	if err != nil {
		return "0"
	}
	return sheet.Num(math.Floor(at.Sub(installed).Hours() / 24 * hoursADay))
}

// wander turns one to three settings by hand, as kitchens do.
func (f *fryer) wander(x *standard.Expected, rnd *rand.Rand) {
	var can []*standard.Expectation
	for i := range x.List {
		if e := &x.List[i]; wanders(x, e) {
			can = append(can, e)
		}
	}
	for range 1 + rnd.IntN(2) + rnd.IntN(2) {
		e := can[rnd.IntN(len(can))]
		f.shows[e.Ref] = nudge(e.Setting, e.Value, rnd)
	}
}

// wanders says whether a kitchen would turn the setting: numbers, and switches of little consequence, but not what
// belongs to a menu slot that is not used.
func wanders(x *standard.Expected, e *standard.Expectation) bool {
	s := e.Setting
	if s.ReadOnly || s.Class == sheet.Safety || !e.Value.Known() {
		return false
	}
	if s.Menu > 0 && !used(x, s.Menu) {
		return false
	}
	return s.Kind == sheet.Number && s.Min != nil && s.Max != nil || s.Kind == sheet.Switch
}

func used(x *standard.Expected, menu int) bool {
	for i := range x.List {
		if e := &x.List[i]; e.Setting.Menu == menu && e.Setting.Role == sheet.RoleProduct {
			return e.Value != "unused"
		}
	}
	return false
}

// strides are how far a hand turns a number, by its unit.
var strides = map[string]float64{"°F": 3, "°C": 2, "s": 5, "min": 3, "%": 5, "months": 1, "cooks": 10}

// nudge gives another value of a setting, near to a given one.
func nudge(s *sheet.Setting, from sheet.Value, rnd *rand.Rand) sheet.Value {
	if s.Kind == sheet.Switch {
		return map[sheet.Value]sheet.Value{"on": "off", "off": "on"}[from]
	}
	n, _ := from.Number()
	by := max(strides[s.Unit], s.Step) * float64(1+rnd.IntN(3))
	if rnd.IntN(2) == 0 {
		by = -by
	}
	to := min(max(n+by, *s.Min), *s.Max)
	if s.Step > 0 {
		to = *s.Min + math.Round((to-*s.Min)/s.Step)*s.Step
	}
	return sheet.Num(to)
}
