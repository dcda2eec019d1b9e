package intake_test

import (
	"testing"

	"frywright/domain/fault"
	"frywright/domain/intake"
	"frywright/domain/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseConditions(t *testing.T) {
	is := func(key string, values ...sheet.Value) sheet.Condition {
		return sheet.Condition{Setting: key, Op: sheet.Is, Values: values}
	}
	for text, want := range map[string][]sheet.Condition{
		"":                                      nil,
		" ; \n ;":                               nil,
		"pilot is on":                           {is("pilot", "on")},
		"pilot is-not on":                       {{Setting: "pilot", Op: sheet.IsNot, Values: []sheet.Value{"on"}}},
		"pilot is not on":                       {{Setting: "pilot", Op: sheet.IsNot, Values: []sheet.Value{"on"}}},
		"PILOT  IS   on ;":                      {is("pilot", "on")},
		"@energy is gas":                        {is("@energy", "gas")},
		"name is Fish night":                    {is("name", "Fish night")},
		"name is notable":                       {is("name", "notable")},
		`name is "not on"`:                      {is("name", "not on")},
		`name is ""`:                            {is("name", "")},
		`name is "a ""b"" ; c|d"; pilot is on`:  {is("name", `a "b" ; c|d`), is("pilot", "on")},
		"p one-of a|b | c d":                    {{Setting: "p", Op: sheet.OneOf, Values: []sheet.Value{"a", "b", "c d"}}},
		"p one of \"a\" | b":                    {{Setting: "p", Op: sheet.OneOf, Values: []sheet.Value{"a", "b"}}},
		"a is 1\nb is 2":                        {is("a", "1"), is("b", "2")},
		"idle at-most 325":                      {{Setting: "idle", Op: sheet.AtMost, Values: []sheet.Value{"325"}}},
		"idle at most −3,5 °F":                  {{Setting: "idle", Op: sheet.AtMost, Values: []sheet.Value{"-3.5"}}},
		"idle at-least than cook":               {{Setting: "idle", Op: sheet.AtLeast, Than: "cook"}},
		"idle at-most than cook + -10":          {{Setting: "idle", Op: sheet.AtMost, Than: "cook", Plus: -10}},
		"idle at-most than cook - 10":           {{Setting: "idle", Op: sheet.AtMost, Than: "cook", Plus: -10}},
		"idle at-most cook + 2.5; pilot is off": {{Setting: "idle", Op: sheet.AtMost, Than: "cook", Plus: 2.5}, is("pilot", "off")},
		"pilot is on ; @energy is gas ; profile one-of gas-standard|thermostat ; idle at-most than cook + -10": {
			is("pilot", "on"), is("@energy", "gas"),
			{Setting: "profile", Op: sheet.OneOf, Values: []sheet.Value{"gas-standard", "thermostat"}},
			{Setting: "idle", Op: sheet.AtMost, Than: "cook", Plus: -10},
		},
	} {
		got, err := intake.ParseConditions(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
	}
}

func TestConditionsThatAreRefused(t *testing.T) {
	for text, message := range map[string]string{
		"pilot":                         "After pilot comes is, is-not, one-of, at-least or at-most, not “”.",
		"pilot equals on":               "After pilot comes is, is-not, one-of, at-least or at-most, not “equals”.",
		"pilot is":                      "Say what pilot is compared with.",
		"pilot is on ; pilot is ;":      "Say what pilot is compared with.",
		"pilot is not":                  "Say what pilot is compared with.",
		"p one-of a||b":                 "Say what p is compared with.",
		"Größe is 1":                    "“größe” is not the key of a setting.",
		"a_b is 1":                      "“a_b” is not the key of a setting.",
		`name is "abc`:                  "The quotation mark after name is is not closed.",
		`name is "abc" d`:               "After the quotation marks of name is comes | or ; and nothing else.",
		`name is 5" pipe`:               "The quotation marks of “5\" pipe” stand around the whole value, or not at all.",
		"idle at-most 1|2":              "idle at-most compares with one number only.",
		"idle at-most than":             "“” is not the key of a setting.",
		"idle at-most than cook 10":     "After cook comes + and a number, not “10”.",
		"idle at-most than cook + much": "“ much” is not a number to add to cook.",
		"idle at-most a b c":            "After a comes + and a number, not “b c”.",
	} {
		_, err := intake.ParseConditions(text)
		require.Error(t, err, text)
		assert.Equal(t, fault.Invalid, fault.KindOf(err))
		assert.Equal(t, message, fault.MessageOf(err), text)
	}
}

func TestFormatConditions(t *testing.T) {
	list := []sheet.Condition{
		{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}},
		{Setting: "profile", Op: sheet.OneOf, Values: []sheet.Value{"gas-standard", "thermostat"}},
		{Setting: "name", Op: sheet.IsNot, Values: []sheet.Value{`5" ; 6`}},
		{Setting: "idle", Op: sheet.AtMost, Than: "cook", Plus: -10},
		{Setting: "idle", Op: sheet.AtLeast, Values: []sheet.Value{"200"}},
	}
	assert.Equal(t, `pilot is on ; profile one-of gas-standard|thermostat ; name is-not "5"" ; 6" ; idle at-most than cook + -10 ; idle at-least 200`,
		intake.FormatConditions(list))
}

func TestCanonicalConditions(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{
		{Key: "pilot", Kind: sheet.Switch},
		{Key: "profile", Kind: sheet.Choice, Options: []sheet.Option{{Key: "a", Label: "b"}, {Key: "b", Label: "Gas, standard"}}},
		{Key: "cook", Kind: sheet.Number},
	}}
	list, err := intake.ParseConditions("pilot is Yes; profile one-of gas, standard|b|a|z; cook is 350,50; @energy is GAS; other is Yes; cook at-most than cook + 1")
	require.NoError(t, err)
	assert.Equal(t, "pilot is on ; profile one-of b|b|a|z ; cook is 350.5 ; @energy is gas ; other is Yes ; cook at-most than cook + 1",
		intake.FormatConditions(intake.Canonical(s, list)))
	assert.Equal(t, sheet.Value("Yes"), list[0].Values[0], "the list that was handed in stays")
}

// conditionsGen makes conditions of every form, with values that need quotation marks among them.
func conditionsGen() *rapid.Generator[[]sheet.Condition] {
	key := rapid.StringMatching(`@?[a-z0-9][a-z0-9.-]{0,8}`)
	value := rapid.Custom(func(t *rapid.T) sheet.Value {
		return sheet.Value(rapid.OneOf(rapid.String(), rapid.StringOfN(rapid.SampledFrom([]rune(`ab not;|" '+-1.`+"\n\u00a0")), 0, 12, -1), rapid.SampledFrom([]string{"not", "not on", "Not\u00a0on", "than", "than cook"})).Draw(t, "value"))
	})
	number := rapid.Float64Range(-1e9, 1e9)
	return rapid.SliceOf(rapid.Custom(func(t *rapid.T) sheet.Condition {
		c := sheet.Condition{Setting: key.Draw(t, "key"), Op: rapid.SampledFrom([]sheet.Op{sheet.Is, sheet.IsNot, sheet.OneOf, sheet.AtLeast, sheet.AtMost}).Draw(t, "op")}
		switch {
		case c.Op != sheet.AtLeast && c.Op != sheet.AtMost:
			c.Values = rapid.SliceOfN(value, 1, 4).Draw(t, "values")
		case rapid.Bool().Draw(t, "than"):
			c.Than = key.Draw(t, "other")
			c.Plus = rapid.OneOf(rapid.Just(0.0), number).Draw(t, "plus")
		default:
			c.Values = []sheet.Value{rapid.OneOf(value, rapid.Map(number, sheet.Num)).Draw(t, "limit")}
		}
		return c
	}))
}

func TestConditionsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := conditionsGen().Draw(t, "conditions")
		text := intake.FormatConditions(list)
		back, err := intake.ParseConditions(text)
		require.NoError(t, err, text)
		require.Equal(t, len(list), len(back), text)
		for i := range list {
			require.Equal(t, list[i], back[i], text)
		}
	})
}

func FuzzParseConditions(f *testing.F) {
	for _, text := range []string{
		"pilot is on ; @energy is gas ; profile one-of gas-standard|thermostat ; idle at-most than cook + -10",
		`name is "a ""b"" ; c|d"`, "a at-least -3,5 °F\nb is not c", "x at-most y - 3", `a is "`, "a at-most \"b\"", "a is 1;;b is 2|",
	} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		list, err := intake.ParseConditions(text)
		if err != nil {
			require.Equal(t, fault.Invalid, fault.KindOf(err))
			require.NotEmpty(t, fault.MessageOf(err))
			return
		}
		back, err := intake.ParseConditions(intake.FormatConditions(list))
		require.NoError(t, err, text)
		require.Equal(t, list, back, text)
	})
}
