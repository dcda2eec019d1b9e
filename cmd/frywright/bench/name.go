package bench

import (
	"fmt"
	"math/rand/v2"
)

// The invented world's words. Nothing that they make is meant to exist.
var (
	townHeads  = []string{"Bram", "Quill", "Tarn", "Mossel", "Wrenna", "Pellow", "Dunkel", "Skell", "Orrin", "Thistle", "Vex", "Lumm", "Corrow", "Brackle", "Sedge", "Plover", "Whinny", "Gorsel", "Hob", "Murr", "Ottle", "Fenna", "Jarrow", "Kettle"}
	townTails  = []string{"hollow", "wickle", "mere", "combey", "stowe", "havel", "thwaite", "reach", "sill", "garth", "fold", "quay", "barrow", "spindle"}
	houseHeads = []string{"Otterly", "Sizzlewick", "Goldcrumb", "Quillop", "Larkbatter", "Hobnob", "Crackleford", "Drizzlecombe", "Pipwhistle", "Bubblesworth", "Nettlefry", "Tumbledown", "Marrowby", "Fizzlegate", "Cinderpip", "Wobblecroft", "Dappleton", "Snugbasket", "Thimbleton", "Puddlewick", "Brindlecrisp", "Fernwhistle", "Gribbleston", "Humblecrumb", "Jollyvat"}
	houseTails = []string{"Batter House", "Chip Rooms", "Fry Halls", "Kitchens", "Chicken Rooms", "Fish Bars", "Crisp Company"}
	streets    = []string{"Quayside", "Mill Row", "Lantern Street", "Cooper's Yard", "Station Parade", "Ropewalk", "Old Market", "Harbour Steps", "Beacon Road", "Tanner's Lane"}
	firstNames = []string{"Ottoline", "Bram", "Ines", "Piotr", "Delphine", "Tobin", "Marguerite", "Oskar", "Yusra", "Cormac", "Wilhelmina", "Anselm", "Priya", "Leopold", "Saoirse", "Kwame", "Linnea", "Rafferty", "Noor", "Benedek"}
	lastNames  = []string{"Fenwhistle", "Quillop", "Hobblethorpe", "Larkenby", "Cragmuir", "Ondercott", "Plumridger", "Skellbrook", "Tansyfield", "Wickerby", "Mossgarth", "Dunkelby", "Sprockett", "Thimblewood", "Wrenshaw", "Ottersby", "Pebblecombe", "Grubbins", "Fallowmead", "Brindlehurst"}
	areaHeads  = []string{"Western", "Eastern", "Upper", "Lower", "Salt", "Copper", "Windrow", "Amber", "Granite", "Heather"}
	areaTails  = []string{"Bight", "Harbours", "Plains", "Passes", "Shelf", "Fells", "Marches", "Levels", "Downs", "Shore"}
	stands     = []string{"line 1, left", "line 1, right", "line 2, left", "line 2, right", "by the window", "under the hood", "chicken line", "fish line", "back kitchen", "drive counter"}
)

// zones are the time zones of the invented restaurants, each with a country in which it is used.
var zones = []struct{ zone, country string }{
	{"Europe/Dublin", "IE"}, {"Europe/London", "GB"}, {"America/New_York", "US"}, {"America/Chicago", "US"}, {"America/Denver", "US"},
	{"America/Los_Angeles", "US"}, {"Europe/Amsterdam", "NL"}, {"Australia/Sydney", "AU"},
}

var remarks = []string{
	"Oil dark and foaming at the rim: told the shift lead to change it.",
	"The film over the keys is worn through: they need a firm press.",
	"Probe cleaned of carbon.",
	"Basket hook bent; straightened, a new one would be better.",
	"Drain valve stiff. Greased with food-grade grease.",
	"One caster lock is missing; chocked.",
	"High limit tested: shut off as it should, came back when reset.",
	"Vent hood filters full of grease: told the manager.",
	"Door hinge loose; tightened.",
	"Crew asks for a louder shake tone. Told them to ask their office.",
}

func pick[T any](rnd *rand.Rand, list []T) T { return list[rnd.IntN(len(list))] }

func townName(rnd *rand.Rand) string { return pick(rnd, townHeads) + pick(rnd, townTails) }

// areaName gives the name of a service area; they are told apart by it.
func areaName(i int) string {
	heads, tails := len(areaHeads), len(areaTails)
	name := areaHeads[i%heads] + " " + areaTails[i/heads%tails]
	if turn := i / (heads * tails); turn > 0 {
		name += fmt.Sprintf(" %d", turn+1)
	}
	return name
}

func customerName(i int) string {
	return houseHeads[i%len(houseHeads)] + " " + houseTails[(i*3+i/len(houseHeads))%len(houseTails)]
}

func personName(rnd *rand.Rand) string { return pick(rnd, firstNames) + " " + pick(rnd, lastNames) }
