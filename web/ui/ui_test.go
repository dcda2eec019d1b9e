package ui_test

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/working"
	"frywright/web/ui"

	"github.com/a-h/templ"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
)

// hostile is text that would break out of a page if it were written as it is.
const hostile = `"><script>alert(1)</script><b style="x" onclick='y'>&`

var noon = time.Date(2026, 11, 20, 20, 40, 0, 0, time.UTC)

// render gives the parsed output of a component, and its text.
func render(t *testing.T, c templ.Component) (*html.Node, string) {
	t.Helper()
	var b strings.Builder
	require.NoError(t, c.Render(context.Background(), &b))
	root, err := html.Parse(strings.NewReader(b.String()))
	require.NoError(t, err)
	return root, b.String()
}

// find lists the elements that fit.
func find(root *html.Node, fits func(*html.Node) bool) []*html.Node {
	var list []*html.Node
	for n := range root.Descendants() {
		if n.Type == html.ElementNode && fits(n) {
			list = append(list, n)
		}
	}
	return list
}

func named(names ...string) func(*html.Node) bool {
	return func(n *html.Node) bool { return slices.Contains(names, n.Data) }
}

func attribute(n *html.Node, name string) string {
	for _, a := range n.Attr {
		if a.Key == name {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, name string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == name })
}

func text(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func ids(root *html.Node) map[string]int {
	seen := map[string]int{}
	for _, n := range find(root, func(n *html.Node) bool { return has(n, "id") }) {
		seen[attribute(n, "id")]++
	}
	return seen
}

// within puts components into a page.
func within(f ui.Frame, list ...templ.Component) templ.Component {
	return templ.ComponentFunc(func(ctx context.Context, w io.Writer) error {
		return ui.Page(f).Render(templ.WithChildren(ctx, templ.Join(list...)), w)
	})
}

// everything is one of each shared view, filled with one text.
func everything(s string) []templ.Component {
	field := ui.Field{Name: "v.a@1", Label: s, Hint: s, Value: s, Error: s, Unit: s, InputMode: "decimal", Sign: true, Big: true, Required: true, MaxLength: 9}
	options := []ui.Option{{Value: s, Label: s, Note: s}, {Value: "b", Label: s, Selected: true}}
	rename := func(name string) ui.Field {
		f := field
		f.Name = name
		return f
	}
	return []templ.Component{
		ui.FormErrors(s, []fault.Field{{Name: "v.a@1", Message: s}}),
		ui.Input(field), ui.TextArea(rename("area")), ui.Select(rename("select"), options), ui.Radios(rename("radios"), options),
		ui.Checkbox(rename("check"), true), ui.FileInput(rename("file"), ".csv"), ui.Hidden("h", s),
		ui.Primary(s), ui.PrimarySub(s, s), ui.PrimaryValue(s, s, "n", s), ui.Secondary(s), ui.SecondaryValue(s, "n", s), ui.Quiet(s),
		ui.PrimaryLink(s, s), ui.PrimaryLinkSub(s, s, s), ui.SecondaryLink(s, s), ui.QuietLink(s, s),
		ui.Sentence(s), ui.SentenceTone(s, ui.ToneBad), ui.ClassBadge(sheet.Safety), ui.ClassBadge(sheet.Food), ui.ClassBadge(sheet.Output), ui.ClassBadge(sheet.Minor),
		ui.StateBadge(s, ui.ToneGood), ui.StateBadge(s, ui.ToneWaiting), ui.StateBadge(s, ui.ToneUnknown), ui.StateBadge(s, s),
		ui.Tag(s), ui.TagHead(s), ui.Caution(s, []string{s}), ui.Caution(s, []string{s, s}),
		ui.Working(working.Working{Title: s, Result: s, Inputs: []working.Line{{Label: s, Value: s, From: s}}, Formula: s, Steps: []string{s}, Source: s, Uncertainty: s}),
		ui.When(noon, s), ui.Day(noon, s), ui.Empty(s, s, s, s), ui.Pager(1, 3, func(int) string { return s }),
		ui.Breadcrumbs([]ui.Crumb{{Label: s, Href: s}, {Label: s}}), ui.Progress(1, 3, s), ui.Versus(s, s, s),
		ui.Shares([]ui.Share{{Label: s, Percent: 96, Note: s, Value: s}, {Label: s, Percent: 4}}), ui.Check(),
	}
}

func TestNothingBreaksOut(t *testing.T) {
	f := ui.Frame{Title: hostile, Notice: hostile, Actor: access.Actor{Name: hostile, Role: access.Administrator}, DeviceToken: hostile, Demo: true, Wide: true}
	root, raw := render(t, within(f, everything(hostile)...))
	assert.NotContains(t, raw, "<script>")
	assert.NotContains(t, raw, "<b style")
	calm, _ := render(t, within(ui.Frame{Title: "x", Notice: "x", Actor: f.Actor, DeviceToken: "x", Demo: true}, everything("x")...))
	assert.Len(t, find(root, func(*html.Node) bool { return true }), len(find(calm, func(*html.Node) bool { return true })), "the same elements whatever the text")
}

func TestNoScriptOrStyleInThePage(t *testing.T) {
	root, _ := render(t, within(ui.Frame{Title: "x", Notice: "x", Actor: access.Actor{Name: "x", Role: access.Dispatcher}, Demo: true}, everything("x")...))
	for _, n := range find(root, func(*html.Node) bool { return true }) {
		for _, a := range n.Attr {
			assert.False(t, a.Key == "style" || strings.HasPrefix(a.Key, "on"), "%s has %s", n.Data, a.Key)
		}
	}
	assert.Empty(t, find(root, named("style")))
	scripts := find(root, named("script"))
	require.NotEmpty(t, scripts)
	for _, n := range scripts {
		assert.True(t, strings.HasPrefix(attribute(n, "src"), "/static/"))
		assert.Equal(t, "module", attribute(n, "type"))
		assert.Nil(t, n.FirstChild)
	}
}

func TestAddressesCannotRunScripts(t *testing.T) {
	for _, c := range []templ.Component{
		ui.PrimaryLink("javascript:alert(1)", "x"), ui.SecondaryLink("javascript:alert(1)", "x"), ui.QuietLink("javascript:alert(1)", "x"),
		ui.PrimaryLinkSub("javascript:alert(1)", "x", "y"), ui.Breadcrumbs([]ui.Crumb{{Label: "x", Href: "javascript:alert(1)"}}),
	} {
		_, raw := render(t, c)
		assert.NotContains(t, raw, "javascript:")
	}
}

func TestPageIsWellBuilt(t *testing.T) {
	root, raw := render(t, within(ui.Frame{Title: "Fryers", Actor: access.Actor{Name: "Ida", Role: access.Technician}, Section: "fryers"}, everything("x")...))
	assert.True(t, strings.HasPrefix(strings.ToLower(raw), "<!doctype html>"))
	assert.Len(t, find(root, named("main")), 1)
	assert.Equal(t, "en", attribute(find(root, named("html"))[0], "lang"))
	assert.Equal(t, "Fryers · Frywright", text(find(root, named("title"))[0]))
	for id, n := range ids(root) {
		assert.Equal(t, 1, n, "id %s", id)
	}
	for _, n := range find(root, named("a")) {
		if target, ok := strings.CutPrefix(attribute(n, "href"), "#"); ok {
			assert.Contains(t, ids(root), target)
		}
	}
	for _, n := range find(root, func(n *html.Node) bool { return has(n, "aria-describedby") }) {
		for id := range strings.FieldsSeq(attribute(n, "aria-describedby")) {
			assert.Contains(t, ids(root), id)
		}
	}
}

func TestNavigationOfEachRole(t *testing.T) {
	for _, c := range []struct {
		role access.Role
		want string
	}{
		{access.Administrator, "Desk Fryers Sites Standards Sheets Lately Import People"},
		{access.Dispatcher, "Desk Fryers Sites Standards Sheets Lately Import"},
		{access.Technician, "Find a fryer Sites"},
		{access.Manager, "My restaurants My fryers"},
	} {
		t.Run(string(c.role), func(t *testing.T) {
			root, _ := render(t, ui.Page(ui.Frame{Title: "x", Actor: access.Actor{Name: "Ida", Role: c.role}, Section: "fryers"}))
			navs := find(root, named("nav"))
			require.Len(t, navs, 2, "one for a phone, one for a desk")
			assert.Equal(t, c.want, text(navs[0]))
			assert.Equal(t, c.want, strings.Replace(text(navs[1]), "More ", "", 1))
			for _, n := range navs {
				lit := find(n, func(n *html.Node) bool { return attribute(n, "aria-current") == "page" })
				require.Len(t, lit, 1)
				assert.Equal(t, "/fryers", attribute(lit[0], "href"))
			}
		})
	}
}

func TestSignedOutThereIsNothingToGoTo(t *testing.T) {
	root, _ := render(t, ui.Page(ui.Frame{Title: "Sign in"}))
	assert.Empty(t, find(root, named("nav", "form")))
}

func TestErrorStandsAtItsField(t *testing.T) {
	root, _ := render(t, ui.Input(ui.Field{Name: "v.offset@2", Label: "Offset", Hint: "In the centre.", Error: "It is not a number.", Value: "12o"}))
	input := find(root, named("input"))[0]
	assert.Equal(t, "12o", attribute(input, "value"))
	assert.Equal(t, "true", attribute(input, "aria-invalid"))
	assert.Equal(t, attribute(input, "id"), attribute(find(root, named("label"))[0], "for"))
	described := strings.Fields(attribute(input, "aria-describedby"))
	require.Len(t, described, 2)
	for i, want := range []string{"In the centre.", "It is not a number."} {
		n := find(root, func(n *html.Node) bool { return attribute(n, "id") == described[i] })
		require.Len(t, n, 1)
		assert.Contains(t, text(n[0]), want)
	}
}

func TestCalmFieldIsNotMarked(t *testing.T) {
	root, _ := render(t, ui.Input(ui.Field{Name: "a", Label: "A"}))
	input := find(root, named("input"))[0]
	for _, name := range []string{"aria-invalid", "aria-describedby", "required", "readonly", "autofocus", "maxlength", "data-sign", "inputmode"} {
		assert.False(t, has(input, name), name)
	}
	assert.Equal(t, "text", attribute(input, "type"))
}

func TestChosenOption(t *testing.T) {
	options := []ui.Option{{Value: "", Label: "None"}, {Value: "a", Label: "A"}, {Value: "b", Label: "B"}}
	for value, want := range map[string]int{"a": 1, "b": 2} {
		root, _ := render(t, ui.Select(ui.Field{Name: "s", Value: value}, options))
		for i, n := range find(root, named("option")) {
			assert.Equal(t, i == want, has(n, "selected"))
		}
		root, _ = render(t, ui.Radios(ui.Field{Name: "r", Value: value}, options))
		for i, n := range find(root, named("input")) {
			assert.Equal(t, i == want, has(n, "checked"))
		}
	}
}

func TestFormErrorsOnlyWhereThereAreAny(t *testing.T) {
	_, raw := render(t, ui.FormErrors("", nil))
	assert.NotContains(t, raw, "role")
	root, _ := render(t, ui.FormErrors("", []fault.Field{{Name: "v.x@1", Message: "It is missing."}}))
	links := find(root, named("a"))
	require.Len(t, links, 1)
	assert.Equal(t, "#"+ui.FieldID("v.x@1"), attribute(links[0], "href"))
}

func TestMomentsInTheirZone(t *testing.T) {
	// Offsets by the IANA time zone database: Berlin keeps UTC+1, in summer UTC+2 from 01:00 UTC of the last Sunday in March; Denver keeps UTC-7.
	for _, c := range []struct {
		at         time.Time
		zone, want string
	}{
		{noon, "Europe/Berlin", "Fri 20 Nov 2026, 21:40"},
		{noon, "America/Denver", "Fri 20 Nov 2026, 13:40"},
		{time.Date(2026, 3, 29, 0, 59, 0, 0, time.UTC), "Europe/Berlin", "Sun 29 Mar 2026, 01:59"},
		{time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC), "Europe/Berlin", "Sun 29 Mar 2026, 03:00"},
		{noon, "Nowhere/Atall", "Fri 20 Nov 2026, 20:40 UTC"},
		{noon, "", "Fri 20 Nov 2026, 20:40 UTC"},
		{noon, "Local", "Fri 20 Nov 2026, 20:40 UTC"},
		{time.Time{}, "Europe/Berlin", "–"},
	} {
		assert.Equal(t, c.want, ui.FormatTime(c.at, c.zone))
	}
	root, _ := render(t, ui.When(noon, "Europe/Berlin"))
	assert.Equal(t, "2026-11-20T20:40:00Z", attribute(find(root, named("time"))[0], "datetime"))
}

func TestNoticeIsOfTheTableOnly(t *testing.T) {
	frame := func(query string) ui.Frame {
		var got ui.Frame
		h := ui.Demo(true)(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { got = ui.FrameFor(r, "T", "desk") }))
		h.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/?"+query, nil))
		return got
	}
	assert.Equal(t, "Saved.", frame("notice=saved").Notice)
	assert.Empty(t, frame("notice=Call+this+number").Notice)
	assert.True(t, frame("").Demo)
}

func TestPagerEnds(t *testing.T) {
	to := func(page int) string { return "/l?page=" + string(rune('1'+page)) }
	for _, c := range []struct {
		page, pages int
		want        []string
	}{
		{0, 1, nil}, {0, 3, []string{"/l?page=2"}}, {1, 3, []string{"/l?page=1", "/l?page=3"}}, {2, 3, []string{"/l?page=2"}},
	} {
		root, _ := render(t, ui.Pager(c.page, c.pages, to))
		var got []string
		for _, n := range find(root, named("a")) {
			got = append(got, attribute(n, "href"))
		}
		assert.Equal(t, c.want, got)
	}
}

func TestOddsAreNeverSaidToBeCertain(t *testing.T) {
	root, _ := render(t, ui.Shares([]ui.Share{{Label: "a", Percent: 99.7}, {Label: "b", Percent: 0.2}, {Label: "c", Percent: 96.4}, {Label: "d", Percent: 0}}))
	assert.Equal(t, "a over 99 % b under 1 % c 96 % d 0 %", text(find(root, named("ol"))[0]))
}

func TestProgressStaysWithinItsBounds(t *testing.T) {
	for _, c := range []struct {
		done, total int
		want        string
	}{{0, 0, "0"}, {1, 3, "33"}, {3, 3, "100"}, {5, 3, "100"}, {-1, 3, "0"}} {
		root, _ := render(t, ui.Progress(c.done, c.total, "read"))
		assert.Equal(t, c.want, attribute(find(root, named("progress"))[0], "value"))
	}
}

func TestEachClassHasAShapeOfItsOwn(t *testing.T) {
	shapes := map[string]sheet.Class{}
	for _, c := range sheet.Classes() {
		root, raw := render(t, ui.ClassBadge(c))
		assert.NotEmpty(t, text(root))
		_, shape, _ := strings.Cut(raw, "focusable=\"false\">")
		shape, _, _ = strings.Cut(shape, "</svg>")
		require.NotEmpty(t, shape)
		other, taken := shapes[shape]
		assert.False(t, taken, "%s looks like %s", c, other)
		shapes[shape] = c
	}
}
