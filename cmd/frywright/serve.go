package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"frywright/cmd/frywright/edge"
	"frywright/domain/fault"
	"frywright/store"
	"frywright/web"
	"frywright/web/account"
	"frywright/web/path"

	"github.com/alexedwards/scs/sqlite3store"
	"github.com/alexedwards/scs/v2"
	"github.com/google/uuid"
)

type serveCommand struct {
	Listen     string        `help:"Address to listen on; by default 127.0.0.1:8080, with HTTPS :443." env:"FRYWRIGHT_LISTEN"`
	ListenHTTP string        `name:"listen-http" help:"With HTTPS: the address that sends plain HTTP on to HTTPS; by default :80, off for none." env:"FRYWRIGHT_LISTEN_HTTP"`
	Base       string        `help:"Address under which people reach the server, for links and for cookies; by default the one it listens on." env:"FRYWRIGHT_BASE"`
	Secure     bool          `help:"Sign-in cookies only over HTTPS, for a proxy that is not named with --trust-proxy." env:"FRYWRIGHT_SECURE"`
	Domain     []string      `help:"Names to serve over HTTPS, with certificates that are obtained and renewed by themselves." env:"FRYWRIGHT_DOMAIN"`
	Directory  string        `name:"acme-directory" help:"Address of another authority that speaks ACME." env:"FRYWRIGHT_ACME_DIRECTORY"`
	Authority  string        `name:"acme-ca" help:"PEM file that the authority's own server is checked against." type:"path" env:"FRYWRIGHT_ACME_CA"`
	Email      string        `name:"acme-email" help:"Where the authority may write to." env:"FRYWRIGHT_ACME_EMAIL"`
	Cert       string        `help:"PEM file of a certificate, to serve HTTPS with; read anew when it changes." type:"path" env:"FRYWRIGHT_CERT"`
	Key        string        `help:"PEM file of its key." type:"path" env:"FRYWRIGHT_KEY"`
	TrustProxy []string      `help:"Addresses or networks of proxies that speak HTTPS and say truly for whom they ask." env:"FRYWRIGHT_TRUST_PROXY"`
	Metrics    string        `help:"Address at which Prometheus may ask for /metrics; none by default." env:"FRYWRIGHT_METRICS"`
	SlowQuery  time.Duration `help:"Statements that take longer are logged; 0 for none." default:"100ms" env:"FRYWRIGHT_SLOW_QUERY"`
	AccessLog  string        `help:"Level of the line that every request gets: debug or info." enum:"debug,info" default:"info" env:"FRYWRIGHT_ACCESS_LOG"`
}

// Validate says which flags do not go together.
func (c serveCommand) Validate() error {
	https := len(c.Domain) > 0 || c.Cert != ""
	switch {
	case (c.Cert == "") != (c.Key == ""):
		return errors.New("--cert and --key are given together")
	case len(c.Domain) > 0 && c.Cert != "":
		return errors.New("--domain obtains certificates, --cert has one: give one of them")
	case len(c.Domain) > 0 && len(c.TrustProxy) > 0:
		return errors.New("--domain is for a server that people reach directly, --trust-proxy for one behind a proxy: give one of them")
	case len(c.Domain) == 0 && c.Directory+c.Authority+c.Email != "":
		return errors.New("--acme-directory, --acme-ca and --acme-email need --domain")
	case !https && c.ListenHTTP != "":
		return errors.New("--listen-http needs HTTPS: --domain, or --cert and --key")
	case https && strings.HasPrefix(c.Base, "http://"):
		return errors.New("--base begins with https:// where HTTPS is served")
	}
	for _, name := range c.Domain {
		if !domainName.MatchString(name) {
			return fmt.Errorf("--domain takes names such as fry.example.org, not %q", name)
		}
	}
	_, err := edge.ParseProxies(c.TrustProxy)
	return err
}

var domainName = regexp.MustCompile(`^([a-z0-9]([a-z0-9-]*[a-z0-9])?\.)+[a-z0-9]([a-z0-9-]*[a-z0-9])?$`)

// Run serves until the process is asked to stop.
func (c serveCommand) Run(e *environment) error {
	if err := c.Validate(); err != nil {
		return fault.Wrap(err, fault.Invalid, "%s", err.Error())
	}
	d, err := c.door(e)
	if err != nil {
		return err
	}
	serving := *e
	serving.door = d
	serving.observe = d.ran(e.log, c.SlowQuery)
	err = serving.withStore(func(ctx context.Context, s *store.Store) error {
		if d.meter != nil {
			d.meter.Watch(ctx, s, filepath.Join(e.data, database))
		}
		if err := serving.offerSetup(ctx, s, d.base); err != nil {
			return err
		}
		if _, err := fmt.Fprintf(e.out, "Frywright is at %s\n", d.base); err != nil {
			return err
		}
		return serving.serve(ctx, d.main, s, c.Secure || d.secure, nil)
	})
	return errors.Join(err, d.close())
}

// addressOf gives the address at which a browser on this machine reaches a listener.
func addressOf(l net.Listener) string {
	host, port, err := net.SplitHostPort(l.Addr().String())
	if ip := net.ParseIP(host); err != nil || ip == nil || !ip.IsUnspecified() {
		return "http://" + l.Addr().String()
	}
	return "http://localhost:" + port
}

// setupValid is how long the set-up link can be used.
const setupValid = 24 * time.Hour

// offerSetup prints a link that makes the first administrator, where there is nobody yet.
func (e *environment) offerSetup(ctx context.Context, s *store.Store, base string) error {
	had, err := s.HasPeople(ctx)
	if err != nil || had {
		return err
	}
	token := rand.Text()
	if err := s.Invite(ctx, uuid.Nil, token, setupValid); err != nil {
		return err
	}
	_, err = fmt.Fprintf(e.out, "Nobody can sign in yet. Open this link once, within a day, to make the first sign-in:\n  %s%s\n", base, path.Setup(token))
	return err
}

const (
	sessionAge = 30 * 24 * time.Hour
	recheckGap = time.Minute
)

// serve answers on the listener until the context ends, then lets what is under way finish.
func (e *environment) serve(ctx context.Context, l net.Listener, s *store.Store, secure bool, demo []account.DemoUser) error {
	handler, stopSessions := e.handler(s, secure, demo)
	defer stopSessions()
	go e.recheck(ctx, s)
	defer e.watch(ctx, s, firstCheck)()
	d := e.door
	if d == nil {
		d = &door{}
	}
	return edge.Serve(ctx, e.log, d.times.OrUsual(), d.outlets(e.log, l, handler, secure)...)
}

// handler makes the pages over a store.
func (e *environment) handler(s *store.Store, secure bool, demo []account.DemoUser) (http.Handler, func()) {
	sessions := scs.New()
	sessionStore := sqlite3store.New(s.Sessions())
	sessions.Store = &sessionsAtHand{Store: sessionStore, now: e.now}
	sessions.Lifetime = sessionAge
	sessions.Cookie.Name = "frywright"
	sessions.Cookie.HttpOnly = true
	sessions.Cookie.SameSite = http.SameSiteLaxMode
	if sessions.Cookie.Secure = secure; secure {
		sessions.Cookie.Name = "__Host-frywright" // nobody but this host, with HTTPS, can set it (RFC 6265bis, 4.1.3.2)
	}
	sessions.HashTokenInStore = true
	routes, identify := web.Routes(web.Parts{Backend: s, Sessions: sessions, NewID: newID, Now: e.now, Demo: demo, Key: e.factorKey()})
	config := web.Config{
		Sites: s, Routes: routes, Identify: identify, Sessions: sessions.LoadAndSave, Healthy: s.Healthy, Explain: store.Explain, Log: e.log, Now: e.now, Demo: demo != nil,
	}
	if e.door != nil {
		config.LogLevel, config.Limits = e.door.accessLog, e.door.limits
		if e.door.meter != nil {
			config.Observe = e.door.meter.Answered
		}
	}
	return web.New(config), sessionStore.StopCleanup
}

// recheck looks now and then for accepted differences that have run out.
func (e *environment) recheck(ctx context.Context, s *store.Store) {
	tick := time.NewTicker(recheckGap)
	defer tick.Stop()
	for {
		if _, err := s.Recheck(ctx); err != nil && ctx.Err() == nil {
			e.log.Error("recheck", "error", err.Error())
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
