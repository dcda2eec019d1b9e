package ui

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"frywright/domain/drift"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// PlaceName names a place as screens do: the setting, and its vat where there are two.
func PlaceName(a sheet.Appliance, p sheet.Place) string {
	if vat := sheet.VatName(a, p.Ref.Vat); vat != "" {
		return p.Setting.Label + ", " + vat
	}
	return p.Setting.Label
}

// PlaceIn names a place where its group does not stand beside it: with the group, if the sheet has the label more than
// once.
func PlaceIn(x *standard.Expected, p sheet.Place) string {
	name := PlaceName(x.Appliance, p)
	if slices.ContainsFunc(x.Sheet.Settings, func(s sheet.Setting) bool { return s.Label == p.Setting.Label && s.Key != p.Setting.Key }) {
		return name + " (" + p.Setting.Group + ")"
	}
	return name
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
		return Distance(f) + ", " + f.Setting.Class.Matter()
	default:
		return "recorded; nothing is expected here"
	}
}

// Distance says what is expected and how far the reading is from it.
func Distance(f *drift.Finding) string {
	expected := "expected " + f.Setting.Show(f.Value)
	if apart := Apart(f); apart != "" {
		return expected + ": " + apart
	}
	return expected
}

// Apart says how far a number is from what is expected: "10 °F below"; empty for anything but numbers.
func Apart(f *drift.Finding) string {
	if _, isNumber := f.Read.Number(); f.Setting.Kind != sheet.Number || !isNumber || !f.Value.Known() {
		return ""
	}
	by := f.Setting.Show(sheet.Num(withoutNoise(math.Abs(f.Size))))
	if f.Size < 0 {
		return by + " below"
	}
	return by + " above"
}

// withoutNoise takes the rounding of binary fractions out of a difference.
func withoutNoise(n float64) float64 {
	const places = 1e6
	return math.Round(n*places) / places
}

// byClass groups what drifted by class, the worst first; no group is empty.
func byClass(result *drift.Result) [][]drift.Finding {
	var groups [][]drift.Finding
	for _, class := range sheet.Classes() {
		var group []drift.Finding
		for _, f := range result.Drifted() {
			if f.Setting.Class == class {
				group = append(group, f)
			}
		}
		if len(group) > 0 {
			groups = append(groups, group)
		}
	}
	return groups
}

func offCount(n int) string {
	switch n {
	case 0:
		return "No setting is off"
	case 1:
		return "1 setting is off"
	}
	return fmt.Sprintf("%d settings are off", n)
}

// inVat puts the vat in front of a sentence, where there are two.
func inVat(a sheet.Appliance, vat int, text string) string {
	name := sheet.VatName(a, vat)
	switch {
	case name == "":
		return text
	case text == "":
		return UpperFirst(name) + "."
	default:
		return UpperFirst(name) + ": " + text
	}
}

// inGroup puts the group in front of what a rule says, for labels can be there more than once.
func inGroup(x *standard.Expected, b rule.Breach) string {
	text := inVat(x.Appliance, b.Ref.Vat, b.Message)
	if e, ok := x.At(b.Ref); ok {
		return e.Setting.Group + ": " + text
	}
	return text
}

// UpperFirst gives a text with a capital at its beginning.
func UpperFirst(text string) string { return strings.ToUpper(text[:1]) + text[1:] }
