package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/store"
	"frywright/web/path"
)

type userCommand struct {
	Add        userAddCommand    `cmd:"" help:"Add a person and print their invitation."`
	List       userListCommand   `cmd:"" help:"List the people."`
	Link       userLinkCommand   `cmd:"" help:"Print a link with which a person chooses another password."`
	SecondStep userFactorCommand `cmd:"" help:"Take the second step of a person away who lost phone and recovery codes."`
}

type userAddCommand struct {
	Email string   `arg:"" help:"The person's e-mail address."`
	Name  string   `help:"The person's name." required:""`
	Role  string   `help:"administrator, dispatcher, technician or manager." enum:"administrator,dispatcher,technician,manager" default:"dispatcher"`
	Area  []string `help:"Service areas of a technician."`
	Site  []string `help:"Codes of the restaurants of a manager or technician."`
	Base  string   `help:"The address under which people reach the server." default:"http://127.0.0.1:8080" env:"FRYWRIGHT_BASE"`
}

const inviteValid = 7 * 24 * time.Hour

// Run adds the person and prints a link, to be used once, with which they choose a password.
func (c userAddCommand) Run(e *environment) error {
	return e.withStore(func(ctx context.Context, s *store.Store) error {
		p := person.Person{ID: newID(), Name: c.Name, Email: person.CleanEmail(c.Email), Role: access.Role(c.Role), Areas: c.Area}
		for _, code := range c.Site {
			id, err := s.SiteByCode(ctx, code)
			if err != nil {
				return fmt.Errorf("restaurant %s: %w", code, err)
			}
			p.Sites = append(p.Sites, id)
		}
		if _, err := s.Record(ctx, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}}); err != nil {
			return err
		}
		return e.offerLink(ctx, s, p, c.Base)
	})
}

// offerLink prints a link with which a person chooses a password. Older links of theirs end.
func (e *environment) offerLink(ctx context.Context, s *store.Store, p person.Person, base string) error {
	token := rand.Text()
	if err := s.Invite(ctx, p.ID, token, inviteValid); err != nil {
		return err
	}
	_, err := fmt.Fprintf(e.out, "%s may sign in after choosing a password here, once, within a week:\n  %s%s\n", p.Name, strings.TrimRight(base, "/"), path.Welcome(token))
	return err
}

type userLinkCommand struct {
	Email string `arg:"" help:"The person's e-mail address."`
	Base  string `help:"The address under which people reach the server." default:"http://127.0.0.1:8080" env:"FRYWRIGHT_BASE"`
}

// Run prints a link for somebody who forgot their password: the way back in for the last administrator.
func (c userLinkCommand) Run(e *environment) error {
	return e.withPerson(c.Email, func(ctx context.Context, s *store.Store, p person.Person) error {
		return e.offerLink(ctx, s, p, c.Base)
	})
}

type userFactorCommand struct {
	Email  string `arg:"" help:"The person's e-mail address."`
	Reason string `help:"Why; it is kept." required:""`
}

// Run takes a second step away: the way back in for the last administrator.
func (c userFactorCommand) Run(e *environment) error {
	return e.withPerson(c.Email, func(ctx context.Context, s *store.Store, p person.Person) error {
		if err := s.ResetFactor(ctx, p.ID, c.Reason); err != nil {
			return err
		}
		_, err := fmt.Fprintf(e.out, "%s signs in with the password alone from now on, and was signed out everywhere.\n", p.Name)
		return err
	})
}

// withPerson opens the database and runs fn for whoever has the e-mail address.
func (e *environment) withPerson(email string, fn func(ctx context.Context, s *store.Store, p person.Person) error) error {
	return e.withData(func(ctx context.Context, s *store.Store) error {
		people, err := s.People(ctx)
		if err != nil {
			return err
		}
		for _, p := range people {
			if p.Email == person.CleanEmail(email) && !p.Gone {
				return fn(ctx, s, p)
			}
		}
		return fault.New(fault.NotFound, "Nobody has the e-mail address %s.", email)
	})
}

type userListCommand struct{}

// Run lists the people.
func (userListCommand) Run(e *environment) error {
	return e.beside(func(ctx context.Context, s *store.Store) error {
		people, err := s.People(ctx)
		if err != nil {
			return err
		}
		for _, p := range people {
			gone := ""
			if p.Gone {
				gone = "  (gone)"
			}
			if _, err := fmt.Fprintf(e.out, "%-14s %-28s %s%s\n", p.Role, p.Name, p.Email, gone); err != nil {
				return err
			}
		}
		return nil
	})
}
