package sheet

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/legible"
)

// Value is a setting's value in canonical text: a number as the shortest decimal with a point ("350", "-0.5"), a choice
// as its option key, a switch as "on" or "off", a text as it is. The empty Value means that none is known.
type Value string

// ValueLimit is the longest value, in characters.
const ValueLimit = 200

// Validate notes a complaint about a value that cannot be kept and shown as it is, whatever the setting.
func (v Value) Validate(f *fault.Fields, field string) { legible.Line(f, field, string(v), ValueLimit) }

// Known says whether there is a value.
func (v Value) Known() bool { return v != "" }

// Number gives the value as a number, where it is one: digits with at most a minus before them and a point among them.
func (v Value) Number() (float64, bool) {
	for i := range len(v) {
		if (v[i] < '0' || v[i] > '9') && v[i] != '.' && v[i] != '-' {
			return 0, false
		}
	}
	n, err := strconv.ParseFloat(string(v), 64)
	return n, err == nil
}

// Num makes the canonical Value of a number; none of what is not a finite number.
func Num(n float64) Value {
	if math.IsNaN(n) || math.IsInf(n, 0) {
		return ""
	}
	if n == 0 {
		n = 0 // no negative zero
	}
	return Value(strconv.FormatFloat(n, 'f', -1, 64))
}

// canonical says whether the value is the number in canonical text.
func (v Value) canonical(n float64) bool {
	plain := len(v) > 0 && len(v) < 10 && v[0] != '0' // digits alone, the usual case, need not be written again to compare
	for i := range len(v) {
		plain = plain && v[i] >= '0' && v[i] <= '9'
	}
	return plain || v == Num(n)
}

// ParseNumber reads a number as people type it: comma or point for the fraction, spaces, a unit behind it, a typographic
// minus.
func ParseNumber(typed string) (float64, bool) {
	n, unit, ok := splitNumber(typed)
	if !ok || strings.ContainsAny(unit, "0123456789") {
		return 0, false
	}
	if first, _ := utf8.DecodeRuneInString(unit); unit != "" && !unicode.IsLetter(first) && !strings.ContainsRune(unitSigns, first) {
		return 0, false
	}
	return n, true
}

// unitSigns are what a unit can begin with besides a letter.
const unitSigns = "°℃℉%‰'\"′″"

var typedNumber = regexp.MustCompile(`^([-−–‐‑+]?)([0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)`)

// The sizes between which a typed number can lie: what is beyond is a slip of the hand.
const (
	largest  = 1e12
	smallest = 1e-12
)

// splitNumber takes a typed number and what stands behind it apart. Spaces count nowhere.
func splitNumber(typed string) (n float64, unit string, ok bool) {
	bare := strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) {
			return -1
		}
		return r
	}, typed)
	m := typedNumber.FindStringSubmatch(bare)
	if m == nil {
		return 0, "", false
	}
	n, err := strconv.ParseFloat(strings.Replace(m[2], ",", ".", 1), 64)
	if err != nil || n > largest || (n > 0 && n < smallest) {
		return 0, "", false
	}
	if m[1] != "" && m[1] != "+" && n != 0 { // there is no negative zero
		n = -n
	}
	return n, bare[len(m[0]):], true
}

// unitWords are the ways in which people write the units of settings, in small letters.
var unitWords = map[string][]string{
	"°F":  {"f", "℉", "ºf", "degf", "fahrenheit", "°", "º"},
	"°C":  {"c", "℃", "ºc", "degc", "celsius", "°", "º"},
	"s":   {"sec", "secs", "second", "seconds"},
	"min": {"mins", "minute", "minutes"},
	"h":   {"hr", "hrs", "hour", "hours"},
	"%":   {"percent"},
	"V":   {"volt", "volts"},
	"A":   {"amp", "amps"},
}

// isUnit says whether what was typed behind a number means the unit.
func isUnit(typed, unit string) bool {
	unit = strings.Join(strings.Fields(unit), "")
	typed = strings.TrimSuffix(typed, ".")
	if typed == "" || strings.EqualFold(typed, unit) {
		return true
	}
	for _, word := range unitWords[unit] {
		if strings.EqualFold(typed, word) {
			return true
		}
	}
	return false
}
