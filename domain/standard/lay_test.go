package standard_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var (
	gasSingle = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}
	gasSplit  = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SplitPot}
	day       = time.Date(2026, 5, 14, 8, 0, 0, 0, time.UTC)
)

// fourSettings is a sheet with a setting per vat, one per controller, one without a factory value and one of gas fryers.
func fourSettings() *sheet.Sheet {
	return &sheet.Sheet{Name: "Heron 9", Settings: []sheet.Setting{
		{Key: "setpoint", Kind: sheet.Number, Factory: "350", Scope: sheet.PerVat, Tolerance: 1},
		{Key: "lifts", Kind: sheet.Number, Factory: "2", Scope: sheet.PerController},
		{Key: "name", Kind: sheet.Text, Scope: sheet.PerVat},
		{Key: "pilot", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Energies: []sheet.Energy{sheet.Gas}},
	}}
}

func layer(level standard.Level, values map[string]sheet.Value) standard.Layer {
	l := standard.Layer{Level: level, Name: string(level) + "'s"}
	var refs []string
	for text := range values {
		refs = append(refs, text)
	}
	slices.Sort(refs)
	for _, text := range refs {
		ref, _ := sheet.ParseRef(text)
		l.Sets = append(l.Sets, standard.Set{Ref: ref, Value: values[text], By: "Rosa Lind", At: day, Why: "because of " + text})
	}
	return l
}

// values gives the expected values by the text of their refs.
func values(x *standard.Expected) map[string]sheet.Value {
	found := map[string]sheet.Value{}
	for _, e := range x.List {
		found[e.Ref.String()] = e.Value
	}
	return found
}

func TestTheLaterLevelWins(t *testing.T) {
	x := standard.Lay(fourSettings(), gasSplit, []standard.Layer{
		layer(standard.OfFryer, map[string]sheet.Value{"setpoint@1": "340"}),
		layer(standard.OfModel, map[string]sheet.Value{"lifts": "1", "setpoint": "355"}),
		layer(standard.OfSite, map[string]sheet.Value{"setpoint": "345", "name@2": "Fish"}),
		layer(standard.OfCustomer, map[string]sheet.Value{"setpoint@2": "360", "pilot": "on"}),
	})
	assert.Equal(t, map[string]sheet.Value{
		"setpoint@1": "340", "setpoint@2": "345", "lifts": "1", "name@1": "", "name@2": "Fish", "pilot": "on",
	}, values(x), "the site's value for every vat lies over the customer's for one")
}

func TestEveryExpectationSaysWhereItCameFrom(t *testing.T) {
	x := standard.Lay(fourSettings(), gasSplit, []standard.Layer{
		layer(standard.OfSite, map[string]sheet.Value{"setpoint": "345", "setpoint@2": "346"}),
		layer(standard.OfModel, map[string]sheet.Value{"setpoint": "355"}),
	})
	e, ok := x.At(sheet.Ref{Key: "setpoint", Vat: 2})
	require.True(t, ok)
	var said []string
	for _, s := range e.Steps {
		said = append(said, fmt.Sprintf("%s, %s: %s", s.Level, s.Name, s.Set.Value))
	}
	assert.Equal(t, []string{"factory, Heron 9, as it leaves the factory: 350", "model, model's: 355", "site, site's: 345", "site, site's: 346"}, said)
	step, ok := e.From()
	require.True(t, ok)
	assert.Equal(t, standard.Set{Ref: sheet.Ref{Key: "setpoint", Vat: 2}, Value: "346", By: "Rosa Lind", At: day, Why: "because of setpoint@2"}, step.Set)

	e, _ = x.At(sheet.Ref{Key: "name", Vat: 1})
	_, ok = e.From()
	assert.False(t, ok, "no layer spoke")
	assert.Empty(t, e.Value)
}

func TestWhatIsNotOfTheFryerIsPassedOver(t *testing.T) {
	x := standard.Lay(fourSettings(), sheet.Appliance{Energy: sheet.Electric, Pot: sheet.SinglePot}, []standard.Layer{
		layer(standard.OfCustomer, map[string]sheet.Value{"setpoint@2": "1", "pilot": "on", "lifts@1": "0", "gone": "x"}),
		layer("planet", map[string]sheet.Value{"lifts": "0"}),
		layer(standard.OfSite, map[string]sheet.Value{"setpoint": ""}),
	})
	assert.Equal(t, map[string]sheet.Value{"setpoint@1": "350", "lifts": "2", "name@1": ""}, values(x), "a value that says nothing leaves what lies beneath")
	_, ok := x.At(sheet.Ref{Key: "pilot"})
	assert.False(t, ok)
	assert.Equal(t, -1, x.Position(sheet.Ref{Key: "setpoint", Vat: 2}))
	assert.Equal(t, 1, x.Position(sheet.Ref{Key: "lifts"}))
	assert.Empty(t, x.Value(sheet.Ref{Key: "pilot"}))
	assert.Equal(t, sheet.Value("2"), x.Value(sheet.Ref{Key: "lifts"}))
}

func TestInformative(t *testing.T) {
	for name, tt := range map[string]struct {
		set      sheet.Setting
		expected sheet.Value
		want     bool
	}{
		"another value":         {sheet.Setting{Kind: sheet.Number, Factory: "350", Tolerance: 1}, "355", true},
		"within the tolerance":  {sheet.Setting{Kind: sheet.Number, Factory: "350", Tolerance: 1}, "351", false},
		"the factory value":     {sheet.Setting{Kind: sheet.Switch, Factory: "off"}, "off", false},
		"no factory value":      {sheet.Setting{Kind: sheet.Text}, "Fish", false},
		"nothing expected":      {sheet.Setting{Kind: sheet.Text, Factory: "Vat"}, "", false},
		"read-only":             {sheet.Setting{Kind: sheet.Text, Factory: "7A1F", ReadOnly: true}, "B2B2", false},
		"a reset leaves it":     {sheet.Setting{Kind: sheet.Text, Factory: "A", Kept: true}, "B", false},
		"a choice of their own": {sheet.Setting{Kind: sheet.Choice, Factory: "gas"}, "plain", true},
	} {
		t.Run(name, func(t *testing.T) {
			e := standard.Expectation{Place: sheet.Place{Setting: &tt.set}, Value: tt.expected}
			assert.Equal(t, tt.want, e.Informative())
		})
	}
}

// TestAStandardThatBreaksAnInterlock has a pilot without the profile that it needs (common practice, no source).
func TestAStandardThatBreaksAnInterlock(t *testing.T) {
	s := fourSettings()
	s.Interlocks = []sheet.Interlock{{Key: "lifts", When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
		Must: []sheet.Condition{{Setting: "setpoint", Op: sheet.AtMost, Values: []sheet.Value{"350"}}}}}
	layers := []standard.Layer{layer(standard.OfSite, map[string]sheet.Value{"pilot": "on", "setpoint@2": "351"})}
	x := standard.Lay(s, gasSplit, layers)
	assert.Equal(t, []sheet.Breach{{Interlock: &s.Interlocks[0], Vat: 2}}, x.Breaches())
	assert.Len(t, x.Interlocks(), 2)
	assert.Empty(t, standard.Lay(s, gasSingle, layers).Breaches())
}

// drawLayer makes a layer of a level that says something of some settings of fourSettings.
func drawLayer(t *rapid.T, level standard.Level) standard.Layer {
	l := standard.Layer{Level: level, Name: string(level)}
	var refs []sheet.Ref
	for _, key := range []string{"setpoint", "name"} {
		refs = append(refs, sheet.Ref{Key: key}, sheet.Ref{Key: key, Vat: 1}, sheet.Ref{Key: key, Vat: 2})
	}
	for _, r := range append(refs, sheet.Ref{Key: "lifts"}, sheet.Ref{Key: "pilot"}) {
		if rapid.Bool().Draw(t, "says "+r.String()) {
			l.Sets = append(l.Sets, standard.Set{Ref: r, Value: sheet.Value(fmt.Sprint(rapid.IntRange(0, 9).Draw(t, r.String()))), By: string(level)})
		}
	}
	return l
}

func drawLayers(t *rapid.T) []standard.Layer {
	var layers []standard.Layer
	for _, level := range standard.Levels()[1:] {
		layers = append(layers, drawLayer(t, level))
	}
	return layers
}

func TestLayersMayComeInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layers := drawLayers(t)
		s := fourSettings()
		one := standard.Lay(s, gasSplit, layers)
		two := standard.Lay(s, gasSplit, rapid.Permutation(layers).Draw(t, "order"))
		if !reflect.DeepEqual(one, two) {
			t.Fatalf("%v, %v", values(one), values(two))
		}
	})
}

// expected says what a place is expected to be, as the rules are written: the highest level that speaks of it, and in
// that level the value for its vat before the value for every vat.
func expected(layers []standard.Layer, p sheet.Place) (v sheet.Value, spoke int) {
	v = p.Setting.Factory
	if v.Known() {
		spoke++
	}
	for _, level := range standard.Levels()[1:] {
		for _, vat := range slices.Compact([]int{0, p.Ref.Vat}) {
			for _, l := range layers {
				for _, set := range l.Sets {
					if l.Level == level && set.Ref == (sheet.Ref{Key: p.Ref.Key, Vat: vat}) {
						v = set.Value
						spoke++
					}
				}
			}
		}
	}
	return v, spoke
}

func TestWhatIsLaidIsWhatTheRulesSay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layers := drawLayers(t)
		a := rapid.SampledFrom([]sheet.Appliance{gasSingle, gasSplit, {Energy: sheet.Electric, Pot: sheet.SplitPot}}).Draw(t, "appliance")
		x := standard.Lay(fourSettings(), a, layers)
		for i := range x.List {
			e := &x.List[i]
			want, spoke := expected(layers, e.Place)
			if e.Value != want || len(e.Steps) != spoke {
				t.Fatalf("%s is expected to be %q by %d layers, not %q by %d", e.Ref, e.Value, len(e.Steps), want, spoke)
			}
			if last, ok := e.From(); ok && last.Set.Value != e.Value || ok != e.Value.Known() {
				t.Fatalf("%s is %q, but the last step says %q", e.Ref, e.Value, last.Set.Value)
			}
			if !slices.IsSortedFunc(e.Steps, func(a, b standard.Step) int {
				return slices.Index(standard.Levels(), a.Level) - slices.Index(standard.Levels(), b.Level)
			}) {
				t.Fatalf("the steps of %s are out of order: %v", e.Ref, e.Steps)
			}
			if x.Position(e.Ref) != i {
				t.Fatalf("%s stands at %d, not at %d", e.Ref, i, x.Position(e.Ref))
			}
		}
	})
}

// over gives one layer that says what two say, the second laid over the first: of the first, what the second does not
// speak of. A value for one vat is spoken of by a value for every vat, not the other way round.
func over(lower, upper standard.Layer) standard.Layer {
	both := upper
	both.Sets = slices.Clone(upper.Sets)
	for _, set := range lower.Sets {
		if !slices.ContainsFunc(upper.Sets, func(s standard.Set) bool {
			return s.Ref == set.Ref || s.Ref == sheet.Ref{Key: set.Ref.Key}
		}) {
			both.Sets = append(both.Sets, set)
		}
	}
	return both
}

// TestLayingIsAssociative: two layers that lie next to each other can be made one, whichever two are taken first, and
// nothing that is expected changes.
func TestLayingIsAssociative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layers := drawLayers(t)
		model, customer, site, fryer := layers[0], layers[1], layers[2], layers[3]
		s := fourSettings()
		want := values(standard.Lay(s, gasSplit, layers))
		for name, some := range map[string][]standard.Layer{
			"model and customer first":  {over(model, customer), site, fryer},
			"customer and site first":   {model, over(customer, site), fryer},
			"site and fryer first":      {model, customer, over(site, fryer)},
			"from below":                {over(over(over(model, customer), site), fryer)},
			"from above":                {over(model, over(customer, over(site, fryer)))},
			"two and two":               {over(over(model, customer), over(site, fryer))},
			"a layer that says nothing": append([]standard.Layer{over(standard.Layer{}, model)}, layers[1:]...),
		} {
			if got := values(standard.Lay(s, gasSplit, some)); !reflect.DeepEqual(got, want) {
				t.Fatalf("%s: %v, not %v", name, got, want)
			}
		}
	})
}
