package main

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/store"

	"github.com/alexedwards/argon2id"
	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// instance is the whole program over a small invented fleet: two restaurants, one of them foreign to the technician and
// to the manager, each with a fryer, a finished reading and an open one.
type instance struct {
	t      testing.TB
	store  *store.Store
	server *httptest.Server
	office context.Context
	people map[access.Role]uuid.UUID
	own    place
	other  place
	sheet  uuid.UUID
	model  uuid.UUID
	owner  uuid.UUID // the customer
	asked  *asked
}

// place is a restaurant of the instance with what stands there.
type place struct {
	site, fryer, finished, open uuid.UUID
}

const testPassword = "a plain sentence to sign in"

var fixtureFiles = map[string]string{
	"sheets.csv": "sheet,sheet_name,key,label,group,kind,unit,min,max,step,factory,scope,class,tolerance\n" +
		"quern,Quern 2,setpoint,Fry setpoint,Frying,number,°F,200,375,1,350,vat,food,1\n" +
		"quern,Quern 2,pilot,Standing pilot,Heat,switch,,,,,off,controller,safety,\n",
	"interlocks.csv": "sheet,key,label,when,must,class\nquern,pilot-gas,A standing pilot needs gas,pilot is on,@energy is gas,safety\n",
	"models.csv":     "code,name,sheet,energy,pot\nH1,Halver 1,quern,gas,single\n",
	"sites.csv":      "code,customer,customer_name,name,area,zone,gas\nA,OT,Otterly Battered,Vexley Quay,north,Europe/Dublin,natural\nB,OT,,Port Lumen,south,America/Denver,natural\n",
	"fryers.csv":     "tag,site,model\nT-1,A,H1\nT-2,B,H1\n",
	"standards.csv":  "level,of,sheet,key,value,why\ncustomer,OT,quern,setpoint,340,house menu\n",
}

func newInstance(t testing.TB) *instance {
	t.Helper()
	x := emptyInstance(t)
	var files []intake.File
	for name, text := range fixtureFiles {
		files = append(files, intake.File{Name: name, Data: []byte(text)})
	}
	plan, written, err := x.store.Import(x.office, files, false)
	require.NoError(t, err)
	require.True(t, written, "%+v %+v", plan.FileProblems, plan.Rows)
	x.find()
	x.addPeople()
	return x
}

// emptyInstance is the whole program with nothing and nobody in it.
func emptyInstance(t testing.TB) *instance {
	t.Helper()
	office := asOffice(context.Background())
	x := &instance{t: t, office: office, people: map[access.Role]uuid.UUID{}, asked: &asked{}}
	s, err := store.Open(office, store.Config{Path: filepath.Join(t.TempDir(), "t.db"), Now: now, NewID: newID, Observe: x.asked.note})
	require.NoError(t, err)
	x.store = s
	e := &environment{ctx: office, data: t.TempDir(), now: now, log: slog.New(slog.NewTextHandler(io.Discard, nil))}
	handler, stop := e.handler(s, false, nil)
	x.server = httptest.NewServer(handler)
	t.Cleanup(func() {
		x.server.Close()
		stop()
		require.NoError(t, s.Close())
	})
	return x
}

// find looks up the ids that the import made, and reads both fryers.
func (x *instance) find() {
	sheets, err := x.store.Sheets(x.office)
	require.NoError(x.t, err)
	models, err := x.store.Models(x.office)
	require.NoError(x.t, err)
	customers, err := x.store.Customers(x.office)
	require.NoError(x.t, err)
	x.sheet, x.model, x.owner = sheets[0].ID, models[0].ID, customers[0].ID
	for tag, p := range map[string]*place{"T-1": &x.own, "T-2": &x.other} {
		p.fryer, err = x.store.FryerByTag(x.office, tag)
		require.NoError(x.t, err)
		p.site, err = x.store.SiteOfFryer(x.office, p.fryer)
		require.NoError(x.t, err)
		p.finished, p.open = newID(), newID()
		reading := []snapshot.Reading{{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "350"}}
		_, err = x.store.Record(x.office,
			journal.Draft{Subject: p.finished, Body: snapshot.Begun{Fryer: p.fryer, Purpose: snapshot.AsFound}},
			journal.Draft{Subject: p.finished, Body: snapshot.Finished{Readings: reading}},
			journal.Draft{Subject: p.open, Body: snapshot.Begun{Fryer: p.fryer, Purpose: snapshot.Routine, Readings: reading}})
		require.NoError(x.t, err)
	}
}

// hashOf is a hash that costs less than the program's own, which makes it anew at the first sign-in.
func hashOf(password string) (string, error) {
	return argon2id.CreateHash(password, &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
}

func (x *instance) addPeople() {
	hash, err := hashOf(testPassword)
	require.NoError(x.t, err)
	for _, role := range access.Roles() {
		p := person.Person{ID: newID(), Name: "Test " + string(role), Email: string(role) + "@frywright.example", Role: role}
		switch role {
		case access.Technician:
			p.Areas = []string{"north"}
		case access.Manager:
			p.Sites = []uuid.UUID{x.own.site}
		}
		_, err := x.store.Record(x.office, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}})
		require.NoError(x.t, err)
		require.NoError(x.t, x.store.SetPassword(x.office, p.ID, hash))
		x.people[role] = p.ID
	}
}

// client gives a browser-like client that does not follow redirects; signed in where a role is given.
func (x *instance) client(role access.Role) *http.Client {
	jar, err := cookiejar.New(nil)
	require.NoError(x.t, err)
	c := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	if role == "" {
		return c
	}
	status, _ := x.post(c, "/signin", url.Values{"email": {string(role) + "@frywright.example"}, "password": {testPassword}})
	require.Equal(x.t, http.StatusSeeOther, status, "sign in as %s", role)
	return c
}

// post sends a form as a page of our own would.
func (x *instance) post(c *http.Client, path string, values url.Values) (int, string) {
	return x.do(c, http.MethodPost, path, strings.NewReader(values.Encode()))
}

func (x *instance) get(c *http.Client, path string) (int, string) {
	return x.do(c, http.MethodGet, path, nil)
}

func (x *instance) do(c *http.Client, method, path string, body io.Reader) (int, string) {
	x.t.Helper()
	req, err := http.NewRequestWithContext(context.Background(), method, x.server.URL+path, body)
	require.NoError(x.t, err)
	if body != nil {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	req.Header.Set("Origin", x.server.URL)
	req.Header.Set("Sec-Fetch-Site", "same-origin")
	resp, err := c.Do(req)
	require.NoError(x.t, err)
	defer resp.Body.Close() //nolint:errcheck // nothing more is read from it
	text, err := io.ReadAll(resp.Body)
	require.NoError(x.t, err)
	return resp.StatusCode, string(text)
}
