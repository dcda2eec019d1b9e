package cause

import (
	"fmt"

	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// says is what a setting of a fixture was read as.
type says int

const (
	unread says = iota
	expected
	factory
	neither  // allowed by the sheet
	theirs   // as another standard has it
	outside  // not allowed by the sheet
	saysLast = outside
)

// item is one setting of a fixture.
type item struct {
	telling bool // expected 200, factory 100; else both are 100
	kept    bool // a reset leaves it alone
	fixed   bool // read-only
	says    says
	other   sheet.Value // what another standard has; empty: as ours
}

const (
	factoryValue = sheet.Value("100")
	houseValue   = sheet.Value("200")
	otherValue   = sheet.Value("300")
	strayValue   = sheet.Value("250")
)

func (i item) expected() sheet.Value {
	if i.telling {
		return houseValue
	}
	return factoryValue
}

func (i item) value() sheet.Value {
	switch i.says {
	case expected:
		return i.expected()
	case factory:
		return factoryValue
	case neither:
		return strayValue
	case theirs:
		return otherValue
	case outside:
		return "5000"
	default:
		return ""
	}
}

// weighable builds the input of a fixture, with one other standard where an item has one.
func weighable(items []item, events ...EventKind) Input {
	low, high := 0.0, 1000.0
	sh := &sheet.Sheet{Name: "Fixture"}
	ours, others := standard.Layer{Level: standard.OfCustomer}, standard.Layer{Level: standard.OfCustomer}
	in := Input{Readings: map[sheet.Ref]sheet.Value{}, Events: events}
	alternative := false
	for n, it := range items {
		key := fmt.Sprintf("setting-%d", n)
		ref := sheet.Ref{Key: key}
		sh.Settings = append(sh.Settings, sheet.Setting{Key: key, Label: key, Kind: sheet.Number, Min: &low, Max: &high, Step: 1, Tolerance: 2,
			Factory: factoryValue, Kept: it.kept, ReadOnly: it.fixed})
		set := standard.Set{Ref: ref, Value: it.expected()}
		ours.Sets = append(ours.Sets, set)
		if it.other.Known() {
			set.Value, alternative = it.other, true
		}
		others.Sets = append(others.Sets, set)
		in.Readings[ref] = it.value()
	}
	in.Expected = standard.Lay(sh, sheet.Appliance{}, []standard.Layer{ours})
	if alternative {
		in.Alternatives = []Alternative{{Name: "Copper Kettle", Expected: standard.Lay(sh, sheet.Appliance{}, []standard.Layer{others})}}
	}
	return in
}

func repeat(n int, it item) []item {
	items := make([]item, n)
	for i := range items {
		items[i] = it
	}
	return items
}

func join(groups ...[]item) []item {
	var items []item
	for _, g := range groups {
		items = append(items, g...)
	}
	return items
}

func telling(n int, s says) []item { return repeat(n, item{telling: true, says: s}) }

func steady(n int, s says) []item { return repeat(n, item{says: s}) }

func probability(r Result, k Kind) float64 {
	for _, o := range r.Odds {
		if o.Kind == k {
			return o.Probability
		}
	}
	return 0
}
