package cause

import (
	"testing"

	"frywright/domain/sheet"
)

// BenchmarkWeigh weighs a whole sheet against five other standards; it should stay well under a millisecond.
func BenchmarkWeigh(b *testing.B) {
	drawn := join(telling(11, factory), steady(30, expected), repeat(3, item{says: expected, other: otherValue}), repeat(1, item{fixed: true, says: expected}))
	in := weighable(drawn, PowerCut)
	one := in.Alternatives[0]
	for range 4 {
		in.Alternatives = append(in.Alternatives, Alternative{Name: "Another", Expected: overlay(one.Expected, telling(20, theirs))})
	}
	in.Readings[sheet.Ref{Key: "setting-20"}] = strayValue
	b.ReportAllocs()
	for b.Loop() {
		Weigh(in)
	}
}
