package scenario

import (
	"time"

	"frywright/domain/access"
	"frywright/domain/journal"
	"frywright/domain/person"

	"github.com/google/uuid"
)

// Person is somebody of the demonstration.
type Person struct {
	Name  string
	Email string
	Role  access.Role
	Areas []string
	Sites []string // codes
	What  string   // what they do, for the sign-in page
}

// The sign-ins that tests and the teller speak of.
const (
	LeadEmail    = "lead@kettlefold.example"
	DeskEmail    = "desk@kettlefold.example"
	FridayEmail  = "ines@kettlefold.example" // the technician who passes the Friday night's restaurant
	ManagerEmail = "maeve@brackenfold.example"
)

// The service areas.
const (
	areaWest    = "Western Bight"
	areaEast    = "Salt Harbours"
	areaPlains  = "Windrow Plains"
	areaPasses  = "High Passes"
	areaSouth   = "Copper Shelf"
	westEmail   = "piotr@kettlefold.example"
	passesEmail = "delphine@kettlefold.example"
)

// People lists the sign-ins.
func People() []Person {
	return []Person{
		{Name: "Ottoline Fenwhistle", Email: LeadEmail, Role: access.Administrator, What: "service lead: standards, sheets and people"},
		{Name: "Bram Quillop", Email: DeskEmail, Role: access.Dispatcher, What: "dispatcher: the whole fleet, worst first"},
		{Name: "Ines Hobblethorpe", Email: FridayEmail, Role: access.Technician, Areas: []string{areaEast, areaPlains}, What: "technician: Friday night waits for her at Vexley Cellars"},
		{Name: "Piotr Larkenby", Email: westEmail, Role: access.Technician, Areas: []string{areaWest}, What: "technician in Ireland"},
		{Name: "Delphine Cragmuir", Email: passesEmail, Role: access.Technician, Areas: []string{areaPasses, areaSouth}, What: "technician in the mountains"},
		{Name: "Maeve Nettlecombe", Email: ManagerEmail, Role: access.Manager, Sites: []string{FridaySite}, What: "restaurant manager of Vexley Cellars"},
		{Name: "Tobin Ondercott", Email: "tobin@ossiterplum.example", Role: access.Manager, Sites: []string{"OSP-16", "OSP-17"}, What: "manager of two chicken rooms in Ireland"},
	}
}

// addPeople gives everybody an id and writes them down. Their sites must be known.
func (t *teller) addPeople(at time.Time) {
	for _, x := range People() {
		p := person.Person{ID: t.people[x.Email], Name: x.Name, Email: x.Email, Role: x.Role, Areas: x.Areas}
		for _, code := range x.Sites {
			p.Sites = append(p.Sites, t.world.site(code).ID)
		}
		t.draft(journal.Draft{At: at, Subject: p.ID, Author: t.people[LeadEmail], Body: person.Saved{Person: p}})
	}
}

// namePeople makes the ids of everybody, and says who goes to which area.
func (t *teller) namePeople(at time.Time) {
	t.people, t.technicians = map[string]uuid.UUID{}, map[string]uuid.UUID{}
	for _, x := range People() {
		id := t.newID(at)
		t.people[x.Email] = id
		for _, area := range x.Areas {
			t.technicians[area] = id
		}
	}
}
