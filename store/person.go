package store

import (
	"context"
	"database/sql"
	"encoding/json"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"

	"github.com/google/uuid"
)

func (t *tx) savePerson(e journal.Entry, p person.Person) error {
	areas, err := json.Marshal(p.Areas)
	if err != nil {
		return err
	}
	sites, err := json.Marshal(p.Sites)
	if err != nil {
		return err
	}
	err = t.exec(`INSERT INTO person (id, name, email, role, areas, sites, gone, version) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET name = excluded.name, email = excluded.email, role = excluded.role, areas = excluded.areas,
		sites = excluded.sites, gone = excluded.gone, version = excluded.version`,
		idText(p.ID), p.Name, p.Email, string(p.Role), string(areas), string(sites), p.Gone, e.ID.String())
	if err != nil {
		return err
	}
	return t.placePerson(p)
}

// keepsAdministrator gives a complaint where saving a person would leave nobody who can let people in.
func (t *tx) keepsAdministrator(p person.Person) error {
	if p.Role == access.Administrator && !p.Gone {
		return nil
	}
	var was, others int
	err := t.row(`SELECT coalesce(sum(id = ?), 0), coalesce(sum(id <> ?), 0) FROM person WHERE role = ? AND gone = 0`,
		idText(p.ID), idText(p.ID), string(access.Administrator)).Scan(&was, &others)
	if err != nil || was == 0 || others > 0 {
		return err
	}
	return fault.New(fault.Invalid, "This is the last administrator. Make somebody else an administrator first: without one, nobody could be let in any more.")
}

// placePerson works out again which sites a person sees.
func (t *tx) placePerson(p person.Person) error {
	if err := t.exec(`DELETE FROM person_site WHERE person_id = ?`, idText(p.ID)); err != nil {
		return err
	}
	if p.Gone || (p.Role != access.Technician && p.Role != access.Manager) {
		return nil
	}
	for _, site := range p.Sites {
		if err := t.exec(`INSERT INTO person_site (person_id, site_id) VALUES (?, ?) ON CONFLICT DO NOTHING`, idText(p.ID), idText(site)); err != nil {
			return err
		}
	}
	if p.Role != access.Technician {
		return nil
	}
	for _, area := range p.Areas {
		if err := t.exec(`INSERT INTO person_site (person_id, site_id) SELECT ?, id FROM site WHERE area = ? AND area <> '' ON CONFLICT DO NOTHING`,
			idText(p.ID), area); err != nil {
			return err
		}
	}
	return nil
}

// placeSite works out again who sees a site.
func (t *tx) placeSite(s fleet.Site) error {
	if err := t.exec(`DELETE FROM person_site WHERE site_id = ?`, idText(s.ID)); err != nil {
		return err
	}
	return t.exec(`INSERT INTO person_site (person_id, site_id)
		SELECT p.id, ? FROM person p WHERE p.gone = 0 AND p.role IN ('technician', 'manager') AND (
			EXISTS (SELECT 1 FROM json_each(p.sites) WHERE value = ?)
			OR (p.role = 'technician' AND ? <> '' AND EXISTS (SELECT 1 FROM json_each(p.areas) WHERE value = ?)))`,
		idText(s.ID), idText(s.ID), s.Area, s.Area)
}

// actorOf reads who a person is now, with their sites; sql.ErrNoRows where they are unknown or gone.
func actorOf(q querier, id uuid.UUID) (access.Actor, error) {
	a := access.Actor{Person: id, Sites: map[uuid.UUID]bool{}}
	err := q.row(`SELECT name, role FROM person WHERE id = ? AND gone = 0`, idText(id)).Scan(&a.Name, &a.Role)
	if err != nil || a.SeesAllSites() {
		return a, err
	}
	rows, err := q.query(`SELECT site_id FROM person_site WHERE person_id = ?`, idText(id))
	err = each(rows, err, func(r *sql.Rows) error {
		var site uuid.UUID
		err := r.Scan(&site)
		a.Sites[site] = true
		return err
	})
	return a, err
}

// Actor gives who a person is now; a NotFound fault where they are unknown or gone.
func (s *Store) Actor(ctx context.Context, id uuid.UUID) (access.Actor, error) {
	a, err := remember(&s.actors, s.changes.Load(), id, func() (access.Actor, error) { return actorOf(s.reader(ctx), id) })
	return a, orNotFound(err)
}

const personColumns = `id, name, email, role, areas, sites, gone, version`

func scanPerson(r interface{ Scan(...any) error }) (person.Person, uuid.UUID, error) {
	var p person.Person
	var areas, sites string
	var version uuid.UUID
	if err := r.Scan(&p.ID, &p.Name, &p.Email, &p.Role, &areas, &sites, &p.Gone, &version); err != nil {
		return p, version, err
	}
	if err := json.Unmarshal([]byte(areas), &p.Areas); err != nil {
		return p, version, err
	}
	return p, version, json.Unmarshal([]byte(sites), &p.Sites)
}

// Person gives a person and their version.
func (s *Store) Person(ctx context.Context, id uuid.UUID) (person.Person, uuid.UUID, error) {
	if err := need(ctx, access.EditPeople, uuid.Nil); err != nil {
		return person.Person{}, uuid.Nil, err
	}
	p, v, err := scanPerson(s.reader(ctx).row(`SELECT `+personColumns+` FROM person WHERE id = ?`, idText(id)))
	return p, v, orNotFound(err)
}

// People lists everybody, by name.
func (s *Store) People(ctx context.Context) ([]person.Person, error) {
	if err := need(ctx, access.EditPeople, uuid.Nil); err != nil {
		return nil, err
	}
	var people []person.Person
	rows, err := s.reader(ctx).query(`SELECT ` + personColumns + ` FROM person ORDER BY gone, name COLLATE NOCASE, id`)
	err = each(rows, err, func(r *sql.Rows) error {
		p, _, err := scanPerson(r)
		people = append(people, p)
		return err
	})
	return people, err
}

// Areas lists the service areas that sites name.
func (s *Store) Areas(ctx context.Context) ([]string, error) {
	if err := need(ctx, access.SeeDesk, uuid.Nil); err != nil {
		return nil, err
	}
	var areas []string
	// From each area straight to the next: the index is not walked site by site.
	rows, err := s.reader(ctx).query(`WITH RECURSIVE a (area) AS (SELECT min(area) FROM site WHERE area > ''
		UNION ALL SELECT (SELECT min(x.area) FROM site x WHERE x.area > a.area) FROM a WHERE a.area IS NOT NULL)
		SELECT area FROM a WHERE area IS NOT NULL`)
	err = each(rows, err, func(r *sql.Rows) error {
		var a string
		err := r.Scan(&a)
		areas = append(areas, a)
		return err
	})
	return areas, err
}
