// Package ui holds the views that all pages share: the frame, fields, buttons, badges and the other parts of the design,
// whose styles are in static/css. It must not know of the store or of any feature.
package ui

import (
	"context"
	"net/http"

	"frywright/domain/access"
)

// Frame is what stands around a page's own content.
type Frame struct {
	Title       string       // of the page, without the program's name
	Actor       access.Actor // who looks at it; the zero Actor sees no navigation
	Section     string       // which entry of the navigation is lit; see sections
	Notice      string       // shown once after an action, in words
	DeviceToken string       // handed to the scripts of a phone that keeps its own copy; usually empty
	Wide        bool         // for tables at a desk: uses the whole width
	Print       bool         // meant for paper: the frame leaves less room for itself
	Demo        bool         // says that the fleet is invented
}

// FrameFor makes the frame of a request: its actor, the notice that its address asks for, and whether this is the demo.
func FrameFor(r *http.Request, title, section string) Frame {
	demo, _ := r.Context().Value(demoKey{}).(bool)
	return Frame{
		Title:   title,
		Section: section,
		Actor:   access.FromContext(r.Context()),
		Notice:  noticeText(r.URL.Query().Get("notice")),
		Demo:    demo,
	}
}

type demoKey struct{}

// Demo marks every request, so that every page says that its fleet is invented.
func Demo(on bool) func(http.Handler) http.Handler {
	return func(next http.Handler) http.Handler {
		return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			next.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), demoKey{}, on)))
		})
	}
}
