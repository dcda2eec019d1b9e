package fryer_test

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
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/fryer"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

func num(n float64) *float64 { return &n }

// quill is an invented controller type.
var quill = sheet.Sheet{
	ID: uuid.New(), Code: "quill", Name: "Quill 5",
	Settings: []sheet.Setting{
		{Key: "profile", Label: "Heat profile", Group: "Heat", Kind: sheet.Choice, Options: []sheet.Option{{Key: "gas", Label: "Standard gas"}, {Key: "gentle", Label: "Gentle gas"}}, Factory: "gas", Scope: sheet.PerController, Class: sheet.Output},
		{Key: "pilot", Label: "Standing pilot", Group: "Heat", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety, After: []string{"profile"}},
		{Key: "setpoint", Label: "Fry setpoint", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Factory: "350", Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 1, Note: "Hold the vat's own key."},
		{Key: "offset", Label: "Probe offset", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(-15), Max: num(15), Step: 1, Factory: "0", Scope: sheet.PerController, Class: sheet.Food, Kept: true},
		{Key: "checksum", Label: "Program checksum", Group: "About", Kind: sheet.Text, Factory: "7A1F", Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true},
	},
	Interlocks: []sheet.Interlock{{
		Key: "pilot-profile", Label: "A standing pilot needs the standard gas profile", Class: sheet.Safety, Why: "Other profiles starve it.",
		When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
		Must: []sheet.Condition{{Setting: "profile", Op: sheet.Is, Values: []sheet.Value{"gas"}}},
	}},
}

var (
	today    = time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC)
	customer = fleet.Customer{ID: uuid.New(), Name: "Otterly Battered"}
)

// fake is a store of a few fryers; the first of them is the one with readings.
type fake struct {
	fryers     []state.Fryer
	sites      []state.Site
	siteFilter state.SiteFilter
	history    []state.Happening
	readings   []state.Reading
	known      map[sheet.Ref]sheet.Value
	ticks      map[sheet.Ref]sheet.Value
	accepted   []standard.Acceptance
	filter     state.Filter // what the list was asked for last
	drafts     []journal.Draft
	refuse     error
}

func newFake() *fake {
	site := uuid.New()
	f := &fake{ticks: map[sheet.Ref]sheet.Value{}}
	f.fryers = []state.Fryer{
		{
			ID: uuid.New(), Tag: "FW-1041", Name: "line 1", SiteID: site, SiteName: "Vexley Quay", Town: "Vexley", Zone: "Europe/Dublin",
			CustomerID: customer.ID, CustomerName: customer.Name, ModelID: uuid.New(), ModelName: "Halver 35", SheetID: quill.ID, SheetName: quill.Name,
			Energy: sheet.Gas, Pot: sheet.SplitPot, Serial: "S<1>", Note: "by the wall",
		},
		{ID: uuid.New(), Tag: "FW-1042", SiteID: site, SiteName: "Vexley Quay", ModelName: "Halver 35", Zone: "Europe/Dublin"},
	}
	f.sites = []state.Site{
		{ID: site, Name: "Vexley Quay", Wrong: 1, Worst: sheet.Food}, {ID: uuid.New(), Name: "Port Lumen"},
		{ID: uuid.New(), Name: "Harl Street", Stale: 2}, {ID: uuid.New(), Name: "Old Ferry", Wrong: 1, Worst: sheet.Safety},
	}
	f.read(map[string]sheet.Value{"profile": "gas", "pilot": "on", "setpoint@1": "340", "setpoint@2": "340", "offset": "-3", "checksum": "7A1F"})
	return f
}

// read puts what the first fryer is known to read, and works out how it stands, as the store does.
func (f *fake) read(values map[string]sheet.Value) {
	f.known = map[sheet.Ref]sheet.Value{}
	for text, v := range values {
		ref, _ := sheet.ParseRef(text)
		f.known[ref] = v
	}
	result := f.result()
	c := result.Counts()
	st := state.Standing{
		Places: c.Places, Right: c.Right, Unknown: c.Unknown, Accepted: c.Accepted, ByClass: c.ByClass, Broken: c.Broken,
		LastRead: today.Add(-time.Hour), LastPurpose: snapshot.AsFound,
	}
	for _, x := range result.Drifted() {
		if !x.Setting.ReadOnly {
			st.PutBack++
		}
		if f.ticks[x.Ref] == x.Value {
			st.Ticked++
		}
	}
	f.fryers[0].Standing = st
}

func (f *fake) expected() *standard.Expected {
	return standard.Lay(&quill, sheet.Appliance{Energy: sheet.Gas, Pot: sheet.SplitPot}, []standard.Layer{
		{Level: standard.OfCustomer, Name: customer.Name, Sets: []standard.Set{
			{Ref: sheet.Ref{Key: "setpoint"}, Value: "345", By: "Dee Desk", At: today.AddDate(0, -6, 0), Why: "house menu"},
			{Ref: sheet.Ref{Key: "offset"}, Value: "-3"}, {Ref: sheet.Ref{Key: "pilot"}, Value: "on"},
		}},
		{Level: standard.OfSite, Name: "Vexley Quay", Sets: []standard.Set{{Ref: sheet.Ref{Key: "setpoint"}, Value: "340", By: "Dee Desk", At: today.AddDate(0, -1, 0), Why: "thick-cut <chips>"}}},
	})
}

func (f *fake) result() drift.Result {
	return drift.Compare(f.expected(), f.known, f.accepted, nil, today)
}

func (f *fake) Record(_ context.Context, drafts ...journal.Draft) ([]journal.Entry, error) {
	if f.refuse != nil {
		return nil, f.refuse
	}
	for _, d := range drafts {
		if err := d.Body.Validate(); err != nil {
			return nil, err
		}
	}
	f.drafts = append(f.drafts, drafts...)
	return nil, nil
}

func (f *fake) Fryers(_ context.Context, filter state.Filter) (state.Page, error) {
	f.filter = filter
	page := state.Page{Count: state.Count{Number: filter.Page}}
	for _, x := range f.fryers {
		if strings.Contains(strings.ToLower(x.Tag+x.SiteName), strings.ToLower(filter.Query)) {
			page.Fryers = append(page.Fryers, x)
		}
	}
	page.Total, page.Pages = len(page.Fryers), 3
	return page, nil
}

func (f *fake) Fryer(_ context.Context, id uuid.UUID) (state.Fryer, error) {
	for _, x := range f.fryers {
		if x.ID == id {
			return x, nil
		}
	}
	return state.Fryer{}, fault.New(fault.NotFound, "There is nothing at this address.")
}

func (f *fake) FryerByTag(_ context.Context, tag string) (uuid.UUID, error) {
	for _, x := range f.fryers {
		if x.Tag == tag {
			return x.ID, nil
		}
	}
	return uuid.Nil, fault.New(fault.NotFound, "There is nothing at this address.")
}

func (f *fake) Assessment(ctx context.Context, id uuid.UUID) (state.Assessment, error) {
	x, err := f.Fryer(ctx, id)
	if err != nil {
		return state.Assessment{}, err
	}
	a := state.Assessment{Fryer: x, Expected: f.expected(), Result: f.result(), Ticks: f.ticks, ReadAt: map[sheet.Ref]time.Time{}, LastID: uuid.New()}
	for ref := range f.known {
		a.ReadAt[ref] = x.LastRead
	}
	a.Cause = cause.Weigh(cause.Input{Expected: a.Expected, Readings: f.known})
	return a, nil
}

func (f *fake) Readings(context.Context, uuid.UUID, int) ([]state.Reading, error) {
	return f.readings, nil
}

func (f *fake) FryerHistory(_ context.Context, _ uuid.UUID, page, perPage int) ([]state.Happening, error) {
	from, to := min(page*perPage, len(f.history)), min((page+1)*perPage, len(f.history))
	return f.history[from:to], nil
}

func (f *fake) Sites(_ context.Context, filter state.SiteFilter) (state.SitePage, error) {
	f.siteFilter = filter
	return state.SitePage{Sites: f.sites[:min(len(f.sites), filter.PerPage)], Count: state.Count{Total: len(f.sites)}}, nil
}

func (f *fake) Customers(context.Context) ([]fleet.Customer, error) {
	return []fleet.Customer{customer}, nil
}

// browser sends requests to the pages as somebody of a role would.
type browser struct {
	t       *testing.T
	handler http.Handler
	failure error // what the handler gave back, for the error page
}

func (f *fake) browser(t *testing.T, role access.Role) *browser {
	t.Helper()
	b := &browser{t: t}
	pages := &fryer.Pages{Store: f, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) }, Now: func() time.Time { return today }}
	actor := access.Actor{Person: uuid.New(), Name: "Somebody", Role: role, Sites: map[uuid.UUID]bool{f.sites[0].ID: true}}
	mux := chi.NewRouter()
	for _, x := range pages.Routes() {
		mux.Method(x.Method, x.Pattern, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if b.failure = x.Handler(w, r.WithContext(access.NewContext(r.Context(), actor))); b.failure != nil {
				w.WriteHeader(http.StatusTeapot) // the error page's business
			}
		}))
	}
	b.handler = mux
	return b
}

// answer is what came back.
type answer struct {
	status int
	to     string
	body   string
}

func (b *browser) get(target string) answer {
	b.t.Helper()
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
