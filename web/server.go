// Package web is the pages: the one route table, the guard that asks the permission function before each of them, and
// the one table from kinds of failure to answers. Features live in packages below; what they show comes from a Backend.
// It must not know how anything is stored.
package web

import (
	"context"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/static"
	"frywright/web/form"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/google/uuid"
)

// Sites says which site a fryer or a reading is at, for the guard.
type Sites interface {
	SiteOfFryer(ctx context.Context, id uuid.UUID) (uuid.UUID, error)
	SiteOfReading(ctx context.Context, id uuid.UUID) (uuid.UUID, error)
}

// Config is what the server is made of.
type Config struct {
	Sites    Sites
	Routes   []form.Route                              // the whole table
	Identify func(*http.Request) (access.Actor, error) // who acts; the zero Actor for nobody
	Sessions func(http.Handler) http.Handler           // wraps everything that needs a session; nil where there are none
	Healthy  func(context.Context) error               // for /healthz
	Log      *slog.Logger
	Now      func() time.Time
	Demo     bool              // says on every page that the fleet is invented
	Limits   Limits            // what may be asked at once
	Observe  func(Answer)      // is told of every request that was answered; nil: nobody asks
	LogLevel slog.Level        // of the line that every request gets
	Explain  func(error) error // gives what the disk or the database does not do as a fault for people; nil: nothing is known of it
}

// Answer is a request as it was answered, without anything of whoever asked.
type Answer struct {
	Method string // one that HTTP knows, or "other"
	Route  string // the pattern of its address, or "none"
	Status int
	Took   time.Duration
}

// Server answers requests.
type Server struct {
	sites    Sites
	identify func(*http.Request) (access.Actor, error)
	healthy  func(context.Context) error
	log      *slog.Logger
	now      func() time.Time
	limits   Limits
	gate     *gate
	observe  func(Answer)
	logLevel slog.Level
	explain  func(error) error
	handler  http.Handler
	routes   chi.Routes
}

// New makes the server.
func New(c Config) *Server {
	s := &Server{
		sites: c.Sites, identify: c.Identify, healthy: c.Healthy, log: c.Log, now: c.Now,
		limits: c.Limits.usual(), observe: c.Observe, logLevel: c.LogLevel, explain: c.Explain,
	}
	if s.explain == nil {
		s.explain = func(err error) error { return err }
	}
	s.gate = &gate{most: s.limits.Requests, each: s.limits.EachClient, by: map[string]int{}}
	r := chi.NewRouter()
	r.Use(identified, s.logged, secure, s.recovered, middleware.GetHead)
	r.Get("/healthz", s.health)
	r.Handle("/static/*", static.Handler())
	r.Group(func(r chi.Router) {
		r.Use(s.gated, s.sameOrigin)
		if c.Sessions != nil {
			r.Use(c.Sessions)
		}
		r.Use(s.known, ui.Demo(c.Demo))
		for _, route := range c.Routes {
			r.Method(route.Method, route.Pattern, s.handle(s.guard(route, s.bounded(route, route.Handler))))
		}
		r.NotFound(s.handle(s.nothing))
		r.MethodNotAllowed(s.handle(s.otherMethod))
	})
	s.handler, s.routes = r, r
	return s
}

// ServeHTTP implements http.Handler.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// nothing answers where there is no page. An address with a slash too many at its end goes to the page that is meant.
func (s *Server) nothing(w http.ResponseWriter, r *http.Request) error {
	to := strings.TrimRight(r.URL.Path, "/")
	reads := r.Method == http.MethodGet || r.Method == http.MethodHead
	if reads && to != r.URL.Path && !strings.HasPrefix(to, "//") && s.routes.Match(chi.NewRouteContext(), http.MethodGet, to) {
		http.Redirect(w, r, (&url.URL{Path: to, RawQuery: r.URL.RawQuery}).String(), http.StatusPermanentRedirect)
		return nil
	}
	return fault.New(fault.NotFound, "There is nothing at this address.")
}

// guard asks the permission function before the handler runs. The store asks it again.
func (s *Server) guard(route form.Route, next form.Handler) form.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if route.Action == form.Public {
			return next(w, r)
		}
		actor := access.FromContext(r.Context())
		if !actor.SignedIn() {
			return fault.New(fault.SignedOut, "Please sign in.")
		}
		if route.Action != form.Anyone {
			if err := s.allowed(r, route, actor); err != nil {
				return err
			}
		}
		return next(w, r)
	}
}

func (s *Server) allowed(r *http.Request, route form.Route, actor access.Actor) error {
	if !access.May(actor, route.Action) {
		return fault.New(fault.Denied, "Your sign-in is not meant for this page.")
	}
	site, err := s.siteOf(r, route.Site)
	if fault.KindOf(err) == fault.NotFound {
		return hidden()
	}
	if err != nil {
		return err
	}
	if route.Site != form.NoSite && access.Can(actor, route.Action, site) != access.Allowed {
		return hidden()
	}
	return nil
}

// hidden is the answer for what is foreign and for what is nowhere, word for word: nobody can tell them apart.
func hidden() error {
	return fault.New(fault.NotFound, "There is nothing here, or it is not yours to see.")
}

func (s *Server) siteOf(r *http.Request, how form.SiteOf) (uuid.UUID, error) {
	if how == form.NoSite {
		return uuid.Nil, nil
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return uuid.Nil, err
	}
	switch how {
	case form.ByFryer:
		return s.sites.SiteOfFryer(r.Context(), id)
	case form.ByReading:
		return s.sites.SiteOfReading(r.Context(), id)
	default:
		return id, nil
	}
}

// health answers probes: 200 when the database answers, else 503.
func (s *Server) health(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), 2*time.Second)
	defer cancel()
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	if err := s.healthy(ctx); err != nil {
		s.log.Error("not healthy", "error", err.Error())
		w.WriteHeader(http.StatusServiceUnavailable)
		_, _ = w.Write([]byte("unwell\n"))
		return
	}
	_, _ = w.Write([]byte("well\n"))
}
