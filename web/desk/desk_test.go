package desk

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/state"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	now      = time.Date(2026, 11, 21, 9, 30, 0, 0, time.UTC)
	customer = uuid.MustParse("00000000-0000-7000-8000-0000000000c1")
	other    = uuid.MustParse("00000000-0000-7000-8000-0000000000c2")
	site     = uuid.MustParse("00000000-0000-7000-8000-0000000000a1")
	fryer    = uuid.MustParse("00000000-0000-7000-8000-0000000000f1")
	aside1   = uuid.MustParse("00000000-0000-7000-8000-0000000000e1")
)

// fake is a store with a fleet of its own.
type fake struct {
	totals  state.Totals
	page    state.Page
	lately  []state.Happening
	aside   []state.Aside
	filter  state.Filter // as asked for
	settled map[uuid.UUID]bool
	err     error // of SettleAside
}

func (f *fake) Totals(context.Context) (state.Totals, error) { return f.totals, nil }

func (f *fake) Fryers(_ context.Context, filter state.Filter) (state.Page, error) {
	f.filter = filter
	return f.page, nil
}

func (f *fake) Customers(context.Context) ([]fleet.Customer, error) {
	return []fleet.Customer{{ID: customer, Name: "Copper Lantern"}, {ID: other, Name: "Kestrel Grill"}}, nil
}

func (f *fake) Site(_ context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error) {
	if id != site {
		return fleet.Site{}, uuid.Nil, fault.New(fault.NotFound, "There is no such thing.")
	}
	return fleet.Site{ID: site, Customer: customer, Name: "Harbour Street"}, uuid.Nil, nil
}

func (f *fake) Sites(_ context.Context, filter state.SiteFilter) (state.SitePage, error) {
	if filter.Customer != customer {
		return state.SitePage{}, nil
	}
	return state.SitePage{Sites: []state.Site{{ID: site, Name: "Harbour Street", CustomerID: customer}}}, nil
}

func (f *fake) Lately(_ context.Context, page, perPage int) ([]state.Happening, error) {
	from := min(page*perPage, len(f.lately))
	return f.lately[from:min(from+perPage, len(f.lately))], nil
}

func (f *fake) SetAside(context.Context) ([]state.Aside, error) { return f.aside, nil }

func (f *fake) SettleAside(_ context.Context, id uuid.UUID, apply bool) error {
	if f.err == nil {
		f.settled[id] = apply
	}
	return f.err
}

func newFake() *fake {
	f := state.Fryer{
		ID: fryer, Tag: "FW-1040", Name: "Line 1 <left>", SiteID: site, SiteName: "Harbour Street", Town: "Ballymarra", Zone: "Europe/Dublin",
		CustomerName: "Copper Lantern",
	}
	f.ByClass[sheet.Food], f.PutBack, f.Places = 3, 3, 40
	f.Since, f.LastRead = now.Add(-5*24*time.Hour), now.Add(-5*24*time.Hour)
	return &fake{
		totals:  state.Totals{Fryers: 6012, ByWorst: [5]int{5900, 100, 0, 10, 2}, Stale: 3, Never: 4},
		page:    state.Page{Fryers: []state.Fryer{f}, Count: state.Count{Total: 112, Pages: 3}},
		settled: map[uuid.UUID]bool{},
	}
}

// serve sends a request to the feature's routes and gives the answer and the handler's error.
func serve(t *testing.T, f *fake, role access.Role, method, address string, body url.Values) (*httptest.ResponseRecorder, error) {
	t.Helper()
	p := &Pages{Store: f, NewID: uuid.New, Now: func() time.Time { return now }}
	mux := chi.NewRouter()
	var got error
	for _, rt := range p.Routes() {
		mux.Method(rt.Method, rt.Pattern, http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { got = rt.Handler(w, r) }))
	}
	r := httptest.NewRequest(method, address, strings.NewReader(body.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r = r.WithContext(access.NewContext(r.Context(), access.Actor{Role: role, Name: "Ada Quill"}))
	w := httptest.NewRecorder()
	mux.ServeHTTP(w, r)
	return w, got
}

func get(t *testing.T, f *fake, address string) string {
	t.Helper()
	w, err := serve(t, f, access.Dispatcher, http.MethodGet, address, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, w.Code)
	return w.Body.String()
}

func TestHomeSendsEachRoleToItsOwnPage(t *testing.T) {
	for role, want := range map[access.Role]string{
		access.Administrator: "/desk", access.Dispatcher: "/desk", access.Technician: "/fryers", access.Manager: "/sites",
	} {
		w, err := serve(t, newFake(), role, http.MethodGet, "/", nil)
		require.NoError(t, err)
		assert.Equal(t, http.StatusSeeOther, w.Code)
		assert.Equal(t, want, w.Header().Get("Location"), role)
	}
	w, _ := serve(t, newFake(), access.Manager, http.MethodGet, "/?notice=signed-in", nil)
	assert.Equal(t, "/sites?notice=signed-in", w.Header().Get("Location"))
}

func TestDeskTellsTheFleetAndEachFryer(t *testing.T) {
	f := newFake()
	page := get(t, f, "/desk")
	assert.Contains(t, page, "112 of 6\u202f012 fryers are not as they should be, 2 of them with a safety matter.")
	assert.Contains(t, page, "FW-1040")
	assert.Contains(t, page, "3 settings are off, the worst a food matter")
	assert.Contains(t, page, "5 days ago")
	assert.Contains(t, page, "Mon 16 Nov 2026, 09:30")
	assert.Contains(t, page, "Put back 3 settings")
	assert.Contains(t, page, "Line 1 &lt;left&gt;")
	assert.NotContains(t, page, "<left>")
	assert.Contains(t, page, `href="/desk?class=food#list"`)
	assert.Contains(t, page, `href="/desk?show=stale#list"`)
	assert.Equal(t, state.Filter{Hands: true, PerPage: perPage}, f.filter)
}

func TestDeskNarrows(t *testing.T) {
	all := "customer=" + customer.String() + "&site=" + site.String()
	for address, want := range map[string]state.Filter{
		"/desk?class=food&days=7&page=3": {Hands: true, Worst: sheet.Food, OlderH: 168, Page: 2},
		"/desk?" + all:                   {Hands: true, Customer: customer, Site: site},
		"/desk?site=" + site.String():    {Hands: true, Customer: customer, Site: site},
		"/desk?customer=" + other.String() + "&site=" + site.String(): {Hands: true, Customer: other},
		"/desk?site=" + other.String():                                {Hands: true},
		"/desk?show=stale":                                            {Hands: true, Stale: true},
		"/desk?show=open":                                             {Hands: true, Open: true},
		"/desk?show=never":                                            {Never: true},
		"/desk?show=%3Cb%3E&class=x&days=-4&customer=1&site=2":        {Hands: true},
	} {
		f := newFake()
		get(t, f, address)
		want.PerPage = perPage
		assert.Equal(t, want, f.filter, address)
	}
}

func TestDeskAddressKeepsTheFilters(t *testing.T) {
	w := wanted{Show: showStale, Customer: customer, Site: site, Class: sheet.Food, Days: 30}
	for _, want := range []wanted{w, {}, {Days: 3, Page: 2}} {
		r := httptest.NewRequest(http.MethodGet, want.href(), nil)
		assert.Equal(t, want, wantedOf(r))
	}
	page := get(t, newFake(), w.href())
	assert.Contains(t, page, `<option value="`+site.String()+`" selected>`)
	assert.Contains(t, page, `<option value="30" selected>`)
	assert.Contains(t, page, "page=2")
	assert.NotContains(t, get(t, newFake(), "/desk"), `name="site"`, "restaurants are offered once a company is chosen")
}

func TestDeskWithNothingSaysWhatToDo(t *testing.T) {
	f := newFake()
	f.page = state.Page{}
	assert.Contains(t, get(t, f, "/desk?days=30"), "Nothing like that")
	assert.Contains(t, get(t, f, "/desk"), "4 fryers have never been read")
	f.totals.Never = 0
	assert.Contains(t, get(t, f, "/desk"), "Nobody has to go anywhere")
	f.totals = state.Totals{}
	assert.Contains(t, get(t, f, "/desk"), `href="/import"`)
}

func TestFleetSentence(t *testing.T) {
	for _, c := range []struct {
		totals state.Totals
		want   string
	}{
		{state.Totals{}, "There is no fryer in the fleet yet."},
		{state.Totals{Fryers: 1, ByWorst: [5]int{1}}, "Nothing is known to be wrong in 1 fryer."},
		{state.Totals{Fryers: 7, Never: 7, ByWorst: [5]int{7}}, "7 fryers, and none has been read yet."},
		{state.Totals{Fryers: 7, Stale: 1, ByWorst: [5]int{7}}, "Nothing is known to be wrong, but 1 fryer has to be read again."},
		{state.Totals{Fryers: 7, ByWorst: [5]int{6, 1}}, "One fryer of 7 is not as it should be."},
		{state.Totals{Fryers: 1200, ByWorst: [5]int{1190, 9, 0, 0, 1}}, "10 of 1\u202f200 fryers are not as they should be, 1 of them with a safety matter."},
	} {
		assert.Equal(t, c.want, fleetSentence(&c.totals))
	}
}

func TestAgo(t *testing.T) {
	for d, want := range map[time.Duration]string{
		-time.Hour: "just now", 30 * time.Second: "just now", time.Minute: "1 minute ago", 59 * time.Minute: "59 minutes ago",
		time.Hour: "1 hour ago", 47 * time.Hour: "47 hours ago", 48 * time.Hour: "2 days ago", 59 * 24 * time.Hour: "59 days ago",
		61 * 24 * time.Hour: "2 months ago",
	} {
		assert.Equal(t, want, ago(now, now.Add(-d)))
	}
}

func TestSinceIsOfWhatNeedsHands(t *testing.T) {
	var f state.Fryer
	f.StaleSince, f.StaleWhat = now.Add(-time.Hour), cause.PowerCut
	assert.Equal(t, f.StaleSince, since(&f))
	f.Since = now.Add(-2 * time.Hour)
	f.ByClass[sheet.Minor] = 1
	assert.Equal(t, f.Since, since(&f))
	open := state.Fryer{}
	open.OpenBegun = now
	assert.Equal(t, now, since(&open))
}

func TestLatelyGroupsByDayAndTellsOfClocks(t *testing.T) {
	f := newFake()
	at := now.Add(-30 * time.Minute)
	f.lately = []state.Happening{
		{At: at, Received: at, By: "Rowan Pike", FryerID: fryer, FryerTag: "FW-1040", SiteName: "Harbour Street", Title: "Note", Detail: "<i>sticky</i>", Zone: "Europe/Dublin", Skew: 14 * time.Minute},
		{At: at.Add(-9 * time.Hour), Received: at.Add(-4 * time.Hour), SiteID: site, SiteName: "Harbour Street", Title: "Rule switched on", Zone: "Europe/Dublin", Skew: -5 * time.Minute},
		{At: at.Add(-24 * time.Hour), Received: at.Add(-24 * time.Hour), Title: "Person saved", Skew: -8 * time.Hour},
	}
	page := get(t, f, "/lately")
	assert.Equal(t, 2, strings.Count(page, "<h2"), "two days")
	assert.Contains(t, page, "The clock of the device was 14 minutes behind.")
	assert.Contains(t, page, "The clock of the device was 8 hours ahead.")
	assert.Equal(t, 2, strings.Count(page, "The clock of the device"), "five minutes are not worth a word")
	assert.Contains(t, page, "Came in 5 hours later.")
	assert.Contains(t, page, `href="/fryers/`+fryer.String())
	assert.Contains(t, page, `href="/sites/`+site.String())
	assert.Contains(t, page, "&lt;i&gt;sticky")
	assert.NotContains(t, page, "Earlier")
}

func TestLatelyPages(t *testing.T) {
	f := newFake()
	for range perPage + 1 {
		f.lately = append(f.lately, state.Happening{At: now, Received: now, Title: "Note"})
	}
	assert.Contains(t, get(t, f, "/lately"), `href="/lately?page=2"`)
	second := get(t, f, "/lately?page=2")
	assert.Contains(t, second, `href="/lately"`)
	assert.NotContains(t, second, `page=3`)
	assert.Contains(t, get(t, f, "/lately?page=9"), "Nothing older")
	assert.Contains(t, get(t, newFake(), "/lately"), "Nothing came in yet")
}

func TestSetAsideTellsWhyAndSettles(t *testing.T) {
	f := newFake()
	f.aside = []state.Aside{
		{EntryID: aside1, Kind: "note.written", Reason: "Rowan Pike may not do this here.", Body: `{"text":"<b>lift</b> sticks"}`},
		{EntryID: fryer, Kind: "from.tomorrow", Reason: "Not known.", Body: `{}`},
	}
	page := get(t, f, "/set-aside")
	assert.Contains(t, page, "Rowan Pike may not do this here.")
	assert.Contains(t, page, "&lt;b&gt;lift&lt;/b&gt; sticks")
	assert.Contains(t, page, "cannot read")
	assert.Contains(t, get(t, f, "/lately"), "2 entries were set aside")

	for do, apply := range map[string]bool{doApply: true, doLeave: false} {
		w, err := serve(t, f, access.Dispatcher, http.MethodPost, "/set-aside/"+aside1.String(), url.Values{"do": {do}})
		require.NoError(t, err)
		assert.Equal(t, http.StatusSeeOther, w.Code)
		assert.Equal(t, apply, f.settled[aside1])
	}
	assert.Contains(t, get(t, newFake(), "/set-aside"), "Nothing is set aside")
}

func TestSettleWithAComplaintShowsTheListAgain(t *testing.T) {
	f := newFake()
	f.aside = []state.Aside{{EntryID: aside1, Kind: "note.written", Reason: "Why", Body: `{}`}}
	w, err := serve(t, f, access.Dispatcher, http.MethodPost, "/set-aside/"+aside1.String(), url.Values{"do": {"burn"}})
	require.NoError(t, err)
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Say whether it is applied or left out.")
	assert.Empty(t, f.settled)

	f.err = fault.New(fault.Invalid, "The entry is damaged.")
	w, err = serve(t, f, access.Dispatcher, http.MethodPost, "/set-aside/"+aside1.String(), url.Values{"do": {doApply}})
	require.NoError(t, err)
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "The entry is damaged.")

	f.err = errors.New("disk")
	_, err = serve(t, f, access.Dispatcher, http.MethodPost, "/set-aside/"+aside1.String(), url.Values{"do": {doApply}})
	assert.ErrorIs(t, err, f.err)
}
