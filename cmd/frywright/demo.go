package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"frywright/cmd/frywright/scenario"
	"frywright/domain/access"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/store"
	"frywright/web/account"

	"github.com/google/uuid"
)

type demoCommand struct {
	Listen string `help:"Address to listen on." default:"127.0.0.1:8080" env:"FRYWRIGHT_LISTEN"`
	Seed   uint64 `help:"Another number makes another year." default:"7"`
}

// demoFolder is where the demo lives inside the data folder, so that it never touches a real instance.
const demoFolder = "demo"

// Run makes the invented fleet anew and serves it.
func (c demoCommand) Run(e *environment) error {
	folder := filepath.Join(e.data, demoFolder)
	if err := os.RemoveAll(folder); err != nil {
		return err
	}
	demo := *e
	demo.data = folder
	return demo.withStore(func(ctx context.Context, s *store.Store) error {
		sign, err := fill(ctx, s, now(), c.Seed)
		if err != nil {
			return fmt.Errorf("make the demo: %w", err)
		}
		l, err := net.Listen("tcp", c.Listen)
		if err != nil {
			return err
		}
		if err := demo.greet("http://"+l.Addr().String(), sign); err != nil {
			return errors.Join(err, l.Close())
		}
		return demo.serve(ctx, l, s, false, sign)
	})
}

func (e *environment) greet(base string, sign []account.DemoUser) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, an invented service company, is at %s\nEvery password is: %s\n\n", scenario.Company, base, scenario.Password)
	for _, u := range sign {
		fmt.Fprintf(&b, "  %-30s %s\n", u.Email, u.What)
	}
	_, err := fmt.Fprintln(e.out, b.String())
	return err
}

// fill imports the scenario, adds its people and writes its year of history.
func fill(ctx context.Context, s *store.Store, at time.Time, seed uint64) ([]account.DemoUser, error) {
	files, err := scenario.Files()
	if err != nil {
		return nil, err
	}
	plan, written, err := s.Import(ctx, files, false)
	if err != nil {
		return nil, err
	}
	if !written {
		return nil, fmt.Errorf("the scenario's files are wrong: %v %v", plan.FileProblems, firstProblem(plan.Rows))
	}
	people, sign, err := addPeople(ctx, s)
	if err != nil {
		return nil, err
	}
	world, err := worldOf(ctx, s, people)
	if err != nil {
		return nil, err
	}
	_, err = s.Record(ctx, scenario.History(world, at, seed)...)
	return sign, err
}

// addPeople adds the people of the demo with their passwords, and gives their ids by e-mail address.
func addPeople(ctx context.Context, s *store.Store) (map[string]uuid.UUID, []account.DemoUser, error) {
	ids := map[string]uuid.UUID{}
	var sign []account.DemoUser
	hash, err := account.Hash(scenario.Password)
	if err != nil {
		return nil, nil, err
	}
	for _, x := range scenario.People() {
		p := person.Person{ID: newID(), Name: x.Name, Email: x.Email, Role: x.Role, Areas: x.Areas}
		for _, code := range x.Sites {
			id, err := s.SiteByCode(ctx, code)
			if err != nil {
				return nil, nil, fmt.Errorf("restaurant %s: %w", code, err)
			}
			p.Sites = append(p.Sites, id)
		}
		if _, err := s.Record(ctx, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}}); err != nil {
			return nil, nil, err
		}
		if err := s.SetPassword(ctx, p.ID, hash); err != nil {
			return nil, nil, err
		}
		ids[x.Email] = p.ID
		sign = append(sign, account.DemoUser{Name: x.Name, Email: x.Email, Password: scenario.Password, Role: x.Role, What: x.What})
	}
	return ids, sign, nil
}

// worldOf gathers what the history needs to know of every fryer.
func worldOf(ctx context.Context, s *store.Store, people map[string]uuid.UUID) (scenario.World, error) {
	technicians := map[string]uuid.UUID{}
	for _, p := range scenario.People() {
		if p.Role == access.Technician {
			for _, area := range p.Areas {
				technicians[area] = people[p.Email]
			}
		}
	}
	w := scenario.World{Author: func(area string) uuid.UUID { return technicians[area] }, Desk: people[scenario.DeskEmail], NewID: newID}
	const perPage = 200
	for page := 0; ; page++ {
		list, err := s.Fryers(ctx, state.Filter{Page: page, PerPage: perPage})
		if err != nil {
			return w, err
		}
		for _, f := range list.Fryers {
			x, err := historyFryer(ctx, s, f)
			if err != nil {
				return w, err
			}
			w.Fryers = append(w.Fryers, x)
		}
		if page+1 >= list.Pages {
			return w, nil
		}
	}
}

func historyFryer(ctx context.Context, s *store.Store, f state.Fryer) (scenario.Fryer, error) {
	site, _, err := s.Site(ctx, f.SiteID)
	if err != nil {
		return scenario.Fryer{}, err
	}
	x := scenario.Fryer{ID: f.ID, Tag: f.Tag, Site: f.SiteID, SiteCode: site.Code, Area: site.Area, Country: site.Country}
	if x.Zone, err = time.LoadLocation(f.Zone); err != nil {
		return x, err
	}
	if x.Expected, err = s.Expected(ctx, f.ID); err != nil {
		return x, err
	}
	x.Other, err = otherStandard(ctx, s, f, x.Expected)
	return x, err
}

// otherStandard gives what another customer's standard for the same controller type would make of a fryer; nil where no
// other has one.
func otherStandard(ctx context.Context, s *store.Store, f state.Fryer, own *standard.Expected) (*standard.Expected, error) {
	customers, err := s.Customers(ctx)
	if err != nil {
		return nil, err
	}
	for _, c := range customers {
		if c.ID == f.CustomerID {
			continue
		}
		layer, _, err := s.Layer(ctx, standard.OfCustomer, c.ID, f.SheetID)
		if err != nil {
			return nil, err
		}
		if len(layer.Sets) > 0 {
			return standard.Lay(own.Sheet, own.Appliance, []standard.Layer{layer}), nil
		}
	}
	return nil, nil
}

// firstProblem gives the first row of a plan that is wrong.
func firstProblem(rows []intake.Row) string {
	for _, r := range rows {
		if len(r.Problems) > 0 {
			return fmt.Sprintf("%s:%d: %v", r.File, r.Line, r.Problems)
		}
	}
	return ""
}
