package site

import (
	"context"
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
	"frywright/domain/journal"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/state"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	now     = time.Date(2026, 11, 21, 9, 30, 0, 0, time.UTC)
	company = uuid.MustParse("00000000-0000-7000-8000-0000000000c1")
	harbour = uuid.MustParse("00000000-0000-7000-8000-0000000000a1")
	sheetID = uuid.MustParse("00000000-0000-7000-8000-0000000000b1")
)

// fake is a store with one restaurant.
type fake struct {
	fryers   []state.Fryer
	sites    []state.Site
	total    int // where it is more than the fryers given
	recorded []journal.Draft
	err      error // of Record
	query    string
	customer uuid.UUID
	asked    []string // what only some may see
}

func (f *fake) Record(_ context.Context, drafts ...journal.Draft) ([]journal.Entry, error) {
	for _, d := range drafts {
		if err := d.Body.Validate(); err != nil {
			return nil, err
		}
	}
	if f.err == nil {
		f.recorded = append(f.recorded, drafts...)
	}
	return nil, f.err
}

func (f *fake) Sites(_ context.Context, filter state.SiteFilter) (state.SitePage, error) {
	f.query, f.customer = filter.Query, filter.Customer
	var page state.SitePage
	page.Total = len(f.sites)
	page.Cut(len(f.sites), filter.Page, filter.PerPage)
	from := page.Number * filter.PerPage
	page.Sites = f.sites[from:min(from+filter.PerPage, len(f.sites))]
	return page, nil
}

func (f *fake) Site(_ context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error) {
	if id != harbour {
		return fleet.Site{}, uuid.Nil, fault.New(fault.NotFound, "There is no such thing.")
	}
	return fleet.Site{
		ID: harbour, Code: "HST", Customer: company, Name: "Harbour <Street>", Address: "14 Harbour Street", Town: "Ballymarra", Country: "IE",
		ElevationM: 12, Zone: "Europe/Dublin", SupplyVolts: 400, Gas: fleet.Propane, Access: "Ring twice.",
	}, uuid.Nil, nil
}

func (f *fake) SiteRules(context.Context, uuid.UUID) ([]string, error) {
	f.asked = append(f.asked, "rules")
	return []string{"eu-2017-2158-potato"}, nil
}

func (f *fake) SiteHistory(context.Context, uuid.UUID, int, int) ([]state.Happening, error) {
	return []state.Happening{{At: now, By: "Rowan Pike", Title: "The settings were checked."}}, nil
}

func (f *fake) Fryers(_ context.Context, filter state.Filter) (state.Page, error) {
	page := state.Page{Fryers: f.fryers, Count: state.Count{Total: max(f.total, len(f.fryers))}}
	if filter.PerPage < len(f.fryers) {
		page.Fryers = f.fryers[:filter.PerPage]
	}
	return page, nil
}

func (f *fake) Customers(context.Context) ([]fleet.Customer, error) {
	f.asked = append(f.asked, "customers")
	return []fleet.Customer{{ID: company, Name: "Copper Lantern"}}, nil
}

// fryer makes a fryer that was read and is right.
func fryer(tag string, change func(*state.Fryer)) state.Fryer {
	f := state.Fryer{
		ID: uuid.NewSHA1(harbour, []byte(tag)), Tag: tag, Name: "Line of " + tag, SiteID: harbour, SiteName: "Harbour <Street>", Zone: "Europe/Dublin",
		CustomerName: "Copper Lantern", SheetID: sheetID, SheetName: "Ladle 2",
	}
	f.LastRead, f.Places = now.Add(-time.Hour), 40
	if change != nil {
		change(&f)
	}
	return f
}

func off(class sheet.Class) func(*state.Fryer) {
	return func(f *state.Fryer) {
		f.ByClass[class], f.PutBack, f.Since, f.Cause, f.CauseOdds = 2, 2, now, cause.FullReset, 0.97
	}
}

func stale(f *state.Fryer)   { f.StaleSince, f.StaleWhat = now, cause.PowerCut }
func never(f *state.Fryer)   { f.LastRead = time.Time{} }
func retired(f *state.Fryer) { f.Retired = now }

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
	r = r.WithContext(access.NewContext(r.Context(), access.Actor{Role: role, Name: "Ada Quill", Sites: map[uuid.UUID]bool{harbour: true}}))
	w := httptest.NewRecorder()
	mux.ServeHTTP(w, r)
	return w, got
}

func get(t *testing.T, f *fake, role access.Role, address string) string {
	t.Helper()
	w, err := serve(t, f, role, http.MethodGet, address, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, w.Code)
	return w.Body.String()
}

func full() *fake {
	return &fake{
		fryers: []state.Fryer{fryer("A-1", nil), fryer("A-2", stale), fryer("A-3", off(sheet.Output)), fryer("A-4", off(sheet.Safety)), fryer("A-5", retired), fryer("A-6", never)},
		sites:  []state.Site{{ID: harbour, Name: "Harbour <Street>", Town: "Ballymarra", CustomerName: "Copper Lantern", Fryers: 5, Wrong: 2, Stale: 1, Worst: sheet.Safety}},
	}
}

func TestListForTheDesk(t *testing.T) {
	f := full()
	page := get(t, f, access.Dispatcher, "/sites?q=harbour&customer="+company.String())
	assert.Equal(t, "harbour", f.query)
	assert.Equal(t, company, f.customer)
	assert.Contains(t, page, `value="harbour"`)
	assert.Contains(t, page, `<option value="`+company.String()+`" selected>`)
	assert.Contains(t, page, "Harbour &lt;Street&gt;")
	assert.Contains(t, page, "5 fryers, 2 not as they should be, 1 to be read again")
	assert.Contains(t, page, `href="/sites/new"`)
}

func TestListForATechnicianAsksNothingOfTheDesk(t *testing.T) {
	f := full()
	page := get(t, f, access.Technician, "/sites")
	assert.Empty(t, f.asked)
	assert.NotContains(t, page, "/sites/new")
	f.sites = nil
	assert.Contains(t, get(t, f, access.Technician, "/sites"), "Ask your dispatcher")
	assert.Contains(t, get(t, f, access.Technician, "/sites?q=zzz"), "No restaurant like that")
	assert.Contains(t, get(t, f, access.Dispatcher, "/sites"), `href="/import"`)
	assert.Contains(t, get(t, f, access.Manager, "/sites"), "Your service company has not given you a restaurant yet")
}

func TestListForAManagerIsPlain(t *testing.T) {
	f := full()
	f.fryers = f.fryers[2:4]
	page := get(t, f, access.Manager, "/sites")
	assert.Contains(t, page, "My restaurants")
	assert.Contains(t, page, "Its settings are not as they should be. Your service company can see this.")
	assert.NotContains(t, page, "reset")
	assert.NotContains(t, page, "Safety")
	assert.Less(t, strings.Index(page, "A-4"), strings.Index(page, "A-3"), "the worst comes first")

	f.total = fewFryers + 1
	page = get(t, f, access.Manager, "/sites")
	assert.NotContains(t, page, "A-4", "too many to be seen at once")
	assert.NotContains(t, page, "not as they should be")
}

func TestListPages(t *testing.T) {
	f := full()
	f.sites = nil
	for range perPage + 1 {
		f.sites = append(f.sites, state.Site{ID: harbour, Name: "One of many"})
	}
	page := get(t, f, access.Dispatcher, "/sites?q=one")
	assert.Equal(t, perPage, strings.Count(page, "One of many"))
	assert.Contains(t, page, "page=2&amp;q=one")
	assert.Equal(t, 1, strings.Count(get(t, f, access.Dispatcher, "/sites?page=7"), "One of many"))
}

func TestShowOrdersFryersAndTellsFirst(t *testing.T) {
	page := get(t, full(), access.Technician, "/sites/"+harbour.String())
	assert.Contains(t, page, "2 of 5 fryers are not as they should be, the worst a safety matter; 1 has to be read again; 1 was never read.")
	at := func(tag string) int {
		_, list, _ := strings.Cut(page, `<h2 id="fryers">`)
		return strings.Index(list, ">"+tag+"<")
	}
	for _, pair := range [][2]string{{"A-4", "A-2"}, {"A-2", "A-3"}, {"A-3", "A-6"}, {"A-6", "A-1"}, {"A-1", "A-5"}} {
		assert.Less(t, at(pair[0]), at(pair[1]), pair)
	}
	for _, text := range []string{"12 m above sea level", "400 V", "Propane", "Europe/Dublin", "Ring twice.", "14 Harbour Street, Ballymarra, IE", "Begin with A-4", "Retired", "Copper Lantern"} {
		assert.Contains(t, page, text)
	}
	assert.NotContains(t, page, "Switch off")
	assert.NotContains(t, page, "/edit")
	assert.NotContains(t, page, "/standards/")
}

func TestShowGivesTheDispatcherTheKeys(t *testing.T) {
	page := get(t, full(), access.Dispatcher, "/sites/"+harbour.String())
	assert.Contains(t, page, `href="/sites/`+harbour.String()+`/edit"`)
	assert.Contains(t, page, `href="/fryers/new?site=`+harbour.String()+`"`)
	assert.Equal(t, 1, strings.Count(page, `href="/standards/site/`+harbour.String()+"/"+sheetID.String()+`"`))
	assert.Equal(t, 1, strings.Count(page, ">Switch off<"))
	assert.Equal(t, len(rule.Rules())-1, strings.Count(page, ">Switch on<"))
	for _, r := range rule.Rules() {
		assert.Contains(t, page, r.Source)
	}
	assert.NotContains(t, page, "button primary")
}

func TestShowForAManagerTellsNothingOfSettings(t *testing.T) {
	f := full()
	page := get(t, f, access.Manager, "/sites/"+harbour.String())
	assert.Empty(t, f.asked)
	assert.Contains(t, page, "The settings of 1 of your 5 fryers are not as they should be.")
	assert.Contains(t, page, "The settings were checked.")
	assert.Contains(t, page, "Do not open covers")
	assert.Contains(t, page, "Call the emergency services")
	assert.Contains(t, page, "To be checked after a power cut.")
	for _, text := range []string{"Put back", "the controller was reset", "Switch on", "Ladle 2", "Ring twice", "97 %", "Read the settings", "button primary", "A-5"} {
		assert.NotContains(t, page, text)
	}
}

func TestShowOfAnEmptyRestaurant(t *testing.T) {
	f := &fake{}
	assert.Contains(t, get(t, f, access.Dispatcher, "/sites/"+harbour.String()), "Add the first fryer")
	assert.Contains(t, get(t, f, access.Technician, "/sites/"+harbour.String()), "tell your dispatcher")
	assert.Contains(t, get(t, f, access.Manager, "/sites/"+harbour.String()), "No fryer is listed for this restaurant yet.")
}

func TestShowOfAnUnknownRestaurant(t *testing.T) {
	for _, id := range []string{company.String(), "x"} {
		_, err := serve(t, full(), access.Dispatcher, http.MethodGet, "/sites/"+id, nil)
		assert.Equal(t, fault.NotFound, fault.KindOf(err))
	}
}

func TestSwitchRule(t *testing.T) {
	entry := uuid.Must(uuid.NewV7())
	for to, on := range map[string]bool{"on": true, "off": false} {
		f := full()
		w, err := serve(t, f, access.Dispatcher, http.MethodPost, "/sites/"+harbour.String()+"/rules",
			url.Values{"rule": {"nfpa-96-high-limit"}, "to": {to}, "entry": {entry.String()}})
		require.NoError(t, err)
		assert.Equal(t, "/sites/"+harbour.String()+"?notice=rule-"+to, w.Header().Get("Location"))
		assert.Equal(t, []journal.Draft{{ID: entry, Subject: harbour, Body: rule.Switched{Rule: "nfpa-96-high-limit", On: on}}}, f.recorded)
	}
}

func TestSwitchRuleComplains(t *testing.T) {
	for _, c := range []struct {
		form url.Values
		err  error
		want string
	}{
		{url.Values{"rule": {"nfpa-96-high-limit"}}, nil, "Say whether the rule is switched on or off."},
		{url.Values{"rule": {"<none>"}, "to": {"on"}}, nil, "There is no such rule."},
		{url.Values{"rule": {"nfpa-96-high-limit"}, "to": {"on"}}, fault.New(fault.Conflict, "Somebody else was first."), "Somebody else was first."},
	} {
		f := full()
		f.err = c.err
		w, err := serve(t, f, access.Dispatcher, http.MethodPost, "/sites/"+harbour.String()+"/rules", c.form)
		require.NoError(t, err)
		assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
		assert.Contains(t, w.Body.String(), c.want)
		assert.Empty(t, f.recorded)
	}
	f := full()
	f.err = fault.New(fault.Denied, "Not yours.")
	_, err := serve(t, f, access.Technician, http.MethodPost, "/sites/"+harbour.String()+"/rules", url.Values{"rule": {"nfpa-96-high-limit"}, "to": {"on"}})
	assert.Equal(t, fault.Denied, fault.KindOf(err))
}

func TestSentences(t *testing.T) {
	for _, c := range []struct {
		fryers      []state.Fryer
		want, plain string
	}{
		{[]state.Fryer{fryer("A", nil)}, "Its one fryer is as it should be, as far as it was read.", "Your fryer is as it should be."},
		{[]state.Fryer{fryer("A", nil), fryer("B", nil)}, "All 2 fryers are as they should be, as far as they were read.", "All 2 fryers are as they should be."},
		{[]state.Fryer{fryer("A", off(sheet.Minor))}, "Its one fryer is not as it should be, the worst a minor matter.", "Your fryers can be used. Small settings are off; your service company can see this."},
		{[]state.Fryer{fryer("A", off(sheet.Food)), fryer("B", nil)}, "1 of 2 fryers is not as it should be, the worst a food matter.", "The settings of 1 of your 2 fryers are not as they should be. Your service company can see this."},
		{[]state.Fryer{fryer("A", stale), fryer("B", never)}, "Nothing is known to be wrong, but of 2 fryers 1 has to be read again and 1 was never read.", "Nothing is known to be wrong. 2 fryers are still to be checked."},
	} {
		assert.Equal(t, c.want, sentence(c.fryers))
		assert.Equal(t, c.plain, plainSentence(c.fryers))
	}
}
