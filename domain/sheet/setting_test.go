package sheet_test

import (
	"strings"
	"testing"

	"frywright/domain/fault"
	"frywright/domain/sheet"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func num(n float64) *float64 { return &n }

// The settings of the tests. That a probe offset goes 15 °F either way and is 0 from the factory is common practice, no
// source.
var (
	setpoint = sheet.Setting{Key: "setpoint", Label: "Fry setpoint", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Tolerance: 2}
	offset   = sheet.Setting{Key: "offset", Label: "Probe offset", Kind: sheet.Number, Unit: "°F", Min: num(-15), Max: num(15), Step: 1, Factory: "0"}
	lifts    = sheet.Setting{Key: "lifts", Label: "Basket lifts", Kind: sheet.Number, Min: num(0), Max: num(2), Step: 1}
	shake    = sheet.Setting{Key: "shake", Label: "Shake alarm", Kind: sheet.Number, Unit: "s"}
	band     = sheet.Setting{Key: "band", Label: "Band", Kind: sheet.Number, Min: num(1), Step: 0.1}
	pilot    = sheet.Setting{Key: "pilot", Label: "Standing pilot", Kind: sheet.Switch}
	name     = sheet.Setting{Key: "name", Label: "Vat name", Kind: sheet.Text}
	profile  = sheet.Setting{Key: "profile", Label: "Heat profile", Kind: sheet.Choice, Options: []sheet.Option{
		{Key: "gas", Label: "Standard gas"}, {Key: "plain", Label: "Plain thermostat"}, {Key: "1", Label: "2"}, {Key: "2", Label: "1"}, {Key: "bare"},
	}}
)

func settings() []*sheet.Setting {
	return []*sheet.Setting{&setpoint, &offset, &lifts, &shake, &band, &pilot, &name, &profile}
}

func TestParse(t *testing.T) {
	for _, tt := range []struct {
		set   *sheet.Setting
		typed string
		want  sheet.Value
	}{
		{&setpoint, "350", "350"}, {&setpoint, "350 °F", "350"}, {&setpoint, "350f", "350"}, {&setpoint, "350 ℉", "350"}, {&setpoint, "350º", "350"},
		{&setpoint, "200", "200"}, {&setpoint, "375", "375"}, {&setpoint, "350,0", "350"}, {&setpoint, "0350", "350"},
		{&offset, "−15", "-15"}, {&offset, "-15", "-15"}, {&offset, "+15", "15"}, {&offset, "-0", "0"},
		{&shake, "45 sec.", "45"}, {&shake, "45 Seconds", "45"}, {&lifts, "2", "2"}, {&band, "1,3", "1.3"}, {&band, "7.7", "7.7"},
		{&pilot, "on", "on"}, {&pilot, " OFF ", "off"}, {&pilot, "yes", "on"}, {&pilot, "0", "off"},
		{&profile, "gas", "gas"}, {&profile, "GAS", "gas"}, {&profile, "plain thermostat", "plain"}, {&profile, "bare", "bare"},
		{&profile, "1", "1"}, {&profile, "2", "2"}, // the key before the label of another
		{&name, "  Left, by the window ", "Left, by the window"}, {&name, "350", "350"},
	} {
		v, err := tt.set.Parse(tt.typed)
		require.NoError(t, err, "%s %q", tt.set.Key, tt.typed)
		assert.Equal(t, tt.want, v, "%s %q", tt.set.Key, tt.typed)
	}
}

func TestParseSaysWhatWouldBeRight(t *testing.T) {
	const nb = "\u00a0"
	for _, tt := range []struct {
		set            *sheet.Setting
		typed, message string
	}{
		{&setpoint, "", "Enter a value for Fry setpoint."},
		{&setpoint, "hot", "“hot” is not a number. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, "376", "376" + nb + "°F is outside the range. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, "199", "199" + nb + "°F is outside the range. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, "350.5", "350.5" + nb + "°F is between two steps. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, "177 °C", "“177 °C” is not a number in °F. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, "350 s", "“350 s” is not a number in °F. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, "NaN", "“NaN” is not a number. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&setpoint, strings.Repeat("9", 60), "“" + strings.Repeat("9", 40) + "…” is not a number. It goes from 200" + nb + "°F to 375" + nb + "°F in steps of 1."},
		{&offset, "-16", "−16" + nb + "°F is outside the range. It goes from −15" + nb + "°F to 15" + nb + "°F in steps of 1."},
		{&lifts, "2 kg", "“2 kg” is not a number alone, and Basket lifts has no unit. It goes from 0 to 2 in steps of 1."},
		{&shake, "4 min", "“4 min” is not a number in s."},
		{&band, "0.5", "0.5 is outside the range. It goes from 1 in steps of 0.1."},
		{&pilot, "maybe", "Standing pilot is either on or off."},
		{&profile, "eco", "Heat profile offers: Standard gas, Plain thermostat, 2, 1, bare."},
		{&name, "a\nb", "Vat name takes plain text. Write it in one line, without line breaks."},
		{&name, "\xff", "Vat name takes plain text. Some of its characters arrived damaged. Type the text again."},
		{&name, "a\u202eb", "Vat name takes plain text. A character that cannot be seen stands in it after “a”, U+202E. Type the text again rather than pasting it."},
		{&name, strings.Repeat("x", 201), "Vat name takes at most 200 characters."},
		{&profile, strings.Repeat("x", 201), "Heat profile takes at most 200 characters."},
	} {
		_, err := tt.set.Parse(tt.typed)
		require.Error(t, err, "%s %q", tt.set.Key, tt.typed)
		assert.Equal(t, fault.Invalid, fault.KindOf(err))
		assert.Equal(t, tt.message, fault.MessageOf(err), "%s %q", tt.set.Key, tt.typed)
	}
}

// TestWhatTheSheetDoesNotAllowCanBeRecorded: a controller can show it.
func TestWhatTheSheetDoesNotAllowCanBeRecorded(t *testing.T) {
	for _, tt := range []struct {
		set   *sheet.Setting
		typed string
		want  sheet.Value
	}{{&setpoint, "400", "400"}, {&setpoint, "350.5", "350.5"}, {&profile, "Eco", "Eco"}} {
		v, err := tt.set.ParseLoose(tt.typed)
		require.NoError(t, err)
		assert.Equal(t, tt.want, v)
		assert.Error(t, tt.set.Check(v))
	}
}

func TestCheck(t *testing.T) {
	for _, tt := range []struct {
		set *sheet.Setting
		v   sheet.Value
	}{
		{&setpoint, ""}, {&setpoint, "on"}, {&setpoint, "199.9999"}, {&setpoint, "375.0001"}, {&pilot, ""}, {&pilot, "On"}, {&profile, ""}, {&profile, "Gas"},
		{&name, ""}, {&name, "a\tb"}, {&name, sheet.Value(strings.Repeat("x", 201))},
	} {
		assert.Error(t, tt.set.Check(tt.v), "%s %q", tt.set.Key, tt.v)
	}
	assert.NoError(t, band.Check("1.7"), "steps of a tenth are not exact in binary")
	assert.NoError(t, band.Check("123.4"))
}

func TestShow(t *testing.T) {
	for _, tt := range []struct {
		set  *sheet.Setting
		v    sheet.Value
		want string
	}{
		{&setpoint, "350", "350\u00a0°F"}, {&offset, "-3", "−3\u00a0°F"}, {&lifts, "2", "2"}, {&lifts, "-2", "−2"}, {&setpoint, "", "–"},
		{&pilot, "on", "On"}, {&pilot, "off", "Off"}, {&pilot, "stuck", "stuck"}, {&profile, "gas", "Standard gas"}, {&profile, "eco", "eco"},
		{&profile, "bare", "bare"}, {&name, "Left", "Left"}, {&name, "-x", "-x"},
	} {
		assert.Equal(t, tt.want, tt.set.Show(tt.v))
	}
}

func TestRange(t *testing.T) {
	assert.Empty(t, pilot.Range())
	assert.Empty(t, name.Range())
	assert.Empty(t, shake.Range())
	assert.Equal(t, "Standard gas, Plain thermostat, 2, 1, bare", profile.Range())
	assert.Equal(t, "up to 9", (&sheet.Setting{Kind: sheet.Number, Max: num(9)}).Range())
}

func TestDifferAtTheEdgeOfTheTolerance(t *testing.T) {
	fine := sheet.Setting{Kind: sheet.Number, Tolerance: 0.2}
	wide := sheet.Setting{Kind: sheet.Number, Tolerance: 0.1}
	for name, tt := range map[string]struct {
		set    *sheet.Setting
		a, b   sheet.Value
		size   float64
		beyond bool
	}{
		"equal":                           {&setpoint, "350", "350", 0, false},
		"written another way":             {&setpoint, "350", "350.0", 0, false},
		"at the tolerance, above":         {&setpoint, "350", "352", 2, false},
		"at the tolerance, below":         {&setpoint, "350", "348", -2, false},
		"just beyond":                     {&setpoint, "350", "352.001", 2.001, true},
		"just beyond, below":              {&setpoint, "350", "347.999", -2.001, true},
		"no tolerance":                    {&offset, "0", "1", 1, true},
		"tenths are not exact in binary":  {&fine, "0.1", "0.3", 0.2, false},
		"tenths of a large number, right": {&wide, "1000000000", "1000000000.1", 0.1, false},
		"tenths of a large number, off":   {&wide, "1000000000", "1000000000.2", 0.2, true},
		"not a number any more":           {&setpoint, "350", "Err", 1, true},
		"both not numbers":                {&setpoint, "Err", "Err", 0, false},
		"switch":                          {&pilot, "off", "on", 1, true},
		"choice":                          {&profile, "gas", "gas", 0, false},
		"text, case counts":               {&name, "Left", "left", 1, true},
		"text that looks like a number":   {&name, "7", "7.0", 1, true},
	} {
		t.Run(name, func(t *testing.T) {
			size, beyond := tt.set.Differ(tt.a, tt.b)
			assert.InDelta(t, tt.size, size, 1e-6)
			assert.Equal(t, tt.beyond, beyond)
		})
	}
}

func TestDifferIsFairBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(label string) sheet.Value {
			return sheet.Num(float64(rapid.IntRange(-4000, 4000).Draw(t, label)) / 10)
		}
		set := sheet.Setting{Kind: sheet.Number, Tolerance: float64(rapid.IntRange(0, 50).Draw(t, "tolerance")) / 10}
		a, b := draw("a"), draw("b")
		there, off := set.Differ(a, b)
		back, offToo := set.Differ(b, a)
		if there != -back || off != offToo {
			t.Fatalf("%s and %s: %g %v, %g %v", a, b, there, off, back, offToo)
		}
	})
}

// FuzzSettingParse: whatever is typed into whichever setting, there is no panic; what is taken is never empty, shows as
// something, and typed again is taken as the same; what is refused is refused in words for the person at the screen.
func FuzzSettingParse(f *testing.F) {
	for i, seed := range []string{"350", "-15 °F", "2", "45 sec", "1,3", "on", "Left vat", "plain thermostat", "177 °C", "NaN", "", "\xff", "a\nb", "−", "1"} {
		f.Add(seed, uint8(i))
	}
	f.Fuzz(func(t *testing.T, typed string, which uint8) {
		all := settings()
		set := all[int(which)%len(all)]
		require.NotEmpty(t, set.Show(sheet.Value(typed)))
		for _, parse := range []func(string) (sheet.Value, error){set.Parse, set.ParseLoose} {
			v, err := parse(typed)
			if err != nil {
				require.Equal(t, fault.Invalid, fault.KindOf(err))
				require.NotEmpty(t, fault.MessageOf(err))
				continue
			}
			require.True(t, v.Known(), "%q", typed)
			require.NotEmpty(t, set.Show(v))
			again, err := parse(string(v))
			require.NoError(t, err, "%q was taken as %q, which is not taken", typed, v)
			require.Equal(t, v, again, "%q", typed)
		}
	})
}
