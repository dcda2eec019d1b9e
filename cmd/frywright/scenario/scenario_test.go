package scenario

import (
	"cmp"
	"encoding/binary"
	"maps"
	"slices"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// counter makes ids that count, in the form of a UUIDv7.
func counter() func() uuid.UUID {
	n := uint32(0)
	return func() uuid.UUID {
		n++
		id := uuid.UUID{6: 0x70, 8: 0x80}
		binary.BigEndian.PutUint32(id[12:], n)
		return id
	}
}

// ofFiles gives the world as the files have it today.
func ofFiles(t *testing.T) *world {
	t.Helper()
	p, err := plan(counter())
	require.NoError(t, err)
	w := newWorld()
	for _, d := range p.Drafts {
		require.NoError(t, d.Body.Validate())
		require.NoError(t, w.take(d))
		if b, ok := d.Body.(standard.Changed); ok {
			w.change(b, d.ID, d.At)
		}
	}
	return w
}

func TestEveryRowOfTheFilesIsNewAndRight(t *testing.T) {
	p, err := plan(counter())
	require.NoError(t, err)
	for _, r := range p.Rows {
		require.Equal(t, intake.New, r.Outcome, "%s:%d %s", r.File, r.Line, r.What)
	}
	assert.Zero(t, p.Skipped)
}

func TestTheFleetIsAsToldOf(t *testing.T) {
	w := ofFiles(t)
	assert.Len(t, w.customers, 3)
	assert.Len(t, w.models, 5)
	assert.Len(t, w.sheets, 3)
	assert.Len(t, w.sites, 40)
	assert.InDelta(t, 220, len(w.fryers), 8)
	assert.Len(t, distinct(w.sites, func(p *place) string { return p.Zone }), 4)
	assert.Len(t, distinct(w.sites, func(p *place) string { return p.Area }), 5)
	assert.Len(t, distinct(w.sites, func(p *place) string { return p.Town }), 40, "a town each")
	assert.ElementsMatch(t, []float64{208, 230, 240, 480}, distinct(w.sites, func(p *place) float64 { return p.SupplyVolts }))
	assert.ElementsMatch(t, fleet.GasSupplies(), distinct(w.sites, func(p *place) fleet.GasSupply { return p.Gas }))
	high := slices.DeleteFunc(slices.Clone(w.sites), func(p *place) bool { return p.ElevationM < 1500 })
	assert.Greater(t, len(high), 7, "restaurants so high that they fry differently")
	for _, f := range w.fryers {
		assert.Regexp(t, `^KF-[1-4][0-9]{3}$`, f.Tag)
		assert.False(t, f.at.Gas == fleet.NoGas && f.model.Energy == sheet.Gas, "%s burns gas where there is none", f.Tag)
		if f.model.Energy == sheet.Electric {
			assert.LessOrEqual(t, f.at.SupplyVolts, f.model.RatedVolts, "%s would burn out", f.Tag)
		}
	}
	for _, code := range []string{"MOORHEN", "SANDGLASS", "ORRERY"} {
		assert.True(t, slices.ContainsFunc(w.fryers, func(f *fryer) bool { return f.sheet.Code == code }), code)
	}
}

func distinct[T any, K cmp.Ordered](list []T, key func(T) K) []K {
	found := map[K]bool{}
	for _, x := range list {
		found[key(x)] = true
	}
	return slices.Sorted(maps.Keys(found))
}

// appliances are every energy with every pot.
func appliances() []sheet.Appliance {
	var list []sheet.Appliance
	for _, e := range []sheet.Energy{sheet.Gas, sheet.Electric} {
		for _, p := range []sheet.Pot{sheet.SinglePot, sheet.SplitPot} {
			list = append(list, sheet.Appliance{Energy: e, Pot: p})
		}
	}
	return list
}

func TestFactoryValuesBreakNoInterlock(t *testing.T) {
	for _, s := range ofFiles(t).sheets {
		require.NoError(t, s.Validate())
		for _, a := range appliances() {
			x := standard.Lay(s, a, nil)
			assert.Empty(t, x.Breaches(), "%s %v", s.Code, a)
			assert.Empty(t, rule.Check([]string{"nfpa-96-high-limit"}, s, a, x.Value), "%s %v", s.Code, a)
		}
	}
}

// TestSheetsHoldWhatTheTradeNames looks for what every controller has. Common practice, no source.
func TestSheetsHoldWhatTheTradeNames(t *testing.T) {
	for _, s := range ofFiles(t).sheets {
		find := func(label string) *sheet.Setting {
			i := slices.IndexFunc(s.Settings, func(x sheet.Setting) bool { return strings.Contains(x.Label, label) })
			require.GreaterOrEqual(t, i, 0, "%s: %s", s.Code, label)
			return &s.Settings[i]
		}
		offset := find("Probe offset")
		assert.Equal(t, sheet.PerVat, offset.Scope)
		assert.Equal(t, sheet.Value("0"), offset.Factory)
		fifteenF := map[string]float64{"°F": 15, "°C": 8}[offset.Unit]
		assert.Equal(t, []float64{-fifteenF, fifteenF}, []float64{*offset.Min, *offset.Max})
		twentyF := map[string]sheet.Value{"°F": "20", "°C": "11"}[offset.Unit]
		assert.Equal(t, twentyF, find("Ready band").Factory)
		assert.Equal(t, sheet.Value("8"), find(", liquid").Factory, "8 s on of a pulse of 30 s")
		solid := find(", solid")
		assert.True(t, solid.ReadOnly && solid.Kept, "the pulse for solid shortening may not be changed")
		pilot := find("Standing pilot")
		assert.Equal(t, []sheet.Energy{sheet.Gas}, pilot.Energies)
		assert.Equal(t, sheet.Value("off"), pilot.Factory)
		assert.Equal(t, sheet.Safety, pilot.Class)
		assert.Equal(t, sheet.Value("on"), find("Next timer before clearing").Factory)
		for _, label := range []string{"Minimum on", "Minimum off", "Heat profile, gas", "Heat profile, electric", "Basket lifts", "Shake alarm", "Hold alarm", "Hold to cancel", "Idle temperature"} {
			assert.False(t, find(label).ReadOnly, label)
		}
		for _, role := range []sheet.Role{sheet.RoleChecksum, sheet.RoleTopTemp} {
			i := slices.IndexFunc(s.Settings, func(x sheet.Setting) bool { return x.Role == role })
			require.GreaterOrEqual(t, i, 0, role)
			assert.True(t, s.Settings[i].ReadOnly && s.Settings[i].Factory.Known(), role)
		}
	}
}

func TestEveryFryerCanBeSetAsExpected(t *testing.T) {
	w := ofFiles(t)
	for _, f := range w.fryers {
		x := w.expected(f)
		assert.Empty(t, x.Breaches(), f.Tag)
		for i := range x.List {
			if e := &x.List[i]; e.Value.Known() {
				assert.NoError(t, e.Setting.Check(e.Value), "%s %s", f.Tag, e.Ref)
			}
		}
	}
}

// informative counts the settings that can tell a reset from its absence.
func informative(x *standard.Expected) int {
	n := 0
	for i := range x.List {
		if x.List[i].Informative() {
			n++
		}
	}
	return n
}

func TestEnoughSettingsTellAReset(t *testing.T) {
	w := ofFiles(t)
	for _, f := range w.fryers {
		n := informative(w.expected(f))
		switch {
		case slices.Contains(FridayTags(), f.Tag):
			assert.Equal(t, 11, n, f.Tag)
		case w.customers[f.at.Customer].Code == "LAN":
			assert.True(t, n >= 2 && n <= 4, "%s: %d", f.Tag, n)
		default:
			assert.True(t, n >= 8 && n <= 25, "%s: %d", f.Tag, n)
		}
	}
}

func TestOneFryerFriesPotatoesTooHot(t *testing.T) {
	w := ofFiles(t)
	var hot []string
	for _, f := range w.fryers {
		if f.at.Country != "IE" {
			continue
		}
		if len(rule.Check([]string{"eu-2017-2158-potato"}, f.sheet, f.model.Appliance(), w.expected(f).Value)) > 0 {
			hot = append(hot, f.Tag)
		}
	}
	assert.Equal(t, []string{"KF-1003"}, hot)
}

func TestFridayNightHasEveryKindOfFryer(t *testing.T) {
	w := ofFiles(t)
	seen := map[string]bool{}
	for _, tag := range FridayTags() {
		f := w.fryer(tag)
		assert.Equal(t, FridaySite, f.at.Code)
		seen[f.sheet.Code] = true
		seen[string(f.model.Energy)] = true
		seen[string(f.model.Pot)] = true
	}
	for _, what := range []string{"MOORHEN", "SANDGLASS", "ORRERY", "gas", "electric", "single", "split"} {
		assert.True(t, seen[what], what)
	}
}

func TestPeopleCanSignIn(t *testing.T) {
	assert.GreaterOrEqual(t, len(Password), 15)
	w, roles := ofFiles(t), map[access.Role]int{}
	for _, x := range People() {
		roles[x.Role]++
		p := person.Person{ID: uuid.New(), Name: x.Name, Email: x.Email, Role: x.Role, Areas: x.Areas}
		for _, code := range x.Sites {
			p.Sites = append(p.Sites, w.site(code).ID)
		}
		assert.NoError(t, person.Saved{Person: p}.Validate())
		assert.True(t, strings.HasSuffix(x.Email, ".example"), "RFC 2606, section 2, keeps .example for such names")
		assert.NotEmpty(t, x.What)
	}
	assert.Equal(t, map[access.Role]int{access.Administrator: 1, access.Dispatcher: 1, access.Technician: 3, access.Manager: 2}, roles)
	for _, p := range w.sites {
		served := slices.ContainsFunc(People(), func(x Person) bool { return slices.Contains(x.Areas, p.Area) })
		assert.True(t, served, "nobody goes to %s", p.Name)
	}
}

// standards gives what the layers of the drafts come to.
func standards(drafts []journal.Draft) map[uuid.UUID]map[sheet.Ref]sheet.Value {
	all := map[uuid.UUID]map[sheet.Ref]sheet.Value{}
	for _, d := range drafts {
		b, ok := d.Body.(standard.Changed)
		if !ok {
			continue
		}
		if all[d.Subject] == nil {
			all[d.Subject] = map[sheet.Ref]sheet.Value{}
		}
		for _, v := range b.Set {
			all[d.Subject][v.Ref] = v.Value
		}
		for _, ref := range b.Clear {
			delete(all[d.Subject], ref)
		}
	}
	return all
}
