package sheet_test

import (
	"fmt"
	"slices"
	"testing"

	"frywright/domain/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// from gives a lookup in a map.
func from(values map[string]sheet.Value) sheet.Lookup {
	return func(key string) sheet.Value { return values[key] }
}

func isOn(keys ...string) []sheet.Condition {
	var list []sheet.Condition
	for _, k := range keys {
		list = append(list, sheet.Condition{Setting: k, Op: sheet.Is, Values: []sheet.Value{"on"}})
	}
	return list
}

// every calls f with every assignment of the choices to the keys.
func every(keys []string, choices []sheet.Value, f func(map[string]sheet.Value)) {
	values := map[string]sheet.Value{}
	var assign func(n int)
	assign = func(n int) {
		if n == len(keys) {
			f(values)
			return
		}
		for _, v := range choices {
			values[keys[n]] = v
			assign(n + 1)
		}
	}
	assign(0)
}

// completions gives the outcomes that an interlock can have once everything is known.
func completions(l *sheet.Interlock, known map[string]sheet.Value, choices []sheet.Value) map[sheet.Outcome]bool {
	var open []string
	for _, k := range l.Keys() {
		if !known[k].Known() {
			open = append(open, k)
		}
	}
	found := map[sheet.Outcome]bool{}
	every(open, choices, func(values map[string]sheet.Value) {
		found[l.Judge(gasSingle, func(key string) sheet.Value {
			if v := values[key]; v.Known() {
				return v
			}
			return known[key]
		})] = true
	})
	return found
}

// TestTruthTable goes through every state of two conditions that trigger and two that are asked for, each true, false or
// not known, and compares with what the interlock can turn out to be once all is known.
func TestTruthTable(t *testing.T) {
	onOff := []sheet.Value{"on", "off"}
	for whens := range 3 {
		for musts := 1; musts < 3; musts++ {
			when, must := []string{"w0", "w1"}[:whens], []string{"m0", "m1"}[:musts]
			l := &sheet.Interlock{When: isOn(when...), Must: isOn(must...)}
			cases := 0
			every(slices.Concat(when, must), []sheet.Value{"on", "off", ""}, func(values map[string]sheet.Value) {
				cases++
				can := completions(l, values, onOff)
				require.False(t, can[sheet.Unsure], "what is known is sure")
				want := sheet.Holds
				switch {
				case can[sheet.Broken] && len(can) == 1:
					want = sheet.Broken
				case can[sheet.Broken]:
					want = sheet.Unsure
				case can[sheet.Idle] && len(can) == 1:
					want = sheet.Idle
				}
				assert.Equal(t, want, l.Judge(gasSingle, from(values)), "when %d, must %d: %v", whens, musts, values)
			})
			n := 1
			for range whens + musts {
				n *= 3
			}
			assert.Equal(t, n, cases)
		}
	}
}

// TestTheFourAnswers writes the corners of the table out.
func TestTheFourAnswers(t *testing.T) {
	l := &sheet.Interlock{When: isOn("when"), Must: isOn("must")}
	for _, tt := range []struct {
		when, must sheet.Value
		want       sheet.Outcome
	}{
		{"on", "on", sheet.Holds}, {"on", "off", sheet.Broken}, {"on", "", sheet.Unsure},
		{"off", "on", sheet.Idle}, {"off", "off", sheet.Idle}, {"off", "", sheet.Idle},
		{"", "on", sheet.Holds}, {"", "off", sheet.Unsure}, {"", "", sheet.Unsure},
	} {
		assert.Equal(t, tt.want, l.Judge(gasSingle, from(map[string]sheet.Value{"when": tt.when, "must": tt.must})), "%q %q", tt.when, tt.must)
	}
}

// TestComparisons judges one condition under every comparison, with known, unknown and senseless values.
func TestComparisons(t *testing.T) {
	const yes, no, unsure = sheet.Holds, sheet.Broken, sheet.Unsure
	v := func(values ...sheet.Value) []sheet.Value { return values }
	for name, tt := range map[string]struct {
		c    sheet.Condition
		x, y sheet.Value // of the settings x and y
		want sheet.Outcome
	}{
		"is":                       {sheet.Condition{Op: sheet.Is, Values: v("a")}, "a", "", yes},
		"is, another":              {sheet.Condition{Op: sheet.Is, Values: v("a")}, "b", "", no},
		"is, not known":            {sheet.Condition{Op: sheet.Is, Values: v("a")}, "", "", unsure},
		"is-not":                   {sheet.Condition{Op: sheet.IsNot, Values: v("a", "b")}, "c", "", yes},
		"is-not, one of them":      {sheet.Condition{Op: sheet.IsNot, Values: v("a", "b")}, "b", "", no},
		"is-not, not known":        {sheet.Condition{Op: sheet.IsNot, Values: v("a")}, "", "", unsure},
		"one-of":                   {sheet.Condition{Op: sheet.OneOf, Values: v("a", "b")}, "b", "", yes},
		"one-of, none of them":     {sheet.Condition{Op: sheet.OneOf, Values: v("a", "b")}, "c", "", no},
		"one-of, not known":        {sheet.Condition{Op: sheet.OneOf, Values: v("a", "b")}, "", "", unsure},
		"at-least, more":           {sheet.Condition{Op: sheet.AtLeast, Values: v("5")}, "6", "", yes},
		"at-least, equal":          {sheet.Condition{Op: sheet.AtLeast, Values: v("5")}, "5", "", yes},
		"at-least, less":           {sheet.Condition{Op: sheet.AtLeast, Values: v("5")}, "4.9", "", no},
		"at-least, not known":      {sheet.Condition{Op: sheet.AtLeast, Values: v("5")}, "", "", unsure},
		"at-least, no number":      {sheet.Condition{Op: sheet.AtLeast, Values: v("5")}, "Err", "", unsure},
		"at-most, less":            {sheet.Condition{Op: sheet.AtMost, Values: v("5")}, "-6", "", yes},
		"at-most, equal":           {sheet.Condition{Op: sheet.AtMost, Values: v("0.3")}, "0.3", "", yes},
		"at-most, more":            {sheet.Condition{Op: sheet.AtMost, Values: v("5")}, "5.1", "", no},
		"at-most, not known":       {sheet.Condition{Op: sheet.AtMost, Values: v("5")}, "", "", unsure},
		"than, less":               {sheet.Condition{Op: sheet.AtMost, Than: "y"}, "5", "6", yes},
		"than, equal":              {sheet.Condition{Op: sheet.AtMost, Than: "y"}, "6", "6", yes},
		"than, more":               {sheet.Condition{Op: sheet.AtMost, Than: "y"}, "7", "6", no},
		"than, not known":          {sheet.Condition{Op: sheet.AtMost, Than: "y"}, "7", "", unsure},
		"than, no number":          {sheet.Condition{Op: sheet.AtMost, Than: "y"}, "7", "Err", unsure},
		"than what is not known":   {sheet.Condition{Op: sheet.AtLeast, Than: "y"}, "", "6", unsure},
		"plus, at the edge":        {sheet.Condition{Op: sheet.AtLeast, Than: "y", Plus: 10}, "16", "6", yes},
		"plus, just under":         {sheet.Condition{Op: sheet.AtLeast, Than: "y", Plus: 10}, "15.9", "6", no},
		"minus, at the edge":       {sheet.Condition{Op: sheet.AtMost, Than: "y", Plus: -0.1}, "0.2", "0.3", yes}, // not exact in binary
		"minus, just over":         {sheet.Condition{Op: sheet.AtMost, Than: "y", Plus: -0.1}, "0.3", "0.3", no},
		"compared with nothing":    {sheet.Condition{Op: sheet.AtMost}, "5", "", unsure},
		"than itself, as ever":     {sheet.Condition{Op: sheet.AtMost, Than: "x"}, "5", "", yes},
		"than itself and one more": {sheet.Condition{Op: sheet.AtLeast, Than: "x", Plus: 1}, "5", "", no},
	} {
		t.Run(name, func(t *testing.T) {
			tt.c.Setting = "x"
			l := &sheet.Interlock{Must: []sheet.Condition{tt.c}}
			assert.Equal(t, tt.want, l.Judge(gasSingle, from(map[string]sheet.Value{"x": tt.x, "y": tt.y})))
		})
	}
}

func TestFacts(t *testing.T) {
	fact := func(key string, v sheet.Value) *sheet.Interlock {
		return &sheet.Interlock{Must: []sheet.Condition{{Setting: key, Op: sheet.Is, Values: []sheet.Value{v}}}}
	}
	nothing := from(nil)
	assert.Equal(t, sheet.Holds, fact(sheet.FactEnergy, "gas").Judge(gasSplit, nothing))
	assert.Equal(t, sheet.Broken, fact(sheet.FactEnergy, "gas").Judge(electricSplit, nothing))
	assert.Equal(t, sheet.Holds, fact(sheet.FactPot, "split").Judge(gasSplit, nothing))
	assert.Equal(t, sheet.Broken, fact(sheet.FactPot, "split").Judge(gasSingle, nothing))
	assert.Empty(t, fact(sheet.FactPot, "split").Keys(), "facts are no settings")
}

// TestAStandingPilot is common practice, no source: a standing pilot needs a gas appliance and the standard gas or the
// thermostat profile; off, it asks for nothing.
func TestAStandingPilot(t *testing.T) {
	l := &sheet.Interlock{
		When: isOn("pilot"),
		Must: []sheet.Condition{
			{Setting: sheet.FactEnergy, Op: sheet.Is, Values: []sheet.Value{"gas"}},
			{Setting: "profile", Op: sheet.OneOf, Values: []sheet.Value{"gas", "thermostat"}},
		},
	}
	assert.Equal(t, []string{"pilot", "profile"}, l.Keys())
	for _, energy := range []sheet.Energy{sheet.Gas, sheet.Electric} {
		for _, profile := range []sheet.Value{"gas", "thermostat", "electric", ""} {
			for _, pilot := range []sheet.Value{"on", "off", ""} {
				right := energy == sheet.Gas && (profile == "gas" || profile == "thermostat")
				wrong := energy == sheet.Electric || profile == "electric"
				want := sheet.Unsure
				switch {
				case pilot == "off":
					want = sheet.Idle
				case right:
					want = sheet.Holds
				case wrong && pilot == "on":
					want = sheet.Broken
				}
				got := l.Judge(sheet.Appliance{Energy: energy, Pot: sheet.SinglePot}, from(map[string]sheet.Value{"pilot": pilot, "profile": profile}))
				assert.Equal(t, want, got, "%s, profile %q, pilot %q", energy, profile, pilot)
			}
		}
	}
}

// TestAMeltPulse is common practice, no source: a melt pulse is 30 s long in all, so that 8 s on leave 22 s off.
func TestAMeltPulse(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{
		{Key: "melt-on", Kind: sheet.Number, Scope: sheet.PerController}, {Key: "melt-off", Kind: sheet.Number, Scope: sheet.PerController},
	}, Interlocks: []sheet.Interlock{{
		Key: "pulse", Must: []sheet.Condition{{Setting: "melt-on", Op: sheet.AtMost, Values: []sheet.Value{"30"}}},
	}}}
	for on, broken := range map[sheet.Value]bool{"8": false, "30": false, "31": true, "": false} {
		found := s.Breaches(gasSingle, func(r sheet.Ref) sheet.Value { return map[string]sheet.Value{"melt-on": on, "melt-off": "22"}[r.Key] })
		assert.Equal(t, broken, len(found) > 0, "%s s on", on)
	}
}

// drawInterlock makes an interlock between three numbers.
func drawInterlock(t *rapid.T) *sheet.Interlock {
	condition := rapid.Custom(func(t *rapid.T) sheet.Condition {
		key := rapid.SampledFrom([]string{"a", "b", "c"})
		c := sheet.Condition{Setting: key.Draw(t, "setting"), Op: rapid.SampledFrom([]sheet.Op{sheet.Is, sheet.IsNot, sheet.AtLeast, sheet.AtMost}).Draw(t, "op")}
		if (c.Op == sheet.AtLeast || c.Op == sheet.AtMost) && rapid.Bool().Draw(t, "than") {
			c.Than = key.Draw(t, "than")
			c.Plus = float64(rapid.IntRange(-1, 1).Draw(t, "plus"))
			return c
		}
		c.Values = []sheet.Value{sheet.Num(float64(rapid.IntRange(0, 2).Draw(t, "value")))}
		return c
	})
	return &sheet.Interlock{When: rapid.SliceOfN(condition, 0, 2).Draw(t, "when"), Must: rapid.SliceOfN(condition, 1, 2).Draw(t, "must")}
}

// TestWhatIsSaidStaysTrue: what an interlock says of some values stays true when more become known: what is broken stays
// broken, what is not broken does not become so.
func TestWhatIsSaidStaysTrue(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawInterlock(t)
		known := map[string]sheet.Value{}
		for _, k := range []string{"a", "b", "c"} {
			known[k] = rapid.SampledFrom([]sheet.Value{"0", "1", "2", "", ""}).Draw(t, k)
		}
		said := l.Judge(gasSingle, from(known))
		can := completions(l, known, []sheet.Value{"0", "1", "2"})
		switch {
		case said == sheet.Broken && (len(can) > 1 || !can[sheet.Broken]),
			said == sheet.Idle && (len(can) > 1 || !can[sheet.Idle]),
			said == sheet.Holds && can[sheet.Broken]:
			t.Fatalf("said %v of %v, but it can be %v", said, known, can)
		}
	})
}

func TestInterlocksBindOnceAVat(t *testing.T) {
	s := &sheet.Sheet{
		Settings: []sheet.Setting{
			{Key: "top", Kind: sheet.Number, Scope: sheet.PerController},
			{Key: "setpoint", Kind: sheet.Number, Scope: sheet.PerVat},
			{Key: "pilot", Kind: sheet.Switch, Scope: sheet.PerController, Energies: []sheet.Energy{sheet.Gas}},
			{Key: "left-only", Kind: sheet.Switch, Scope: sheet.PerVat, Pots: []sheet.Pot{sheet.SplitPot}},
		},
		Interlocks: []sheet.Interlock{
			{Key: "under", Must: []sheet.Condition{{Setting: "setpoint", Op: sheet.AtMost, Than: "top"}}},
			{Key: "pilot", When: isOn("pilot"), Must: []sheet.Condition{{Setting: "top", Op: sheet.AtMost, Values: []sheet.Value{"400"}}}},
			{Key: "split", When: isOn("left-only"), Must: []sheet.Condition{{Setting: "top", Op: sheet.AtMost, Values: []sheet.Value{"400"}}}},
		},
	}
	bound := func(a sheet.Appliance) []string {
		var texts []string
		for _, b := range s.Bind(a) {
			texts = append(texts, fmt.Sprintf("%s %d %v", b.Interlock.Key, b.Vat, b.Refs))
		}
		return texts
	}
	assert.Equal(t, []string{"under 1 [setpoint@1 top]", "pilot 0 [pilot top]", "split 0 [top]"}, bound(gasSingle))
	assert.Equal(t, []string{
		"under 1 [setpoint@1 top]", "under 2 [setpoint@2 top]", "pilot 0 [top]", "split 1 [left-only@1 top]", "split 2 [left-only@2 top]",
	}, bound(electricSplit))

	values := map[sheet.Ref]sheet.Value{{Key: "top"}: "500", {Key: "setpoint", Vat: 1}: "350", {Key: "setpoint", Vat: 2}: "510", {Key: "pilot"}: "on"}
	look := func(r sheet.Ref) sheet.Value { return values[r] }
	found := s.Breaches(gasSplit, look)
	require.Len(t, found, 2)
	assert.Same(t, &s.Interlocks[0], found[0].Interlock)
	assert.Equal(t, 2, found[0].Vat)
	assert.Equal(t, sheet.Breach{Interlock: &s.Interlocks[1]}, found[1])
	assert.Len(t, s.Breaches(electricSplit, look), 1, "a value of a setting that the appliance does not have says nothing")
	assert.Empty(t, (&sheet.Sheet{}).Bind(gasSplit))
}
