package intake

import (
	"regexp"
	"strings"

	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

var modelFields = []field[fleet.Model]{
	textField("name", func(m *fleet.Model) *string { return &m.Name }),
	wordField("energy", "", func(m *fleet.Model) *sheet.Energy { return &m.Energy }),
	wordField("pot", "", func(m *fleet.Model) *sheet.Pot { return &m.Pot }),
	numberField("rated_watts", func(m *fleet.Model) *float64 { return &m.RatedWatts }),
	numberField("oil_kg", func(m *fleet.Model) *float64 { return &m.OilKg }),
	numberField("rated_volts", func(m *fleet.Model) *float64 { return &m.RatedVolts }),
	wholeField("phases", func(m *fleet.Model) *int { return &m.Phases }),
	wholeField("burners", func(m *fleet.Model) *int { return &m.Burners }),
	wholeField("elements", func(m *fleet.Model) *int { return &m.Elements }),
	wholeField("basket_lifts", func(m *fleet.Model) *int { return &m.BasketLifts }),
	numberField("recovery_from_f", func(m *fleet.Model) *float64 { return &m.Recovery.FromF }),
	numberField("recovery_to_f", func(m *fleet.Model) *float64 { return &m.Recovery.ToF }),
	numberField("recovery_limit_s", func(m *fleet.Model) *float64 { return &m.Recovery.LimitSeconds }),
}

var modelColumns = map[string]string{
	"recovery_from": "recovery_from_f", "recovery_to": "recovery_to_f", "recovery_limit": "recovery_limit_s",
}

func (p *planner) takeModel(l *line) {
	l.out.What = "model " + l.text("code")
	t := p.models.claim(l, "code", func() fleet.Model { return fleet.Model{ID: p.newID(), Code: l.text("code")} })
	if t == nil {
		return
	}
	next := t.value
	take(l, modelFields, &next)
	next.Sheet = uuid.Nil
	if s := p.sheets.refer(l, "sheet"); s != nil {
		next.Sheet = s.value.ID
	}
	l.out.What = "model " + next.Code + named(next.Name)
	l.blame(fleet.ModelSaved{Model: next}.Validate(), modelColumns)
	changes := append(p.movedCode("sheet", t.value.Sheet, next.Sheet), differences(modelFields, &t.value, &next)...)
	write := l.settle(!t.known, changes)
	keep(t, l, next)
	p.byID[next.ID] = next.Code
	if write {
		p.draft(journal.Draft{Subject: next.ID, Base: t.version, Body: fleet.ModelSaved{Model: next}})
	}
}

// keep lets the thing stand as its row says, or remembers that the row is wrong.
func keep[T any](t *thing[T], l *line, next T) {
	if l.wrong() {
		t.wrong = l.place()
		return
	}
	t.value = next
}

func named(name string) string {
	if name == "" {
		return ""
	}
	return ", " + clip(name)
}

// movedCode says that a row names another thing than before.
func (p *planner) movedCode(column string, before, after uuid.UUID) []string {
	if before == after {
		return nil
	}
	return []string{changeText(column, p.byID[before], p.byID[after])}
}

var siteFields = []field[fleet.Site]{
	textField("name", func(s *fleet.Site) *string { return &s.Name }),
	textField("address", func(s *fleet.Site) *string { return &s.Address }),
	textField("town", func(s *fleet.Site) *string { return &s.Town }),
	{"country", func(s *fleet.Site) string { return s.Country }, func(l *line, s *fleet.Site) { s.Country = strings.ToUpper(l.text("country")) }},
	textField("area", func(s *fleet.Site) *string { return &s.Area }),
	optionalField("lat", func(s *fleet.Site) **float64 { return &s.Lat }),
	optionalField("lon", func(s *fleet.Site) **float64 { return &s.Lon }),
	numberField("elevation_m", func(s *fleet.Site) *float64 { return &s.ElevationM }),
	textField("zone", func(s *fleet.Site) *string { return &s.Zone }),
	numberField("supply_volts", func(s *fleet.Site) *float64 { return &s.SupplyVolts }),
	wordField("gas", fleet.NoGas, func(s *fleet.Site) *fleet.GasSupply { return &s.Gas }),
	textField("access", func(s *fleet.Site) *string { return &s.Access }),
}

// takeSites judges sites. A customer that is made takes its name from the first row that gives one.
func (p *planner) takeSites(rows []*line) {
	names := map[string]string{}
	for _, l := range rows {
		if key := fold(l.text("customer")); names[key] == "" {
			names[key] = l.text("customer_name")
		}
	}
	p.each(rows, func(l *line) { p.takeSite(l, names[fold(l.text("customer"))]) })
}

func (p *planner) takeSite(l *line, customerName string) {
	l.out.What = "site " + l.text("code")
	t := p.sites.claim(l, "code", func() fleet.Site { return fleet.Site{ID: p.newID(), Code: l.text("code"), Gas: fleet.NoGas} })
	if t == nil {
		return
	}
	next := t.value
	take(l, siteFields, &next)
	customer := p.customer(l, customerName)
	next.Customer = customer.value.ID
	l.out.What = "site " + next.Code + named(next.Name)
	l.blame(fleet.SiteSaved{Site: next}.Validate(), nil)
	changes := append(p.movedCode("customer", t.value.Customer, next.Customer), differences(siteFields, &t.value, &next)...)
	write := l.settle(!t.known, changes)
	keep(t, l, next)
	p.byID[next.ID] = next.Code
	if l.wrong() && customer.spoken == (place{}) {
		customer.wrong = l.place()
	}
	if write {
		p.saveCustomer(l, customer)
		p.draft(journal.Draft{Site: next.ID, Subject: next.ID, Base: t.version, Body: fleet.SiteSaved{Site: next}})
	}
}

// customer gives the customer that a site's row names, a new one where there is none yet.
func (p *planner) customer(l *line, name string) *thing[fleet.Customer] {
	code := l.text("customer")
	if code == "" {
		return &thing[fleet.Customer]{}
	}
	t := p.customers.get(code)
	if t == nil {
		if name == "" {
			name = code
		}
		t = &thing[fleet.Customer]{value: fleet.Customer{ID: p.newID(), Code: code, Name: name}}
		p.customers.made[fold(code)] = t
		p.byID[t.value.ID] = code
	}
	if !t.known {
		l.blame(fleet.CustomerSaved{Customer: t.value}.Validate(), map[string]string{"code": "customer", "name": "customer_name"})
	}
	if given := l.text("customer_name"); given != "" && given != t.value.Name {
		l.note("The customer %s keeps its name, %s. Change it on its own page.", t.value.Code, clip(t.value.Name))
	}
	return t
}

// saveCustomer writes a new customer with the first right row that names it.
func (p *planner) saveCustomer(l *line, t *thing[fleet.Customer]) {
	if t.known || t.spoken != (place{}) {
		return
	}
	t.spoken, t.wrong = l.place(), place{}
	l.note("The customer %s%s is new.", t.value.Code, named(t.value.Name))
	p.draft(journal.Draft{Subject: t.value.ID, Body: fleet.CustomerSaved{Customer: t.value}})
}

var fryerFields = []field[fleet.Fryer]{
	textField("name", func(f *fleet.Fryer) *string { return &f.Name }),
	textField("serial", func(f *fleet.Fryer) *string { return &f.Serial }),
	{"installed", func(f *fleet.Fryer) string { return f.Installed }, func(l *line, f *fleet.Fryer) { f.Installed = dateText(l.text("installed")) }},
	textField("note", func(f *fleet.Fryer) *string { return &f.Note }),
}

var datePattern = regexp.MustCompile(`^([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})([ T]00:00(:00)?)?$`)

// dateText brings a date that begins with its year, as spreadsheets write it, to YYYY-MM-DD. Others stay as they are:
// day and month could be taken for each other.
func dateText(cell string) string {
	m := datePattern.FindStringSubmatch(cell)
	if m == nil {
		return cell
	}
	return m[1] + "-" + two(m[2]) + "-" + two(m[3])
}

func two(digits string) string {
	if len(digits) == 1 {
		return "0" + digits
	}
	return digits
}

// importWhy is the reason of what an import changes where its rows give none.
const importWhy = "import"

func (p *planner) takeFryer(l *line) {
	l.out.What = "fryer " + l.text("tag")
	t := p.fryers.claim(l, "tag", func() fleet.Fryer { return fleet.Fryer{ID: p.newID(), Tag: l.text("tag")} })
	if t == nil {
		return
	}
	next := t.value
	take(l, fryerFields, &next)
	next.Site, next.Model = uuid.Nil, uuid.Nil
	if s := p.sites.refer(l, "site"); s != nil {
		next.Site = s.value.ID
		l.out.What = "fryer " + next.Tag + " at " + s.value.Name
	}
	if m := p.models.refer(l, "model"); m != nil {
		next.Model = m.value.ID
	}
	l.blame(fleet.FryerSaved{Fryer: next}.Validate(), nil)
	before := t.value
	changes := append(p.movedCode("model", before.Model, next.Model), differences(fryerFields, &before, &next)...)
	l.settle(!t.known, changes)
	keep(t, l, next)
	if !l.wrong() {
		p.saveFryer(l, t, before, len(changes) > 0)
	}
}

// saveFryer writes a fryer: what changes of it first, while it stands where it stood, and then its move.
func (p *planner) saveFryer(l *line, t *thing[fleet.Fryer], before fleet.Fryer, changed bool) {
	next, moves := t.value, t.known && before.Site != t.value.Site
	saved, base := next, t.version
	var id uuid.UUID
	if moves {
		saved.Site = before.Site
		id = p.newID()
	}
	if !t.known || changed {
		p.draft(journal.Draft{ID: id, Site: saved.Site, Subject: next.ID, Base: base, Body: fleet.FryerSaved{Fryer: saved}})
		base = id
	}
	if !moves {
		return
	}
	l.out.Outcome = Moved
	l.change(changeText("site", p.byID[before.Site], p.byID[next.Site]))
	p.draft(journal.Draft{Site: next.Site, Subject: next.ID, Base: base,
		Body: fleet.FryerMoved{From: before.Site, To: next.Site, Why: importWhy}})
}
