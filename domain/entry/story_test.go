package entry_test

import (
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// The ids of the story.
var (
	device   = id(0x01)
	mia      = id(0x02)
	tom      = id(0x0b)
	company  = id(0x03)
	heron    = id(0x04)
	quay     = id(0x05)
	lumen    = id(0x06)
	halver   = id(0x07)
	fryer    = id(0x08)
	found    = id(0x09)
	givenUp  = id(0x0a)
	quayMenu = standard.LayerID(standard.OfSite, quay, heron)
)

func id(last byte) uuid.UUID {
	u := uuid.MustParse("0193a0b4-7c00-7000-8000-000000000000")
	u[15] = last
	return u
}

func num(n float64) *float64 { return &n }

// told is an entry of the story. The ids of the entries count from 0x80.
type told struct {
	site, subject, base uuid.UUID
	body                journal.Body
}

// story is an invented fryer's life, with every kind of entry in its first version and every field of each filled
// somewhere: what testdata/v1-every-field.jsonl holds.
func story() []told {
	night := time.Date(2026, 11, 20, 21, 15, 9, 480e6, time.UTC)
	fries := sheet.Ref{Key: "slot.1.setpoint", Vat: 1}
	readings := []snapshot.Reading{
		{Ref: fries, Value: "350", Typed: "350 °F"}, {Ref: sheet.Ref{Key: "slot.1.product", Vat: 1}, Value: "potato", AsExpected: true},
		{Ref: sheet.Ref{Key: "name", Vat: 1}, Skipped: true}, {Ref: sheet.Ref{Key: "pilot"}, Value: "off"},
	}
	return []told{
		{uuid.Nil, mia, uuid.Nil, person.Saved{Person: person.Person{ID: mia, Name: "Mia Orchard", Email: "mia@brightwell.example", Role: access.Administrator}}},
		{uuid.Nil, tom, uuid.Nil, person.Saved{Person: person.Person{
			ID: tom, Name: "Tom Lathe", Email: "tom@brightwell.example", Role: access.Technician, Areas: []string{"north"}, Sites: []uuid.UUID{quay}, Gone: true,
		}}},
		{uuid.Nil, heron, uuid.Nil, sheet.Saved{Sheet: heronSheet(), Why: "the second menu slot"}},
		{uuid.Nil, company, uuid.Nil, fleet.CustomerSaved{Customer: fleet.Customer{ID: company, Code: "OTT", Name: "Otterly Battered", Note: "fish & chips, <since> 1987"}}},
		{quay, quay, uuid.Nil, fleet.SiteSaved{Site: fleet.Site{
			ID: quay, Code: "OTT-1", Customer: company, Name: "Vexley Quay", Address: "1 Harl Street", Town: "Vexley", Country: "IE", Area: "north",
			Lat: num(53.35), Lon: num(-6.26), ElevationM: 20, Zone: "Europe/Dublin", SupplyVolts: 230, Gas: fleet.NaturalGas, Access: "ring at the back door",
		}}},
		{lumen, lumen, uuid.Nil, fleet.SiteSaved{Site: fleet.Site{ID: lumen, Code: "OTT-2", Customer: company, Name: "Port Lumen", ElevationM: 1600, Zone: "America/Denver", Gas: fleet.Propane}}},
		{uuid.Nil, halver, uuid.Nil, fleet.ModelSaved{Model: fleet.Model{
			ID: halver, Code: "HV-35", Name: "Halver 35", Sheet: heron, Energy: sheet.Gas, Pot: sheet.SplitPot, RatedWatts: 35000, OilKg: 11.3, RatedVolts: 230,
			Phases: 1, Burners: 4, Elements: 2, BasketLifts: 2, Recovery: fleet.RecoverySpec{FromF: 250, ToF: 325, LimitSeconds: 130},
		}}},
		{quay, fryer, uuid.Nil, fleet.FryerSaved{Fryer: fleet.Fryer{
			ID: fryer, Tag: "T-001", Site: quay, Model: halver, Name: "line 1, left", Serial: "S-7781", Installed: "2026-05-14", Note: "beside the door",
		}}},
		{quay, quayMenu, uuid.Nil, standard.Changed{
			Level: standard.OfSite, Of: quay, Sheet: heron, Why: "winter menu",
			Set: []standard.Value{{Ref: fries, Value: "345"}, {Ref: sheet.Ref{Key: "pilot"}, Value: "on"}}, Clear: []sheet.Ref{{Key: "name", Vat: 2}},
		}},
		{quay, quay, uuid.Nil, rule.Switched{Rule: "eu-2017-2158-potato", On: true}},
		{quay, fryer, uuid.Nil, snapshot.Event{What: cause.PowerCut, Happened: night, Note: "the whole street"}},
		{quay, givenUp, uuid.Nil, snapshot.Begun{Fryer: fryer, Purpose: snapshot.Routine}},
		{quay, givenUp, uuid.Nil, snapshot.Dropped{Why: "the controller is off"}},
		{quay, found, uuid.Nil, snapshot.Begun{Fryer: fryer, Purpose: snapshot.AsFound, Readings: readings}},
		{quay, found, uuid.Nil, snapshot.Read{Readings: readings}},
		{quay, found, uuid.Nil, snapshot.Finished{Note: "the rest is behind a code", Readings: readings}},
		{quay, fryer, uuid.Nil, snapshot.Ticked{Ref: fries, Value: "345", Done: true}},
		{quay, fryer, uuid.Nil, standard.Accepted{Ref: fries, Value: "350", Reason: "probe ordered", Until: time.Date(2026, 12, 24, 0, 0, 0, 0, time.UTC)}},
		{quay, fryer, uuid.Nil, standard.Ended{Ref: fries, Reason: "probe fitted"}},
		{quay, fryer, uuid.Nil, snapshot.Note{Text: "Oil at 350 °F: smoke < usual"}},
		{lumen, fryer, id(0x87), fleet.FryerMoved{From: quay, To: lumen, Why: "kitchen rebuilt"}},
		{lumen, fryer, id(0x94), fleet.FryerRetired{Why: "left pot cracked"}},
		{lumen, fryer, id(0x95), fleet.FryerReturned{Why: "pot changed"}},
	}
}

func heronSheet() sheet.Sheet {
	return sheet.Sheet{
		ID: heron, Code: "heron-9", Name: "Heron 9", Note: "two menu slots",
		Settings: []sheet.Setting{
			{Key: "slot.1.product", Label: "Product", Group: "Menu", Kind: sheet.Choice, Options: []sheet.Option{{Key: "potato", Label: "Fries"}, {Key: "fish", Label: "Fish"}}, Factory: "fish", Scope: sheet.PerVat, Class: sheet.Food, Role: sheet.RoleProduct, Menu: 1},
			{
				Key: "slot.1.setpoint", Label: "Fry setpoint", Group: "Menu", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Factory: "350",
				Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 1, After: []string{"slot.1.product"}, Note: "hold the left key", Role: sheet.RoleSetpoint, Menu: 1,
			},
			{Key: "pilot", Label: "Standing pilot", Group: "Heat", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety, Energies: []sheet.Energy{sheet.Gas}, Pots: []sheet.Pot{sheet.SinglePot, sheet.SplitPot}},
			{Key: "band", Label: "Ready band", Group: "Heat", Kind: sheet.Number, Unit: "°F", Factory: "20", Scope: sheet.PerController, Class: sheet.Output},
			{Key: "name", Label: "Vat name", Group: "About", Kind: sheet.Text, Scope: sheet.PerVat, Class: sheet.Minor, Kept: true},
			{Key: "sum", Label: "Program checksum", Group: "About", Kind: sheet.Text, Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true, Role: sheet.RoleChecksum},
		},
		Interlocks: []sheet.Interlock{{
			Key: "pilot-gas", Label: "A standing pilot needs gas, and a setpoint well above the band", Class: sheet.Safety, Why: "it stays lit while the fryer is off",
			When: []sheet.Condition{
				{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}},
				{Setting: "band", Op: sheet.AtMost, Than: "slot.1.setpoint", Plus: -10},
			},
			Must: []sheet.Condition{
				{Setting: sheet.FactEnergy, Op: sheet.OneOf, Values: []sheet.Value{"gas"}},
				{Setting: "slot.1.setpoint", Op: sheet.AtLeast, Than: "band", Plus: 100},
			},
		}},
	}
}
