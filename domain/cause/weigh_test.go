package cause

import (
	"testing"

	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestVerdicts(t *testing.T) {
	apart := func(n int, s says) []item { return repeat(n, item{telling: true, says: s, other: otherValue}) }
	for name, c := range map[string]struct {
		items    []item
		events   []EventKind
		verdict  Kind
		sentence string
	}{
		"the Friday night": {join(telling(11, factory), steady(34, expected)), nil, FullReset,
			"All eleven house settings are back at factory values: this is a reset, not tampering."},
		"the Friday night, one value misread": {join(telling(10, factory), telling(1, expected), steady(34, expected)), []EventKind{PowerCut}, FullReset,
			"Ten of the eleven house settings are back at factory values: this is most likely a reset."},
		"half of it read": {join(telling(6, factory), telling(5, unread), steady(10, expected)), nil, FullReset,
			"All six house settings that were read are back at factory values: this is most likely a reset."},
		"half of it read, after a power cut": {join(telling(6, factory), telling(5, unread), steady(10, expected)), []EventKind{PowerCut}, FullReset,
			"All six house settings that were read are back at factory values: this is a reset, not tampering."},
		"partly put back": {join(telling(6, factory), telling(5, expected), steady(34, expected)), nil, PartlyPutBack,
			"Six of the eleven house settings are back at factory values and five are as expected: this is a reset that was only partly put back."},
		"one changed": {join(telling(10, expected), telling(1, neither), steady(34, expected)), nil, Isolated,
			"One setting is off, but ten of the eleven house settings are as expected: this is a change by hand or a misreading, not a reset."},
		"one that a reset would not show on": {join(telling(5, expected), telling(6, unread), steady(33, expected), steady(1, neither)), nil, Isolated,
			"One setting is off, but all five house settings that were read are as expected: this is a change by hand or a misreading, not a reset."},
		"another standard": {join(apart(9, theirs), steady(30, expected)), nil, OtherStandard,
			"All nine settings in which the standard of Copper Kettle differs read as it says: the controller is programmed to that standard."},
		"a wrong sheet": {join(telling(5, neither), telling(3, outside), steady(8, neither), steady(6, outside), steady(8, expected)), nil, WrongSheet,
			"22 of the 30 readings fit neither the standard nor the factory values: this is the wrong settings sheet or program. Check the controller type and its program before you put anything back."},
		"another program": {join(telling(11, expected), steady(20, expected), repeat(2, item{fixed: true, says: neither})), nil, WrongSheet,
			"Two read-only values are not as expected: this is most likely the wrong settings sheet or program. Check the controller type and its program before you put anything back."},
		"a checksum off": {join(telling(11, expected), steady(20, expected), repeat(1, item{fixed: true, says: neither})), nil, CannotTell,
			"One setting is off. What was read fits both a wrong settings sheet or program and a change by hand or a misreading: what happened cannot be told yet."},
		"a checksum off, after a program change": {join(telling(11, expected), steady(20, expected), repeat(1, item{fixed: true, says: neither})), []EventKind{ProgramChange}, WrongSheet,
			"One read-only value is not as expected: this is most likely the wrong settings sheet or program. Check the controller type and its program before you put anything back."},
		"two strange readings of a few": {join(telling(11, unread), steady(2, neither)), nil, CannotTell,
			"Two settings are off. No house setting that a reset would change was read: what happened cannot be told."},
		"no setting tells": {join(steady(30, expected), steady(1, neither)), []EventKind{PowerCut}, CannotTell,
			"One setting is off. No setting is expected to differ from factory, so nobody can tell whether the controller was reset."},
		"two tell": {join(telling(2, factory), steady(30, expected)), []EventKind{FactoryReset}, CannotTell,
			"Two settings are off. Only two house settings were read that a reset would change: too few to tell what happened."},
		"none that tells was read": {join(telling(11, unread), steady(3, neither)), nil, CannotTell,
			"Three settings are off. No house setting that a reset would change was read: what happened cannot be told."},
		"two explanations fit": {join(telling(1, factory), telling(3, expected), telling(1, unread)), nil, CannotTell,
			"One setting is off. What was read fits both a reset partly put back and a change by hand or a misreading: what happened cannot be told yet."},
	} {
		t.Run(name, func(t *testing.T) {
			r := Weigh(weighable(c.items, c.events...))
			assert.Equal(t, c.verdict, r.Verdict, "%v", r.Odds)
			assert.Equal(t, c.sentence, r.Sentence, "%v", r.Odds)
		})
	}
}

func TestFridayNightHasItsReasons(t *testing.T) {
	r := Weigh(weighable(join(telling(11, factory), steady(34, expected)), PowerCut, PowerCut))
	assert.Equal(t, []string{"11 of the 11 settings that differ from factory read factory.", "Noted before this reading: a power cut."}, r.Reasons)
	assert.True(t, r.Sure())
	assert.Equal(t, 11, r.Drifts)
	assert.Equal(t, Counts{Read: 45, Telling: 11, AtFactory: 11, Steady: 34}, r.Counts)
	assert.Contains(t, r.Working.Result, "A full reset, ")
	assert.Len(t, r.Working.Steps, 4, "one line for each explanation")
	assert.NotEmpty(t, r.Working.Formula)
	assert.Equal(t, "Bayes' rule; beta-binomial (Pólya) distribution. The priors and the shares are common practice, no source.", r.Working.Source)
	assert.Contains(t, r.Working.Uncertainty, "Left out: settings that were not read")
	assert.Equal(t, "11", r.Working.Inputs[0].Value)
}

func TestEveryCountIsSaid(t *testing.T) {
	r := Weigh(weighable(join(
		telling(3, factory), telling(2, expected), telling(1, neither), telling(1, unread),
		steady(5, expected), steady(1, outside), repeat(1, item{fixed: true, says: neither}), repeat(4, item{telling: true, says: theirs, other: otherValue}),
	), ProgramChange))
	assert.Equal(t, []string{
		"3 of the 10 settings that differ from factory read factory.",
		"2 of them read as expected.",
		"5 of them read neither factory nor as expected.",
		"1 of the 6 settings that a reset would not show on is off.",
		"1 value read is not allowed by the settings sheet.",
		"1 read-only value, such as the program checksum, is not as expected.",
		"4 of the 4 settings in which the standard of Copper Kettle differs read as it says.",
		"1 setting that would tell was not read and counts neither way.",
		"Noted before this reading: a program change.",
	}, r.Reasons)
	assert.Equal(t, 10, r.Drifts)
}

func TestNothingDiffers(t *testing.T) {
	r := Weigh(weighable(join(telling(11, expected), steady(20, expected), telling(4, unread)), PowerCut))
	assert.Equal(t, Result{Counts: Counts{Read: 31, Telling: 11, AtExpected: 11, Unread: 4, Steady: 20}}, r)
	assert.False(t, r.Sure())
}

func TestWhatIsNotExpectedSaysNothing(t *testing.T) {
	in := weighable(telling(11, factory))
	before := Weigh(in)
	settings := append(in.Expected.Sheet.Settings, sheet.Setting{Key: "free", Label: "Free", Kind: sheet.Text})
	layer := standard.Layer{Level: standard.OfSite}
	for _, e := range in.Expected.List {
		layer.Sets = append(layer.Sets, standard.Set{Ref: e.Ref, Value: e.Value})
	}
	in.Expected = standard.Lay(&sheet.Sheet{Settings: settings}, sheet.Appliance{}, []standard.Layer{layer})
	in.Readings[sheet.Ref{Key: "free"}] = "anything"
	assert.Equal(t, before, Weigh(in))
}

func TestAReadingWithinTheToleranceOfBothCountsNeitherWay(t *testing.T) {
	in := weighable(telling(12, factory))
	ref := sheet.Ref{Key: "setting-0"}
	in.Expected.List[0].Setting.Tolerance = 60
	in.Readings[ref] = "150"
	r := Weigh(in)
	assert.Equal(t, 11, r.Drifts)
	assert.Equal(t, Counts{Read: 12, Telling: 12, AtFactory: 11}, r.Counts)
}

func TestAnAcceptedDifferenceSaysNothing(t *testing.T) {
	items := join(telling(11, factory), steady(1, neither))
	in := weighable(items)
	in.Accepted = map[sheet.Ref]sheet.Value{{Key: "setting-11"}: strayValue}
	assert.Equal(t, Weigh(weighable(join(telling(11, factory), steady(1, unread)))), Weigh(in))
	in.Accepted = map[sheet.Ref]sheet.Value{{Key: "setting-11"}: otherValue}
	assert.Equal(t, Weigh(weighable(items)), Weigh(in), "accepted for another value")
}

func TestStandardsThatFitAlikeAreNamedTogether(t *testing.T) {
	in := weighable(join(repeat(9, item{telling: true, says: theirs, other: otherValue}), steady(20, expected)))
	in.Alternatives = append(in.Alternatives, Alternative{Name: "Blue Anchor", Expected: in.Alternatives[0].Expected},
		Alternative{Name: "As ours", Expected: in.Expected}, Alternative{Name: "Unknown"})
	r := Weigh(in)
	require.Equal(t, OtherStandard, r.Verdict)
	assert.Equal(t, "Blue Anchor or Copper Kettle", r.Odds[0].Name)
	assert.Len(t, r.Odds, 5)
}

func TestAgainst(t *testing.T) {
	for p, want := range map[float64]string{
		0: "less than 1 to 1000", 1.0 / 21: "1 to 20", 0.2: "1 to 4", 0.38: "2 to 3", 0.45: "about even", 0.5: "about even", 0.55: "about even",
		0.62: "3 to 2", 2.0 / 3: "2 to 1", 0.8: "4 to 1", 0.95: "19 to 1", 20.0 / 21: "20 to 1", 0.9999: "more than 1000 to 1", 1: "more than 1000 to 1",
	} {
		assert.Equal(t, want, Odds{Probability: p}.Against(), p)
	}
}

func TestEveryKindHasItsWords(t *testing.T) {
	seen := map[string]bool{"": true}
	for _, k := range append(Kinds(), CannotTell) {
		assert.False(t, seen[Headline(k)], k)
		seen[Headline(k)] = true
	}
	assert.Empty(t, Headline(""))
	for _, k := range EventKinds() {
		assert.Regexp(t, "^a ", Words(k))
		assert.False(t, seen[Words(k)], k)
		seen[Words(k)] = true
	}
}
