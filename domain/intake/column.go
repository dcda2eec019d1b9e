package intake

import (
	"slices"
	"strings"

	"frywright/domain/fault"
)

// Column is one column of a kind of file.
type Column struct {
	Name     string
	Required bool
	Help     string // what stands in it, for a page that explains the files
}

var columns = map[Kind][]Column{
	Sheets: {
		{"sheet", true, "the code of the settings sheet; its rows together make the whole sheet, in their order"},
		{"sheet_name", false, "the controller type's name; needed once for a new sheet"},
		{"key", true, "the setting's key: small letters, digits, points and hyphens"},
		{"label", true, "the setting as the technician would name it"},
		{"group", true, "the group it stands in"},
		{"kind", true, "number, choice, switch or text"},
		{"unit", false, "shown behind a number: °F, s, %"},
		{"min", false, "lowest number"},
		{"max", false, "highest number"},
		{"step", false, "step of a number; empty: any"},
		{"options", false, "of a choice: key=Label|key=Label; \\| and \\= stand for the characters themselves"},
		{"factory", false, "the factory value"},
		{"scope", false, "controller or vat; empty: controller"},
		{"read_only", false, "yes or no"},
		{"kept", false, "yes where a factory reset leaves it alone"},
		{"class", false, "safety, food, output or minor; empty: minor"},
		{"tolerance", false, "largest difference that is not drift"},
		{"energies", false, "gas|electric; empty: both"},
		{"pots", false, "single|split; empty: both"},
		{"after", false, "keys that must be entered before it: key|key"},
		{"note", false, "how to reach it on the controller"},
		{"role", false, "what it means to rules outside the sheet: setpoint, cook-time, …"},
		{"menu", false, "menu slot from 1"},
	},
	Interlocks: {
		{"sheet", true, "the code of the settings sheet; its rows together make all its interlocks"},
		{"key", true, "the interlock's key"},
		{"label", true, "the rule in one plain sentence"},
		{"when", false, "conditions joined by ; — empty: always"},
		{"must", true, "conditions joined by ; — pilot is on ; profile one-of gas-standard|thermostat ; idle at-most than cook + -10"},
		{"class", true, "safety, food, output or minor"},
		{"why", false, "the reason"},
	},
	Models: {
		{"code", true, "short and unique"},
		{"name", true, "the model's name"},
		{"sheet", true, "the code of the settings sheet of its controller"},
		{"energy", true, "gas or electric"},
		{"pot", true, "single or split"},
		{"rated_watts", false, "rated input of the whole fryer, W"},
		{"oil_kg", false, "oil in one vat, kg"},
		{"rated_volts", false, "rated voltage, V"},
		{"phases", false, "1 or 3"},
		{"burners", false, "number of burners"},
		{"elements", false, "number of elements"},
		{"basket_lifts", false, "0, 1 or 2"},
		{"recovery_from_f", false, "recovery test: where its window begins, °F"},
		{"recovery_to_f", false, "recovery test: where its window ends, °F"},
		{"recovery_limit_s", false, "recovery test: longest time, s"},
	},
	Sites: {
		{"code", true, "short and unique"},
		{"customer", true, "the restaurant company's code; one that is not known is made"},
		{"customer_name", false, "the name of a restaurant company that is made"},
		{"name", true, "the restaurant's name"},
		{"address", false, ""},
		{"town", false, ""},
		{"country", false, "two letters, ISO 3166-1"},
		{"area", false, "the service area"},
		{"lat", false, "degrees north"},
		{"lon", false, "degrees east"},
		{"elevation_m", false, "metres above sea level"},
		{"zone", true, "time zone: region and city, for example Europe/Dublin"},
		{"supply_volts", false, "V"},
		{"gas", false, "natural, propane or none; empty: none"},
		{"access", false, "how to get in, whom to ask"},
	},
	Fryers: {
		{"tag", true, "asset tag, unique"},
		{"site", true, "the site's code; another than before moves the fryer"},
		{"model", true, "the model's code"},
		{"name", false, "where it stands: line 1, left"},
		{"serial", false, ""},
		{"installed", false, "year-month-day"},
		{"note", false, ""},
	},
	Standards: {
		{"level", true, "model, customer, site or fryer"},
		{"of", true, "the code or tag of that model, customer, site or fryer"},
		{"sheet", true, "the code of the settings sheet"},
		{"key", true, "the setting's key"},
		{"vat", false, "empty for every vat or the whole controller; 1 or left, 2 or right"},
		{"value", true, "empty clears it"},
		{"why", false, "the reason"},
	},
}

// Columns lists the columns of a kind of file in the order in which they are written.
func Columns(k Kind) []Column { return slices.Clone(columns[k]) }

func columnNames(k Kind, only func(Column) bool) []string {
	var names []string
	for _, c := range columns[k] {
		if only(c) {
			names = append(names, c.Name)
		}
	}
	return names
}

func anyColumn(Column) bool        { return true }
func requiredColumn(c Column) bool { return c.Required }
func hasColumn(k Kind, n string) bool {
	return slices.ContainsFunc(columns[k], func(c Column) bool { return c.Name == n })
}

// columnName gives the name of a column from a header cell: case, and spaces or hyphens for underscores, do not count.
func columnName(cell string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(clean(cell)), func(r rune) bool {
		return r == '_' || r == '-' || isBlank(r)
	}), "_")
}

// kindOf tells the kind of a file by its header: every required column must be there.
func kindOf(names []string) (Kind, error) {
	best, bestShare, bestHits := Kind(""), 0.0, 0
	for _, k := range Kinds() {
		required := columnNames(k, requiredColumn)
		there := 0
		for _, n := range required {
			if slices.Contains(names, n) {
				there++
			}
		}
		share, hits := float64(there)/float64(len(required)), knownNames(k, names)
		if share > bestShare || share == bestShare && hits > bestHits {
			best, bestShare, bestHits = k, share, hits
		}
	}
	switch {
	case bestShare == 1:
		return best, nil
	case bestShare >= 0.5:
		return "", fault.New(fault.Invalid, "This looks like a file of %s, but it lacks a column: %s.", best, strings.Join(missing(best, names), ", "))
	default:
		return "", fault.New(fault.Invalid, "The first row does not say what the file is about. It must name the columns: %s.", allRequired())
	}
}

func knownNames(k Kind, names []string) int {
	hits := 0
	for _, n := range names {
		if hasColumn(k, n) {
			hits++
		}
	}
	return hits
}

func missing(k Kind, names []string) []string {
	return slices.DeleteFunc(columnNames(k, requiredColumn), func(n string) bool { return slices.Contains(names, n) })
}

func allRequired() string {
	var parts []string
	for _, k := range Kinds() {
		parts = append(parts, "for "+string(k)+" "+strings.Join(columnNames(k, requiredColumn), ", "))
	}
	return strings.Join(parts, "; ")
}
