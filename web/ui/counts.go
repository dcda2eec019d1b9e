package ui

import (
	"strconv"

	"frywright/domain/drift"
	"frywright/domain/working"
)

// CountsWorking explains how the settings of a fryer were counted. from says what was read.
func CountsWorking(c drift.Counts, from string) working.Working {
	const house = "read value against the house standards"
	w := working.Working{
		Title:       "What is off, counted",
		Result:      offCount(c.Drifted),
		Formula:     "A value is off where it differs from the expected one by more than the setting’s tolerance, and the difference is not accepted.",
		Source:      "The settings sheet, the house standards, and " + from + ".",
		Uncertainty: "What was not read is unknown, and never taken for right. A value that was misread counts as it was read.",
	}
	add := func(label string, n int, from string) {
		if n > 0 {
			w.Inputs = append(w.Inputs, working.Line{Label: label, Value: strconv.Itoa(n), From: from})
		}
	}
	add("Values of the controller", c.Places, "settings sheet, for this energy and these vats")
	add("As expected", c.Right, house)
	add("Off", c.Drifted, house)
	add("Different, and accepted", c.Accepted, "accepted differences")
	add("Expected, but not read", c.Unknown, from)
	add("Nothing expected", c.Places-c.Right-c.Drifted-c.Accepted-c.Unknown, "no standard and no factory value")
	add("Rules broken, counted apart", c.Broken, "interlocks of the sheet, rules of the restaurant")
	return w
}
