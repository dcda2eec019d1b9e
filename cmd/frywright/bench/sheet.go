package bench

import (
	"fmt"

	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// kit is one controller type with the models that have it.
type kit struct {
	sheet  sheet.Sheet
	models []fleet.Model
}

// kits makes the three controller types, each of 40 settings, and two fryer models for each.
func kits(newID func() uuid.UUID) []kit {
	names := []struct {
		code, name string
		models     [2]string
	}{
		{"TARN", "Tarnhook Four", [2]string{"Halver Low", "Halver Tall"}},
		{"PELL", "Pellmell Seven", [2]string{"Drumble Single", "Drumble Wide"}},
		{"WHIN", "Whinberry Nine", [2]string{"Skerry Deep", "Skerry Broad"}},
	}
	list := make([]kit, len(names))
	for i, n := range names {
		k := kit{sheet: sheet.Sheet{ID: newID(), Code: n.code, Name: n.name, Settings: settings(i), Interlocks: interlocks()}}
		for j, model := range n.models {
			m := fleet.Model{
				ID: newID(), Code: fmt.Sprintf("%s-%d", n.code, j+1), Name: model, Sheet: k.sheet.ID, Energy: sheet.Gas, Pot: sheet.SinglePot,
				RatedWatts: 29_000 + 2_500*float64(i+j), OilKg: 22 + float64(i), Burners: 4, BasketLifts: j,
				Recovery: fleet.RecoverySpec{FromF: 250, ToF: 325, LimitSeconds: 105},
			}
			if j == 1 {
				m.Energy, m.RatedVolts, m.Phases, m.Burners, m.Elements = sheet.Electric, 400, 3, 0, 6
			}
			k.models = append(k.models, m)
		}
		list[i] = k
	}
	return list
}

func number(key, label, group, unit string, low, high, factory float64, class sheet.Class, tolerance float64) sheet.Setting {
	return sheet.Setting{
		Key: key, Label: label, Group: group, Kind: sheet.Number, Unit: unit, Min: &low, Max: &high, Step: 1, Factory: sheet.Num(factory),
		Scope: sheet.PerController, Class: class, Tolerance: tolerance,
	}
}

func toggle(key, label, group string, factory sheet.Value, class sheet.Class) sheet.Setting {
	return sheet.Setting{Key: key, Label: label, Group: group, Kind: sheet.Switch, Factory: factory, Scope: sheet.PerController, Class: class}
}

func choice(key, label, group string, factory sheet.Value, class sheet.Class, keys ...string) sheet.Setting {
	s := sheet.Setting{Key: key, Label: label, Group: group, Kind: sheet.Choice, Factory: factory, Scope: sheet.PerController, Class: class}
	for _, k := range keys {
		s.Options = append(s.Options, sheet.Option{Key: k, Label: k})
	}
	return s
}

// settings are the 40 settings of the controller type i. They differ from type to type in what the factory sets.
func settings(i int) []sheet.Setting {
	more := float64(i)
	checksum := sheet.Setting{
		Key: "checksum", Label: "Program checksum", Group: "Name plate", Kind: sheet.Text, Factory: sheet.Value(fmt.Sprintf("C%d-5A1E", i)),
		Scope: sheet.PerController, ReadOnly: true, Kept: true, Class: sheet.Food, Role: sheet.RoleChecksum,
	}
	top := number("top-temp", "Highest temperature that can be set", "Name plate", "°F", 300, 400, 390, sheet.Safety, 0)
	top.ReadOnly, top.Kept, top.Role = true, true, sheet.RoleTopTemp
	offset := number("offset", "Probe offset", "Heat", "°F", -15, 15, 0, sheet.Food, 1)
	offset.Scope = sheet.PerVat
	list := []sheet.Setting{
		checksum, top,
		choice("unit", "Temperatures shown in", "Appliance", "f", sheet.Minor, "f", "c"),
		choice("shortening", "Shortening", "Appliance", "liquid", sheet.Safety, "liquid", "solid"),
		choice("profile", "Heat profile", "Appliance", "standard", sheet.Output, "standard", "thermostat"),
		toggle("pilot", "Standing pilot", "Appliance", "off", sheet.Safety),
		number("lifts", "Basket lifts driven", "Appliance", "", 0, 2, 0, sheet.Output, 0),
		offset,
		number("ready-band", "Ready band below setpoint", "Heat", "°F", 5, 40, 20, sheet.Food, 0),
		number("melt-on", "Melt pulse on, liquid", "Heat", "s", 2, 20, 8, sheet.Output, 0),
		number("min-on", "Minimum on", "Heat", "s", 0, 60, 6+more, sheet.Output, 0),
		number("min-off", "Minimum off", "Heat", "s", 0, 60, 12+more, sheet.Output, 0),
		number("idle-temp", "Idle temperature", "Quiet hours", "°F", 200, 325, 250, sheet.Output, 2),
		number("idle-delay", "Idle after no cook for", "Quiet hours", "min", 0, 120, 45, sheet.Output, 0),
		number("doze-after", "Off after no cook for", "Quiet hours", "min", 0, 240, 120, sheet.Minor, 0),
		number("shake-alarm", "Shake alarm", "Sounds and keys", "s", 0, 60, 4, sheet.Minor, 0),
		number("hold-alarm", "Hold alarm", "Sounds and keys", "s", 0, 120, 12, sheet.Minor, 0),
		number("hold-cancel", "Hold to cancel", "Sounds and keys", "s", 0, 10, 2, sheet.Minor, 0),
		toggle("next-timer", "Next timer before clearing", "Sounds and keys", "on", sheet.Minor),
		number("hold-time", "Hold time, every product", "Sounds and keys", "min", 0, 60, 7, sheet.Food, 0),
	}
	for slot := 1; slot <= 5; slot++ {
		list = append(list, product(slot, more)...)
	}
	return list
}

// product is the four settings of a menu slot.
func product(slot int, more float64) []sheet.Setting {
	group, key := fmt.Sprintf("Product %d", slot), fmt.Sprintf("p%d.", slot)
	what := []sheet.Value{"potato", "fish", "poultry", "dough", "vegetable"}[slot-1]
	list := []sheet.Setting{
		choice(key+"product", group+", what it is", group, what, sheet.Food, "unused", "potato", "fish", "poultry", "dough", "vegetable"),
		number(key+"setpoint", group+", setpoint", group, "°F", 200, 390, 350, sheet.Food, 1),
		number(key+"cook", group+", cook time", group, "s", 0, 1800, 150+30*float64(slot)+10*more, sheet.Food, 2),
		number(key+"shake", group+", first shake after", group, "s", 0, 1800, 30, sheet.Output, 2),
	}
	list[0].Role, list[1].Role, list[2].Role = sheet.RoleProduct, sheet.RoleSetpoint, sheet.RoleCookTime
	list[1].After, list[2].After, list[3].After = []string{"unit", key + "product"}, []string{key + "product"}, []string{key + "cook"}
	for i := range list {
		list[i].Menu = slot
	}
	return list
}

func interlocks() []sheet.Interlock {
	return []sheet.Interlock{
		{
			Key: "pilot-gas", Label: "A standing pilot needs a gas appliance.", Class: sheet.Safety,
			When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
			Must: []sheet.Condition{{Setting: sheet.FactEnergy, Op: sheet.Is, Values: []sheet.Value{"gas"}}},
		},
		{
			Key: "idle-below", Label: "The idle temperature lies below the first product's setpoint.", Class: sheet.Output,
			Must: []sheet.Condition{{Setting: "idle-temp", Op: sheet.AtMost, Than: "p1.setpoint"}},
		},
	}
}

// houseKeys are the settings that a customer's house standard sets, besides each menu slot's.
var houseKeys = []string{"ready-band", "idle-temp", "idle-delay", "shake-alarm", "hold-alarm", "hold-time", "doze-after"}

// house makes a house standard that differs from the factory in a dozen values, another for every number.
func house(sh *sheet.Sheet, n int) []standard.Value {
	var set []standard.Value
	add := func(key string, by float64) {
		s, _ := sh.Setting(key)
		from, _ := s.Factory.Number()
		set = append(set, standard.Value{Ref: sheet.Ref{Key: key}, Value: sheet.Num(from + by)})
	}
	for i, key := range houseKeys {
		add(key, float64(1+(n+i)%5))
	}
	for slot := 1; slot <= 3; slot++ {
		add(fmt.Sprintf("p%d.setpoint", slot), -float64(2+(n+slot)%9))
		add(fmt.Sprintf("p%d.cook", slot), float64(5*(1+(n+slot)%6)))
	}
	return set
}
