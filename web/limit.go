package web

import (
	"errors"
	"io"
	"mime"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"frywright/web/form"

	"github.com/go-chi/chi/v5"
)

// Limits bounds what strangers can make the server do at once. Zero values stand for the usual ones.
type Limits struct {
	Requests   int           // under way at once
	EachClient int           // of them from one address; an IPv6 network of one connection counts as one
	Upload     time.Duration // how long files may take to come in
}

// What is usual.
const (
	usualRequests = 512
	usualEach     = 128
	usualUpload   = 10 * time.Minute
	formMost      = 4 << 20 // bytes of a body, where its route says nothing else
	busyRetry     = "5"     // seconds
)

// usual fills in what was not said.
func (l Limits) usual() Limits {
	for _, f := range []struct {
		at *int
		is int
	}{{&l.Requests, usualRequests}, {&l.EachClient, usualEach}} {
		if *f.at <= 0 {
			*f.at = f.is
		}
	}
	if l.Upload <= 0 {
		l.Upload = usualUpload
	}
	return l
}

// refusal is an answer to how something was asked, whatever it was.
type refusal struct {
	status      int
	title, text string
}

// Error implements error.
func (f refusal) Error() string { return f.title }

var (
	tooLarge    = refusal{http.StatusRequestEntityTooLarge, "Too much at once", "What was sent is larger than is taken here. Nothing was written."}
	tooSlow     = refusal{http.StatusRequestTimeout, "It took too long to arrive", "What was sent did not arrive in time, so nothing was written. Go back and send it again where the signal is better."}
	wrongType   = refusal{http.StatusUnsupportedMediaType, "Not in this form", "What was sent is not what a form of this program sends. Nothing was written."}
	wrongMethod = refusal{http.StatusMethodNotAllowed, "Not in this way", "There is a page at this address, but it does not take what was asked of it."}
	tooBusy     = refusal{http.StatusServiceUnavailable, "Too busy just now", "More is being asked than can be answered at once. Try again in a few seconds; what you saved before is safe."}
)

// refusalOf gives the refusal that an error amounts to.
func refusalOf(err error) (refusal, bool) {
	var f refusal
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &f):
		return f, true
	case errors.As(err, &large):
		return tooLarge, true
	case errors.Is(err, os.ErrDeadlineExceeded):
		return tooSlow, true
	}
	return f, false
}

// bounded keeps the body of a request to the size, the kind and the time that its route allows.
func (s *Server) bounded(route form.Route, next form.Handler) form.Handler {
	most := route.Body
	if most == 0 {
		most = formMost
	}
	return func(w http.ResponseWriter, r *http.Request) error {
		if r.ContentLength > most {
			return tooLarge
		}
		if route.Method == http.MethodPost && r.Body != http.NoBody && !takes(route, r.Header.Get("Content-Type")) {
			return wrongType
		}
		control := http.NewResponseController(w)
		if route.Body > formMost { // an error means that there is no connection to have a deadline
			_ = control.SetReadDeadline(s.now().Add(s.limits.Upload))
			_ = control.SetWriteDeadline(s.now().Add(2 * s.limits.Upload))
		}
		r.Body = arriving{http.MaxBytesReader(w, r.Body, most), control}
		return next(w, r)
	}
}

// takes says whether a route takes a body of a content type: files where it takes files, a plain form elsewhere.
func takes(route form.Route, contentType string) bool {
	kind, _, err := mime.ParseMediaType(contentType)
	if route.Body > formMost {
		return err == nil && kind == "multipart/form-data"
	}
	return err == nil && kind == "application/x-www-form-urlencoded"
}

// arriving is a body with a deadline that ends when all of it is there: then the work may take its time.
type arriving struct {
	io.ReadCloser
	control *http.ResponseController
}

// Read implements io.Reader.
func (a arriving) Read(p []byte) (int, error) {
	n, err := a.ReadCloser.Read(p)
	if errors.Is(err, io.EOF) {
		_ = a.control.SetReadDeadline(time.Time{}) // an error means that there is no connection to have a deadline
	}
	return n, err //nolint:wrapcheck // readers compare with io.EOF
}

// gate counts the requests that are under way.
type gate struct {
	most, each int

	mu  sync.Mutex
	all int
	by  map[string]int // by address
}

// enter lets a request in unless there are too many; leave must be called after it.
func (g *gate) enter(address string) (leave func(), ok bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.all >= g.most || g.by[address] >= g.each {
		return nil, false
	}
	g.all++
	g.by[address]++
	return func() {
		g.mu.Lock()
		defer g.mu.Unlock()
		g.all--
		if g.by[address]--; g.by[address] == 0 {
			delete(g.by, address)
		}
	}, true
}

// gated answers 503 where too much is under way, from everywhere or from one address.
func (s *Server) gated(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		leave, ok := s.gate.enter(form.Network(r))
		if !ok {
			w.Header().Set("Retry-After", busyRetry)
			s.fail(w, r, tooBusy)
			return
		}
		defer leave()
		next.ServeHTTP(w, r)
	})
}

// otherMethod answers where there is a page, but not for this method.
func (s *Server) otherMethod(w http.ResponseWriter, r *http.Request) error {
	var allowed []string
	for _, method := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodPatch, http.MethodDelete} {
		if s.routes.Match(chi.NewRouteContext(), method, r.URL.Path) {
			allowed = append(allowed, method)
		}
	}
	if slices.Contains(allowed, http.MethodGet) {
		allowed = append(allowed, http.MethodHead)
	}
	w.Header().Set("Allow", strings.Join(allowed, ", "))
	return wrongMethod
}
