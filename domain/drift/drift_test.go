package drift_test

import (
	"maps"
	"testing"
	"time"

	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var (
	now      = time.Date(2026, 11, 20, 22, 0, 0, 0, time.UTC)
	gasSplit = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SplitPot}
)

func num(n float64) *float64 { return &n }

func ref(text string) sheet.Ref {
	r, _ := sheet.ParseRef(text)
	return r
}

// heron is a small sheet: a menu slot per vat, a pilot with its profile, a text without a factory value, a checksum.
func heron() *sheet.Sheet {
	return &sheet.Sheet{Name: "Heron 9", Settings: []sheet.Setting{
		{Key: "product", Label: "Product", Group: "Menu", Kind: sheet.Choice, Options: []sheet.Option{{Key: "potato", Label: "Fries"}, {Key: "fish", Label: "Fish"}}, Factory: "fish", Scope: sheet.PerVat, Class: sheet.Food, Role: sheet.RoleProduct, Menu: 1},
		{Key: "setpoint", Label: "Setpoint", Group: "Menu", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Factory: "340", Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 2, Role: sheet.RoleSetpoint, Menu: 1},
		{Key: "pilot", Label: "Standing pilot", Group: "Heat", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety},
		{Key: "profile", Label: "Heat profile", Group: "Heat", Kind: sheet.Choice, Options: []sheet.Option{{Key: "gas", Label: "Gas"}, {Key: "soft", Label: "Soft"}}, Factory: "gas", Scope: sheet.PerController, Class: sheet.Output},
		{Key: "name", Label: "Name", Group: "About", Kind: sheet.Text, Scope: sheet.PerController, Class: sheet.Minor},
		{Key: "sum", Label: "Checksum", Group: "About", Kind: sheet.Text, Factory: "7A1F", Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true},
	}, Interlocks: []sheet.Interlock{{
		Key: "pilot", Label: "A pilot needs the gas profile", Class: sheet.Safety,
		When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
		Must: []sheet.Condition{{Setting: "profile", Op: sheet.Is, Values: []sheet.Value{"gas"}}},
	}}}
}

func read(texts map[string]sheet.Value) map[sheet.Ref]sheet.Value {
	values := map[sheet.Ref]sheet.Value{}
	for text, v := range texts {
		values[ref(text)] = v
	}
	return values
}

// right is every reading as expected from the factory.
func right(change map[string]sheet.Value) map[sheet.Ref]sheet.Value {
	values := read(map[string]sheet.Value{
		"product@1": "fish", "product@2": "fish", "setpoint@1": "340", "setpoint@2": "340", "pilot": "off", "profile": "gas", "sum": "7A1F",
	})
	maps.Copy(values, read(change))
	return values
}

func finding(t *testing.T, r drift.Result, text string) drift.Finding {
	t.Helper()
	for _, f := range r.Findings {
		if f.Ref == ref(text) {
			return f
		}
	}
	require.Fail(t, "no finding of "+text)
	return drift.Finding{}
}

func TestEveryPlaceIsFound(t *testing.T) {
	x := standard.Lay(heron(), gasSplit, nil)
	r := drift.Compare(x, nil, nil, nil, now)
	require.Len(t, r.Findings, 8)
	for i, f := range r.Findings {
		assert.Same(t, &x.List[i], f.Expectation, "in the controller's order")
		assert.Equal(t, drift.Unknown, f.Status)
	}
	assert.Equal(t, drift.Counts{Places: 8, Unknown: 7}, r.Counts(), "of the name nothing is expected")
}

func TestAReadingStands(t *testing.T) {
	x := standard.Lay(heron(), gasSplit, nil)
	for name, tt := range map[string]struct {
		at       string
		v        sheet.Value
		status   drift.Status
		size     float64
		offSheet bool
	}{
		"as expected":                  {"setpoint@1", "340", drift.Right, 0, false},
		"at the tolerance, above":      {"setpoint@1", "342", drift.Right, 2, false},
		"at the tolerance, below":      {"setpoint@1", "338", drift.Right, -2, false},
		"a step beyond":                {"setpoint@1", "343", drift.Drifted, 3, false},
		"a step beyond, below":         {"setpoint@2", "337", drift.Drifted, -3, false},
		"beyond what the sheet allows": {"setpoint@2", "400", drift.Drifted, 60, true},
		"between two steps":            {"setpoint@2", "340.5", drift.Right, 0.5, true},
		"no number":                    {"setpoint@2", "Err", drift.Drifted, 1, true},
		"another choice":               {"profile", "soft", drift.Drifted, 1, false},
		"an unlisted choice":           {"profile", "eco", drift.Drifted, 1, true},
		"nothing":                      {"profile", "", drift.Unknown, 0, false},
		"where nothing is expected":    {"name", "Fish", drift.Unknown, 0, false},
		"read-only":                    {"sum", "B2B2", drift.Drifted, 1, false},
	} {
		t.Run(name, func(t *testing.T) {
			f := finding(t, drift.Compare(x, read(map[string]sheet.Value{tt.at: tt.v}), nil, nil, now), tt.at)
			assert.Equal(t, tt.status, f.Status)
			assert.InDelta(t, tt.size, f.Size, 1e-9)
			assert.Equal(t, tt.v, f.Read)
			assert.Equal(t, tt.offSheet, f.OffSheet != "", f.OffSheet)
		})
	}
}

func TestAcceptedDifferences(t *testing.T) {
	x := standard.Lay(heron(), gasSplit, nil)
	accept := func(at string, v sheet.Value, until time.Time) standard.Acceptance {
		return standard.Acceptance{Ref: ref(at), Value: v, Reason: "probe ordered", Until: until}
	}
	later := now.Add(time.Hour)
	for name, tt := range map[string]struct {
		accepted []standard.Acceptance
		v        sheet.Value // read at setpoint@1
		status   drift.Status
		by       int // the acceptance that is named; -1: none
	}{
		"until later":                       {[]standard.Acceptance{accept("setpoint@1", "330", later)}, "330", drift.Accepted, 0},
		"until a moment from now":           {[]standard.Acceptance{accept("setpoint@1", "330", now.Add(time.Nanosecond))}, "330", drift.Accepted, 0},
		"until now":                         {[]standard.Acceptance{accept("setpoint@1", "330", now)}, "330", drift.Drifted, 0},
		"run out":                           {[]standard.Acceptance{accept("setpoint@1", "330", now.AddDate(0, 0, -1))}, "330", drift.Drifted, 0},
		"in another zone, later":            {[]standard.Acceptance{accept("setpoint@1", "330", later.In(time.FixedZone("", -8*3600)))}, "330", drift.Accepted, 0},
		"at the tolerance of what may stay": {[]standard.Acceptance{accept("setpoint@1", "330", later)}, "332", drift.Accepted, 0},
		"another value":                     {[]standard.Acceptance{accept("setpoint@1", "330", later)}, "333", drift.Drifted, -1},
		"another vat":                       {[]standard.Acceptance{accept("setpoint@2", "330", later)}, "330", drift.Drifted, -1},
		"no vat":                            {[]standard.Acceptance{accept("setpoint", "330", later)}, "330", drift.Drifted, -1},
		"right after all":                   {[]standard.Acceptance{accept("setpoint@1", "341", later)}, "341", drift.Right, -1},
		"not read":                          {[]standard.Acceptance{accept("setpoint@1", "330", later)}, "", drift.Unknown, -1},
		"of no setting":                     {[]standard.Acceptance{accept("gone", "330", later)}, "330", drift.Drifted, -1},
		"the one that holds, last":          {[]standard.Acceptance{accept("setpoint@1", "330", now), accept("setpoint@1", "330", later)}, "330", drift.Accepted, 1},
		"the one that holds, first":         {[]standard.Acceptance{accept("setpoint@1", "330", later), accept("setpoint@1", "330", now)}, "330", drift.Accepted, 0},
	} {
		t.Run(name, func(t *testing.T) {
			r := drift.Compare(x, read(map[string]sheet.Value{"setpoint@1": tt.v}), tt.accepted, nil, now)
			f := finding(t, r, "setpoint@1")
			assert.Equal(t, tt.status, f.Status)
			if tt.by < 0 {
				assert.Nil(t, f.Acceptance)
			} else {
				assert.Same(t, &tt.accepted[tt.by], f.Acceptance)
			}
		})
	}
}

func TestCounts(t *testing.T) {
	potatoes := standard.Layer{Level: standard.OfSite, Sets: []standard.Set{{Ref: ref("product"), Value: "potato"}, {Ref: ref("setpoint"), Value: "350"}}}
	x := standard.Lay(heron(), gasSplit, []standard.Layer{potatoes})
	rules := []string{"eu-2017-2158-potato", "gone"}
	for name, tt := range map[string]struct {
		readings map[sheet.Ref]sheet.Value
		accepted []standard.Acceptance
		want     drift.Counts
		worst    sheet.Class
	}{
		"all right, but too hot for potatoes": {
			right(map[string]sheet.Value{"product@1": "potato", "product@2": "potato", "setpoint@1": "350", "setpoint@2": "350"}), nil,
			drift.Counts{Places: 8, Right: 7, ByClass: byClass(map[sheet.Class]int{sheet.Food: 2}), Broken: 2}, sheet.Food,
		},
		"as it left the factory": {
			right(nil), nil,
			drift.Counts{Places: 8, Right: 3, Drifted: 4, ByClass: byClass(map[sheet.Class]int{sheet.Food: 4})}, sheet.Food,
		},
		"a pilot without its profile": {
			read(map[string]sheet.Value{"pilot": "on", "profile": "soft", "sum": "B2B2"}),
			[]standard.Acceptance{{Ref: ref("profile"), Value: "soft", Until: now.Add(1)}},
			drift.Counts{
				Places: 8, Unknown: 4, Accepted: 1, Drifted: 2, Broken: 1,
				ByClass: byClass(map[sheet.Class]int{sheet.Safety: 2, sheet.Minor: 1}),
			}, sheet.Safety,
		},
		"only a small thing": {
			read(map[string]sheet.Value{"sum": "B2B2"}), nil,
			drift.Counts{Places: 8, Unknown: 6, Drifted: 1, ByClass: byClass(map[sheet.Class]int{sheet.Minor: 1})}, sheet.Minor,
		},
		"nothing read": {nil, nil, drift.Counts{Places: 8, Unknown: 7}, 0},
	} {
		t.Run(name, func(t *testing.T) {
			r := drift.Compare(x, tt.readings, tt.accepted, rules, now)
			assert.Equal(t, tt.want, r.Counts())
			assert.Equal(t, tt.worst, r.Counts().Worst())
			assert.Len(t, r.Drifted(), tt.want.Drifted)
			assert.Len(t, r.With(drift.Accepted), tt.want.Accepted)
		})
	}
}

func byClass(counts map[sheet.Class]int) (all [sheet.Safety + 1]int) {
	for c, n := range counts {
		all[c] = n
	}
	return all
}

func drawReadings(t *rapid.T, x *standard.Expected) map[sheet.Ref]sheet.Value {
	values := map[sheet.Ref]sheet.Value{}
	for _, e := range x.List {
		var of []sheet.Value
		switch e.Setting.Kind {
		case sheet.Number:
			of = []sheet.Value{"", "338", "340", "343", "350", "400"}
		case sheet.Switch:
			of = []sheet.Value{"", "on", "off"}
		case sheet.Choice:
			of = []sheet.Value{"", "fish", "potato", "gas", "soft"}
		default:
			of = []sheet.Value{"", "7A1F", "B2B2"}
		}
		if v := rapid.SampledFrom(of).Draw(t, e.Ref.String()); v.Known() || rapid.Bool().Draw(t, "as an empty value") {
			values[e.Ref] = v
		}
	}
	return values
}

// TestWhatIsNotReadIsNeverRight takes one reading away: its place becomes unknown, every other one stands as before, and
// nothing becomes right by it, or broken.
func TestWhatIsNotReadIsNeverRight(t *testing.T) {
	layers := []standard.Layer{{Level: standard.OfSite, Sets: []standard.Set{{Ref: ref("product"), Value: "potato"}, {Ref: ref("setpoint"), Value: "343"}}}}
	rules := []string{"eu-2017-2158-potato", "nfpa-96-high-limit"}
	rapid.Check(t, func(t *rapid.T) {
		x := standard.Lay(heron(), gasSplit, layers)
		readings := drawReadings(t, x)
		accepted := []standard.Acceptance{{Ref: ref("pilot"), Value: "on", Until: now.Add(time.Hour)}}
		before := drift.Compare(x, readings, accepted, rules, now)
		gone := rapid.SampledFrom(x.List).Draw(t, "gone").Ref
		fewer := maps.Clone(readings)
		delete(fewer, gone)
		after := drift.Compare(x, fewer, accepted, rules, now)
		for i := range before.Findings {
			was, is := before.Findings[i], after.Findings[i]
			if was.Ref == gone && (is.Status != drift.Unknown || is.Size != 0) || was.Ref != gone && is != was {
				t.Fatalf("without %s, %s stands %v, not %v", gone, was.Ref, is.Status, was.Status)
			}
		}
		if after.Counts().Right > before.Counts().Right || len(after.Breaches) > len(before.Breaches) || len(after.Rules) > len(before.Rules) {
			t.Fatalf("without %s there is more: %+v, %+v", gone, before.Counts(), after.Counts())
		}
	})
}

// TestEveryPlaceIsCountedOnce: right, accepted, drifted and unknown are all there is.
func TestEveryPlaceIsCountedOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := standard.Lay(heron(), gasSplit, nil)
		r := drift.Compare(x, drawReadings(t, x), nil, nil, now)
		c := r.Counts()
		unknown := len(r.With(drift.Unknown))
		if c.Right+c.Accepted+c.Drifted+unknown != c.Places || c.Places != len(x.List) {
			t.Fatalf("%+v, unknown %d", c, unknown)
		}
		sum := 0
		for _, n := range c.ByClass {
			sum += n
		}
		if sum != c.Drifted+c.Broken {
			t.Fatalf("%+v", c)
		}
	})
}
