package web

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
)

// policy is the content security policy of every answer: nothing from elsewhere, no inline script or style.
const policy = "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; " +
	"object-src 'none'; base-uri 'none'; frame-ancestors 'none'; form-action 'self'"

// secure sets the headers that keep strangers' pages and scripts out.
func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// sameOrigin refuses what pages of others send here, with a page of our own.
func (s *Server) sameOrigin(next http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(s.handle(func(http.ResponseWriter, *http.Request) error {
		return fault.New(fault.Denied, "This was sent from a page of another site, so it was not taken. Open the page here and send it again.")
	}))
	return p.Handler(next)
}

type requestKey struct{}

// WithRequestID gives a context in which the request bears an id that somebody trusted gave it.
func WithRequestID(ctx context.Context, id string) context.Context {
	return context.WithValue(ctx, requestKey{}, id)
}

// RequestID gives the id of the request of a context.
func RequestID(ctx context.Context) string {
	id, _ := ctx.Value(requestKey{}).(string)
	return id
}

// identified gives every request an id, by which its line in the log is found. What the asking side says is not heard.
func identified(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if RequestID(r.Context()) == "" {
			r = r.WithContext(WithRequestID(r.Context(), rand.Text()[:requestIDLong]))
		}
		w.Header().Set("X-Request-Id", RequestID(r.Context()))
		next.ServeHTTP(w, r)
	})
}

// requestIDLong is how many letters an id has: short enough to be read out, and 70 bits.
const requestIDLong = 14

// logged writes one line a request and tells who counts them. Neither hears anything of who asked or what for: no
// address, no id of a thing, no query, no name.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := s.now()
		ww := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		defer func() { s.note(r, ww, s.now().Sub(began)) }()
		next.ServeHTTP(ww, r)
	})
}

func (s *Server) note(r *http.Request, w middleware.WrapResponseWriter, took time.Duration) {
	a := Answer{Method: methodOf(r), Route: routeOf(r), Status: w.Status(), Took: took}
	if a.Status == 0 {
		a.Status = http.StatusOK // what the standard library sends when a handler says nothing
	}
	s.log.LogAttrs(r.Context(), s.logLevel, "request",
		slog.String("id", RequestID(r.Context())), slog.String("method", a.Method), slog.String("route", a.Route),
		slog.Int("status", a.Status), slog.Int("bytes", w.BytesWritten()), slog.Duration("took", took.Round(time.Microsecond)))
	if s.observe != nil {
		s.observe(a)
	}
}

// routeOf gives the pattern that a request was answered by. Its address is not told: it may hold a secret.
func routeOf(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil && c.RoutePattern() != "" {
		return c.RoutePattern()
	}
	return "none"
}

// methodOf gives the method of a request; those made up by strangers are one.
func methodOf(r *http.Request) string {
	switch r.Method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete, http.MethodOptions:
		return r.Method
	}
	return "other"
}

// recovered turns a panic into an error page and a log line.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			v := recover()
			if v == nil {
				return
			}
			if v == http.ErrAbortHandler { //nolint:errorlint // a panic value, compared as the standard library asks
				panic(v)
			}
			s.log.Error("panic", "id", RequestID(r.Context()), "value", fmt.Sprint(v), "stack", string(debug.Stack()))
			if ww, ok := w.(middleware.WrapResponseWriter); ok && ww.Status() != 0 {
				panic(http.ErrAbortHandler) // half an answer is out: break it off, so that nobody takes it for a whole one
			}
			s.fail(w, r, fmt.Errorf("panic: %v", v))
		}()
		next.ServeHTTP(w, r)
	})
}

// known puts who acts into the context; the zero Actor where nobody is signed in.
func (s *Server) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		actor, err := s.identify(r)
		if err != nil && fault.KindOf(err) == fault.Internal {
			s.fail(w, r, err)
			return
		}
		next.ServeHTTP(w, r.WithContext(access.NewContext(r.Context(), actor)))
	})
}
