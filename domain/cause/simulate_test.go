package cause

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// The simulation invents controllers whose history is known and asks what the weighing makes of them. Its ranges are
// common practice, no source; they are chosen to be wider and nastier than what a company meets:
//
//   - a sheet of 46 settings like a real one: switches, choices, temperatures, times, a menu, a read-only checksum, some
//     settings that a reset leaves alone;
//   - three fryers of ten whose standard hardly differs from factory (0 to 4 settings), the others in 5 to 30;
//   - a third of the readings complete, the others 50 to 100 % of the settings, picked at random or broken off;
//   - 1 to 2 % of the values misread, a third of those by tapping "as expected" for a value that is not;
//   - up to five other standards of the company, some of them near to factory or to ours;
//   - changed by hand: one to three settings, one in five to the factory value;
//   - partly put back: 25 to 75 % of what the reset took, in the controller's order or at random;
//   - wrong sheet: 40 to 90 % of the values foreign, the others at factory or even as expected;
//   - events noted for four in ten resets and one in twenty of the rest.
//
// A fifth of the resets and the reprogrammings is followed by one hand-made change.
type simulation struct {
	*rand.Rand
	sheet     *sheet.Sheet
	appliance sheet.Appliance
	standards []*standard.Expected
}

func newSimulation(seed uint64) *simulation {
	s := &simulation{Rand: rand.New(rand.NewPCG(seed, 2)), sheet: simulatedSheet(), appliance: sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}}
	for range 300 {
		s.standards = append(s.standards, s.invent())
	}
	return s
}

func simulatedSheet() *sheet.Sheet {
	sh := &sheet.Sheet{Code: "sim", Name: "Simulated controller"}
	number := func(key string, low, high, step, factory, tolerance float64) {
		sh.Settings = append(sh.Settings, sheet.Setting{Key: key, Label: key, Kind: sheet.Number, Min: &low, Max: &high, Step: step,
			Factory: sheet.Num(factory), Tolerance: tolerance, Class: sheet.Food})
	}
	for i := range 8 {
		sh.Settings = append(sh.Settings, sheet.Setting{Key: fmt.Sprint("switch", i), Label: "switch", Kind: sheet.Switch, Factory: "off", Kept: i == 0})
	}
	for i := range 6 {
		sh.Settings = append(sh.Settings, sheet.Setting{Key: fmt.Sprint("choice", i), Label: "choice", Kind: sheet.Choice,
			Options: []sheet.Option{{Key: "a"}, {Key: "b"}, {Key: "c"}, {Key: "d"}}[:2+i%3], Factory: "a", Kept: i == 0})
	}
	for i := range 7 {
		number(fmt.Sprint("limit", i), 0, 60, 1, 20, 0)
	}
	for i := range 8 {
		number(fmt.Sprint("slot", i, ".setpoint"), 200, 390, 1, 350, 2)
		number(fmt.Sprint("slot", i, ".cook"), 0, 1800, 5, 180, 5)
		number(fmt.Sprint("slot", i, ".hold"), 0, 3600, 60, 420, 0)
	}
	sh.Settings = append(sh.Settings, sheet.Setting{Key: "checksum", Label: "checksum", Kind: sheet.Text, ReadOnly: true, Factory: "7F3A"})
	return sh
}

// invent makes a standard that differs from factory in few or many settings. Half of the many are settings that every
// company sets (the menu), so that standards overlap.
func (s *simulation) invent() *standard.Expected {
	n := 5 + s.IntN(26)
	if s.Float64() < 0.3 {
		n = s.IntN(5)
	}
	layer := standard.Layer{Level: standard.OfCustomer, Of: uuid.Nil, Name: "invented"}
	for i, at := range s.Perm(len(s.sheet.Settings)) {
		set := &s.sheet.Settings[at]
		if i%2 == 0 && set.Kind != sheet.Number {
			continue
		}
		if len(layer.Sets) == n {
			break
		}
		if !set.ReadOnly {
			layer.Sets = append(layer.Sets, standard.Set{Ref: sheet.Ref{Key: set.Key}, Value: s.another(set, set.Factory)})
		}
	}
	return standard.Lay(s.sheet, s.appliance, []standard.Layer{layer})
}

// another gives an allowed value that is not the given one; people choose round values near the usual ones.
func (s *simulation) another(set *sheet.Setting, not sheet.Value) sheet.Value {
	for {
		v := s.any(set)
		if _, beyond := set.Differ(not, v); beyond {
			return v
		}
	}
}

func (s *simulation) any(set *sheet.Setting) sheet.Value {
	switch set.Kind {
	case sheet.Switch:
		return []sheet.Value{"on", "off"}[s.IntN(2)]
	case sheet.Choice:
		return sheet.Value(set.Options[s.IntN(len(set.Options))].Key)
	case sheet.Text:
		return sheet.Value(fmt.Sprintf("%04X", s.IntN(1<<16)))
	}
	factory, _ := set.Factory.Number()
	step := set.Step * float64(5*(s.IntN(13)-6))
	return sheet.Num(min(*set.Max, max(*set.Min, factory+step)))
}

// truth is one invented controller.
type truth struct {
	kind    Kind // empty: nothing happened
	other   int  // of the alternatives
	in      Input
	actual  map[sheet.Ref]sheet.Value // what the controller really holds
	putBack map[sheet.Ref]bool
}

func (s *simulation) pick() *standard.Expected { return s.standards[s.IntN(len(s.standards))] }

func (s *simulation) happen(k Kind) *truth {
	t := &truth{kind: k, in: Input{Expected: s.pick()}, actual: map[sheet.Ref]sheet.Value{}, putBack: map[sheet.Ref]bool{}}
	for i := range s.IntN(6) {
		t.in.Alternatives = append(t.in.Alternatives, Alternative{Name: fmt.Sprint("Company ", i), Expected: s.pick()})
	}
	for _, e := range t.in.Expected.List {
		t.actual[e.Ref] = e.Value
	}
	switch k {
	case Isolated:
		s.byHand(t, 1+s.IntN(3))
	case FullReset:
		s.reset(t)
	case PartlyPutBack:
		s.reset(t)
		s.putBack(t)
	case OtherStandard:
		s.reprogram(t)
	case WrongSheet:
		s.foreign(t)
	}
	if slices.Contains([]Kind{FullReset, PartlyPutBack, OtherStandard}, k) && s.Float64() < 0.2 {
		s.byHand(t, 1)
	}
	s.note(t)
	s.read(t)
	return t
}

func (s *simulation) byHand(t *truth, n int) {
	changed := 0
	for _, at := range s.Perm(len(t.in.Expected.List)) {
		e := &t.in.Expected.List[at]
		if changed == n {
			return
		}
		if e.Setting.ReadOnly {
			continue
		}
		changed++
		now := t.actual[e.Ref]
		t.actual[e.Ref] = s.another(e.Setting, now)
		if _, beyond := e.Setting.Differ(now, e.Setting.Factory); beyond && s.Float64() < 0.2 {
			t.actual[e.Ref] = e.Setting.Factory
		}
	}
}

func (s *simulation) reset(t *truth) {
	for _, e := range t.in.Expected.List {
		if !e.Setting.ReadOnly && !e.Setting.Kept {
			t.actual[e.Ref] = e.Setting.Factory
		}
	}
}

func (s *simulation) putBack(t *truth) {
	var lost []*standard.Expectation
	for i := range t.in.Expected.List {
		if t.in.Expected.List[i].Informative() {
			lost = append(lost, &t.in.Expected.List[i])
		}
	}
	if s.IntN(2) == 0 {
		s.Shuffle(len(lost), func(i, j int) { lost[i], lost[j] = lost[j], lost[i] })
	}
	share := 0.25 + 0.5*s.Float64()
	for _, e := range lost[:int(share*float64(len(lost))+0.5)] {
		t.actual[e.Ref] = e.Value
		t.putBack[e.Ref] = true
	}
}

func (s *simulation) reprogram(t *truth) {
	if len(t.in.Alternatives) == 0 {
		t.in.Alternatives = []Alternative{{Name: "Company 0", Expected: s.pick()}}
	}
	t.other = s.IntN(len(t.in.Alternatives))
	for _, e := range t.in.Alternatives[t.other].Expected.List {
		if !e.Setting.ReadOnly {
			t.actual[e.Ref] = e.Value
		}
	}
}

func (s *simulation) foreign(t *truth) {
	share := 0.4 + 0.5*s.Float64()
	for _, e := range t.in.Expected.List {
		switch {
		case e.Setting.ReadOnly && s.Float64() < 0.95:
			t.actual[e.Ref] = s.another(e.Setting, e.Value)
		case s.Float64() < share:
			t.actual[e.Ref] = s.foreignValue(e.Setting)
		case s.IntN(2) == 0 && e.Setting.Factory.Known():
			t.actual[e.Ref] = e.Setting.Factory
		}
	}
}

// foreignValue is a value of another controller type: one in four the sheet does not allow.
func (s *simulation) foreignValue(set *sheet.Setting) sheet.Value {
	if s.IntN(4) > 0 {
		return s.any(set)
	}
	if set.Kind == sheet.Number {
		return sheet.Num(*set.Max + float64(1+s.IntN(500)))
	}
	return "auto"
}

func (s *simulation) note(t *truth) {
	often := 0.05
	if t.kind == FullReset || t.kind == PartlyPutBack {
		often = 0.4
	}
	if s.Float64() < often {
		t.in.Events = []EventKind{EventKinds()[s.IntN(len(EventKinds()))]}
	}
}

// read reads the controller, in part and not without mistakes.
func (s *simulation) read(t *truth) {
	t.in.Readings = map[sheet.Ref]sheet.Value{}
	list := t.in.Expected.List
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	share := 1.0
	switch s.IntN(3) {
	case 1:
		share = 0.5 + 0.5*s.Float64()
	case 2:
		share = 0.5 + 0.5*s.Float64()
		order = s.Perm(len(list))
	}
	slips := 0.01 + 0.01*s.Float64()
	for _, at := range order[:int(share*float64(len(list)))] {
		e := &list[at]
		t.in.Readings[e.Ref] = t.actual[e.Ref]
		if s.Float64() < slips {
			t.in.Readings[e.Ref] = s.slip(e, t.actual[e.Ref])
		}
	}
}

func (s *simulation) slip(e *standard.Expectation, v sheet.Value) sheet.Value {
	switch s.IntN(9) {
	case 0, 1, 2:
		return e.Value
	case 3:
		return s.foreignValue(e.Setting)
	default:
		return s.another(e.Setting, v)
	}
}

// telling counts the settings read that tell what happened: those expected to differ from factory; where another
// standard is the truth, those in which it differs from ours and, fewer perhaps, those in which it differs from factory;
// where the sheet is wrong, every setting for which something is expected.
func (t *truth) telling() int {
	n, back, gone, apart, foreign := 0, 0, 0, 0, 0
	for _, e := range t.in.Expected.List {
		if !t.in.Readings[e.Ref].Known() {
			continue
		}
		if e.Informative() {
			n++
			if t.putBack[e.Ref] {
				back++
			} else {
				gone++
			}
		}
		if t.kind == OtherStandard && !e.Setting.ReadOnly {
			theirs := t.in.Alternatives[t.other].Expected.Value(e.Ref)
			if _, beyond := e.Setting.Differ(theirs, e.Value); beyond {
				apart++
			}
			if _, beyond := e.Setting.Differ(theirs, e.Setting.Factory); beyond {
				foreign++
			}
		}
	}
	switch {
	case t.kind == OtherStandard:
		return min(apart, foreign)
	case t.kind == WrongSheet:
		return len(t.in.Readings)
	case t.kind == PartlyPutBack && min(back, gone) < 2:
		return min(n, 4) // of a reset and of the putting back only one was read
	default:
		return n
	}
}

// right says whether a result names the truth, another standard by its name too. Where nothing happened and a value was
// misread, a change by hand is right: the verdict says both.
func (t *truth) right(r *Result) bool {
	switch t.kind {
	case "":
		return r.Verdict == "" || r.Verdict == Isolated
	case OtherStandard:
		return r.Verdict == t.kind && strings.Contains(r.Odds[0].Name, t.in.Alternatives[t.other].Name)
	default:
		return r.Verdict == t.kind
	}
}
