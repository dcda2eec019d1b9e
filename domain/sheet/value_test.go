package sheet_test

import (
	"math"
	"testing"

	"frywright/domain/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseNumber(t *testing.T) {
	for typed, want := range map[string]float64{
		"350": 350, " 350 ": 350, "350.5": 350.5, "350,5": 350.5, ".5": 0.5, ",5": 0.5, "5.": 5, "+7": 7, "007": 7, "0": 0,
		"-15": -15, "−15": -15, "–15": -15, "‐15": -15, "- 15": -15, "-0": 0, "1 000": 1000, "1\u00a0000": 1000, "1\u202f000": 1000,
		"350 °F": 350, "350°F": 350, "350 F": 350, "177 ℃": 177, "20 %": 20, "8 s": 8, "12 in w.c.": 12, "100 Ω": 100, "5″": 5, "3,5 kg": 3.5,
		"1000000000000": 1e12, "0.000000000001": 1e-12,
	} {
		got, ok := sheet.ParseNumber(typed)
		require.True(t, ok, "%q", typed)
		assert.InDelta(t, want, got, 0, "%q", typed)
	}
}

func TestWhatIsNoNumber(t *testing.T) {
	for _, typed := range []string{
		"", " ", "-", "−", "+", ".", ",", "°F", "abc", "F350", "--5", "5-", "5 -", "+-5", "1.2.3", "1,000.5", "1.000,5", "5..", "12abc34", "1/2", "1:30",
		"NaN", "nan", "Inf", "-Inf", "infinity", "1e5", "1E5", "0x10", "1_000", "3+4", "50?", "1000000000001", "99999999999999999999999999", "0.0000000000001", "٣٥٠", "350\x00", "=1",
	} {
		n, ok := sheet.ParseNumber(typed)
		assert.False(t, ok, "%q was read as %g", typed, n)
		assert.Zero(t, n, "%q", typed)
	}
}

func TestNum(t *testing.T) {
	for n, want := range map[float64]sheet.Value{
		350: "350", -0.5: "-0.5", 0: "0", math.Copysign(0, -1): "0", 0.1: "0.1", 1e12: "1000000000000", 1e-7: "0.0000001",
		math.Inf(1): "", math.Inf(-1): "",
	} {
		assert.Equal(t, want, sheet.Num(n), "%g", n)
	}
	assert.Equal(t, sheet.Value(""), sheet.Num(math.NaN()), "what is not a number is not known")
}

func TestNumberOfAValue(t *testing.T) {
	for v, want := range map[sheet.Value]float64{"350": 350, "-0.5": -0.5, "0": 0} {
		n, ok := v.Number()
		assert.True(t, ok, "%q", v)
		assert.InDelta(t, want, n, 0)
	}
	for _, v := range []sheet.Value{"", "on", "NaN", "Inf", "+5", "1e3", "0x1p4", "1_0", " 5", "5 ", "5 °F", "3,5", "-", ".", "1-2"} {
		n, ok := v.Number()
		assert.False(t, ok, "%q is %g", v, n)
	}
}

// FuzzParseNumber: whatever is typed, there is no panic, and what is read is a finite number of a sensible size, whose
// canonical text reads as the same number and is canonical.
func FuzzParseNumber(f *testing.F) {
	for _, seed := range []string{"350", "−3,5 °F", "1 000.25 in w.c.", "NaN", "0x10", "1e308", ".", "-0", "99999999999999999999", "0.0000000000000001", "3\u00a05", "5‐", "\xff7"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		n, ok := sheet.ParseNumber(typed)
		if !ok {
			assert.Zero(t, n)
			return
		}
		require.False(t, math.IsNaN(n) || math.Abs(n) > 1e12, "%q is %g", typed, n)
		v := sheet.Num(n)
		again, ok := sheet.ParseNumber(string(v))
		require.True(t, ok, "%q is %q, which is no number", typed, v)
		require.Equal(t, v, sheet.Num(again), "%q", typed)
		own, ok := v.Number()
		require.True(t, ok)
		require.InDelta(t, n, own, 0)
		set := sheet.Setting{Kind: sheet.Number}
		require.NoError(t, set.Check(v))
	})
}

// TestCanonicalNumbers: of all texts of a number one is allowed, the one that Num writes.
func TestCanonicalNumbers(t *testing.T) {
	set := sheet.Setting{Kind: sheet.Number, Label: "Fry setpoint"}
	for _, v := range []sheet.Value{"350.0", "0350", "350.", ".5", "-0", "00", "-.5", "1.50"} {
		assert.ErrorContains(t, set.Check(v), "is to be written", "%q", v)
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.OneOf(rapid.Float64Range(-1e12, 1e12), rapid.Map(rapid.Int32(), func(i int32) float64 { return float64(i) / 8 })).Draw(t, "n")
		if err := set.Check(sheet.Num(n)); err != nil {
			t.Fatal(err)
		}
	})
}
