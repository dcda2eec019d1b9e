package reading_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/reading"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

func num(n float64) *float64 { return &n }

// quill is an invented controller type with one setting of each kind.
var quill = sheet.Sheet{
	ID: uuid.New(), Code: "quill", Name: "Quill 5",
	Settings: []sheet.Setting{
		{Key: "setpoint", Label: "Fry setpoint", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Factory: "350", Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 1, Note: "Hold the vat's own key."},
		{Key: "offset", Label: "Probe offset", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(-15), Max: num(15), Step: 1, Factory: "0", Scope: sheet.PerController, Class: sheet.Food},
		{Key: "profile", Label: "Heat profile", Group: "Heat", Kind: sheet.Choice, Options: []sheet.Option{{Key: "gas", Label: "Standard gas"}, {Key: "gentle", Label: "Gentle gas"}}, Factory: "gas", Scope: sheet.PerController, Class: sheet.Output},
		{Key: "pilot", Label: "Standing pilot", Group: "Heat", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety},
		{Key: "hours", Label: "Burner hours", Group: "About", Kind: sheet.Number, Unit: "h", Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true},
	},
	Interlocks: []sheet.Interlock{{
		Key: "pilot-profile", Label: "A standing pilot needs the standard gas profile", Class: sheet.Safety,
		When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
		Must: []sheet.Condition{{Setting: "profile", Op: sheet.Is, Values: []sheet.Value{"gas"}}},
	}},
}

var today = time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC)

// fake is a store of one fryer and its readings, in memory.
type fake struct {
	fryer    state.Fryer
	house    []standard.Set
	accepted []standard.Acceptance
	before   map[sheet.Ref]sheet.Value // what was known before
	readings map[uuid.UUID]snapshot.Snapshot
	drafts   []journal.Draft
	refuse   error // what the next Record says
}

func newFake() *fake {
	return &fake{
		fryer: state.Fryer{
			ID: uuid.New(), Tag: "FW-1041", Name: "line 1", SiteID: uuid.New(), SiteName: "Vexley Quay", Zone: "Europe/Dublin",
			Energy: sheet.Gas, Pot: sheet.SplitPot, SheetID: quill.ID, SheetName: quill.Name,
		},
		house: []standard.Set{
			{Ref: sheet.Ref{Key: "setpoint"}, Value: "340", By: "Dee Desk", At: today, Why: "thick-cut chips"},
			{Ref: sheet.Ref{Key: "offset"}, Value: "-3"}, {Ref: sheet.Ref{Key: "pilot"}, Value: "on"},
		},
		readings: map[uuid.UUID]snapshot.Snapshot{},
	}
}

func (f *fake) expected() *standard.Expected {
	layers := []standard.Layer{{Level: standard.OfCustomer, Name: "Otterly Battered", Sets: f.house}}
	return standard.Lay(&quill, sheet.Appliance{Energy: f.fryer.Energy, Pot: f.fryer.Pot}, layers)
}

func (f *fake) Record(_ context.Context, drafts ...journal.Draft) ([]journal.Entry, error) {
	if f.refuse != nil {
		return nil, f.refuse
	}
	for _, d := range drafts {
		if err := d.Body.Validate(); err != nil {
			return nil, err
		}
		f.drafts = append(f.drafts, d)
		f.apply(d)
	}
	return nil, nil
}

func (f *fake) apply(d journal.Draft) {
	x := f.readings[d.Subject]
	switch b := d.Body.(type) {
	case snapshot.Begun:
		x = snapshot.Snapshot{ID: d.Subject, Fryer: b.Fryer, Site: f.fryer.SiteID, Purpose: b.Purpose, Begun: today, AuthorName: "Tom Tech", Readings: map[sheet.Ref]snapshot.Reading{}}
		f.fryer.OpenID = x.ID
	case snapshot.Read:
		for _, r := range b.Readings {
			x.Readings[r.Ref] = r
		}
	case snapshot.Finished:
		x.Finished, x.Note = today, b.Note
		f.fryer.OpenID, f.fryer.LastRead = uuid.Nil, today
	case snapshot.Dropped:
		x.Dropped = true
		f.fryer.OpenID = uuid.Nil
	}
	f.readings[d.Subject] = x
}

func (f *fake) Fryer(_ context.Context, id uuid.UUID) (state.Fryer, error) {
	if id != f.fryer.ID {
		return state.Fryer{}, fault.New(fault.NotFound, "There is nothing at this address.")
	}
	return f.fryer, nil
}

func (f *fake) ReadingResult(_ context.Context, id uuid.UUID) (state.ReadingResult, error) {
	x, ok := f.readings[id]
	if !ok {
		return state.ReadingResult{}, fault.New(fault.NotFound, "There is nothing at this address.")
	}
	expected := f.expected()
	values := x.Values()
	return state.ReadingResult{
		Fryer: f.fryer, Snapshot: x, Expected: expected, Result: drift.Compare(expected, values, f.accepted, nil, today),
		Cause: cause.Weigh(cause.Input{Expected: expected, Readings: values}),
	}, nil
}

// Assessment stands for what was known before the readings of the test.
func (f *fake) Assessment(context.Context, uuid.UUID) (state.Assessment, error) {
	expected := f.expected()
	return state.Assessment{Fryer: f.fryer, Expected: expected, Result: drift.Compare(expected, f.before, nil, nil, today)}, nil
}

// last gives the body recorded last.
func (f *fake) last(t *testing.T) journal.Body {
	t.Helper()
	require.NotEmpty(t, f.drafts)
	return f.drafts[len(f.drafts)-1].Body
}

// read gives the one reading of the entry recorded last.
func (f *fake) read(t *testing.T) snapshot.Reading {
	t.Helper()
	b, ok := f.last(t).(snapshot.Read)
	require.True(t, ok)
	require.Len(t, b.Readings, 1)
	return b.Readings[0]
}

// begun puts an open reading into the store.
func (f *fake) begun(t *testing.T, purpose snapshot.Purpose, values map[string]sheet.Value) uuid.UUID {
	t.Helper()
	id := uuid.New()
	f.apply(journal.Draft{Subject: id, Body: snapshot.Begun{Fryer: f.fryer.ID, Purpose: purpose}})
	for text, v := range values {
		ref, ok := sheet.ParseRef(text)
		require.True(t, ok)
		f.apply(journal.Draft{Subject: id, Body: snapshot.Read{Readings: []snapshot.Reading{{Ref: ref, Value: v}}}})
	}
	return id
}

// browser sends requests to the pages as a technician of the fryer's restaurant would.
type browser struct {
	t       *testing.T
	handler http.Handler
	failure error // what the handler gave back, for the error page
}

func (f *fake) browser(t *testing.T) *browser {
	t.Helper()
	b := &browser{t: t}
	pages := &reading.Pages{Store: f, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) }, Now: func() time.Time { return today }}
	actor := access.Actor{Person: uuid.New(), Name: "Tom Tech", Role: access.Technician, Sites: map[uuid.UUID]bool{f.fryer.SiteID: true}}
	b.handler = route(pages.Routes(), actor, &b.failure)
	return b
}

func route(routes []form.Route, actor access.Actor, failure *error) http.Handler {
	mux := chi.NewRouter()
	for _, x := range routes {
		mux.Method(x.Method, x.Pattern, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if *failure = x.Handler(w, r.WithContext(access.NewContext(r.Context(), actor))); *failure != nil {
				w.WriteHeader(http.StatusTeapot) // the error page's business
			}
		}))
	}
	return mux
}

// answer is what came back.
type answer struct {
	status int
	to     string
	body   string
}

func (b *browser) get(target string) answer {
	b.t.Helper()
	target, _, _ = strings.Cut(target, "#") // a browser keeps the fragment to itself
	return b.send(httptest.NewRequest(http.MethodGet, target, nil))
}

// post sends a form given as name, value, name, value.
func (b *browser) post(target string, pairs ...string) answer {
	b.t.Helper()
	values := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		values.Add(pairs[i], pairs[i+1])
	}
	r := httptest.NewRequest(http.MethodPost, target, strings.NewReader(values.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.send(r)
}

func (b *browser) send(r *http.Request) answer {
	w := httptest.NewRecorder()
	b.handler.ServeHTTP(w, r)
	return answer{status: w.Code, to: w.Header().Get("Location"), body: w.Body.String()}
}

// has checks that a page says each of the texts, and names only the missing ones.
func has(t *testing.T, body string, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if !strings.Contains(body, text) {
			_, main, _ := strings.Cut(body, "<main")
			main, _, _ = strings.Cut(main, "</main>")
			t.Errorf("the page does not say %q; it says %s", text, markup.ReplaceAllString(main, " "))
		}
	}
}

// lacks checks that a page says none of the texts.
func lacks(t *testing.T, body string, texts ...string) {
	t.Helper()
	for _, text := range texts {
		if strings.Contains(body, text) {
			t.Errorf("the page says %q", text)
		}
	}
}

var markup = regexp.MustCompile(`\s*(<[^>]*>\s*)+`)
