package cause

import (
	"fmt"
	"math"

	"frywright/domain/working"
)

// work explains the odds: every count, every prior, how well each explanation fits and what comes of it.
func (r *Result) work(w *weighed) working.Working {
	return working.Working{
		Title:  "What happened",
		Result: fmt.Sprintf("%s (%s)", r.Sentence, r.Odds[0].strength()),
		Inputs: r.inputs(w.bestName()),
		Formula: "Probability of an explanation = its prior × how well the readings fit it, divided by the sum of the same over all explanations. " +
			"How well they fit: each explanation expects a share of the settings that tell to read factory (near none for a change by hand, near all for a reset, any share for one partly put back); " +
			"that share follows a beta distribution, so the counts follow a beta-binomial one, and few readings never weigh like many. " +
			"Readings that the explanation does not account for, values that the sheet does not allow and read-only values that differ are weighed in the same way.",
		Steps:  w.steps(),
		Source: "Bayes' rule; beta-binomial (Pólya) distribution. The priors and the shares are common practice, no source.",
		Uncertainty: fmt.Sprintf("An explanation is named from %.0f to 1 on, where at least %d settings tell, and stated as a fact from %.0f to 1 on. "+
			"One misread value cannot be told from one changed by hand. Left out: settings that were not read, settings for which nothing is expected, "+
			"settings that read right and would read the same after a reset, two causes at once, and anything that is not on this list of explanations.",
			likely/(1-likely), fewest, certain/(1-certain)),
	}
}

func (o Odds) strength() string { return fmt.Sprintf("%s, %s", o.Label(), o.Against()) }

func (r *Result) inputs(other string) []working.Line {
	c := r.Counts
	const reading, sheet = "the reading, against the expected settings", "the reading, against the settings sheet"
	lines := []working.Line{
		{Label: "Settings read that tell: expected to differ from factory, erased by a reset", Value: fmt.Sprint(c.Telling), From: reading},
		{Label: "of them, at the factory value", Value: fmt.Sprint(c.AtFactory), From: reading},
		{Label: "of them, as expected", Value: fmt.Sprint(c.AtExpected), From: reading},
		{Label: "of them, neither", Value: fmt.Sprint(c.Neither), From: reading},
		{Label: "Settings that would tell but were not read", Value: fmt.Sprint(c.Unread), From: "the expected settings"},
		{Label: "Settings that a reset would not show on, off", Value: fmt.Sprintf("%d of %d", c.SteadyOff, c.Steady), From: reading},
		{Label: "Values that the sheet does not allow", Value: fmt.Sprint(c.OffSheet), From: sheet},
		{Label: "Read-only values that differ", Value: fmt.Sprintf("%d of %d", c.FixedOff, c.Fixed), From: reading},
	}
	if other != "" {
		lines = append(lines, working.Line{Label: "Settings at the best-fitting other standard, of those in which it differs from ours",
			Value: fmt.Sprintf("%d of %d", c.AtOther, c.Apart), From: "standard of " + other})
	}
	return lines
}

// steps gives one line for each explanation, its fit against that of the one that fits best.
func (w *weighed) steps() []string {
	total, best := 0.0, math.Inf(-1)
	for _, c := range w.candidates {
		total += c.prior
		best = max(best, c.fit)
	}
	lines := make([]string, len(w.candidates))
	for i, c := range w.candidates {
		label := Odds{Kind: c.kind}
		if c.other != nil {
			label.Name = c.other.name
		}
		lines[i] = fmt.Sprintf("%s: prior %.3g × fit %.2g of the best → probability %.3g", label.Label(), c.prior/total, math.Exp(c.fit-best), c.probability)
	}
	return lines
}
