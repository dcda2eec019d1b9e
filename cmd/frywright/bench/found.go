package bench

import (
	"fmt"
	"time"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/person"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// The sign-ins of every invented fleet, and their password.
const (
	leadEmail       = "lead@tallowmere.example"
	deskEmail       = "desk@tallowmere.example"
	technicianEmail = "technician-1@tallowmere.example"
	managerEmail    = "manager-1@tallowmere.example"
	password        = "four baskets under one hood"
)

// crew is who works for the invented service company.
type crew struct {
	lead        uuid.UUID
	desks       []uuid.UUID
	technicians []uuid.UUID // by area
}

// clock tells the moments of the founding, one after another.
type clock struct{ at time.Time }

func (c *clock) next() time.Time {
	c.at = c.at.Add(20 * time.Millisecond)
	return c.at
}

// found makes the company, its people, its restaurants, fryers and standards.
func (t *teller) found() {
	c := &clock{begin()}
	t.crew.lead = t.hire(c, person.Person{Email: leadEmail, Role: access.Administrator})
	for i := range 3 {
		email := deskEmail
		if i > 0 {
			email = fmt.Sprintf("desk-%d@tallowmere.example", i+1)
		}
		t.crew.desks = append(t.crew.desks, t.hire(c, person.Person{Email: email, Role: access.Dispatcher}))
	}
	t.foundKits(c)
	t.foundCustomers(c)
	t.foundPlaces(c)
	for i := range t.areas() {
		t.crew.technicians = append(t.crew.technicians, t.hire(c, person.Person{
			Email: fmt.Sprintf("technician-%d@tallowmere.example", i+1), Role: access.Technician, Areas: []string{areaName(i)},
		}))
	}
	for i := range t.areas() {
		p := person.Person{Email: fmt.Sprintf("manager-%d@tallowmere.example", i+1), Role: access.Manager}
		for j := range 1 + i%3 {
			p.Sites = append(p.Sites, t.places[(i*17+j)%len(t.places)].ID)
		}
		t.hire(c, p)
	}
	t.foundMachines(c)
	t.foundStandards(&clock{begin().AddDate(0, 0, 1)})
}

func (t *teller) areas() int { return max(2, t.plan.sites()/sitesPerArea) }

// hire writes a person down and gives their id.
func (t *teller) hire(c *clock, p person.Person) uuid.UUID {
	at := c.next()
	p.ID, p.Name = t.newID(at), personName(t.rnd)
	author := t.crew.lead
	if author == uuid.Nil {
		author = p.ID
	}
	t.tell(at, about{author: author, subject: p.ID}, person.Saved{Person: p})
	return p.ID
}

func (t *teller) foundKits(c *clock) {
	t.kits = kits(func() uuid.UUID { return t.newID(c.at) })
	for _, k := range t.kits {
		t.tell(c.next(), about{author: t.crew.lead, subject: k.sheet.ID}, sheet.Saved{Sheet: k.sheet, Why: "As the controller presents them."})
		for _, m := range k.models {
			t.tell(c.next(), about{author: t.crew.lead, subject: m.ID}, fleet.ModelSaved{Model: m})
		}
	}
}

func (t *teller) foundCustomers(c *clock) {
	for i := range min(mostCustomers, t.plan.sites()/4) {
		x := customer{Customer: fleet.Customer{ID: t.newID(c.next()), Code: fmt.Sprintf("C%02d", i+1), Name: customerName(i)}}
		switch {
		case i == 0: // the large one: one controller type, so that one standard holds for every fryer of it
			x.kits = []int{0}
		case i%3 == 0:
			x.kits = []int{0, 1, 2}
		default:
			x.kits = []int{i % 3, (i + 1) % 3}
		}
		t.customers = append(t.customers, x)
		t.tell(c.at, about{author: t.crew.desks[0], subject: x.ID}, fleet.CustomerSaved{Customer: x.Customer})
	}
}

// foundPlaces makes the restaurants: one in largeShare is the large customer's, the others are anybody's.
func (t *teller) foundPlaces(c *clock) {
	t.places = make([]place, t.plan.sites())
	for i := range t.places {
		p := &t.places[i]
		p.customer, p.area, p.first = 0, t.rnd.IntN(t.areas()), i*perSite
		if i%largeShare != 0 || i/largeShare >= len(t.places)/largeShare {
			p.customer = 1 + t.rnd.IntN(len(t.customers)-1)
		}
		p.Site = t.site(i, p, c.next())
		t.tell(c.at, about{author: t.crew.desks[0], place: p, subject: p.ID}, fleet.SiteSaved{Site: p.Site})
	}
}

func (t *teller) site(i int, p *place, at time.Time) fleet.Site {
	z := zones[p.area%len(zones)]
	town := townName(t.rnd)
	lat, lon := 35+20*t.rnd.Float64(), -120+125*t.rnd.Float64()
	return fleet.Site{
		ID: t.newID(at), Code: fmt.Sprintf("R%05d", i+1), Customer: t.customers[p.customer].ID,
		Name: firstWord(t.customers[p.customer].Name) + " " + town, Address: fmt.Sprintf("%d %s", 1+t.rnd.IntN(180), pick(t.rnd, streets)),
		Town: town, Country: z.country, Area: areaName(p.area), Lat: &lat, Lon: &lon, ElevationM: float64(t.rnd.IntN(1800)), Zone: z.zone,
		SupplyVolts: pick(t.rnd, []float64{208, 230, 240, 400}), Gas: pick(t.rnd, fleet.GasSupplies()[:2]), Access: "Ask at the back door before eleven.",
	}
}

func firstWord(text string) string {
	var word string
	_, _ = fmt.Sscan(text, &word)
	return word
}

func (t *teller) foundMachines(c *clock) {
	t.machines = make([]machine, t.plan.Fryers)
	for i := range t.machines {
		m := &t.machines[i]
		m.place, m.late = i/perSite, t.rnd.IntN(100) == 0
		p := &t.places[m.place]
		m.kit, m.electric = pick(t.rnd, t.customers[p.customer].kits), t.rnd.IntN(3) == 0
		model := t.kits[m.kit].models[0]
		if m.electric {
			model = t.kits[m.kit].models[1]
		}
		m.id, m.model, m.tag = t.newID(c.next()), model.ID, fmt.Sprintf("TM-%06d", i+1)
		f := fleet.Fryer{
			ID: m.id, Tag: m.tag, Site: p.ID, Model: model.ID, Name: stands[i%perSite], Serial: fmt.Sprintf("%s%08X", model.Code, t.rnd.Uint32()),
			Installed: begin().AddDate(0, 0, -t.rnd.IntN(2500)).Format(time.DateOnly),
		}
		t.tell(c.at, about{author: t.crew.desks[0], place: p, subject: m.id, fryer: m.id}, fleet.FryerSaved{Fryer: f})
	}
}

// foundStandards sets the house standards: every customer's, those of one restaurant in twenty and of one fryer in a hundred.
func (t *teller) foundStandards(c *clock) {
	for i := range t.customers {
		for _, k := range t.customers[i].kits {
			sh := &t.kits[k].sheet
			t.set(c, nil, uuid.Nil, standard.Changed{
				Level: standard.OfCustomer, Of: t.customers[i].ID, Sheet: sh.ID, Set: house(sh, i), Why: "The house menu.",
			})
		}
	}
	for i := range t.places {
		p := &t.places[i]
		if t.rnd.IntN(20) == 0 {
			sh := &t.kits[t.machines[p.first].kit].sheet
			p.own = &standard.Changed{Level: standard.OfSite, Of: p.ID, Sheet: sh.ID, Set: t.own("hold-time", 5, 15), Why: "The cabinet holds warmer here."}
			t.set(c, p, uuid.Nil, *p.own)
		}
	}
	for i := range t.machines {
		m := &t.machines[i]
		if t.rnd.IntN(100) == 0 {
			sh := &t.kits[m.kit].sheet
			m.own = &standard.Changed{Level: standard.OfFryer, Of: m.id, Sheet: sh.ID, Set: t.own("p1.cook", 200, 260), Why: "Cuts are thicker on this line."}
			t.set(c, &t.places[m.place], m.id, *m.own)
		}
	}
}

func (t *teller) own(key string, low, high int) []standard.Value {
	return []standard.Value{{Ref: sheet.Ref{Key: key}, Value: sheet.Num(float64(low + t.rnd.IntN(high-low)))}}
}

func (t *teller) set(c *clock, p *place, fryer uuid.UUID, b standard.Changed) {
	t.tell(c.next(), about{author: t.crew.lead, place: p, subject: standard.LayerID(b.Level, b.Of, b.Sheet), fryer: fryer}, b)
}

// The large customer, and the one controller type that it has.
const (
	largeCode  = "C01"
	largeSheet = "TARN"
)
