// Package cause weighs what happened to a controller whose settings are not as expected: settings changed by hand, a
// reset, a reset partly put back, another of the company's standards, or the wrong settings sheet or program. It takes
// one set of readings and gives odds with everything behind them. It must not know how readings are stored, which
// drift matters most, or what to do about it.
package cause

import (
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/working"
)

// Kind is an explanation. The empty Kind means that nothing differs, so that there is nothing to explain.
type Kind string

// The explanations.
const (
	Isolated      Kind = "isolated" // one or a few settings changed by hand, or misread
	FullReset     Kind = "full-reset"
	PartlyPutBack Kind = "partly-put-back" // a reset, after which some settings were put back
	OtherStandard Kind = "other-standard"  // programmed to another of the service company's standards
	WrongSheet    Kind = "wrong-sheet"     // not the settings sheet, or not the program, of this controller
	CannotTell    Kind = "cannot-tell"     // too few settings tell, or no explanation stands out
)

// Kinds lists the explanations that are weighed.
func Kinds() []Kind { return []Kind{Isolated, FullReset, PartlyPutBack, OtherStandard, WrongSheet} }

// EventKind is something noted at a fryer that can make its controller lose its settings.
type EventKind string

// The events.
const (
	PowerCut       EventKind = "power-cut"
	ControllerSwap EventKind = "controller-swap"
	FactoryReset   EventKind = "factory-reset"
	ProgramChange  EventKind = "program-change"
)

// EventKinds lists the events as forms offer them.
func EventKinds() []EventKind {
	return []EventKind{PowerCut, ControllerSwap, FactoryReset, ProgramChange}
}

// Alternative is another of the service company's standards, laid for the same sheet and appliance.
type Alternative struct {
	Name     string
	Expected *standard.Expected
}

// Input is what is weighed.
type Input struct {
	Expected     *standard.Expected
	Readings     map[sheet.Ref]sheet.Value // a setting that is absent or empty was not read: it says nothing
	Accepted     map[sheet.Ref]sheet.Value // differences that stand accepted: read so, they say nothing
	Alternatives []Alternative
	Events       []EventKind // noted since the last good reading
}

// Odds is one explanation with its probability.
type Odds struct {
	Kind        Kind
	Name        string // OtherStandard: which; "A or B" where the readings fit both
	Probability float64
}

// Counts is what the odds rest on. Only settings that were read and for which something is expected are counted,
// Unread excepted.
type Counts struct {
	Read       int // settings that were read
	Telling    int // of them: expected to differ from the factory value, which a reset brings back
	AtFactory  int // of Telling
	AtExpected int // of Telling
	Neither    int // of Telling: as neither has it
	Unread     int // settings that would tell but were not read
	Steady     int // of Read: a reset would not show on them
	SteadyOff  int // of Steady: not as expected
	OffSheet   int // of Neither and SteadyOff: not allowed by the settings sheet
	Fixed      int // of Read: read-only values, such as the program checksum
	FixedOff   int // of Fixed: not as expected
	Apart      int // settings read in which the best-fitting other standard differs from ours
	AtOther    int // of Apart: as the other standard has it
}

// Result is what happened, as far as the readings tell.
type Result struct {
	Drifts   int    // readings that differ from what is expected; 0: everything else is empty
	Odds     []Odds // best first; they sum to 1
	Verdict  Kind   // the kind of Odds[0], or CannotTell
	Counts   Counts
	Reasons  []string // the counts in plain words
	Sentence string   // the verdict in one plain sentence for a technician
	Working  working.Working
}

// The least that a verdict rests on. Common practice, no source; the simulation in the tests shows what they do.
const (
	fewest         = 3         // settings that tell
	fewestEachSide = 2         // for a reset partly put back: settings still at factory, and settings put back
	fewestForeign  = 5         // for a wrong sheet: readings that fit nothing, where no read-only value says so
	likely         = 2.0 / 3   // 2 to 1: enough to name the explanation as the most likely one
	certain        = 20.0 / 21 // 20 to 1: enough to say that it is so
)

// Sure says whether the verdict stands at 20 to 1 or better.
func (r *Result) Sure() bool {
	return len(r.Odds) > 0 && r.Verdict == r.Odds[0].Kind && r.Odds[0].Probability >= certain
}

// Weigh weighs the explanations by Bayes' rule. It does not look at the order of anything.
func Weigh(in Input) Result {
	seen := observe(in)
	if seen.drifts == 0 {
		return Result{Counts: seen.Counts}
	}
	w := seen.weigh(in.Events)
	r := Result{Drifts: seen.drifts, Odds: w.odds(), Counts: w.counts()}
	r.Verdict = r.decide()
	r.Reasons = r.reasons(w.bestName(), distinct(in.Events))
	r.Sentence = r.sentence()
	r.Working = r.work(w)
	return r
}

// decide names the best explanation where it is good enough and rests on enough.
func (r *Result) decide() Kind {
	best := r.Odds[0]
	if best.Probability < likely || !r.Counts.enough(best.Kind) {
		return CannotTell
	}
	return best.Kind
}

// enough says whether sufficient settings tell for an explanation to be named.
func (c Counts) enough(k Kind) bool {
	switch k {
	case OtherStandard:
		return c.AtOther >= fewest
	case WrongSheet:
		return c.FixedOff > 0 || c.Neither+c.SteadyOff >= fewestForeign
	case PartlyPutBack:
		return c.Telling >= fewest && min(c.AtFactory, c.AtExpected) >= fewestEachSide
	default:
		return c.Telling >= fewest
	}
}
