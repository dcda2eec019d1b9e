package sheet_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"frywright/domain/fault"
	"frywright/domain/sheet"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// whole is a sheet with one of everything and nothing wrong.
func whole() *sheet.Sheet {
	is := func(key string, op sheet.Op, values ...sheet.Value) sheet.Condition {
		return sheet.Condition{Setting: key, Op: op, Values: values}
	}
	return &sheet.Sheet{
		ID: uuid.MustParse("0190f5a0-0000-7000-8000-000000000001"), Code: "heron-9", Name: "Heron 9",
		Settings: []sheet.Setting{
			{Key: "setpoint", Label: "Fry setpoint", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Factory: "350", Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 1, Role: sheet.RoleSetpoint, Menu: 1},
			{Key: "idle", Label: "Idle temperature", Group: "Frying", Kind: sheet.Number, Unit: "°F", Factory: "250", Scope: sheet.PerVat, Class: sheet.Output, After: []string{"setpoint"}},
			{Key: "profile", Label: "Heat profile", Group: "Heat", Kind: sheet.Choice, Options: []sheet.Option{{Key: "gas", Label: "Gas"}, {Key: "plain", Label: "Plain"}}, Factory: "gas", Scope: sheet.PerController, Class: sheet.Output, Energies: []sheet.Energy{sheet.Gas}, Pots: []sheet.Pot{sheet.SplitPot, sheet.SinglePot}},
			{Key: "pilot", Label: "Standing pilot", Group: "Heat", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety, After: []string{"profile"}},
			{Key: "sum", Label: "Checksum", Group: "About", Kind: sheet.Text, Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true, Role: sheet.RoleChecksum},
		},
		Interlocks: []sheet.Interlock{
			{Key: "pilot", Label: "A standing pilot needs gas", Class: sheet.Safety, When: []sheet.Condition{is("pilot", sheet.Is, "on")}, Must: []sheet.Condition{is("profile", sheet.OneOf, "gas", "plain"), is(sheet.FactEnergy, sheet.Is, "gas")}},
			{Key: "idle", Label: "Idle is under the setpoint", Class: sheet.Minor, Must: []sheet.Condition{{Setting: "idle", Op: sheet.AtMost, Than: "setpoint", Plus: -10}, is("idle", sheet.AtLeast, "100"), is("sum", sheet.IsNot, "0000")}},
		},
	}
}

func TestAWholeSheetIsValid(t *testing.T) {
	require.NoError(t, whole().Validate())
	require.NoError(t, sheet.Saved{Sheet: *whole()}.Validate())
	assert.Equal(t, "sheet.saved", sheet.Saved{}.Kind())
}

// TestEachProblemIsFound has one row a problem; the sheet has no other.
func TestEachProblemIsFound(t *testing.T) {
	set := func(s *sheet.Sheet, i int) *sheet.Setting { return &s.Settings[i] }
	must := func(c sheet.Condition) func(*sheet.Sheet) {
		return func(s *sheet.Sheet) { s.Interlocks[1].Must = []sheet.Condition{c} }
	}
	v := func(values ...sheet.Value) []sheet.Value { return values }
	for name, tt := range map[string]struct {
		spoil   func(s *sheet.Sheet)
		field   string
		message string // contained
	}{
		"no id":                   {func(s *sheet.Sheet) { s.ID = uuid.Nil }, "id", "no id"},
		"no code":                 {func(s *sheet.Sheet) { s.Code = "" }, "code", "short code"},
		"a code with a slash":     {func(s *sheet.Sheet) { s.Code = "a/b" }, "code", "short code"},
		"no name":                 {func(s *sheet.Sheet) { s.Name = " " }, "name", "name"},
		"too many settings":       {func(s *sheet.Sheet) { s.Settings = make([]sheet.Setting, 501) }, "settings", "at most 500"},
		"too many interlocks":     {func(s *sheet.Sheet) { s.Interlocks = make([]sheet.Interlock, 501) }, "settings", "at most 500"},
		"a key twice":             {func(s *sheet.Sheet) { set(s, 4).Key = "pilot"; s.Interlocks[1].Must = s.Interlocks[1].Must[:2] }, "setting.pilot.key", "twice"},
		"a key in capitals":       {func(s *sheet.Sheet) { set(s, 4).Key = "Sum"; s.Interlocks[1].Must[2].Setting = "Sum" }, "setting.Sum.key", "small letters"},
		"a key like a fact":       {func(s *sheet.Sheet) { set(s, 4).Key = "@sum"; s.Interlocks[1].Must = s.Interlocks[1].Must[:2] }, "setting.@sum.key", "small letters"},
		"no label":                {func(s *sheet.Sheet) { set(s, 4).Label = "" }, "setting.sum.label", "label"},
		"no group":                {func(s *sheet.Sheet) { set(s, 4).Group = "  " }, "setting.sum.group", "group"},
		"an override in a label":  {func(s *sheet.Sheet) { set(s, 4).Label = "sum\u202e" }, "setting.sum.label", "U+202E"},
		"a group of two lines":    {func(s *sheet.Sheet) { set(s, 4).Group = "a\nb" }, "setting.sum.group", "one line"},
		"a unit like a sentence":  {func(s *sheet.Sheet) { set(s, 4).Unit = strings.Repeat("x", 21) }, "setting.sum.unit", "20"},
		"a long note":             {func(s *sheet.Sheet) { set(s, 4).Note = strings.Repeat("x", 4001) }, "setting.sum.note", "4000"},
		"a damaged name":          {func(s *sheet.Sheet) { s.Name = "Quern \xff" }, "name", "damaged"},
		"an endless tolerance":    {func(s *sheet.Sheet) { set(s, 1).Tolerance = math.Inf(1) }, "setting.idle.tolerance", "not too large"},
		"an endless step":         {func(s *sheet.Sheet) { set(s, 1).Step = 1e300 }, "setting.idle.tolerance", "not too large"},
		"no lowest value at all":  {func(s *sheet.Sheet) { set(s, 1).Min = num(math.Inf(-1)) }, "setting.idle.min", "can be typed"},
		"a slot far beyond":       {func(s *sheet.Sheet) { set(s, 4).Menu = 501 }, "setting.sum.menu", "from 1"},
		"a tag in a rule":         {func(s *sheet.Sheet) { s.Interlocks[1].Label = "rule\U000e0041" }, "interlock.idle.label", "U+E0041"},
		"no kind":                 {func(s *sheet.Sheet) { set(s, 4).Kind = "" }, "setting.sum.kind", "number, choice, switch or text"},
		"no scope":                {func(s *sheet.Sheet) { set(s, 4).Scope = "" }, "setting.sum.scope", "controller or vat"},
		"no class":                {func(s *sheet.Sheet) { set(s, 4).Class = 0 }, "setting.sum.class", "safety, food, output or minor"},
		"a class beyond":          {func(s *sheet.Sheet) { set(s, 4).Class = 5 }, "setting.sum.class", "safety, food, output or minor"},
		"a negative tolerance":    {func(s *sheet.Sheet) { set(s, 1).Tolerance = -1 }, "setting.idle.tolerance", "not negative"},
		"a tolerance that is NaN": {func(s *sheet.Sheet) { set(s, 1).Tolerance = math.NaN() }, "setting.idle.tolerance", "not negative"},
		"a negative step":         {func(s *sheet.Sheet) { set(s, 1).Step = -1 }, "setting.idle.tolerance", "not negative"},
		"an upside-down range":    {func(s *sheet.Sheet) { set(s, 1).Min, set(s, 1).Max, set(s, 1).Factory = num(2), num(1), "" }, "setting.idle.min", "above the highest"},
		"no options":              {func(s *sheet.Sheet) { set(s, 4).Kind = sheet.Choice; s.Interlocks[1].Must = s.Interlocks[1].Must[:2] }, "setting.sum.options", "needs options"},
		"an option without a key": {func(s *sheet.Sheet) { set(s, 2).Options = append(set(s, 2).Options, sheet.Option{Label: "Eco"}) }, "setting.profile.options", "“Eco”"},
		"an option twice": {func(s *sheet.Sheet) {
			set(s, 2).Options = append(set(s, 2).Options, sheet.Option{Key: "gas", Label: "Eco"})
		}, "setting.profile.options", "“Eco”"},
		"a factory value beyond":        {func(s *sheet.Sheet) { set(s, 0).Factory = "400" }, "setting.setpoint.factory", "Factory value: 400"},
		"a factory value badly written": {func(s *sheet.Sheet) { set(s, 0).Factory = "350.0" }, "setting.setpoint.factory", "to be written 350"},
		"a factory value unlisted":      {func(s *sheet.Sheet) { set(s, 2).Factory = "eco" }, "setting.profile.factory", "offers: Gas, Plain"},
		"an energy that is none":        {func(s *sheet.Sheet) { set(s, 2).Energies = []sheet.Energy{"wood"} }, "setting.profile.energies", "gas and electric"},
		"a pot that is none":            {func(s *sheet.Sheet) { set(s, 2).Pots = []sheet.Pot{"triple"} }, "setting.profile.pots", "single and split"},
		"a role that is none":           {func(s *sheet.Sheet) { set(s, 4).Role = "king" }, "setting.sum.role", "king"},
		"a setpoint without a unit":     {func(s *sheet.Sheet) { set(s, 0).Unit = "" }, "setting.setpoint.role", "°F or °C"},
		"a setpoint in another unit":    {func(s *sheet.Sheet) { set(s, 0).Unit = "F" }, "setting.setpoint.role", "°F or °C"},
		"a top temperature in words":    {func(s *sheet.Sheet) { set(s, 4).Role = sheet.RoleTopTemp }, "setting.sum.role", "°F or °C"},
		"a menu slot below one":         {func(s *sheet.Sheet) { set(s, 0).Menu = -1 }, "setting.setpoint.menu", "from 1"},
		"after nothing":                 {func(s *sheet.Sheet) { set(s, 4).After = []string{"none"} }, "setting.sum.after", "no setting none"},
		"after itself":                  {func(s *sheet.Sheet) { set(s, 4).After = []string{"sum"} }, "setting.sum.after", "It waits for itself."},
		"a loop of two":                 {func(s *sheet.Sheet) { set(s, 0).After = []string{"idle"} }, "setting.setpoint.after", "These wait for each other: setpoint, idle."},
		"a loop of three": {func(s *sheet.Sheet) { set(s, 2).After, set(s, 4).After = []string{"sum"}, []string{"pilot"} },
			"setting.profile.after", "These wait for each other: profile, sum, pilot."},
		"an interlock without a key":   {func(s *sheet.Sheet) { s.Interlocks[1].Key = "" }, "interlock..key", "key of its own"},
		"an interlock's key twice":     {func(s *sheet.Sheet) { s.Interlocks[1].Key = "pilot" }, "interlock.pilot.key", "key of its own"},
		"an interlock without a label": {func(s *sheet.Sheet) { s.Interlocks[1].Label = "" }, "interlock.idle.label", "one sentence"},
		"an interlock without a class": {func(s *sheet.Sheet) { s.Interlocks[1].Class = 0 }, "interlock.idle.class", "safety, food, output or minor"},
		"an interlock without a must":  {func(s *sheet.Sheet) { s.Interlocks[1].Must = nil }, "interlock.idle.must", "what must hold"},
		"a condition in when": {func(s *sheet.Sheet) {
			s.Interlocks[1].When = []sheet.Condition{{Setting: "none", Op: sheet.Is, Values: v("1")}}
		},
			"interlock.idle.must", "no setting none"},
		"of no setting":              {must(sheet.Condition{Setting: "none", Op: sheet.Is, Values: v("1")}), "interlock.idle.must", "no setting none"},
		"of no fact":                 {must(sheet.Condition{Setting: "@mood", Op: sheet.Is, Values: v("1")}), "interlock.idle.must", "no setting @mood"},
		"no comparison":              {must(sheet.Condition{Setting: "idle", Values: v("1")}), "interlock.idle.must", "“” is not a comparison"},
		"an unknown comparison":      {must(sheet.Condition{Setting: "idle", Op: "near", Values: v("1")}), "interlock.idle.must", "“near” is not a comparison"},
		"with nothing":               {must(sheet.Condition{Setting: "idle", Op: sheet.Is}), "interlock.idle.must", "what idle is compared with"},
		"is with several":            {must(sheet.Condition{Setting: "idle", Op: sheet.Is, Values: v("1", "2")}), "interlock.idle.must", "that is one-of"},
		"is with another":            {must(sheet.Condition{Setting: "idle", Op: sheet.Is, Than: "setpoint"}), "interlock.idle.must", "with a value, not with another setting"},
		"at-most with nothing":       {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost}), "interlock.idle.must", "one number or with another setting"},
		"at-most with two":           {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Values: v("1", "2")}), "interlock.idle.must", "one number or with another setting"},
		"at-most with a word":        {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Values: v("hot")}), "interlock.idle.must", "a number or another setting"},
		"at-most with both":          {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Than: "setpoint", Values: v("1")}), "interlock.idle.must", "not with both"},
		"at-most of a switch":        {must(sheet.Condition{Setting: "pilot", Op: sheet.AtMost, Values: v("1")}), "interlock.idle.must", "pilot is not a number"},
		"at-most of a fact":          {must(sheet.Condition{Setting: sheet.FactPot, Op: sheet.AtMost, Values: v("1")}), "interlock.idle.must", "@pot is not a number"},
		"than nothing":               {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Than: "none"}), "interlock.idle.must", "no setting none to compare with"},
		"than a switch":              {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Than: "pilot"}), "interlock.idle.must", "pilot is not a number to compare with"},
		"than a fact":                {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Than: sheet.FactEnergy}), "interlock.idle.must", "no setting @energy to compare with"},
		"plus without than":          {must(sheet.Condition{Setting: "idle", Op: sheet.AtMost, Values: v("1"), Plus: 5}), "interlock.idle.must", "one number or with another setting"},
		"an energy that cannot be":   {must(sheet.Condition{Setting: sheet.FactEnergy, Op: sheet.Is, Values: v("steam")}), "interlock.idle.must", "gas and electric"},
		"a pot that cannot be":       {must(sheet.Condition{Setting: sheet.FactPot, Op: sheet.IsNot, Values: v("round")}), "interlock.idle.must", "single and split"},
		"an option that cannot be":   {must(sheet.Condition{Setting: "profile", Op: sheet.OneOf, Values: v("gas", "eco")}), "interlock.idle.must", "profile is never “eco”"},
		"a switch that cannot be":    {must(sheet.Condition{Setting: "pilot", Op: sheet.Is, Values: v("On")}), "interlock.idle.must", "pilot is never “On”"},
		"a number that is none":      {must(sheet.Condition{Setting: "idle", Op: sheet.Is, Values: v("cold")}), "interlock.idle.must", "idle is a number"},
		"a number written otherwise": {must(sheet.Condition{Setting: "idle", Op: sheet.Is, Values: v("250.0")}), "interlock.idle.must", "idle is a number"},
		"a text that is empty":       {must(sheet.Condition{Setting: "sum", Op: sheet.Is, Values: v("")}), "interlock.idle.must", "sum is never “”"},
	} {
		t.Run(name, func(t *testing.T) {
			s := whole()
			tt.spoil(s)
			err := s.Validate()
			require.Error(t, err)
			assert.Equal(t, fault.Invalid, fault.KindOf(err))
			fields := fault.FieldsOf(err)
			require.Len(t, fields, 1, "%v", fields)
			assert.Equal(t, tt.field, fields[0].Name)
			assert.Contains(t, fields[0].Message, tt.message)
		})
	}
}

// TestALongChainIsNoLoop: settings that share what they wait for do not wait for each other.
func TestALongChainIsNoLoop(t *testing.T) {
	s := whole()
	s.Interlocks = nil
	s.Settings = s.Settings[:1]
	for i := range 499 {
		set := sheet.Setting{Key: fmt.Sprintf("k%d", i), Label: "x", Group: "x", Kind: sheet.Switch, Scope: sheet.PerVat, Class: sheet.Minor, After: []string{"setpoint"}}
		if i > 1 {
			set.After = append(set.After, fmt.Sprintf("k%d", i-1), fmt.Sprintf("k%d", i-2))
		}
		s.Settings = append(s.Settings, set)
	}
	require.NoError(t, s.Validate())
	s.Settings[0].After = []string{"k498"}
	require.ErrorContains(t, s.Validate(), "These wait for each other: "+strings.Join([]string{"setpoint", "k498"}, ", "))
}
