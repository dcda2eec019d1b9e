package cause

import (
	"math"
	"slices"
	"testing"

	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const slack = 1e-9 // for rounding, on logarithms of odds and on probabilities

// items draws a fixture in which at least one reading differs.
func items(others bool) *rapid.Generator[[]item] {
	one := rapid.Custom(func(t *rapid.T) item {
		it := item{says: says(rapid.IntRange(0, int(saysLast)).Draw(t, "says")), telling: rapid.Bool().Draw(t, "telling")}
		switch rapid.IntRange(0, 9).Draw(t, "sort") {
		case 0:
			it.kept = true
		case 1:
			it.fixed = true
		}
		if others && rapid.Bool().Draw(t, "differs") {
			it.other = rapid.SampledFrom([]sheet.Value{factoryValue, houseValue, otherValue}).Draw(t, "other")
		}
		return it
	})
	return rapid.Custom(func(t *rapid.T) []item {
		found := rapid.SliceOfN(one, 0, 45).Draw(t, "items")
		return append(found, item{telling: true, says: rapid.SampledFrom([]says{factory, neither}).Draw(t, "drift")})
	})
}

func events() *rapid.Generator[[]EventKind] {
	return rapid.SliceOfN(rapid.SampledFrom(EventKinds()), 0, 4)
}

// logOdds gives the logarithm of the odds between two explanations, before they are rounded to probabilities.
func logOdds(in Input, a, b Kind) float64 {
	o := observe(in)
	belief := func(k Kind) float64 {
		at := slices.IndexFunc(beliefs, func(b belief) bool { return b.kind == k })
		return math.Log(beliefs[at].weightAfter(distinct(in.Events))) + o.fit(k)
	}
	return belief(a) - belief(b)
}

func TestOddsSumToOneBestFirst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Weigh(weighable(items(true).Draw(t, "items"), events().Draw(t, "events")...))
		require.Positive(t, r.Drifts)
		sum := 0.0
		for i, o := range r.Odds {
			require.True(t, o.Probability >= 0 && o.Probability <= 1, "%v", r.Odds)
			require.True(t, i == 0 || o.Probability <= r.Odds[i-1].Probability)
			sum += o.Probability
		}
		require.InDelta(t, 1, sum, 1e-9)
		require.Contains(t, []Kind{r.Odds[0].Kind, CannotTell}, r.Verdict)
		require.Equal(t, r.Counts.Telling, r.Counts.AtFactory+r.Counts.AtExpected+r.Counts.Neither)
		require.Equal(t, r.Counts.Read, r.Counts.Telling+r.Counts.Steady+r.Counts.Fixed)
		require.Equal(t, r.Drifts, r.Counts.AtFactory+r.Counts.Neither+r.Counts.SteadyOff+r.Counts.FixedOff)
	})
}

func TestOrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drawn, noted := items(true).Draw(t, "items"), events().Draw(t, "events")
		second := items(true).Draw(t, "second")
		one, two := shuffled(drawn, second, noted, nil), shuffled(drawn, second, noted, t)
		a, b := Weigh(one), Weigh(two)
		require.Equal(t, a.Counts, b.Counts)
		require.Equal(t, a.Reasons, b.Reasons)
		for i := range a.Odds {
			require.InDelta(t, a.Odds[i].Probability, probability(b, a.Odds[i].Kind), 1e-9)
		}
	})
}

// shuffled builds an input with two other standards; with t, in an order that t draws.
func shuffled(drawn, second []item, noted []EventKind, t *rapid.T) Input {
	in := weighable(drawn, noted...)
	in.Alternatives = append(in.Alternatives, Alternative{Name: "Second", Expected: overlay(in.Expected, second)})
	if t == nil {
		return in
	}
	in.Events = rapid.Permutation(noted).Draw(t, "events")
	in.Alternatives = rapid.Permutation(in.Alternatives).Draw(t, "alternatives")
	in.Expected.List = rapid.Permutation(in.Expected.List).Draw(t, "settings")
	return in
}

// overlay lays the values that the items were read as over a standard.
func overlay(x *standard.Expected, read []item) *standard.Expected {
	layer := standard.Layer{Level: standard.OfSite}
	for i, e := range x.List {
		if i < len(read) && read[i].value().Known() {
			layer.Sets = append(layer.Sets, standard.Set{Ref: e.Ref, Value: read[i].value()})
		}
	}
	return standard.Lay(x.Sheet, x.Appliance, []standard.Layer{layer})
}

// with gives the items with one more setting that tells, unread or read.
func with(items []item, s says) []item {
	return append(slices.Clone(items), item{telling: true, says: s})
}

func TestAReadingAtFactorySpeaksForAReset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drawn, noted := items(true).Draw(t, "items"), events().Draw(t, "events")
		before, after := weighable(with(drawn, unread), noted...), weighable(with(drawn, factory), noted...)
		for _, rival := range []Kind{Isolated, PartlyPutBack} {
			require.GreaterOrEqual(t, logOdds(after, FullReset, rival), logOdds(before, FullReset, rival)-slack, rival)
		}
	})
}

func TestAReadingAsExpectedSpeaksAgainstAReset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drawn, noted := items(false).Draw(t, "items"), events().Draw(t, "events")
		before, after := weighable(with(drawn, unread), noted...), weighable(with(drawn, expected), noted...)
		for _, rival := range []Kind{Isolated, PartlyPutBack} {
			require.LessOrEqual(t, logOdds(after, FullReset, rival), logOdds(before, FullReset, rival)+slack, rival)
		}
		require.LessOrEqual(t, probability(Weigh(after), FullReset), probability(Weigh(before), FullReset)+slack)
	})
}

func TestAPowerCutNeverSpeaksAgainstAReset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drawn, noted := items(true).Draw(t, "items"), events().Draw(t, "events")
		before, after := Weigh(weighable(drawn, noted...)), Weigh(weighable(drawn, append(slices.Clone(noted), PowerCut)...))
		require.GreaterOrEqual(t, probability(after, FullReset), probability(before, FullReset)-slack)
	})
}

func TestASettingThatAResetWouldNotShowOnSaysNothingOfAReset(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drawn, noted := items(true).Draw(t, "items"), events().Draw(t, "events")
		right := weighable(append(slices.Clone(drawn), item{says: expected}), noted...)
		off := weighable(append(slices.Clone(drawn), item{says: neither}), noted...)
		none := weighable(append(slices.Clone(drawn), item{says: unread}), noted...)
		for _, rival := range []Kind{Isolated, PartlyPutBack} {
			require.InDelta(t, logOdds(none, FullReset, rival), logOdds(right, FullReset, rival), slack, "read right")
		}
		require.Less(t, logOdds(off, FullReset, Isolated), logOdds(none, FullReset, Isolated), "read off: hands were there")
	})
}

func TestWhatWasNotReadIsNeverCountedAsRight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drawn, noted := items(true).Draw(t, "items"), events().Draw(t, "events")
		more := rapid.IntRange(1, 20).Draw(t, "unread")
		a, b := Weigh(weighable(drawn, noted...)), Weigh(weighable(append(slices.Clone(drawn), telling(more, unread)...), noted...))
		a.Counts.Unread += more
		require.Equal(t, a.Counts, b.Counts)
		require.Equal(t, a.Odds, b.Odds)
		require.Equal(t, a.Verdict, b.Verdict)
	})
}

func TestAnAbsentReadingIsAnEmptyOne(t *testing.T) {
	in := weighable(join(telling(6, factory), telling(5, unread)))
	empty := Weigh(in)
	for ref, v := range in.Readings {
		if !v.Known() {
			delete(in.Readings, ref)
		}
	}
	assert.Equal(t, empty, Weigh(in))
}

func TestMoreAgreementIsMoreCertain(t *testing.T) {
	before := 0.0
	for n := 1; n <= 45; n++ {
		r := Weigh(weighable(telling(n, factory)))
		p := probability(r, FullReset)
		require.Greater(t, p, before, "%d of %d at factory", n, n)
		before = p
		switch {
		case n < fewest:
			require.Equal(t, CannotTell, r.Verdict)
		case n == fewest:
			require.False(t, r.Sure(), "three readings shout")
		case n >= 11:
			require.True(t, r.Sure(), "%d of %d and yet only %f", n, n, p)
		}
	}
}

func TestThreeNeverShoutLikeThirty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		noted, steadies := events().Draw(t, "events"), rapid.IntRange(0, 20).Draw(t, "steady")
		of := func(n int) Input { return weighable(join(telling(n, factory), steady(steadies, expected)), noted...) }
		require.Less(t, probability(Weigh(of(3)), FullReset), probability(Weigh(of(30)), FullReset))
		require.Less(t, logOdds(of(3), FullReset, Isolated), logOdds(of(30), FullReset, Isolated))
		require.Less(t, logOdds(of(3), FullReset, PartlyPutBack), logOdds(of(30), FullReset, PartlyPutBack))
	})
}
