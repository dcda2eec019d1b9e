package putback_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"frywright/domain/drift"
	"frywright/domain/putback"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"pgregory.net/rapid"
)

// world is a small controller with random interlocks and random orders between its settings.
type world struct {
	x      *standard.Expected
	read   map[sheet.Ref]sheet.Value
	result drift.Result
	start  []sheet.Outcome // of each interlock as found
	final  []sheet.Outcome // once everything is put back
}

func drawWorld(t *rapid.T) *world {
	s := &sheet.Sheet{ID: uuid.New(), Code: "r", Name: "Random"}
	a := rapid.SampledFrom([]sheet.Appliance{{Energy: sheet.Gas, Pot: sheet.SinglePot}, {Energy: sheet.Electric, Pot: sheet.SplitPot}}).Draw(t, "appliance")
	most := 6 / a.Vats()
	for i := range rapid.IntRange(2, most).Draw(t, "settings") {
		s.Settings = append(s.Settings, drawSetting(t, i))
	}
	for i := range rapid.IntRange(0, 5).Draw(t, "interlocks") {
		l := sheet.Interlock{Key: fmt.Sprintf("l%d", i), Label: fmt.Sprintf("rule %d", i), Class: sheet.Class(rapid.IntRange(1, 4).Draw(t, "class"))}
		for range rapid.IntRange(0, 2).Draw(t, "whens") {
			l.When = append(l.When, drawCondition(t, s))
		}
		l.Must = []sheet.Condition{drawCondition(t, s)}
		s.Interlocks = append(s.Interlocks, l)
	}
	w := &world{read: map[sheet.Ref]sheet.Value{}}
	layer := standard.Layer{Level: standard.OfCustomer}
	for _, p := range s.Places(a) {
		layer.Sets = append(layer.Sets, standard.Set{Ref: p.Ref, Value: drawValue(t, "expected")})
		if rapid.IntRange(0, 7).Draw(t, "read at all") > 0 {
			w.read[p.Ref] = drawValue(t, "read")
		}
	}
	w.x = standard.Lay(s, a, []standard.Layer{layer})
	w.result = drift.Compare(w.x, w.read, nil, nil, now)
	w.start = w.outcomes(w.read)
	w.final = w.outcomes(w.after(w.result.Drifted()))
	return w
}

func drawValue(t *rapid.T, label string) sheet.Value {
	return sheet.Num(float64(rapid.IntRange(0, 2).Draw(t, label)))
}

func drawSetting(t *rapid.T, i int) sheet.Setting {
	set := sheet.Setting{
		Key: fmt.Sprintf("k%d", i), Label: fmt.Sprintf("k%d", i), Group: fmt.Sprintf("g%d", rapid.IntRange(0, 2).Draw(t, "group")), Kind: sheet.Number,
		Scope: rapid.SampledFrom([]sheet.Scope{sheet.PerController, sheet.PerVat}).Draw(t, "scope"), Class: sheet.Minor, ReadOnly: rapid.IntRange(0, 9).Draw(t, "read only") == 0,
	}
	if i > 0 && rapid.IntRange(0, 2).Draw(t, "after") == 0 {
		set.After = []string{fmt.Sprintf("k%d", rapid.IntRange(0, i-1).Draw(t, "which"))}
	}
	return set
}

func drawCondition(t *rapid.T, s *sheet.Sheet) sheet.Condition {
	pick := func(label string) string { return rapid.SampledFrom(s.Settings).Draw(t, label).Key }
	c := sheet.Condition{Setting: pick("setting"), Op: rapid.SampledFrom([]sheet.Op{sheet.Is, sheet.IsNot, sheet.AtLeast, sheet.AtMost}).Draw(t, "op")}
	if (c.Op == sheet.AtLeast || c.Op == sheet.AtMost) && rapid.Bool().Draw(t, "than") {
		c.Than = pick("than")
		return c
	}
	c.Values = []sheet.Value{drawValue(t, "value")}
	return c
}

// after gives the values after lines were entered from what was read.
func (w *world) after(lines []drift.Finding) map[sheet.Ref]sheet.Value {
	values := maps.Clone(w.read)
	for _, f := range lines {
		if !f.Setting.ReadOnly {
			values[f.Ref] = f.Value
		}
	}
	return values
}

func (w *world) outcomes(values map[sheet.Ref]sheet.Value) []sheet.Outcome {
	var found []sheet.Outcome
	for _, b := range w.x.Sheet.Bind(w.x.Appliance) {
		found = append(found, b.Judge(func(r sheet.Ref) sheet.Value { return values[r] }))
	}
	return found
}

// toll is what an order does on the way to interlocks that are whole at its end.
type toll struct {
	beyond [sheet.Safety + 1]int // by class: newly broken, and not broken as found
	newly  int                   // newly broken at some step
}

// worse compares what is broken beyond what was found, the worst class first.
func (c toll) worse(d toll) bool {
	for _, class := range sheet.Classes() {
		if c.beyond[class] != d.beyond[class] {
			return c.beyond[class] > d.beyond[class]
		}
	}
	return false
}

func (w *world) toll(order []drift.Finding) toll {
	var c toll
	bound := w.x.Sheet.Bind(w.x.Appliance)
	was := w.start
	for n := range order {
		is := w.outcomes(w.after(order[:n+1]))
		for i := range is {
			if is[i] != sheet.Broken || was[i] == sheet.Broken || w.final[i] == sheet.Broken {
				continue
			}
			c.newly++
			if w.start[i] != sheet.Broken {
				c.beyond[bound[i].Interlock.Class]++
			}
		}
		was = is
	}
	return c
}

// waits says whether a line must come after another, by what is written in the sheet.
func (w *world) waits(line, for_ sheet.Ref) bool {
	set, _ := w.x.Sheet.Setting(line.Key)
	for _, key := range set.After {
		for vat := range 3 {
			ref := sheet.Ref{Key: key, Vat: vat}
			if w.x.Position(ref) >= 0 && (vat == 0 || line.Vat == 0 || line.Vat == vat) && (ref == for_ || w.waits(ref, for_)) {
				return true
			}
		}
	}
	return false
}

// orders calls f with every order of the lines that keeps After.
func (w *world) orders(done, left []drift.Finding, f func([]drift.Finding)) {
	if len(left) == 0 {
		f(done)
	}
	for i, line := range left {
		if slices.ContainsFunc(left, func(o drift.Finding) bool { return w.waits(line.Ref, o.Ref) }) {
			continue
		}
		w.orders(append(slices.Clone(done), line), slices.Concat(left[:i], left[i+1:]), f)
	}
}

func writable(r *drift.Result) []drift.Finding {
	return slices.DeleteFunc(r.Drifted(), func(f drift.Finding) bool { return f.Setting.ReadOnly })
}

// TestNoOrderIsBetter compares with brute force over every order: where one breaks nothing new, the list is such an
// order; where one breaks nothing beyond what was broken as found, so does the list; and where none does, the list breaks
// the least, by class.
func TestNoOrderIsBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		list := putback.Make(w.x, w.result)
		var order []drift.Finding
		for _, l := range list.Lines() {
			order = append(order, l.Finding)
		}
		ours := w.toll(order)
		w.orders(nil, writable(&w.result), func(other []drift.Finding) {
			theirs := w.toll(other)
			if theirs.newly == 0 && ours.newly > 0 {
				t.Fatalf("%v breaks nothing new, the list %v does", refs(other), refs(order))
			}
			if ours.worse(theirs) {
				t.Fatalf("the list %v breaks %v, %v breaks %v", refs(order), ours, refs(other), theirs)
			}
		})
		blocked := ours.beyond != [sheet.Safety + 1]int{} || slices.ContainsFunc(list.Left, w.onList(order))
		if blocked != (len(list.Blocked) > 0) {
			t.Fatalf("blocked says %v", list.Blocked)
		}
	})
}

// onList gives whether an interlock names a line of the order.
func (w *world) onList(order []drift.Finding) func(sheet.Breach) bool {
	return func(b sheet.Breach) bool {
		return slices.ContainsFunc(order, func(f drift.Finding) bool {
			return slices.Contains(b.Interlock.Keys(), f.Ref.Key) && (f.Ref.Vat == 0 || f.Ref.Vat == b.Vat)
		})
	}
}

func refs(order []drift.Finding) []string {
	var texts []string
	for _, f := range order {
		texts = append(texts, f.Ref.String())
	}
	return texts
}

// TestEveryLineComesAfterWhatItWaitsFor checks After, the numbers, and that First names lines that came before and all
// that After asks for.
func TestEveryLineComesAfterWhatItWaitsFor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		list := putback.Make(w.x, w.result)
		lines := list.Lines()
		if list.Total != len(lines) || len(lines) != len(writable(&w.result)) {
			t.Fatalf("total %d, %d lines, %d to put back", list.Total, len(lines), len(writable(&w.result)))
		}
		earlier := map[sheet.Ref]bool{}
		for i, l := range lines {
			if l.Number != i+1 {
				t.Fatalf("line %d has number %d", i, l.Number)
			}
			for _, ref := range l.First {
				if !earlier[ref] {
					t.Fatalf("%s waits for %s, which comes later or never", l.Finding.Ref, ref)
				}
			}
			for _, other := range lines {
				if w.waits(l.Finding.Ref, other.Finding.Ref) && !slices.Contains(l.First, other.Finding.Ref) {
					t.Fatalf("%s does not say that it waits for %s", l.Finding.Ref, other.Finding.Ref)
				}
			}
			earlier[l.Finding.Ref] = true
		}
	})
}

// TestGroupsStandTogether checks that neighbouring groups differ, that Again tells the truth, and that without anything
// to wait for the order is the controller's own.
func TestGroupsStandTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		list := putback.Make(w.x, w.result)
		seen := map[string]bool{}
		for i, g := range list.Groups {
			if i > 0 && list.Groups[i-1].Name == g.Name || len(g.Lines) == 0 || g.Again != seen[g.Name] {
				t.Fatalf("groups %+v", list.Groups)
			}
			seen[g.Name] = true
		}
		free := *w.x.Sheet
		free.Interlocks, free.Settings = nil, slices.Clone(free.Settings)
		for i := range free.Settings {
			free.Settings[i].After = nil
		}
		x := standard.Lay(&free, w.x.Appliance, []standard.Layer{{Level: standard.OfFryer, Sets: setsOf(w.x)}})
		list = putback.Make(x, drift.Compare(x, w.read, nil, nil, now))
		groups := free.Groups()
		place := func(l putback.Line) int {
			return slices.Index(groups, l.Finding.Setting.Group)*100 + x.Position(l.Finding.Ref)
		}
		if lines := list.Lines(); !slices.IsSortedFunc(lines, func(a, b putback.Line) int { return place(a) - place(b) }) {
			t.Fatalf("%v", keys(list))
		}
	})
}

func setsOf(x *standard.Expected) []standard.Set {
	var sets []standard.Set
	for _, e := range x.List {
		sets = append(sets, standard.Set{Ref: e.Ref, Value: e.Value})
	}
	return sets
}

// TestPutBackLeavesNoDrift enters the list line by line and compares again.
func TestPutBackLeavesNoDrift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		list := putback.Make(w.x, w.result)
		values := maps.Clone(w.read)
		left := len(w.result.Drifted())
		for _, l := range list.Lines() {
			values[l.Finding.Ref] = l.Finding.Value
			left--
			result := drift.Compare(w.x, values, nil, nil, now)
			if got := len(result.Drifted()); got != left {
				t.Fatalf("%d drifted after line %d, not %d", got, l.Number, left)
			}
		}
		if left != len(list.NotHere) {
			t.Fatalf("%d drifted at the end, of which %d are read-only", left, len(list.NotHere))
		}
	})
}

func TestTheListIsTheSameEveryTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t)
		one, two := putback.Make(w.x, w.result), putback.Make(w.x, w.result)
		if fmt.Sprintf("%+v", one) != fmt.Sprintf("%+v", two) {
			t.Fatalf("%v and %v", keys(one), keys(two))
		}
	})
}
