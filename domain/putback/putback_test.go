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
	"pgregory.net/rapid"
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

// world is a small sheet of switches with random interlocks and random orders between them.
type world struct {
	x    *standard.Expected
	read map[sheet.Ref]sheet.Value
}

func drawWorld(t *rapid.T) world {
	n := rapid.IntRange(2, 6).Draw(t, "settings")
	s := &sheet.Sheet{ID: uuid.New(), Code: "r", Name: "Random"}
	onOff := rapid.SampledFrom([]sheet.Value{"on", "off"})
	layer := standard.Layer{Level: standard.OfCustomer}
	read := map[sheet.Ref]sheet.Value{}
	key := func(i int) string { return fmt.Sprintf("k%d", i) }
	for i := range n {
		set := sheet.Setting{Key: key(i), Label: key(i), Group: fmt.Sprintf("g%d", rapid.IntRange(0, 2).Draw(t, "group")), Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Minor}
		if i > 0 && rapid.Bool().Draw(t, "after") {
			set.After = []string{key(rapid.IntRange(0, i-1).Draw(t, "which"))}
		}
		s.Settings = append(s.Settings, set)
		layer.Sets = append(layer.Sets, standard.Set{Ref: sheet.Ref{Key: key(i)}, Value: onOff.Draw(t, "expected")})
		read[sheet.Ref{Key: key(i)}] = onOff.Draw(t, "read")
	}
	pick := rapid.IntRange(0, n-1)
	for i := range rapid.IntRange(0, 4).Draw(t, "interlocks") {
		s.Interlocks = append(s.Interlocks, sheet.Interlock{
			Key: fmt.Sprintf("l%d", i), Label: fmt.Sprintf("rule %d", i), Class: sheet.Minor,
			When: []sheet.Condition{{Setting: key(pick.Draw(t, "when")), Op: sheet.Is, Values: []sheet.Value{onOff.Draw(t, "when is")}}},
			Must: []sheet.Condition{{Setting: key(pick.Draw(t, "must")), Op: sheet.Is, Values: []sheet.Value{onOff.Draw(t, "must be")}}},
		})
	}
	return world{standard.Lay(s, sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}, []standard.Layer{layer}), read}
}

func (w world) broken(values map[sheet.Ref]sheet.Value) map[string]bool {
	found := map[string]bool{}
	for _, b := range w.x.Sheet.Breaches(w.x.Appliance, func(r sheet.Ref) sheet.Value { return values[r] }) {
		found[b.Interlock.Key] = true
	}
	return found
}

// newly counts the steps of an order after which something is broken that was whole at the start.
func (w world) newly(order []drift.Finding) int {
	values := map[sheet.Ref]sheet.Value{}
	for r, v := range w.read {
		values[r] = v
	}
	start, steps := w.broken(values), 0
	for _, f := range order {
		values[f.Ref] = f.Value
		for k := range w.broken(values) {
			if !start[k] {
				steps++
				break
			}
		}
	}
	return steps
}

// possible tries every order that keeps After, by brute force, for one that breaks nothing new.
func (w world) possible(done, left []drift.Finding) bool {
	if len(left) == 0 {
		return w.newly(done) == 0
	}
	for i, f := range left {
		waits := false
		for _, o := range left {
			waits = waits || dependsOn(w.x.Sheet, f.Setting, o.Ref.Key)
		}
		if waits {
			continue
		}
		rest := append(append([]drift.Finding{}, left[:i]...), left[i+1:]...)
		if w.possible(append(append([]drift.Finding{}, done...), f), rest) {
			return true
		}
	}
	return false
}

func dependsOn(s *sheet.Sheet, set *sheet.Setting, key string) bool {
	for _, k := range set.After {
		next, _ := s.Setting(k)
		if k == key || dependsOn(s, next, key) {
			return true
		}
	}
	return false
}

// TestEveryOrderRespectsTheInterlocks compares with brute force: where any order breaks nothing on the way, the list is
// such an order, and it says that it is blocked where there is none.
func TestEveryOrderRespectsTheInterlocks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		result := drift.Compare(w.x, w.read, nil, nil, now)
		list := putback.Make(w.x, result)
		var order []drift.Finding
		for i, l := range list.Lines() {
			if l.Number != i+1 {
				t.Fatalf("line %d has number %d", i, l.Number)
			}
			order = append(order, l.Finding)
		}
		for i, f := range order {
			for _, later := range order[i+1:] {
				if dependsOn(w.x.Sheet, f.Setting, later.Ref.Key) {
					t.Fatalf("%s comes before %s, which it waits for", f.Ref, later.Ref)
				}
			}
		}
		possible := w.possible(nil, result.Drifted())
		if got := w.newly(order) == 0; got != possible {
			t.Fatalf("an order that breaks nothing exists: %v; the list is one: %v", possible, got)
		}
		if (len(list.Blocked) == 0) != possible {
			t.Fatalf("blocked says %v", list.Blocked)
		}
	})
}

// TestPutBackLeavesNoDrift puts the list back and compares again.
func TestPutBackLeavesNoDrift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		values := map[sheet.Ref]sheet.Value{}
		for r, v := range w.read {
			values[r] = v
		}
		list := putback.Make(w.x, drift.Compare(w.x, values, nil, nil, now))
		for _, l := range list.Lines() {
			values[l.Finding.Ref] = l.Finding.Value
		}
		after := drift.Compare(w.x, values, nil, nil, now)
		if left := after.Drifted(); len(left) > 0 {
			t.Fatalf("%d left", len(left))
		}
	})
}
