package rule_test

import (
	"testing"

	"frywright/domain/fault"
	"frywright/domain/rule"
	"frywright/domain/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	potatoKey = "eu-2017-2158-potato"
	limitKey  = "nfpa-96-high-limit"
)

var (
	single = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}
	split  = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SplitPot}
)

// menu is a sheet with two menu slots, an idle setpoint of no slot and a top temperature, all in one unit.
func menu(unit string) *sheet.Sheet {
	product := func(key string, slot int) sheet.Setting {
		return sheet.Setting{Key: key, Label: key, Kind: sheet.Choice, Scope: sheet.PerVat, Role: sheet.RoleProduct, Menu: slot,
			Options: []sheet.Option{{Key: sheet.ProductPotato, Label: "Fries"}, {Key: "fish", Label: "Fish"}}}
	}
	temperature := func(key string, role sheet.Role, slot int) sheet.Setting {
		return sheet.Setting{Key: key, Label: key, Kind: sheet.Number, Unit: unit, Scope: sheet.PerVat, Role: role, Menu: slot}
	}
	top := temperature("top", sheet.RoleTopTemp, 0)
	top.Scope = sheet.PerController
	return &sheet.Sheet{Settings: []sheet.Setting{
		product("product-1", 1), temperature("setpoint-1", sheet.RoleSetpoint, 1),
		product("product-2", 2), temperature("setpoint-2", sheet.RoleSetpoint, 2),
		temperature("idle", sheet.RoleSetpoint, 0), top, {Key: "clock", Kind: sheet.Number, Unit: unit, Scope: sheet.PerController},
	}}
}

func check(key, unit string, a sheet.Appliance, values map[string]sheet.Value) []rule.Breach {
	return rule.Check([]string{key}, menu(unit), a, func(r sheet.Ref) sheet.Value { return values[r.String()] })
}

// TestPotatoProductsAreFriedBelow175 checks the limit of Commission Regulation (EU) 2017/2158, Annex II part A 1: below
// 175 °C. 175 °C are 347 °F exactly: 175 × 1.8 + 32.
func TestPotatoProductsAreFriedBelow175(t *testing.T) {
	assert.InDelta(t, 347, 175*1.8+32, 0)
	for _, tt := range []struct {
		unit  string
		v     sheet.Value
		wrong bool
	}{
		{"°C", "174.9", false}, {"°C", "175", true}, {"°C", "175.0", true}, {"°C", "174.999", false}, {"°C", "190", true}, {"°C", "160", false},
		{"°F", "346.9", false}, {"°F", "347", true}, {"°F", "346", false}, {"°F", "350", true}, {"°F", "175", false},
		{"°C", "", false}, {"°C", "Err", false}, {"K", "448", false},
	} {
		found := check(potatoKey, tt.unit, single, map[string]sheet.Value{"product-1@1": "potato", "setpoint-1@1": tt.v})
		assert.Equal(t, tt.wrong, len(found) == 1, "%s %s", tt.v, tt.unit)
	}
}

func TestABreachSaysWhatAndByWhichLaw(t *testing.T) {
	found := check(potatoKey, "°F", split, map[string]sheet.Value{"product-1@2": "potato", "setpoint-1@2": "350"})
	assert.Equal(t, []rule.Breach{{
		Rule: potatoKey, Title: "Potato products fried below 175 °C", Source: "Commission Regulation (EU) 2017/2158, Annex II part A", Class: sheet.Food,
		Ref: sheet.Ref{Key: "setpoint-1", Vat: 2}, Value: "350", Message: "setpoint-1 is 350\u00a0°F; potato products are fried below 175 °C (347 °F).",
	}}, found)
}

func TestThePotatoRuleLooksAtPotatoesOnly(t *testing.T) {
	for name, tt := range map[string]struct {
		values map[string]sheet.Value
		found  int
	}{
		"fish":                        {map[string]sheet.Value{"product-1@1": "fish", "setpoint-1@1": "190"}, 0},
		"a product that was not read": {map[string]sheet.Value{"setpoint-1@1": "190"}, 0},
		"potatoes in the other slot":  {map[string]sheet.Value{"product-2@1": "potato", "setpoint-1@1": "190"}, 0},
		"potatoes in the other vat":   {map[string]sheet.Value{"product-1@2": "potato", "setpoint-1@1": "190"}, 0},
		"no slot":                     {map[string]sheet.Value{"product-1@1": "potato", "idle@1": "190"}, 0},
		"both vats and both slots": {map[string]sheet.Value{
			"product-1@1": "potato", "product-1@2": "potato", "product-2@1": "potato", "product-2@2": "fish",
			"setpoint-1@1": "190", "setpoint-1@2": "190", "setpoint-2@1": "190", "setpoint-2@2": "190",
		}, 3},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Len(t, check(potatoKey, "°C", split, tt.values), tt.found)
		})
	}
}

// TestAProductForBothVats: one setting says for the whole controller what a slot cooks.
func TestAProductForBothVats(t *testing.T) {
	s := menu("°C")
	s.Settings[0].Scope = sheet.PerController
	values := map[string]sheet.Value{"product-1": "potato", "setpoint-1@1": "175", "setpoint-1@2": "180"}
	assert.Len(t, rule.Check([]string{potatoKey}, s, split, func(r sheet.Ref) sheet.Value { return values[r.String()] }), 2)
}

// TestNothingReachesTheHighLimit checks the high limit of NFPA 96 as the NYC Fire Code 609.4.1.1.2 prints it: 475 °F
// (246 °C). The two are not the same to the last digit; a setting is held to the one in its own unit.
func TestNothingReachesTheHighLimit(t *testing.T) {
	assert.InDelta(t, 246.1, (475-32)/1.8, 0.05)
	for _, tt := range []struct {
		unit  string
		v     sheet.Value
		wrong bool
	}{
		{"°F", "474", false}, {"°F", "474.9", false}, {"°F", "475", true}, {"°F", "500", true},
		{"°C", "245.9", false}, {"°C", "246", true}, {"°C", "246.1", true}, {"°C", "375", true}, {"°C", "", false}, {"K", "900", false},
	} {
		for _, at := range []string{"top", "setpoint-1@1", "idle@1"} {
			found := check(limitKey, tt.unit, single, map[string]sheet.Value{at: tt.v})
			assert.Equal(t, tt.wrong, len(found) == 1, "%s %s of %s", tt.v, tt.unit, at)
			if tt.wrong {
				assert.Equal(t, sheet.Safety, found[0].Class)
				assert.Equal(t, at, found[0].Ref.String())
				assert.Contains(t, found[0].Message, "the high limit shuts off at 475 °F (246 °C).")
			}
		}
		assert.Empty(t, check(limitKey, tt.unit, single, map[string]sheet.Value{"clock": tt.v}), "a number that is no temperature")
	}
	found := check(limitKey, "°F", split, map[string]sheet.Value{"setpoint-2@2": "480", "top": "480"})
	require.Len(t, found, 2)
	assert.Equal(t, "top", found[0].Ref.Key, "the top temperature first")
}

func TestOnlyWhatIsSwitchedOnIsChecked(t *testing.T) {
	values := map[string]sheet.Value{"product-1@1": "potato", "setpoint-1@1": "480"}
	look := func(r sheet.Ref) sheet.Value { return values[r.String()] }
	assert.Empty(t, rule.Check(nil, menu("°F"), single, look))
	assert.Empty(t, rule.Check([]string{"gone"}, menu("°F"), single, look))
	assert.Len(t, rule.Check([]string{limitKey, "gone", potatoKey}, menu("°F"), single, look), 2)
}

func TestEveryRuleNamesItsSource(t *testing.T) {
	keys := map[string]bool{}
	for _, r := range rule.Rules() {
		assert.False(t, keys[r.Key])
		keys[r.Key] = true
		assert.NotEmpty(t, r.Title)
		assert.NotEmpty(t, r.Text)
		assert.Regexp(t, `[0-9]`, r.Source, "a law or a standard has a number")
		assert.Contains(t, sheet.Classes(), r.Class)
		found, ok := rule.Find(r.Key)
		assert.True(t, ok)
		assert.Equal(t, r.Title, found.Title)
		assert.NoError(t, rule.Switched{Rule: r.Key}.Validate())
	}
	assert.Equal(t, map[string]bool{potatoKey: true, limitKey: true}, keys, "sites and the journal name the rules by these")
	rule.Rules()[0].Title = "spoilt"
	assert.NotEqual(t, "spoilt", rule.Rules()[0].Title)
	_, ok := rule.Find("gone")
	assert.False(t, ok)
}

func TestAnUnknownRuleCannotBeSwitched(t *testing.T) {
	err := rule.Switched{Rule: "gone", On: true}.Validate()
	assert.Equal(t, fault.Invalid, fault.KindOf(err))
	assert.Equal(t, "There is no such rule.", fault.MessageOf(err))
	assert.Equal(t, "check.switched", rule.Switched{}.Kind())
}
