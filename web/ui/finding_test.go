package ui_test

import (
	"context"
	"strconv"
	"strings"
	"testing"
	"time"

	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/a-h/templ"
	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	setpoint = sheet.Setting{Key: "setpoint", Label: "Fry setpoint", Kind: sheet.Number, Unit: "°F", Class: sheet.Food, Tolerance: 1, Scope: sheet.PerVat}
	pump     = sheet.Setting{Key: "pump", Label: "Pump delay", Kind: sheet.Number, Unit: "s", Class: sheet.Output, Tolerance: 0.2, Scope: sheet.PerController}
	pilot    = sheet.Setting{Key: "pilot", Label: "Standing pilot", Kind: sheet.Switch, Class: sheet.Safety, Scope: sheet.PerController}
)

// found compares one reading with what is expected, as a reading does.
func found(s sheet.Setting, expected, read sheet.Value, accepted ...standard.Acceptance) *drift.Finding {
	sh := &sheet.Sheet{Settings: []sheet.Setting{s}}
	x := standard.Lay(sh, sheet.Appliance{Pot: sheet.SplitPot}, []standard.Layer{{Level: standard.OfSite, Sets: []standard.Set{{Ref: sheet.Ref{Key: s.Key}, Value: expected}}}})
	r := drift.Compare(x, map[sheet.Ref]sheet.Value{x.List[0].Ref: read}, accepted, nil, time.Date(2026, 11, 20, 0, 0, 0, 0, time.UTC))
	return &r.Findings[0]
}

func TestHowAReadingStands(t *testing.T) {
	accepted := standard.Acceptance{Ref: sheet.Ref{Key: "pilot"}, Value: "off", Until: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}
	for want, f := range map[string]*drift.Finding{
		"expected 350\u00a0°F: 10\u00a0°F below, a food matter":       found(setpoint, "350", "340"),
		"expected −3\u00a0°F: 6\u00a0°F above, a food matter":         found(setpoint, "-3", "3"),
		"expected 0.1\u00a0s: 0.3\u00a0s above, an output matter":     found(pump, "0.1", "0.4"), // 0.4 - 0.1 is not 0.3 in binary fractions
		"expected 350\u00a0°F: 1\u00a0°F above, within the tolerance": found(setpoint, "350", "351"),
		"as expected":                         found(setpoint, "350", "350"),
		"expected On, a safety matter":        found(pilot, "on", "off"),
		"expected On, accepted":               found(pilot, "on", "off", accepted),
		"not read":                            found(pilot, "on", ""),
		"recorded; nothing is expected here":  found(pilot, "", "on"),
		"expected 350\u00a0°F, a food matter": found(setpoint, "350", "Err"),
	} {
		assert.Equal(t, want, ui.Judged(f))
	}
}

func TestAPlaceNamesItsVatWhereThereAreTwo(t *testing.T) {
	p := sheet.Place{Ref: sheet.Ref{Key: "setpoint", Vat: 2}, Setting: &setpoint}
	assert.Equal(t, "Fry setpoint, right vat", ui.PlaceName(sheet.Appliance{Pot: sheet.SplitPot}, p))
	assert.Equal(t, "Fry setpoint", ui.PlaceName(sheet.Appliance{Pot: sheet.SinglePot}, p))
}

func TestALabelThatIsThereTwiceIsNamedWithItsGroup(t *testing.T) {
	sh := &sheet.Sheet{Settings: []sheet.Setting{
		{Key: "m1.time", Label: "Cook time", Group: "Menu, slot 1", Scope: sheet.PerVat}, {Key: "m2.time", Label: "Cook time", Group: "Menu, slot 2", Scope: sheet.PerVat}, pump,
	}}
	x := standard.Lay(sh, sheet.Appliance{Pot: sheet.SplitPot}, nil)
	assert.Equal(t, "Cook time, left vat (Menu, slot 2)", ui.PlaceIn(x, x.List[2].Place))
	assert.Equal(t, "Pump delay", ui.PlaceIn(x, x.List[4].Place))
}

func TestABrokenRuleSaysWhere(t *testing.T) {
	sh := &sheet.Sheet{Settings: []sheet.Setting{
		{Key: "m1", Label: "Product", Group: "Menu, slot 1", Kind: sheet.Choice, Scope: sheet.PerController, Role: sheet.RoleProduct, Menu: 1},
		{Key: "t1", Label: "Frying temperature", Group: "Menu, slot 1", Kind: sheet.Number, Unit: "°C", Scope: sheet.PerVat, Role: sheet.RoleSetpoint, Menu: 1},
	}}
	x := standard.Lay(sh, sheet.Appliance{Pot: sheet.SplitPot}, nil)
	r := drift.Compare(x, map[sheet.Ref]sheet.Value{{Key: "m1"}: sheet.ProductPotato, {Key: "t1", Vat: 2}: "180"}, nil, []string{"eu-2017-2158-potato"}, time.Time{})
	body := rendered(t, ui.Broken(x, &r))
	assert.Contains(t, body, "Menu, slot 1: Right vat: Frying temperature is 180")
	assert.Contains(t, body, "Source: Commission Regulation (EU) 2017/2158")
}

func rendered(t *testing.T, c templ.Component) string {
	t.Helper()
	var b strings.Builder
	require.NoError(t, c.Render(context.Background(), &b))
	return b.String()
}

func TestTheNextStepLeadsThere(t *testing.T) {
	entry, open := uuid.New(), uuid.New()
	f := state.Fryer{ID: uuid.New()}
	assert.Contains(t, rendered(t, ui.NextStep(&f, entry)), `action="`+path.ReadingBegin(f.ID)+`"`)
	assert.Contains(t, rendered(t, ui.NextStep(&f, entry)), entry.String())
	f.PutBack = 3
	assert.Contains(t, rendered(t, ui.NextStep(&f, entry)), `href="`+path.FryerPutBack(f.ID)+`"`)
	f.StaleSince, f.StaleWhat = time.Unix(1, 0), cause.PowerCut
	assert.Contains(t, rendered(t, ui.NextStep(&f, entry)), `value="as-found"`)
	f.OpenID = open
	assert.Contains(t, rendered(t, ui.NextStep(&f, entry)), `href="`+path.ReadingNext(open)+`"`)
	f.Retired = time.Unix(1, 0)
	assert.NotContains(t, rendered(t, ui.NextStep(&f, entry)), "button")
}

func TestEveryCountAddsUp(t *testing.T) {
	w := ui.CountsWorking(drift.Counts{Places: 50, Right: 30, Drifted: 8, Accepted: 1, Unknown: 9, Broken: 3}, "this reading")
	sum, parts := map[string]string{}, 0
	for _, l := range w.Inputs {
		sum[l.Label] = l.Value
		if n, err := strconv.Atoi(l.Value); err == nil && l.Label != "Values of the controller" && !strings.HasPrefix(l.Label, "Rules") {
			parts += n
		}
	}
	assert.Equal(t, 50, parts)
	assert.Equal(t, "2", sum["Nothing expected"])
	assert.Equal(t, "3", sum["Rules broken, counted apart"])
	assert.Equal(t, "8 settings are off", w.Result)
	assert.Contains(t, w.Source, "this reading")
}

func TestWhatIsWorstStandsOpen(t *testing.T) {
	sh := &sheet.Sheet{Settings: []sheet.Setting{pump, pilot}}
	x := standard.Lay(sh, sheet.Appliance{}, []standard.Layer{{Level: standard.OfSite, Sets: []standard.Set{{Ref: sheet.Ref{Key: "pump"}, Value: "1"}, {Ref: sheet.Ref{Key: "pilot"}, Value: "on"}}}})
	r := drift.Compare(x, map[sheet.Ref]sheet.Value{{Key: "pump"}: "3", {Key: "pilot"}: "off"}, nil, nil, time.Time{})
	body := rendered(t, ui.FindingsByClass(x, &r, func(ref sheet.Ref) string { return "/to/" + ref.String() }))
	assert.Equal(t, 1, strings.Count(body, "<details class=\"fold\" open>"))
	assert.Less(t, strings.Index(body, "/to/pilot"), strings.Index(body, "/to/pump"), "the worst first")
}
