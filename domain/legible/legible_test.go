package legible_test

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/legible"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTextsOfManyScriptsAreWelcome: the words mean fryer, oil, kitchen or are plain names; the contexts of the joiners are
// those of UAX #31, 2.3 (its Persian and Malayalam examples) and of the emoji sequences of UTS #51.
func TestTextsOfManyScriptsAreWelcome(t *testing.T) {
	for name, text := range map[string]string{
		"nothing":               "",
		"ASCII":                 `Line 1, left: "hot" <b>&amp; 'oil'`,
		"accents":               "Crème brûlée, Ærø, Łódź",
		"accents apart":         "Cre\u0300me",
		"Greek":                 "Φριτέζα",
		"Cyrillic":              "Фритюрница",
		"Arabic":                "مقلاة عميقة",
		"Hebrew with points":    "שָׁלוֹם",
		"Persian, non-joiner":   "نامه\u200cای",
		"Malayalam, joiner":     "ന\u0d4d\u200d",
		"Hindi":                 "क\u094d\u200dष",
		"Chinese":               "炸锅",
		"Japanese, a variant":   "葛\U000e0100城",
		"Korean":                "튀김기",
		"Thai":                  "หม้อทอด",
		"emoji":                 "ok 👍🏽",
		"emoji with joiner":     "👩\u200d🍳",
		"emoji with selector":   "❤\ufe0f\u200d🔥",
		"keycap":                "1\ufe0f\u20e3",
		"Arabic number sign":    "\u0600١٢",
		"non-breaking spaces":   "350\u00a0°F",
		"four marks":            "a\u0301\u0302\u0303\u0304",
		"spaces":                "   ",
		"a mark on every other": strings.Repeat("e\u0301", 20),
	} {
		assert.Empty(t, legible.Problem(text, false), name)
	}
	assert.Empty(t, legible.Problem("two\nlines\tand a tab", true))
}

// TestWhatIsNotSeenIsRefused goes through what tricks are made of.
func TestWhatIsNotSeenIsRefused(t *testing.T) {
	for name, tt := range map[string]struct{ text, says string }{
		"not UTF-8":                 {"caf\xe9", "arrived damaged"},
		"cut":                       {"caf\xc3", "arrived damaged"},
		"a surrogate":               {"a\xed\xa0\x80", "arrived damaged"},
		"lost before":               {"caf\ufffd", "arrived damaged"},
		"NUL":                       {"a\x00b", "U+0000"},
		"escape":                    {"a\x1b[31m", "U+001B"},
		"delete":                    {"a\x7f", "U+007F"},
		"a C1 control":              {"a\u0085b", "U+0085"},
		"a line break":              {"a\nb", "one line"},
		"a tab":                     {"a\tb", "one line"},
		"a line separator":          {"a\u2028b", "U+2028"},
		"right-to-left override":    {"\u202egpj.exe", "at its beginning, U+202E"},
		"embedding":                 {"a\u202ab", "after “a”, U+202A"},
		"isolate":                   {"a\u2066b\u2069", "U+2066"},
		"left-to-right mark":        {"a\u200eb", "U+200E"},
		"right-to-left mark":        {"אבג\u200f", "after “אבג”, U+200F"},
		"Arabic letter mark":        {"a\u061cb", "U+061C"},
		"zero-width space":          {"ad\u200bmin", "after “ad”, U+200B"},
		"word joiner":               {"a\u2060b", "U+2060"},
		"byte order mark":           {"a\ufeffb", "U+FEFF"},
		"soft hyphen":               {"ad\u00admin", "U+00AD"},
		"combining grapheme joiner": {"a\u034fb", "U+034F"},
		"tags":                      {"a\U000e0041\U000e007f", "U+E0041"},
		"Hangul filler":             {"\u3164", "U+3164"},
		"joiner between Latin":      {"ad\u200dmin", "U+200D"},
		"non-joiner between Latin":  {"ad\u200cmin", "U+200C"},
		"joiner alone":              {"\u200d", "U+200D"},
		"two joiners":               {"نامه\u200c\u200cای", "U+200C"},
		"joiner after an emoji":     {"👩\u200d", "U+200D"},
		"a noncharacter":            {"a\uffff", "U+FFFF"},
		"annotation":                {"a\ufff9b", "U+FFF9"},
		"five marks":                {"a\u0301\u0302\u0303\u0304\u0305", "More than 4 marks"},
		"Braille blank":             {"\u2800", "nothing in it that can be seen"},
		"a selector alone":          {"\ufe0f", "nothing in it that can be seen"},
		"a mark alone":              {"\u0301", "nothing in it that can be seen"},
	} {
		assert.Contains(t, legible.Problem(tt.text, false), tt.says, name)
	}
}

func TestComplaintsStandAtTheirField(t *testing.T) {
	var f fault.Fields
	legible.Line(&f, "name", "Vexley Quay", legible.Name)
	legible.Text(&f, "note", "two\nlines", legible.Note)
	legible.Line(&f, "name", strings.Repeat("油", legible.Name), legible.Name)
	require.Empty(t, f, "a limit is in characters, not in bytes")
	legible.Line(&f, "name", strings.Repeat("油", legible.Name+1), legible.Name)
	legible.Text(&f, "note", "a\u202eb", legible.Note)
	require.Len(t, f, 2)
	assert.Equal(t, fault.Field{Name: "name", Message: "At most 120 characters."}, f[0])
	assert.Equal(t, "note", f[1].Name)
}

func FuzzProblem(f *testing.F) {
	for _, seed := range []string{"Vexley Quay", "a\u202eb", "👩\u200d🍳", "نامه\u200cای", "\xff", "a\x00", "\u2800", strings.Repeat("\u0301", 9)} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if legible.Problem(text, true) != "" {
			require.NotEmpty(t, legible.Problem(text, false), "what no text may hold, no line may")
			return
		}
		require.True(t, utf8.ValidString(text))
		require.False(t, strings.ContainsFunc(text, func(r rune) bool {
			return r != '\n' && r != '\t' && unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) || r >= 0xe0000 && r <= 0xe007f || r == '\ufeff' || r == '\u200b'
		}))
		if strings.TrimSpace(text) != "" {
			require.True(t, strings.ContainsFunc(text, func(r rune) bool { return unicode.IsGraphic(r) && !unicode.IsSpace(r) }))
		}
	})
}
