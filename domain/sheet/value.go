package sheet

import (
	"math"
	"strconv"
	"strings"
)

// Value is a setting's value in canonical text: a number as the shortest decimal with a point ("350", "-0.5"), a choice
// as its option key, a switch as "on" or "off", a text as it is. The empty Value means that none is known.
type Value string

// Known says whether there is a value.
func (v Value) Known() bool { return v != "" }

// Number gives the value as a number, where it is one.
func (v Value) Number() (float64, bool) {
	n, err := strconv.ParseFloat(string(v), 64)
	if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
		return 0, false
	}
	return n, true
}

// Num makes the canonical Value of a number.
func Num(n float64) Value {
	if n == 0 {
		n = 0 // no negative zero
	}
	return Value(strconv.FormatFloat(n, 'f', -1, 64))
}

// ParseNumber reads a number as people type it: comma or point, spaces, a unit behind it, a typographic minus.
func ParseNumber(typed string) (float64, bool) {
	s := strings.TrimSpace(typed)
	s = strings.NewReplacer("−", "-", "–", "-", "\u00a0", "", " ", "", ",", ".").Replace(s)
	s = strings.TrimRightFunc(s, func(r rune) bool { return (r < '0' || r > '9') && r != '.' })
	if s == "" || strings.ContainsAny(s, "eExXpPnNiI_") {
		return 0, false
	}
	n, err := strconv.ParseFloat(s, 64)
	if err != nil || math.Abs(n) > 1e12 {
		return 0, false
	}
	return n, true
}
