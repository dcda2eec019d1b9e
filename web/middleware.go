package web

import (
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
		h.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

// logged writes one line a request, without personal data: no query, no address, no name.
func (s *Server) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		began := s.now()
		ww := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(ww, r)
		s.log.LogAttrs(r.Context(), slog.LevelInfo, "request",
			slog.String("method", r.Method), slog.String("path", pathOf(r)), slog.Int("status", ww.Status()),
			slog.Int("bytes", ww.BytesWritten()), slog.Duration("took", s.now().Sub(began).Round(time.Microsecond)),
			slog.String("id", middleware.GetReqID(r.Context())))
	})
}

// pathOf gives the path of a request for the log. A link that lets somebody in is a secret: only its kind is told.
func pathOf(r *http.Request) string {
	if c := chi.RouteContext(r.Context()); c != nil && c.URLParam("token") != "" {
		return c.RoutePattern()
	}
	return r.URL.Path
}

// recovered turns a panic into an error page and a log line.
func (s *Server) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if v := recover(); v != nil && v != http.ErrAbortHandler { //nolint:errorlint // a panic value, compared as the standard library asks
				s.log.Error("panic", "value", fmt.Sprint(v), "stack", string(debug.Stack()))
				s.fail(w, r, fmt.Errorf("panic: %v", v))
			}
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
