package main

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/web/form"

	"github.com/alexedwards/argon2id"
	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// target is an instance whose pages are asked without a network between, as fast as they answer.
type target struct {
	*instance
	pages   http.Handler
	cookies map[access.Role][]*http.Cookie
	sheetIs sheet.Sheet // as it was imported
	hash    string      // of everybody's password
	guest   uuid.UUID   // somebody who never signs in
	shown   map[string]func() (path string, values url.Values)
}

func newTarget(t testing.TB) *target {
	t.Helper()
	x := &target{instance: newInstance(t), cookies: map[access.Role][]*http.Cookie{}}
	x.pages = x.server.Config.Handler
	is, _, err := x.store.Sheet(x.office, x.sheet)
	require.NoError(t, err)
	x.sheetIs = *is
	x.hash, err = argon2id.CreateHash(testPassword, &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	require.NoError(t, err)
	x.guest = newID()
	x.record(journal.Draft{Subject: x.guest, Body: person.Saved{Person: person.Person{ID: x.guest, Name: "Guest", Email: "guest@frywright.example", Role: access.Technician}}})
	x.shown = x.forms()
	return x
}

// as signs in once a role.
func (x *target) as(role access.Role) []*http.Cookie {
	x.t.Helper()
	if role == "" {
		return nil
	}
	if x.cookies[role] == nil {
		require.NoError(x.t, x.store.SetPassword(x.office, x.people[role], x.hash)) // a form may have changed it
		w := x.send("", http.MethodPost, "/signin", url.Values{"email": {string(role) + "@frywright.example"}, "password": {testPassword}}.Encode())
		require.Equal(x.t, http.StatusSeeOther, w.Code, "sign in as %s", role)
		x.cookies[role] = w.Result().Cookies()
	}
	return x.cookies[role]
}

// ask makes a request as a page of our own would.
func ask(method, path, body string) *http.Request {
	// An address that no client would write is what this is about: it is put in as it is.
	r := httptest.NewRequest(method, "/", strings.NewReader(body))
	r.RequestURI = path
	if u, err := url.ParseRequestURI(path); err == nil {
		r.URL = u
	}
	r.Header.Set("Origin", "http://"+r.Host)
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return r
}

// send asks for a page as a role, and gives the answer.
func (x *target) send(role access.Role, method, path, body string) *httptest.ResponseRecorder {
	x.t.Helper()
	return x.answer(role, ask(method, path, body))
}

func (x *target) answer(role access.Role, r *http.Request) *httptest.ResponseRecorder {
	for _, c := range x.as(role) {
		r.AddCookie(c)
	}
	w := httptest.NewRecorder()
	x.pages.ServeHTTP(w, r)
	return w
}

// whole says whether a text is short enough to be told.
func whole(text string) string {
	const most = 300
	if len(text) > most {
		return text[:most] + "…"
	}
	return text
}

// now is as the forms write it.
func writtenNow() string { return now().UTC().Format("2006-01-02T15:04") }

// forms gives, for the pattern of each route that takes a form, an address and a form that is right: sent as it is, it is
// taken. What it needs is made anew each time.
func (x *target) forms() map[string]func() (string, url.Values) {
	type made = func() (string, url.Values)
	at := func(fill func() (string, url.Values)) made { return fill }
	fixed := func(path string, values url.Values) made {
		return func() (string, url.Values) { return path, values }
	}
	own := x.own
	return map[string]made{
		"/signin":               fixed("/signin", url.Values{"email": {"dispatcher@frywright.example"}, "password": {testPassword}, "next": {"/desk"}}),
		"/signout":              fixed("/signout", url.Values{}),
		"/signout/everywhere":   fixed("/signout/everywhere", url.Values{}),
		"/account/password":     fixed("/account/password", url.Values{"old": {testPassword}, "password": {"another plain sentence"}, "again": {"another plain sentence"}}),
		"/welcome/{token}":      x.welcome,
		"/setup/{token}":        fixed("/setup/no-such-token", url.Values{"name": {"First"}, "email": {"first@frywright.example"}, "password": {testPassword}, "again": {testPassword}}),
		"/set-aside/{id}":       x.setAside,
		"/customers/{id}":       at(func() (string, url.Values) { return x.customerForm() }),
		"/models/{id}":          x.modelForm,
		"/sites/{id}/edit":      x.siteForm,
		"/sites/{id}/rules":     fixed("/sites/"+own.site.String()+"/rules", url.Values{"rule": {"nfpa-96-high-limit"}, "to": {"on"}}),
		"/fryers/{id}/edit":     x.fryerForm,
		"/fryers/{id}/move":     x.moveForm,
		"/fryers/{id}/retire":   x.endForm("/retire"),
		"/fryers/{id}/return":   x.endForm("/return"),
		"/fryers/{id}/readings": fixed("/fryers/"+x.other.fryer.String()+"/readings", url.Values{"purpose": {"routine"}}),
		"/fryers/{id}/events":   fixed("/fryers/"+own.fryer.String()+"/events", url.Values{"what": {"power-cut"}, "happened": {writtenNow()}, "note": {"dark"}}),
		"/fryers/{id}/notes":    fixed("/fryers/"+own.fryer.String()+"/notes", url.Values{"text": {"The lid sticks."}}),
		"/fryers/{id}/put-back/tick": fixed("/fryers/"+own.fryer.String()+"/put-back/tick",
			url.Values{"ref": {"setpoint@1"}, "value": {"340"}, "done": {"1"}}),
		"/fryers/{id}/acceptances": fixed("/fryers/"+own.fryer.String()+"/acceptances",
			url.Values{"ref": {"setpoint@1"}, "value": {"350"}, "reason": {"trial"}, "until": {now().AddDate(0, 1, 0).Format(time.DateOnly)}}),
		"/fryers/{id}/acceptances/end":    x.endAcceptance,
		"/readings/{id}/at/{pos}":         x.readingForm("/at/1", url.Values{"ref": {"setpoint@1"}, "typed": {"345"}, "other": {""}, "expected": {"340"}}),
		"/readings/{id}/finish":           x.readingForm("/finish", url.Values{"note": {"done"}}),
		"/readings/{id}/drop":             x.readingForm("/drop", url.Values{"why": {"called away"}}),
		"/standards/{level}/{of}/{sheet}": x.standardForm,
		"/sheets/{id}":                    x.sheetForm("", url.Values{"code": {"quern"}, "name": {"Quern 2"}, "note": {"as delivered"}, "why": {"note"}}),
		"/sheets/{id}/settings/{key}":     x.sheetForm("/settings/setpoint", settingValues()),
		"/sheets/{id}/interlocks/{key}":   x.sheetForm("/interlocks/pilot-gas", interlockValues()),
		"/import":                         fixed("/import", url.Values{}), // files: see TestNoFileBreaksTheImport
		"/import/write":                   fixed("/import/write", url.Values{"batch": {newID().String()}, "good_rows": {"1"}}),
		"/people/{id}/edit":               x.personForm("/edit", url.Values{"name": {"Mia Orchard"}, "email": {"mia@frywright.example"}, "role": {"technician"}, "area": {"north"}, "more_areas": {"south, west"}, "look": {""}}),
		"/people/{id}/link":               x.personForm("/link", url.Values{}),
		"/signin/code":                    fixed("/signin/code", url.Values{"code": {"123456"}, "recovery": {""}}),
		"/signin/second-step":             fixed("/signin/second-step", url.Values{}),
		"/signin/second-step/confirm":     fixed("/signin/second-step/confirm", url.Values{"code": {"123456"}}),
		"/account/sessions/{id}/end":      fixed("/account/sessions/"+newID().String()+"/end", url.Values{}),
		"/account/sessions/others/end":    fixed("/account/sessions/others/end", url.Values{}),
		"/account/second-step":            fixed("/account/second-step", url.Values{"old-begin": {testPassword}}),
		"/account/second-step/confirm":    fixed("/account/second-step/confirm", url.Values{"code": {"123456"}}),
		"/account/second-step/codes":      fixed("/account/second-step/codes", url.Values{"old": {testPassword}, "code": {"123456"}}),
		"/account/second-step/off":        fixed("/account/second-step/off", url.Values{"old": {testPassword}, "code": {"123456"}}),
		"/people/second-step":             fixed("/people/second-step", url.Values{"required": {"no"}}),
		"/people/{id}/sessions":           x.personForm("/sessions", url.Values{"reason": {"phone lost"}}),
		"/people/{id}/second-step":        x.personForm("/second-step", url.Values{"reason": {"phone lost"}}),
		"/people/{id}/gone":               x.personForm("/gone", url.Values{"gone": {"no"}}),
	}
}

func settingValues() url.Values {
	return url.Values{
		"key": {"setpoint"}, "label": {"Fry setpoint"}, "group": {"Frying"}, "kind": {"number"}, "unit": {"°F"}, "min": {"200"}, "max": {"375"}, "step": {"1"},
		"options": {""}, "factory": {"350"}, "scope": {"vat"}, "class": {"food"}, "tolerance": {"1"}, "after": {"pilot"}, "note": {"hold P"}, "role": {""},
		"menu": {"0"}, "why": {"note"}, "do": {"save"},
	}
}

func interlockValues() url.Values {
	return url.Values{
		"key": {"pilot-gas"}, "label": {"A standing pilot needs gas"}, "when": {"pilot is on"}, "must": {"@energy is gas"}, "class": {"safety"}, "why": {"it is a flame"}, "do": {"save"},
	}
}

// record puts something into the journal on the side.
func (x *target) record(drafts ...journal.Draft) {
	x.t.Helper()
	_, err := x.store.Record(x.office, drafts...)
	require.NoError(x.t, err)
}

// with gives a copy of a form with the version that its author saw.
func with(values url.Values, base uuid.UUID) url.Values {
	all := url.Values{"base": {base.String()}, "entry": {newID().String()}}
	for k, v := range values {
		all[k] = v
	}
	return all
}

func (x *target) customerForm() (string, url.Values) {
	c, base, err := x.store.Customer(x.office, x.owner)
	require.NoError(x.t, err)
	return "/customers/" + c.ID.String(), with(url.Values{"code": {"OT"}, "name": {"Otterly Battered"}, "note": {"two\nlines"}}, base)
}

func (x *target) modelForm() (string, url.Values) {
	m, base, err := x.store.Model(x.office, x.model)
	require.NoError(x.t, err)
	return "/models/" + m.ID.String(), with(url.Values{
		"code": {"H1"}, "name": {"Halver 1"}, "sheet": {x.sheet.String()}, "energy": {"gas"}, "pot": {"single"}, "rated_watts": {"24000"}, "oil_kg": {"16,5"}, "rated_volts": {""},
		"phases": {"1"}, "burners": {"3"}, "elements": {""}, "basket_lifts": {"2"}, "recovery_from": {"250"}, "recovery_to": {"325"}, "recovery_limit": {"130"},
	}, base)
}

func (x *target) siteForm() (string, url.Values) {
	s, base, err := x.store.Site(x.office, x.own.site)
	require.NoError(x.t, err)
	return "/sites/" + s.ID.String() + "/edit", with(url.Values{
		"code": {"A"}, "customer": {x.owner.String()}, "name": {"Vexley Quay"}, "address": {"1 Harl Street"}, "town": {"Vexley"}, "country": {"IE"}, "area": {"north"},
		"lat": {"53.35"}, "lon": {"-6.26"}, "elevation_m": {"20"}, "zone": {"Europe/Dublin"}, "supply_volts": {"230"}, "gas": {"natural"}, "access": {"ask the manager"},
	}, base)
}

func (x *target) fryerForm() (string, url.Values) {
	f, base, err := x.store.FryerRecord(x.office, x.own.fryer)
	require.NoError(x.t, err)
	return "/fryers/" + f.ID.String() + "/edit", with(url.Values{
		"tag": {"T-1"}, "site": {x.own.site.String()}, "model": {x.model.String()}, "name": {"line 1, left"}, "serial": {"S1"}, "installed": {"2026-05-14"}, "note": {"loud"},
	}, base)
}

// spare makes a fryer that nothing else is about.
func (x *target) spare() (id, base uuid.UUID) {
	id = newID()
	made, err := x.store.Record(x.office, journal.Draft{Subject: id, Body: fleet.FryerSaved{Fryer: fleet.Fryer{
		ID: id, Tag: "X-" + id.String()[20:], Site: x.own.site, Model: x.model,
	}}})
	require.NoError(x.t, err)
	return id, made[0].ID
}

func (x *target) moveForm() (string, url.Values) {
	id, base := x.spare()
	return "/fryers/" + id.String() + "/move", with(url.Values{"from": {x.own.site.String()}, "to": {x.other.site.String()}, "why": {"kitchen rebuilt"}}, base)
}

func (x *target) endForm(way string) func() (string, url.Values) {
	return func() (string, url.Values) {
		id, base := x.spare()
		return "/fryers/" + id.String() + way, with(url.Values{"why": {"pot cracked"}}, base)
	}
}

func (x *target) endAcceptance() (string, url.Values) {
	ref := sheet.Ref{Key: "setpoint", Vat: 1}
	x.record(journal.Draft{Subject: x.own.fryer, Body: standard.Accepted{Ref: ref, Value: "350", Reason: "trial", Until: now().AddDate(0, 1, 0)}})
	return "/fryers/" + x.own.fryer.String() + "/acceptances/end", url.Values{"ref": {ref.String()}, "reason": {"over"}, "entry": {newID().String()}}
}

func (x *target) readingForm(way string, values url.Values) func() (string, url.Values) {
	return func() (string, url.Values) {
		id := newID()
		x.record(journal.Draft{Subject: id, Body: snapshot.Begun{
			Fryer: x.own.fryer, Purpose: snapshot.AsFound, Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "pilot"}, Value: "off"}},
		}})
		return "/readings/" + id.String() + way, with(values, uuid.Nil)
	}
}

func (x *target) standardForm() (string, url.Values) {
	_, base, err := x.store.Layer(x.office, standard.OfCustomer, x.owner, x.sheet)
	require.NoError(x.t, err)
	value := "341"
	if newID()[15]%2 == 0 { // one of the two differs from what stands
		value = "342"
	}
	return x.standardPath(), with(url.Values{"v.setpoint": {value}, "v.setpoint@1": {""}, "v.pilot": {"off"}, "why": {"house menu"}, "step": {"save"}}, base)
}

// sheetForm gives a form of the sheet as it was imported.
func (x *target) sheetForm(way string, values url.Values) func() (string, url.Values) {
	return func() (string, url.Values) {
		_, base, err := x.store.Sheet(x.office, x.sheet)
		require.NoError(x.t, err)
		made, err := x.store.Record(x.office, journal.Draft{Subject: x.sheet, Base: base, Body: sheet.Saved{Sheet: x.sheetIs, Why: "as imported"}})
		require.NoError(x.t, err)
		return "/sheets/" + x.sheet.String() + way, with(values, made[0].ID)
	}
}

func (x *target) personForm(way string, values url.Values) func() (string, url.Values) {
	return func() (string, url.Values) {
		p, base, err := x.store.Person(x.office, x.guest)
		require.NoError(x.t, err)
		return "/people/" + p.ID.String() + way, with(values, base)
	}
}

func (x *target) welcome() (string, url.Values) {
	token := newID().String()
	require.NoError(x.t, x.store.Invite(x.office, x.guest, token, time.Hour))
	return "/welcome/" + token, url.Values{"password": {testPassword}, "again": {testPassword}}
}

// setAside puts an entry of a newer program aside.
func (x *target) setAside() (string, url.Values) {
	e := sealed(x.t, journal.Entry{ID: newID(), Device: newID(), N: 1, Kind: "fryer.sang", V: 1, At: now(), Subject: x.own.fryer, Body: []byte(`{}`)})
	_, err := x.store.Receive(x.office, []journal.Entry{e})
	require.NoError(x.t, err)
	return "/set-aside/" + e.ID.String(), url.Values{"do": {"leave"}}
}

// names are the fields that forms of any page send.
var names = regexp.MustCompile(`name="([A-Za-z0-9._@-]+)"`)

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

// sealed gives an entry its hash.
func sealed(t testing.TB, e journal.Entry) journal.Entry {
	var err error
	e.Hash, err = e.Sum()
	require.NoError(t, err)
	return e
}
