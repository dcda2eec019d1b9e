package main

import (
	"context"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strings"
	"sync/atomic"
	"time"

	"frywright/cmd/frywright/scenario"
	"frywright/domain/journal"
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
	l, err := net.Listen("tcp", c.Listen) // before anything is thrown away: another demo may be running
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	clock := &storyClock{real: e.now}
	demo := *e
	demo.data, demo.now = filepath.Join(e.data, demoFolder), clock.now
	err = demo.run(l, clock, c.Seed)
	if closed := l.Close(); err == nil && !errors.Is(closed, net.ErrClosed) {
		err = closed
	}
	return err
}

func (e *environment) run(l net.Listener, clock *storyClock, seed uint64) error {
	return e.withFresh(func(ctx context.Context, s *store.Store) error {
		sign, err := fill(ctx, s, clock, seed)
		if err != nil {
			return fmt.Errorf("make the demo: %w", err)
		}
		if err := e.greet(addressOf(l), sign); err != nil {
			return err
		}
		return e.serve(ctx, l, s, false, sign)
	})
}

// storyClock is the real time, but while the story is told that of the story: what it tells came in when it happened.
type storyClock struct {
	real func() time.Time
	told atomic.Pointer[time.Time]
}

func (c *storyClock) now() time.Time {
	if at := c.told.Load(); at != nil {
		return *at
	}
	return c.real()
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
func fill(ctx context.Context, s *store.Store, clock *storyClock, seed uint64) ([]account.DemoUser, error) {
	story, err := scenario.Tell(clock.real(), seed)
	if err != nil {
		return nil, err
	}
	if err := record(ctx, s, clock, story.Drafts); err != nil {
		return nil, err
	}
	if _, err := s.Recheck(ctx); err != nil {
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

// sentWithin is how long a phone of the story keeps what it recorded before it sends it.
const sentWithin = 15 * time.Minute

// record records drafts as they came in: those of a while together, at the time of the last.
func record(ctx context.Context, s *store.Store, clock *storyClock, drafts []journal.Draft) error {
	defer clock.told.Store(nil)
	for from := 0; from < len(drafts); {
		to := from + 1
		for to < len(drafts) && drafts[to].At.Sub(drafts[from].At) <= sentWithin {
			to++
		}
		clock.told.Store(&drafts[to-1].At)
		if _, err := s.Record(ctx, drafts[from:to]...); err != nil {
			return err
		}
		from = to
	}
	return nil
}
