package sheet_test

import (
	"encoding/json"
	"testing"

	"frywright/domain/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var (
	gasSingle     = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}
	gasSplit      = sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SplitPot}
	electricSplit = sheet.Appliance{Energy: sheet.Electric, Pot: sheet.SplitPot}
)

func TestRefText(t *testing.T) {
	for text, want := range map[string]sheet.Ref{
		"pilot": {Key: "pilot"}, "menu.1.time@1": {Key: "menu.1.time", Vat: 1}, "x@2": {Key: "x", Vat: 2},
	} {
		ref, ok := sheet.ParseRef(text)
		require.True(t, ok, text)
		assert.Equal(t, want, ref)
		assert.Equal(t, text, ref.String())
	}
	for _, text := range []string{"", "@", "@1", "x@", "x@0", "x@3", "x@-1", "x@1@2", "x@01", "x@ 1"} {
		_, ok := sheet.ParseRef(text)
		assert.False(t, ok, text)
	}
}

func TestRefRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ref := sheet.Ref{Key: rapid.StringMatching(`[a-z0-9][a-z0-9.-]{0,59}`).Draw(t, "key"), Vat: rapid.IntRange(0, 2).Draw(t, "vat")}
		if again, ok := sheet.ParseRef(ref.String()); !ok || again != ref {
			t.Fatalf("%v was read as %v", ref, again)
		}
		raw, err := json.Marshal(ref)
		if err != nil {
			t.Fatal(err)
		}
		var again sheet.Ref
		if err := json.Unmarshal(raw, &again); err != nil || again != ref {
			t.Fatalf("%s was read as %v", raw, again)
		}
	})
}

func FuzzParseRef(f *testing.F) {
	for _, seed := range []string{"pilot", "x@1", "x@2", "@", "x@3", "x@1@1", "\xff@1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if ref, ok := sheet.ParseRef(text); ok {
			require.Equal(t, text, ref.String())
			require.NotEmpty(t, ref.Key)
		}
	})
}

func TestPlacesAreInTheControllersOrder(t *testing.T) {
	s := &sheet.Sheet{Settings: []sheet.Setting{
		{Key: "b", Group: "One", Scope: sheet.PerController},
		{Key: "a", Group: "Two", Scope: sheet.PerVat},
		{Key: "gas-only", Group: "One", Scope: sheet.PerVat, Energies: []sheet.Energy{sheet.Gas}},
		{Key: "split-only", Group: "Three", Scope: sheet.PerController, Pots: []sheet.Pot{sheet.SplitPot}},
	}}
	refs := func(a sheet.Appliance) []string {
		var texts []string
		for _, p := range s.Places(a) {
			assert.Equal(t, p.Ref.Key, p.Setting.Key)
			texts = append(texts, p.Ref.String())
		}
		return texts
	}
	assert.Equal(t, []string{"b", "a@1", "gas-only@1"}, refs(gasSingle))
	assert.Equal(t, []string{"b", "a@1", "a@2", "gas-only@1", "gas-only@2", "split-only"}, refs(gasSplit))
	assert.Equal(t, []string{"b", "a@1", "a@2", "split-only"}, refs(electricSplit))
	assert.Equal(t, []string{"One", "Two", "Three"}, s.Groups())
	set, ok := s.Setting("a")
	require.True(t, ok)
	assert.Same(t, &s.Settings[1], set)
	_, ok = s.Setting("c")
	assert.False(t, ok)
}

func TestVatName(t *testing.T) {
	assert.Empty(t, sheet.VatName(gasSingle, 1))
	assert.Empty(t, sheet.VatName(gasSplit, 0))
	assert.Equal(t, "left vat", sheet.VatName(gasSplit, 1))
	assert.Equal(t, "right vat", sheet.VatName(gasSplit, 2))
}

func TestClassesAreWorstFirst(t *testing.T) {
	classes := sheet.Classes()
	require.Len(t, classes, 4)
	for i, c := range classes {
		if i > 0 {
			assert.Greater(t, classes[i-1], c)
		}
		again, ok := sheet.ParseClass(c.String())
		assert.True(t, ok)
		assert.Equal(t, c, again)
	}
	assert.Equal(t, "none", sheet.Class(0).String())
	assert.Equal(t, "an output matter", sheet.Output.Matter())
	assert.Equal(t, "a food matter", sheet.Food.Matter())
	_, ok := sheet.ParseClass("none")
	assert.False(t, ok)
}
