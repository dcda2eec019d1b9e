package cause

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"frywright/domain/sheet"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mathext"
)

// share is what is held about a share between 0 and 1: a beta distribution, given as the two counts that it is worth.
type share struct {
	hits, misses float64
}

// The shares under each explanation. Common practice, no source. A share with small counts learns fast from the
// readings, one with large counts holds on.
var (
	// Settings that tell: the share at the factory value.
	factoryByHand     = share{0.2, 30} // near 0: whoever changes a setting seldom hits the factory value
	factoryAfterReset = share{30, 0.6} // near 1: only a misreading, or a setting put back at once, is missing
	factoryPutBack    = share{2, 2}    // anywhere: it depends on how far somebody came
	factoryForeign    = share{1, 1}    // nothing is known
	// Settings that can be set: the share that reads neither as expected nor as the explanation has it.
	strays = share{1, 20}
	// Read-only values: the share that differs.
	fixedMisread = share{0.3, 20}
	fixedForeign = share{3, 1}
)

const (
	// strayTimes is how much likelier a stray reading is by hand than after a reset or another programming, where only
	// a misreading makes one.
	strayTimes = 4
	// strayOffSheet is the share of strays that the sheet does not allow, where the sheet is right: the controller
	// refuses them, so that only a misreading makes one.
	strayOffSheet = 0.05
	// programOnly is how many of the wrong sheets and programs are another program that left the settings as they were.
	programOnly = 0.25
)

// foreign is what the readings share out to under a wrong sheet: a Dirichlet distribution, as counts of readings that
// fit by coincidence, that fit nothing, and that the sheet does not even allow.
var foreign = [3]float64{2, 2, 0.8}

// log gives the logarithm of the probability of one certain series of hits and misses: a beta-binomial (Pólya)
// distribution without its binomial coefficient, which is the same under every explanation and cancels.
func (s share) log(hits, misses int) float64 {
	return mathext.Lbeta(s.hits+float64(hits), s.misses+float64(misses)) - mathext.Lbeta(s.hits, s.misses)
}

// logForeign is the same for three outcomes: a Dirichlet-multinomial distribution.
func logForeign(fit, stray, off int) float64 {
	all := share{foreign[0], foreign[1] + foreign[2]}
	rest := share{foreign[1], foreign[2]}
	return all.log(fit, stray+off) + rest.log(stray, off)
}

// posterior applies Bayes' rule to priors, which need not sum to 1, and the logarithms of likelihoods.
func posterior(prior, logLikelihood []float64) []float64 {
	p := make([]float64, len(prior))
	for i := range p {
		p[i] = math.Log(prior[i]) + logLikelihood[i]
	}
	total := floats.LogSumExp(p)
	for i := range p {
		p[i] = math.Exp(p[i] - total)
	}
	return p
}

// candidate is one explanation while it is weighed.
type candidate struct {
	kind        Kind
	other       *other
	prior       float64 // a weight
	fit         float64 // logarithm of the likelihood
	probability float64
}

// weighed is the candidates, best first.
type weighed struct {
	seen       *observed
	candidates []candidate
}

func (o *observed) weigh(events []EventKind) *weighed {
	w := &weighed{seen: o}
	events = distinct(events)
	for i := range beliefs {
		b := &beliefs[i]
		prior := b.weightAfter(events)
		if b.kind != OtherStandard {
			w.candidates = append(w.candidates, candidate{kind: b.kind, prior: prior, fit: o.fit(b.kind)})
			continue
		}
		for j := range o.others {
			x := &o.others[j]
			w.candidates = append(w.candidates, candidate{kind: b.kind, other: x, prior: prior / float64(len(o.others)), fit: o.fitOther(x)})
		}
	}
	w.settle()
	return w
}

// settle puts the candidates in order, best first, and gives them their probabilities.
func (w *weighed) settle() {
	slices.SortStableFunc(w.candidates, func(a, b candidate) int {
		byName := 0
		if a.other != nil && b.other != nil {
			byName = strings.Compare(a.other.name, b.other.name)
		}
		return cmp.Or(cmp.Compare(b.score(), a.score()), byName)
	})
	prior, fit := make([]float64, len(w.candidates)), make([]float64, len(w.candidates))
	for i, c := range w.candidates {
		prior[i], fit[i] = c.prior, c.fit
	}
	for i, p := range posterior(prior, fit) {
		w.candidates[i].probability = p
	}
}

// score is rounded, so that the order in which readings come decides nothing.
func (c *candidate) score() float64 {
	const grain = 1e-9
	return math.Round((math.Log(c.prior)+c.fit)/grain) * grain
}

// fit gives the logarithm of the likelihood of the readings under an explanation other than OtherStandard.
func (o *observed) fit(k Kind) float64 {
	strayed := o.strayed()
	stray := o.fitStrays(strayed, k != Isolated)
	switch k {
	case FullReset:
		return stray + factoryAfterReset.log(o.AtFactory, o.AtExpected) + o.fitFixed()
	case PartlyPutBack:
		return stray + factoryPutBack.log(o.AtFactory, o.AtExpected) + o.fitFixed()
	case WrongSheet:
		return o.fitForeign(strayed)
	default:
		return stray + factoryByHand.log(o.AtFactory, o.AtExpected) + o.fitFixed()
	}
}

// fitOther is a reset in which the other standard stands in for the factory values.
func (o *observed) fitOther(x *other) float64 {
	return o.fitStrays(x.strays, true) + factoryAfterReset.log(x.at, x.ours) + o.fitFixed()
}

func (o *observed) fitFixed() float64 { return fixedMisread.log(o.FixedOff, o.Fixed-o.FixedOff) }

// fitForeign weighs the wrong sheet: values that fit by coincidence at most. Where a read-only value differs it can as
// well be another program that left the settings as they were.
func (o *observed) fitForeign(stray []*reading) float64 {
	fixed := fixedForeign.log(o.FixedOff, o.Fixed-o.FixedOff)
	off := o.OffSheet
	fit := logForeign(len(o.readings)-len(stray), len(stray)-off, off) + factoryForeign.log(o.AtFactory, o.AtExpected) + fixed
	for _, r := range stray {
		if r.spot == astray {
			fit += math.Log(coincidence(r.expectation.Setting))
		}
	}
	if o.FixedOff == 0 {
		return fit
	}
	left := o.fitStrays(stray, false) + factoryByHand.log(o.AtFactory, o.AtExpected) + fixed
	return floats.LogSumExp([]float64{math.Log(1-programOnly) + fit, math.Log(programOnly) + left})
}

func (o *observed) strayed() []*reading {
	var found []*reading
	for i := range o.readings {
		if s := o.readings[i].spot; s == astray || s == offSheet {
			found = append(found, &o.readings[i])
		}
	}
	return found
}

// fitStrays weighs the readings that the explanation does not account for. A setting that reads right and would read so
// after a reset too weighs the same by hand, after a reset and after one partly put back: it says nothing of a reset.
func (o *observed) fitStrays(stray []*reading, programmed bool) float64 {
	fit := strays.log(len(stray), len(o.readings)-len(stray))
	for _, r := range stray {
		if r.spot == offSheet {
			fit += math.Log(strayOffSheet)
		} else {
			fit += math.Log(coincidence(r.expectation.Setting))
		}
		if programmed {
			fit -= math.Log(strayTimes)
		}
	}
	return fit
}

// odds gives one row for each explanation, best first. The other standards share a row, named after the one or ones
// that fit best.
func (w *weighed) odds() []Odds {
	var rows []Odds
	for _, c := range w.candidates {
		i := slices.IndexFunc(rows, func(o Odds) bool { return o.Kind == c.kind })
		if i < 0 {
			rows = append(rows, Odds{Kind: c.kind, Probability: c.probability})
			continue
		}
		rows[i].Probability += c.probability
	}
	for i := range rows {
		if rows[i].Kind == OtherStandard {
			rows[i].Name = w.otherNames()
		}
	}
	slices.SortStableFunc(rows, func(a, b Odds) int { return cmp.Compare(b.Probability, a.Probability) })
	return rows
}

// otherNames names the best-fitting other standard, and those that come close to it.
func (w *weighed) otherNames() string {
	const near, most = 4, 3
	best := w.bestOther()
	var names []string
	for _, c := range w.candidates {
		if c.other != nil && c.score() > best.score()-math.Log(near) && len(names) < most {
			names = append(names, c.other.name)
		}
	}
	return strings.Join(names, " or ")
}

// bestOther gives the other standard that fits best; nil where none is weighed.
func (w *weighed) bestOther() *candidate {
	i := slices.IndexFunc(w.candidates, func(c candidate) bool { return c.other != nil })
	if i < 0 {
		return nil
	}
	return &w.candidates[i]
}

func (w *weighed) bestName() string {
	if best := w.bestOther(); best != nil {
		return best.other.name
	}
	return ""
}

func (w *weighed) counts() Counts {
	c := w.seen.Counts
	if best := w.bestOther(); best != nil {
		c.Apart, c.AtOther = best.other.apart, best.other.at
	}
	return c
}

// coincidence is the chance that a setting which is not where it should be lies at one certain value, such as another
// standard's. Common practice, no source: the values that people choose cluster, so that it is never very small.
func coincidence(s *sheet.Setting) float64 {
	switch s.Kind {
	case sheet.Switch:
		return 1
	case sheet.Choice:
		return 1 / float64(max(1, len(s.Options)-1))
	case sheet.Text:
		return 0.05
	default:
		return 0.2
	}
}
