package web

import (
	"context"
	"net/http"
	"net/url"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"
)

// statuses is the one table from kinds of failure to HTTP statuses.
var statuses = map[fault.Kind]int{
	fault.Internal:    http.StatusInternalServerError,
	fault.Invalid:     http.StatusUnprocessableEntity,
	fault.NotFound:    http.StatusNotFound,
	fault.Denied:      http.StatusForbidden,
	fault.SignedOut:   http.StatusUnauthorized,
	fault.Conflict:    http.StatusConflict,
	fault.TooMany:     http.StatusTooManyRequests,
	fault.Unavailable: http.StatusServiceUnavailable,
}

// handle turns a handler that returns an error into one that shows it.
func (s *Server) handle(h form.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			s.fail(w, r, err)
		}
	}
}

// errorText is what an error page says, by kind.
var errorText = map[fault.Kind]struct{ title, text string }{
	fault.Internal:    {"Something went wrong here", "It is not your doing. What you saved before is safe. Try again; if it stays, tell whoever runs this instance this number:"},
	fault.Invalid:     {"That cannot be done like this", "Go back and look at what was entered."},
	fault.NotFound:    {"Nothing here", "There is nothing at this address, or it is not yours to see."},
	fault.Denied:      {"Not with this sign-in", "Your sign-in is not meant for this page. If you need it, ask an administrator of your service company."},
	fault.Conflict:    {"Changed meanwhile", "Somebody else changed this while you were at it. Nothing was overwritten."},
	fault.TooMany:     {"Too many tries", "Wait a few minutes, then try again."},
	fault.Unavailable: {"Not just now", "Try again in a moment. What you saved before is safe."},
}

// fail writes the page of an error. Only what is meant for the user is shown; the rest goes to the log.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	err = s.explain(err)
	kind := fault.KindOf(err)
	actor := access.FromContext(r.Context())
	if kind == fault.SignedOut && !actor.SignedIn() {
		to := path.SignIn()
		if r.Method == http.MethodGet || r.Method == http.MethodHead { // an action cannot be gone on with after signing in
			to += "?next=" + url.QueryEscape(r.URL.RequestURI())
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	if f, ok := refusalOf(err); ok {
		s.refuse(w, r, f)
		return
	}
	id := RequestID(r.Context())
	if kind == fault.Internal || kind == fault.Unavailable {
		s.log.Error("failed", "id", id, "method", methodOf(r), "route", routeOf(r), "error", err.Error())
	}
	page := errorText[kind]
	text := page.text
	if message := fault.MessageOf(err); message != "" {
		text = message
	}
	for _, f := range fault.FieldsOf(err) {
		text += " " + f.Message
	}
	if kind == fault.Internal {
		text += " " + id
	}
	showError(w, r, statuses[kind], page.title, text)
}

// refuse writes the page of a refusal. After what came too slowly or was too large the connection is of no more use.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, f refusal) {
	if f == tooLarge || f == tooSlow {
		w.Header().Set("Connection", "close")
	}
	showError(w, r, f.status, f.title, f.text)
}

// showError writes the page. A request whose body never came is over already, but whoever sent it may still be listening.
func showError(w http.ResponseWriter, r *http.Request, status int, title, text string) {
	r = r.WithContext(context.WithoutCancel(r.Context()))
	page := ui.ErrorPage(ui.FrameFor(r, title, ""), title, text, path.Home(), "To the start page")
	if err := form.Show(w, r, status, page); err != nil {
		http.Error(w, "Something went wrong here.", http.StatusInternalServerError)
	}
}
