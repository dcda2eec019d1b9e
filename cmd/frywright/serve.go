package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"frywright/store"
	"frywright/web"
	"frywright/web/account"
	"frywright/web/path"

	"github.com/alexedwards/scs/sqlite3store"
	"github.com/alexedwards/scs/v2"
	"github.com/google/uuid"
)

type serveCommand struct {
	Listen string `help:"Address to listen on." default:"127.0.0.1:8080" env:"FRYWRIGHT_LISTEN"`
	Base   string `help:"Address under which people reach the server, for links and for cookies; by default the one it listens on." env:"FRYWRIGHT_BASE"`
	Secure bool   `help:"Sign-in cookies only over HTTPS: for a server behind a proxy that speaks HTTPS. Where --base begins with https it is set." env:"FRYWRIGHT_SECURE"`
}

// Run serves until the process is asked to stop.
func (c serveCommand) Run(e *environment) error {
	return e.withStore(func(ctx context.Context, s *store.Store) error {
		l, err := net.Listen("tcp", c.Listen)
		if err != nil {
			return fmt.Errorf("listen: %w", err)
		}
		base := strings.TrimRight(c.Base, "/")
		if base == "" {
			base = addressOf(l)
		}
		if err := e.offerSetup(ctx, s, base); err != nil {
			return errors.Join(err, l.Close())
		}
		if _, err := fmt.Fprintf(e.out, "Frywright is at %s\n", base); err != nil {
			return errors.Join(err, l.Close())
		}
		return e.serve(ctx, l, s, c.Secure || strings.HasPrefix(base, "https://"), nil)
	})
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

// Limits against slow and endless requests.
const (
	headerTime = 10 * time.Second
	readTime   = 60 * time.Second
	writeTime  = 120 * time.Second
	idleTime   = 120 * time.Second
	stopTime   = 15 * time.Second
	sessionAge = 30 * 24 * time.Hour
	recheckGap = time.Minute
)

// serve answers on the listener until the context ends, then lets what is under way finish.
func (e *environment) serve(ctx context.Context, l net.Listener, s *store.Store, secure bool, demo []account.DemoUser) error {
	handler, stopSessions := e.handler(s, secure, demo)
	defer stopSessions()
	server := &http.Server{
		Handler: handler, ReadHeaderTimeout: headerTime, ReadTimeout: readTime, WriteTimeout: writeTime, IdleTimeout: idleTime,
		ErrorLog: slog.NewLogLogger(e.log.Handler(), slog.LevelWarn),
	}
	go e.recheck(ctx, s)
	defer e.watch(ctx, s, firstCheck)()
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(l) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	e.log.Info("stopping")
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	return server.Shutdown(stop)
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
	var pages http.Handler = web.New(web.Config{
		Sites: s, Routes: routes, Identify: identify, Sessions: sessions.LoadAndSave, Healthy: s.Healthy, Log: e.log, Now: e.now, Demo: demo != nil,
	})
	if secure {
		pages = stayWithHTTPS(pages)
	}
	return pages, sessionStore.StopCleanup
}

// stayWithHTTPS asks browsers to come by HTTPS only, for a year (RFC 6797), to this host alone: what else runs under its name
// is not ours to decide.
func stayWithHTTPS(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Strict-Transport-Security", "max-age=31536000")
		next.ServeHTTP(w, r)
	})
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
