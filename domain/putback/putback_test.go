package putback_test

import (
	"fmt"
	"testing"
	"time"

	"frywright/domain/drift"
	"frywright/domain/putback"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var now = time.Date(2026, 11, 20, 22, 0, 0, 0, time.UTC)

// pilotSheet has the trade's own example of a dependency (common practice, no source): a standing pilot needs gas and the
// standard gas or the thermostat profile, so the profile is put back before the pilot.
func pilotSheet() *sheet.Sheet {
	choice := []sheet.Option{{Key: "gas", Label: "Gas"}, {Key: "plain", Label: "Plain thermostat"}, {Key: "soft", Label: "Soft"}}
	return &sheet.Sheet{
		ID: uuid.New(), Code: "w", Name: "Wend",
		Settings: []sheet.Setting{
			{Key: "pilot", Label: "Standing pilot", Group: "Start", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety},
			{Key: "name", Label: "Name", Group: "Start", Kind: sheet.Text, Factory: "FRYER", Scope: sheet.PerController, Class: sheet.Minor},
			{Key: "profile", Label: "Heat profile", Group: "Heat", Kind: sheet.Choice, Options: choice, Factory: "soft", Scope: sheet.PerController, Class: sheet.Output},
			{Key: "time", Label: "Cook time", Group: "Menu", Kind: sheet.Number, Factory: "100", Scope: sheet.PerController, Class: sheet.Food, After: []string{"product"}},
			{Key: "product", Label: "Product", Group: "Menu", Kind: sheet.Text, Factory: "NONE", Scope: sheet.PerController, Class: sheet.Food},
			{Key: "sum", Label: "Checksum", Group: "About", Kind: sheet.Text, Factory: "A1", Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true},
		},
		Interlocks: []sheet.Interlock{{
			Key: "pilot", Label: "A pilot needs its profile", Class: sheet.Safety,
			When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
			Must: []sheet.Condition{{Setting: "profile", Op: sheet.OneOf, Values: []sheet.Value{"gas", "plain"}}, {Setting: sheet.FactEnergy, Op: sheet.Is, Values: []sheet.Value{"gas"}}},
		}},
	}
}

func sets(values map[string]sheet.Value) []standard.Layer {
	l := standard.Layer{Level: standard.OfCustomer}
	for k, v := range values {
		ref, _ := sheet.ParseRef(k)
		l.Sets = append(l.Sets, standard.Set{Ref: ref, Value: v})
	}
	return []standard.Layer{l}
}

func factory(x *standard.Expected) map[sheet.Ref]sheet.Value {
	values := map[sheet.Ref]sheet.Value{}
	for _, e := range x.List {
		values[e.Ref] = e.Setting.Factory
	}
	return values
}

func TestWhatMustBeSetFirstComesFirst(t *testing.T) {
	x := standard.Lay(pilotSheet(), sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot},
		sets(map[string]sheet.Value{"pilot": "on", "name": "LEFT", "profile": "plain", "time": "90", "product": "FRIES", "sum": "B2"}))
	list := putback.Make(x, drift.Compare(x, factory(x), nil, nil, now))
	var keys []string
	for _, l := range list.Lines() {
		keys = append(keys, l.Finding.Ref.Key)
	}
	assert.Equal(t, []string{"name", "profile", "pilot", "product", "time"}, keys)
	require.Len(t, list.Groups, 4)
	assert.True(t, list.Groups[2].Again, "the first group comes back for the pilot")
	assert.Equal(t, []sheet.Ref{{Key: "profile"}}, list.Groups[2].Lines[0].First)
	assert.Equal(t, []sheet.Ref{{Key: "product"}}, list.Groups[3].Lines[1].First)
	require.Len(t, list.NotHere, 1, "a read-only value is recorded, never put back")
	assert.Empty(t, list.Blocked)
	assert.Equal(t, "Put back 5 settings, in this order.", list.Sentence())
}

func TestAStandardThatBreaksItsOwnInterlockIsSaid(t *testing.T) {
	x := standard.Lay(pilotSheet(), sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}, sets(map[string]sheet.Value{"pilot": "on"}))
	list := putback.Make(x, drift.Compare(x, factory(x), nil, nil, now))
	assert.Equal(t, 1, list.Total)
	assert.Equal(t, []string{"A pilot needs its profile"}, list.Blocked)
}

func TestTicksCountOnlyForTheValueThatIsExpected(t *testing.T) {
	x := standard.Lay(pilotSheet(), sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}, sets(map[string]sheet.Value{"time": "90", "name": "LEFT"}))
	list := putback.Make(x, drift.Compare(x, factory(x), nil, nil, now))
	list.Tick(map[sheet.Ref]sheet.Value{{Key: "time"}: "90", {Key: "name"}: "RIGHT"})
	assert.Equal(t, 1, list.Done)
	list.Tick(map[sheet.Ref]sheet.Value{{Key: "time"}: "90", {Key: "name"}: "LEFT"})
	assert.Equal(t, "All 2 settings are ticked off. Read them again as left.", list.Sentence())
}

func keys(list putback.List) []string {
	var keys []string
	for _, l := range list.Lines() {
		keys = append(keys, l.Finding.Ref.String())
	}
	return keys
}

func groups(list putback.List) []string {
	var names []string
	for _, g := range list.Groups {
		name := g.Name
		if g.Again {
			name += ", again"
		}
		names = append(names, name)
	}
	return names
}

func number(key, group string, after ...string) sheet.Setting {
	return sheet.Setting{Key: key, Label: key, Group: group, Kind: sheet.Number, Factory: "0", Scope: sheet.PerController, Class: sheet.Minor, After: after}
}

// made lays expected values over a sheet, finds it at its factory values and makes the list.
func made(a sheet.Appliance, s *sheet.Sheet, expected map[string]sheet.Value) putback.List {
	x := standard.Lay(s, a, sets(expected))
	return putback.Make(x, drift.Compare(x, factory(x), nil, nil, now))
}

var gasSplit = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SplitPot}

func TestTheWorkStaysInAGroupAsLongAsItCan(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{
		number("a1", "A"), number("a2", "A", "b1"), number("b1", "B"), number("b2", "B"), number("c1", "C"), number("a3", "A"),
	}}
	all := map[string]sheet.Value{"a1": "1", "a2": "1", "a3": "1", "b1": "1", "b2": "1", "c1": "1"}
	list := made(gasSplit, s, all)
	assert.Equal(t, []string{"a1", "a3", "b1", "b2", "a2", "c1"}, keys(list))
	assert.Equal(t, []string{"A", "B", "A, again", "C"}, groups(list))

	delete(all, "b1")
	list = made(gasSplit, s, all)
	assert.Equal(t, []string{"A", "B", "C"}, groups(list), "b1 is right, so that nothing waits for it")
}

func TestAfterReachesThroughSettingsThatAreRight(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("time", "Menu", "slot"), number("slot", "Menu", "product"), number("product", "Menu")}}
	list := made(gasSplit, s, map[string]sheet.Value{"time": "1", "product": "1"})
	assert.Equal(t, []string{"product", "time"}, keys(list))
	assert.Equal(t, []sheet.Ref{{Key: "product"}}, list.Lines()[1].First)
	assert.Empty(t, list.Lines()[1].Because)
}

func TestAfterKeepsToItsVat(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("time", "Menu", "product"), number("product", "Menu"), number("layout", "Whole", "product")}}
	s.Settings[0].Scope, s.Settings[1].Scope = sheet.PerVat, sheet.PerVat
	list := made(gasSplit, s, map[string]sheet.Value{"time": "1", "product@2": "1", "layout": "1"})
	assert.Equal(t, []string{"time@1", "product@2", "time@2", "layout"}, keys(list))
	lines := list.Lines()
	assert.Equal(t, "left vat", lines[0].Vat)
	assert.Empty(t, lines[0].First, "the left vat's product is right")
	assert.Equal(t, []sheet.Ref{{Key: "product", Vat: 2}}, lines[2].First)
	assert.Equal(t, []sheet.Ref{{Key: "product", Vat: 2}}, lines[3].First, "what is set once waits for either vat")
	assert.Empty(t, lines[3].Vat)
}

// TestThePilotGoesOutBeforeItsProfileGoes is the dependency backwards: what an interlock asks for is taken away only after
// what needs it (common practice, no source).
func TestThePilotGoesOutBeforeItsProfileGoes(t *testing.T) {
	s := pilotSheet()
	x := standard.Lay(s, sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}, nil)
	read := factory(x)
	read[sheet.Ref{Key: "pilot"}], read[sheet.Ref{Key: "profile"}] = "on", "plain"
	list := putback.Make(x, drift.Compare(x, read, nil, nil, now))
	assert.Equal(t, []string{"pilot", "profile"}, keys(list))
	assert.Equal(t, []string{"A pilot needs its profile"}, list.Lines()[1].Because)
}

// limits has two numbers of which the lower must stay under the higher.
func limits() *sheet.Sheet {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("low", "Limits"), number("high", "Limits")}}
	s.Interlocks = []sheet.Interlock{{Key: "order", Label: "Low is under high", Class: sheet.Food,
		Must: []sheet.Condition{{Setting: "low", Op: sheet.AtMost, Than: "high", Plus: -5}}}}
	return s
}

func TestLimitsMoveWithoutCrossing(t *testing.T) {
	for name, tt := range map[string]struct {
		low, high sheet.Value // as found
		order     []string
	}{
		"both must rise":   {"100", "110", []string{"high", "low"}},
		"both must fall":   {"300", "310", []string{"low", "high"}},
		"crossed as found": {"300", "100", []string{"low", "high"}},
	} {
		t.Run(name, func(t *testing.T) {
			x := standard.Lay(limits(), gasSplit, sets(map[string]sheet.Value{"low": "200", "high": "210"}))
			list := putback.Make(x, drift.Compare(x, map[sheet.Ref]sheet.Value{{Key: "low"}: tt.low, {Key: "high"}: tt.high}, nil, nil, now))
			assert.Equal(t, tt.order, keys(list))
			assert.Empty(t, list.Blocked)
			assert.Empty(t, list.Left)
		})
	}
}

// twins are two settings that must be equal, so that neither can be changed alone.
func twins(class sheet.Class, a, b string) []sheet.Interlock {
	is := func(key string) []sheet.Condition {
		return []sheet.Condition{{Setting: key, Op: sheet.Is, Values: []sheet.Value{"1"}}}
	}
	return []sheet.Interlock{
		{Key: a + "-" + b, Label: a + " asks for " + b, Class: class, When: is(a), Must: is(b)},
		{Key: b + "-" + a, Label: b + " asks for " + a, Class: class, When: is(b), Must: is(a)},
	}
}

func TestWhatNoOrderAvoidsIsSaidAndComesLast(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A"), number("b", "A"), number("c", "A"), number("d", "D")}, Interlocks: twins(sheet.Food, "a", "b")}
	list := made(gasSplit, s, map[string]sheet.Value{"a": "1", "b": "1", "c": "1", "d": "1"})
	assert.Equal(t, []string{"c", "d", "a", "b"}, keys(list))
	assert.Equal(t, []string{"a asks for b"}, list.Blocked)
	assert.Empty(t, list.Left, "once both are entered it is whole")
	lines := list.Lines()
	require.Len(t, lines[2].Breaks, 1)
	assert.Equal(t, "a-b", lines[2].Breaks[0].Interlock.Key)
	assert.Empty(t, lines[3].Breaks)
}

// mended has a rule that is broken as found, that a mends, b would break again, and c does away with.
func mended() (*sheet.Sheet, map[sheet.Ref]sheet.Value, map[string]sheet.Value) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A"), number("b", "A"), number("c", "A")}, Interlocks: []sheet.Interlock{{
		Key: "under", Label: "a is under b", Class: sheet.Food,
		When: []sheet.Condition{{Setting: "c", Op: sheet.AtMost, Values: []sheet.Value{"1"}}},
		Must: []sheet.Condition{{Setting: "a", Op: sheet.AtMost, Than: "b"}},
	}}}
	return s, map[sheet.Ref]sheet.Value{{Key: "a"}: "5", {Key: "b"}: "3", {Key: "c"}: "0"}, map[string]sheet.Value{"a": "2", "b": "1", "c": "2"}
}

func TestWhatIsMendedStaysWhole(t *testing.T) {
	s, read, expected := mended()
	x := standard.Lay(s, gasSplit, sets(expected))
	list := putback.Make(x, drift.Compare(x, read, nil, nil, now))
	assert.Equal(t, []string{"a", "c", "b"}, keys(list))
	for _, l := range list.Lines() {
		assert.Empty(t, l.Breaks)
	}
}

// TestWhatWasBrokenAsFoundMayBeBrokenAgain: where the controller's own order leaves no other way, that is no worse than
// it was found, and nothing to ask about.
func TestWhatWasBrokenAsFoundMayBeBrokenAgain(t *testing.T) {
	s, read, expected := mended()
	s.Settings[1].After, s.Settings[2].After = []string{"a"}, []string{"b"}
	x := standard.Lay(s, gasSplit, sets(expected))
	list := putback.Make(x, drift.Compare(x, read, nil, nil, now))
	assert.Equal(t, []string{"a", "b", "c"}, keys(list))
	assert.Len(t, list.Lines()[1].Breaks, 1)
	assert.Empty(t, list.Blocked)
}

// TestFirstNamesOnlyWhatHelps: a line that breaks a rule whatever was entered before it does not wait for that.
func TestFirstNamesOnlyWhatHelps(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("j", "A"), number("i", "A"), number("k", "A")}, Interlocks: twins(sheet.Food, "i", "k")}
	s.Interlocks[0].Must = append(s.Interlocks[0].Must, sheet.Condition{Setting: "j", Op: sheet.Is, Values: []sheet.Value{"1"}})
	list := made(gasSplit, s, map[string]sheet.Value{"i": "1", "j": "1", "k": "1"})
	assert.Equal(t, []string{"j", "i", "k"}, keys(list))
	assert.Empty(t, list.Lines()[1].First)
	assert.Equal(t, []sheet.Ref{{Key: "i"}}, list.Lines()[2].First)
}

func TestTheMildestRuleIsBroken(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A"), number("b", "A")}, Interlocks: twins(sheet.Safety, "a", "b")}
	s.Interlocks[1].Class = sheet.Minor // b may come first
	list := made(gasSplit, s, map[string]sheet.Value{"a": "1", "b": "1"})
	assert.Equal(t, []string{"b", "a"}, keys(list))
	assert.Equal(t, []string{"b asks for a"}, list.Blocked)
}

// TestWhatIsNotKnownIsNotTakenForRight has an interlock that may or may not bind, for one value was not read: the order
// is the one that is safe in either case.
func TestWhatIsNotKnownIsNotTakenForRight(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A"), number("b", "A"), number("hidden", "A")}}
	s.Settings[2].Factory = ""
	s.Interlocks = twins(sheet.Food, "a", "b")[:1]
	s.Interlocks[0].When = append(s.Interlocks[0].When, sheet.Condition{Setting: "hidden", Op: sheet.Is, Values: []sheet.Value{"1"}})
	list := made(gasSplit, s, map[string]sheet.Value{"a": "1", "b": "1"})
	assert.Equal(t, []string{"b", "a"}, keys(list))
	assert.Equal(t, []sheet.Ref{{Key: "b"}}, list.Lines()[1].First)
	assert.Equal(t, 2, list.Total, "what was not read is not on the list")
}

func TestARuleThatTheStandardBreaksDoesNotUndoTheOthers(t *testing.T) {
	s := limits()
	s.Settings = append(s.Settings, number("c", "C"))
	s.Interlocks = append(s.Interlocks, sheet.Interlock{Key: "never", Label: "c is never 1", Class: sheet.Minor,
		Must: []sheet.Condition{{Setting: "c", Op: sheet.IsNot, Values: []sheet.Value{"1"}}, {Setting: "low", Op: sheet.AtMost, Values: []sheet.Value{"500"}}}})
	x := standard.Lay(s, gasSplit, sets(map[string]sheet.Value{"low": "200", "high": "210", "c": "1"}))
	list := putback.Make(x, drift.Compare(x, map[sheet.Ref]sheet.Value{{Key: "low"}: "100", {Key: "high"}: "110", {Key: "c"}: "0"}, nil, nil, now))
	assert.Equal(t, []string{"high", "low", "c"}, keys(list))
	assert.Equal(t, []string{"c is never 1"}, list.Blocked)
	require.Len(t, list.Left, 1)
	assert.Equal(t, "never", list.Left[0].Interlock.Key)
	assert.Len(t, list.Lines()[2].Breaks, 1)
}

// TestARuleThatTheStandardBreaksChangesNoOrder: no order can keep it whole, so that the controller's own stays.
func TestARuleThatTheStandardBreaksChangesNoOrder(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A"), number("b", "B")}, Interlocks: []sheet.Interlock{{Key: "never", Label: "a is never 1", Class: sheet.Safety,
		Must: []sheet.Condition{{Setting: "a", Op: sheet.IsNot, Values: []sheet.Value{"1"}}, {Setting: "b", Op: sheet.AtMost, Values: []sheet.Value{"500"}}}}}}
	list := made(gasSplit, s, map[string]sheet.Value{"a": "1", "b": "1"})
	assert.Equal(t, []string{"a", "b"}, keys(list))
	assert.Equal(t, []string{"a is never 1"}, list.Blocked)
}

func TestAnAcceptedDifferenceThatBreaksARuleIsLeft(t *testing.T) {
	x := standard.Lay(pilotSheet(), sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}, nil)
	read := factory(x)
	read[sheet.Ref{Key: "pilot"}] = "on"
	accepted := []standard.Acceptance{{Ref: sheet.Ref{Key: "pilot"}, Value: "on", Until: now.AddDate(0, 0, 1)}}
	list := putback.Make(x, drift.Compare(x, read, accepted, nil, now))
	assert.Zero(t, list.Total, "what stands accepted is not put back")
	assert.Empty(t, list.Blocked, "there is nothing to wait with")
	require.Len(t, list.Left, 1)
	assert.Equal(t, "Nothing has to be put back.", list.Sentence())
}

// TestALoopOfAfterIsCut has what no valid sheet has: the list must still end.
func TestALoopOfAfterIsCut(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A", "b"), number("b", "A", "c"), number("c", "A", "a"), number("d", "A", "d")}}
	list := made(gasSplit, s, map[string]sheet.Value{"a": "1", "b": "1", "c": "1", "d": "1"})
	assert.Equal(t, []string{"a", "b", "c", "d"}, keys(list))
}

// TestALongMenuUnderOneLimit ties many lines by one: every product's setpoint stays under one top temperature.
func TestALongMenuUnderOneLimit(t *testing.T) {
	s := &sheet.Sheet{}
	expected := map[string]sheet.Value{"top": "380"}
	for i := range 60 {
		key := fmt.Sprintf("slot-%02d", i)
		set := number(key, fmt.Sprintf("Menu %d", i%7))
		set.Scope, set.Factory = sheet.PerVat, "300"
		s.Settings = append(s.Settings, set)
		expected[key] = "350"
		s.Interlocks = append(s.Interlocks, sheet.Interlock{Key: key, Label: key + " is under the top", Class: sheet.Safety,
			Must: []sheet.Condition{{Setting: key, Op: sheet.AtMost, Than: "top"}}})
	}
	s.Settings = append(s.Settings, number("top", "Limits"))
	s.Settings[60].Factory = "300"
	list := made(gasSplit, s, expected)
	assert.Equal(t, 121, list.Total)
	assert.Equal(t, "top", keys(list)[0])
	assert.Empty(t, list.Blocked)
	assert.Len(t, list.Groups, 8)
}

// TestAHopelessTangleStillEnds has so many settings that ask for each other that not every order can be tried.
func TestAHopelessTangleStillEnds(t *testing.T) {
	s := &sheet.Sheet{}
	expected := map[string]sheet.Value{}
	for i := range 30 {
		s.Settings = append(s.Settings, number(fmt.Sprintf("k%d", i), "A"))
		expected[fmt.Sprintf("k%d", i)] = "1"
		for j := range i {
			s.Interlocks = append(s.Interlocks, twins(sheet.Safety, fmt.Sprintf("k%d", j), fmt.Sprintf("k%d", i))...)
		}
	}
	list := made(gasSplit, s, expected)
	assert.Len(t, keys(list), 30)
	assert.NotEmpty(t, list.Blocked)
	assert.Empty(t, list.Left)
}

func TestTheSentenceCountsWhatIsLeft(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{number("a", "A"), number("b", "A")}}
	list := made(gasSplit, s, map[string]sheet.Value{"a": "1", "b": "1"})
	assert.Equal(t, "Put back 2 settings, in this order.", list.Sentence())
	list.Tick(map[sheet.Ref]sheet.Value{{Key: "a"}: "1"})
	assert.Equal(t, "Put back 1 setting.", list.Sentence())
	list = made(gasSplit, s, map[string]sheet.Value{"a": "1"})
	list.Tick(map[sheet.Ref]sheet.Value{{Key: "a"}: "1"})
	assert.Equal(t, "The one setting is ticked off. Read it again as left.", list.Sentence())
}
