package drift_test

import (
	"fmt"
	"testing"
	"time"

	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// benchSheet is a sheet of 45 settings with some of every kind and five interlocks, as controllers have them.
func benchSheet() *sheet.Sheet {
	s := &sheet.Sheet{Code: "heron", Name: "Heron 9"}
	low, high := 200.0, 390.0
	for i := range 45 {
		set := sheet.Setting{Key: fmt.Sprintf("setting-%02d", i), Label: fmt.Sprintf("Setting %d", i), Group: fmt.Sprintf("Group %d", i/9),
			Scope: sheet.PerController, Class: sheet.Class(i%4 + 1)}
		switch i % 3 {
		case 0, 1:
			set.Kind, set.Unit, set.Min, set.Max, set.Step, set.Factory, set.Tolerance = sheet.Number, "°F", &low, &high, 1, "350", 1
		default:
			set.Kind, set.Factory = sheet.Switch, "off"
		}
		s.Settings = append(s.Settings, set)
	}
	for i := range 5 {
		s.Interlocks = append(s.Interlocks, sheet.Interlock{
			Key: fmt.Sprintf("lock-%d", i), Label: "A switch needs heat", Class: sheet.Safety,
			When: []sheet.Condition{{Setting: fmt.Sprintf("setting-%02d", 9*i+2), Op: sheet.Is, Values: []sheet.Value{"on"}}},
			Must: []sheet.Condition{{Setting: fmt.Sprintf("setting-%02d", 9*i), Op: sheet.AtLeast, Values: []sheet.Value{"300"}}},
		})
	}
	return s
}

func benchLayers(s *sheet.Sheet) []standard.Layer {
	var layers []standard.Layer
	for n, level := range standard.Levels()[1:] {
		l := standard.Layer{Level: level, Name: level.Word()}
		for i := range s.Settings {
			if i%(n+2) != 0 {
				continue
			}
			v := sheet.Num(float64(340 + n))
			if s.Settings[i].Kind == sheet.Switch {
				v = "on"
			}
			l.Sets = append(l.Sets, standard.Set{Ref: sheet.Ref{Key: s.Settings[i].Key}, Value: v, By: "Rosa Lind", Why: "house menu"})
		}
		layers = append(layers, l)
	}
	return layers
}

func BenchmarkLayAndCompare(b *testing.B) {
	s := benchSheet()
	layers := benchLayers(s)
	a := sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SinglePot}
	readings := map[sheet.Ref]sheet.Value{}
	for i := range s.Settings {
		readings[sheet.Ref{Key: s.Settings[i].Key}] = s.Settings[i].Factory
	}
	rules := []string{"eu-2017-2158-potato", "nfpa-96-high-limit"}
	now := time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
	b.ReportAllocs()
	for b.Loop() {
		x := standard.Lay(s, a, layers)
		drift.Compare(x, readings, nil, rules, now)
	}
	b.ReportMetric(float64(45*b.N)/b.Elapsed().Seconds(), "settings/s")
}
