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
	"frywright/store"
	"frywright/web/account"
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

// fill records the scenario's story and gives everybody in it the demo's password.
func fill(ctx context.Context, s *store.Store, at time.Time, seed uint64) ([]account.DemoUser, error) {
	story, err := scenario.Tell(at, seed)
	if err != nil {
		return nil, err
	}
	if _, err := s.Record(ctx, story.Drafts...); err != nil {
		return nil, err
	}
	hash, err := account.Hash(scenario.Password)
	if err != nil {
		return nil, err
	}
	var sign []account.DemoUser
	for _, x := range scenario.People() {
		if err := s.SetPassword(ctx, story.People[x.Email], hash); err != nil {
			return nil, err
		}
		sign = append(sign, account.DemoUser{Name: x.Name, Email: x.Email, Password: scenario.Password, Role: x.Role, What: x.What})
	}
	return sign, nil
}
