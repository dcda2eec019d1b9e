package main

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/web"
	"frywright/web/form"

	"github.com/stretchr/testify/assert"
)

// nasty are values that people, spreadsheets and strangers put into fields.
var nasty = map[string]string{
	"html":      `<script>alert(1)</script><img src=x onerror=alert(1)>"'`,
	"long":      strings.Repeat("long ", 40_000),
	"not utf-8": "\xff\xfe\x80",
	"nan":       "NaN",
	"huge":      "1e999",
	"negative":  "-999999999999999999999",
	"bidi":      "\u202egpj.exe\u200b",
	"nul":       "a\x00b",
	"sql":       `'; DROP TABLE entry; --`,
	"formula":   `=HYPERLINK("http://elsewhere.example")`,
}

// names are the fields that forms of any page send.
var names = regexp.MustCompile(`name="([A-Za-z0-9._@-]+)"`)

// TestNoFormBreaksThePage sends nasty values in every field of every form: the answer is a page for people, never a
// failure, and nothing that was sent runs.
func TestNoFormBreaksThePage(t *testing.T) {
	for what, value := range nasty {
		t.Run(what, func(t *testing.T) {
			x := newInstance(t)
			routes, _ := web.Routes(web.Parts{Backend: x.store, NewID: newID, Now: now})
			fields := x.allFields(routes)
			c := x.client(access.Administrator)
			for _, route := range routes {
				if route.Method == http.MethodGet || strings.HasPrefix(route.Pattern, "/signout") || strings.HasSuffix(route.Pattern, "/gone") {
					continue
				}
				values := url.Values{}
				for name := range fields {
					values.Set(name, value)
				}
				status, page := x.post(c, x.fill(route, false), values)
				assert.Less(t, status, 500, "%s %s", route.Method, route.Pattern)
				assert.NotContains(t, page, "<script>alert", route.Pattern)
				assert.NotContains(t, page, "<img src=x", route.Pattern)
				for _, inside := range []string{"goroutine ", "sql:", "SQLITE", "panic", ".go:"} {
					assert.NotContains(t, page, inside, "%s shows internals", route.Pattern)
				}
			}
		})
	}
}

// allFields gives the names of all fields of all pages.
func (x *instance) allFields(routes []form.Route) map[string]bool {
	c := x.client(access.Administrator)
	found := map[string]bool{"step": true}
	for _, route := range routes {
		if route.Method != http.MethodGet {
			continue
		}
		_, page := x.get(c, x.fill(route, false))
		for _, m := range names.FindAllStringSubmatch(page, -1) {
			found[m[1]] = true
		}
	}
	return found
}

// TestNoQueryBreaksThePage does the same with the addresses of lists.
func TestNoQueryBreaksThePage(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Administrator)
	routes, _ := web.Routes(web.Parts{Backend: x.store, NewID: newID, Now: now})
	for what, value := range nasty {
		q := url.Values{}
		for _, name := range []string{"q", "customer", "site", "class", "days", "show", "page", "notice", "of", "sheet", "group", "ref", "typed", "next", "kind"} {
			q.Set(name, value[:min(len(value), 2000)])
		}
		for _, route := range routes {
			if route.Method != http.MethodGet {
				continue
			}
			path, _, _ := strings.Cut(x.fill(route, false), "?")
			status, page := x.get(c, path+"?"+q.Encode())
			assert.Less(t, status, 500, "%s with %s", route.Pattern, what)
			assert.NotContains(t, page, "<script>alert", route.Pattern)
		}
	}
}
