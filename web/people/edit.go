package people

import (
	"net/http"
	"slices"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// allListed is how many restaurants are all listed on the form; where there are more, they are looked for.
const allListed = 12

// mostLooked is how many restaurants a search on the form asks for: those chosen already are among them.
const mostLooked = 500

// foundMost is how many restaurants a search on the form shows.
const foundMost = 40

// editView is what the form of a person shows.
type editView struct {
	Frame     ui.Frame
	Person    person.Person // as typed
	New       bool
	Base      uuid.UUID
	Entry     uuid.UUID
	Areas     []string // to choose from
	Chosen    []choice // restaurants that were chosen
	Others    []choice // to choose from besides
	Look      bool     // restaurants are looked for: there are too many for a list
	Looked    string   // what was looked for
	LeftOut   int      // restaurants found that are not shown
	Err       error
	StandsNow *person.Person // what somebody else saved meanwhile
}

// choice is a restaurant to choose.
type choice struct {
	ID   uuid.UUID
	Name string
	Note string // its town and company
}

// Add shows the empty form of a person.
func (p *Pages) Add(w http.ResponseWriter, r *http.Request) error {
	v := editView{Frame: ui.FrameFor(r, "Add a person", "people"), Person: person.Person{ID: p.NewID()}, New: true}
	if err := p.fill(r, &v); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, editPage(v))
}

// Edit shows the form of a person.
func (p *Pages) Edit(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	var v editView
	if v.Person, v.Base, err = p.Store.Person(r.Context(), id); err != nil {
		return err
	}
	v.Frame = ui.FrameFor(r, "Edit "+v.Person.Name, "people")
	if err := p.fill(r, &v); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, editPage(v))
}

// Save saves a person, or looks for restaurants where that button was pressed.
func (p *Pages) Save(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	v := editView{Base: form.UUID(r, "base"), Looked: form.Text(r, "look")}
	v.New = v.Base == uuid.Nil
	v.Person = readPerson(r, id)
	v.Frame = ui.FrameFor(r, v.title(), "people")
	if r.Form.Get("do") == "look" {
		if err := p.fill(r, &v); err != nil {
			return err
		}
		return form.Show(w, r, http.StatusOK, editPage(v))
	}
	v.Err = p.save(r, v.Person, v.Base)
	switch {
	case v.Err == nil && v.New:
		return form.See(w, r, path.Person(id), "added")
	case v.Err == nil:
		return form.See(w, r, path.Person(id), "saved")
	case !shown(v.Err):
		return v.Err
	}
	if err := p.standsNow(r, &v); err != nil {
		return err
	}
	if err := p.fill(r, &v); err != nil {
		return err
	}
	return form.Write(w, r, editPage(v), v.Err)
}

func (v *editView) title() string {
	if v.New {
		return "Add a person"
	}
	return "Edit " + v.Person.Name
}

func (p *Pages) save(r *http.Request, changed person.Person, base uuid.UUID) error {
	if err := p.keeps(r, changed); err != nil {
		return err
	}
	_, err := p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: changed.ID, Base: base, Body: person.Saved{Person: scoped(changed)}})
	return err
}

// scoped gives the person with the areas and restaurants that their role has.
func scoped(x person.Person) person.Person {
	if x.Role != access.Technician {
		x.Areas = nil
	}
	if x.Role != access.Technician && x.Role != access.Manager {
		x.Sites = nil
	}
	return x
}

// standsNow shows, after a conflict, what somebody else saved meanwhile; saving again is then meant.
func (p *Pages) standsNow(r *http.Request, v *editView) error {
	if fault.KindOf(v.Err) != fault.Conflict {
		return nil
	}
	now, base, err := p.Store.Person(r.Context(), v.Person.ID)
	if err != nil {
		return err
	}
	v.StandsNow, v.Base, v.New = &now, base, false
	return nil
}

// readPerson gives a person as typed.
func readPerson(r *http.Request, id uuid.UUID) person.Person {
	x := person.Person{
		ID: id, Name: form.Text(r, "name"), Email: person.CleanEmail(form.Text(r, "email")), Role: access.Role(form.Text(r, "role")),
		Gone: r.Form.Get("gone") != "",
	}
	for _, a := range append(slices.Clone(r.Form["area"]), strings.Split(r.Form.Get("more_areas"), ",")...) {
		if a = form.Tidy(a); a != "" && !slices.Contains(x.Areas, a) {
			x.Areas = append(x.Areas, a)
		}
	}
	for _, text := range r.Form["site"] {
		if s, err := uuid.Parse(text); err == nil && !slices.Contains(x.Sites, s) {
			x.Sites = append(x.Sites, s)
		}
	}
	return x
}

// fill completes the form: a fresh entry, and what there is to choose from.
func (p *Pages) fill(r *http.Request, v *editView) error {
	v.Entry = p.NewID()
	areas, err := p.Store.Areas(r.Context())
	if err != nil {
		return err
	}
	v.Areas = areas
	for _, a := range v.Person.Areas { // those that no restaurant names any more, or not yet
		if !slices.Contains(v.Areas, a) {
			v.Areas = append(v.Areas, a)
		}
	}
	if err := p.choose(r, v); err != nil {
		return err
	}
	return p.look(r, v)
}

// choose names the restaurants that were chosen.
func (p *Pages) choose(r *http.Request, v *editView) error {
	for _, id := range v.Person.Sites {
		s, _, err := p.Store.Site(r.Context(), id)
		if fault.KindOf(err) == fault.NotFound && err != nil {
			continue // nothing that could be chosen
		}
		if err != nil {
			return err
		}
		v.Chosen = append(v.Chosen, siteChoice(s))
	}
	return nil
}

func siteChoice(s fleet.Site) choice { return choice{ID: s.ID, Name: s.Name, Note: s.Town} }

// look lists the restaurants that can be chosen besides: all where they are few, else those that were looked for.
func (p *Pages) look(r *http.Request, v *editView) error {
	page, err := p.Store.Sites(r.Context(), state.SiteFilter{Query: v.Looked, PerPage: mostLooked})
	if err != nil {
		return err
	}
	sites := page.Sites
	v.Look = v.Looked != "" || len(sites) > allListed
	if v.Look && v.Looked == "" {
		return nil
	}
	for _, s := range sites {
		if slices.Contains(v.Person.Sites, s.ID) {
			continue
		}
		if v.Look && len(v.Others) == foundMost {
			v.LeftOut++
			continue
		}
		note := s.CustomerName
		if s.Town != "" {
			note = s.Town + ", " + note
		}
		v.Others = append(v.Others, choice{ID: s.ID, Name: s.Name, Note: note})
	}
	return nil
}
