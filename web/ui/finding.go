package ui

import (
	"fmt"
	"math"

	"frywright/domain/drift"
	"frywright/domain/sheet"
)

// PlaceName names a place as screens do: the setting, and its vat where there are two.
func PlaceName(a sheet.Appliance, p sheet.Place) string {
	if vat := sheet.VatName(a, p.Ref.Vat); vat != "" {
		return p.Setting.Label + ", " + vat
	}
	return p.Setting.Label
}

// Judged says in a few words how a reading stands to what is expected, without naming the setting.
func Judged(f *drift.Finding) string {
	switch {
	case !f.Read.Known():
		return "not read"
	case f.Status == drift.Right && f.Size != 0:
		return Distance(f) + ", within the tolerance"
	case f.Status == drift.Right:
		return "as expected"
	case f.Status == drift.Accepted:
		return Distance(f) + ", accepted"
	case f.Status == drift.Drifted:
		return fmt.Sprintf("%s, a %s matter", Distance(f), f.Setting.Class)
	default:
		return "recorded; nothing is expected here"
	}
}

// Distance says how far a reading is from what is expected.
func Distance(f *drift.Finding) string {
	expected := "expected " + f.Setting.Show(f.Value)
	if _, isNumber := f.Read.Number(); f.Setting.Kind != sheet.Number || !isNumber {
		return expected
	}
	by := f.Setting.Show(sheet.Num(withoutNoise(math.Abs(f.Size))))
	if f.Size < 0 {
		return fmt.Sprintf("%s: %s below", expected, by)
	}
	return fmt.Sprintf("%s: %s above", expected, by)
}

// withoutNoise takes the rounding of binary fractions out of a difference.
func withoutNoise(n float64) float64 {
	const places = 1e6
	return math.Round(n*places) / places
}
