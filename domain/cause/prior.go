package cause

import "slices"

// belief is what is held about an explanation before any reading is looked at. Common practice, no source: the weights
// say how often each is met at a fryer where something differs, against each other; after says how many times likelier
// the explanation is once the event was noted.
type belief struct {
	kind   Kind
	weight float64
	after  map[EventKind]float64
}

var beliefs = []belief{
	// The usual find: somebody turned a setting, or wrote down a wrong value.
	{Isolated, 45, nil},
	// A power event, a swap or a reset by menu brings every setting back. After a power cut no explanation gains more.
	{FullReset, 20, map[EventKind]float64{PowerCut: 6, ControllerSwap: 8, FactoryReset: 30, ProgramChange: 6}},
	// Somebody began to put back after such an event and was called away, or knew only part of the settings.
	{PartlyPutBack, 15, map[EventKind]float64{PowerCut: 4, ControllerSwap: 4, FactoryReset: 15, ProgramChange: 3}},
	// All other standards together. A spare controller may have been prepared for another customer.
	{OtherStandard, 8, map[EventKind]float64{ControllerSwap: 6, ProgramChange: 2}},
	// The record names the wrong controller type, or another program was loaded.
	{WrongSheet, 5, map[EventKind]float64{ControllerSwap: 6, ProgramChange: 8}},
}

// distinct lists the events that are known, each once, in the order of EventKinds: two power cuts say no more than one.
func distinct(events []EventKind) []EventKind {
	var found []EventKind
	for _, k := range EventKinds() {
		if slices.Contains(events, k) {
			found = append(found, k)
		}
	}
	return found
}

// weightAfter gives the weight after the events, which are distinct.
func (b *belief) weightAfter(events []EventKind) float64 {
	w := b.weight
	for _, k := range events {
		if times, moves := b.after[k]; moves {
			w *= times
		}
	}
	return w
}
