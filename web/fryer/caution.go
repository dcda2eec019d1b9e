package fryer

import "frywright/domain/sheet"

// cautionTitle heads what can hurt somebody who works at a fryer.
func cautionTitle(energy sheet.Energy) string {
	if energy == sheet.Electric {
		return "Hot oil, mains"
	}
	return "Hot oil, gas, mains"
}

// cautions are what can hurt somebody who works at a fryer. The controls of a gas fryer are on the mains too.
func cautions(energy sheet.Energy) []string {
	list := []string{"Hot oil burns in a second. Keep others away from the basket area while you test, and let the oil cool before it is drained or the fryer is moved."}
	if energy != sheet.Electric {
		list = append(list, "Gas: shut off and leak-test after every joint that was opened. Light it only by the maker’s instructions.")
	}
	return append(list,
		"Mains: lock out and tag out before a cover comes off. Live measurements only by those licensed to make them.",
		"Never bypass the high limit. A fryer whose high limit fails its test is taken out of service. Fire suppression stays in service.",
		"Local codes, the maker’s instructions and licensed practice come before anything this screen says.",
	)
}

// putBackCautions are what can hurt somebody who enters settings at a hot fryer.
func putBackCautions(energy sheet.Energy) []string {
	start := "A setting can start the heat or a pilot: know where gas and power are shut off."
	if energy == sheet.Electric {
		start = "A setting can start the heat: know where the power is shut off."
	}
	return []string{
		"Hot oil burns in a second: keep others away from it.",
		start,
		"Never bypass the high limit. The maker’s instructions and local codes come first.",
	}
}

// behind says what is behind the covers of a fryer.
func behind(energy sheet.Energy) string {
	if energy == sheet.Electric {
		return "mains and hot parts"
	}
	return "mains, gas and hot parts"
}

// inDanger says what anybody in the restaurant may do in danger. The smell of gas is named at every fryer: others stand
// beside it.
func inDanger(energy sheet.Energy) string {
	if energy == sheet.Electric {
		return "(fire, sparks, the smell of gas from another fryer, oil that smokes or will not stop heating): shut off its power if you can do so safely, keep people away, and call the emergency number. Then call your service company."
	}
	return "(fire, the smell of gas, sparks, oil that smokes or will not stop heating): shut off its gas and its power if you can do so safely, keep people away, and call the emergency number. Then call your service company."
}
