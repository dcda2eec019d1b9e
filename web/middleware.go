package web

import (
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/web/path"

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

// sameOrigin refuses what pages of others send here, with a page of our own.
func (s *Server) sameOrigin(next http.Handler) http.Handler {
	p := http.NewCrossOriginProtection()
	p.SetDenyHandler(s.handle(func(http.ResponseWriter, *http.Request) error {
		return fault.New(fault.Denied, "This was sent from a page of another site, so it was not taken. Open the page here and send it again.")
	}))
	return p.Handler(next)
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
	for _, secret := range []string{path.Welcome(""), path.Setup("")} {
		if strings.Contains(r.URL.Path, secret) {
			return secret + "{token}"
		}
	}
	return r.URL.Path
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
			s.log.Error("panic", "value", fmt.Sprint(v), "stack", string(debug.Stack()))
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
