package main

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"

	"frywright/domain/access"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hidden gives the value of a hidden field of a page.
func hidden(t testing.TB, page, name string) string {
	t.Helper()
	m := regexp.MustCompile(`name="` + name + `" value="([^"]*)"`).FindStringSubmatch(page)
	require.NotNil(t, m, "no field %s", name)
	return m[1]
}

// TestWrongFormsKeepWhatWasTyped sends one wrong field in each of the desk's forms.
func TestWrongFormsKeepWhatWasTyped(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Dispatcher)
	id := newID().String()
	for name, form := range map[string]struct {
		path   string
		values url.Values
		says   string
	}{
		"site":      {"/sites/" + x.own.site.String() + "/edit", url.Values{"name": {"Typed name"}, "code": {"A"}, "customer": {x.owner.String()}, "zone": {"Atlantis"}, "gas": {"natural"}, "elevation_m": {"twelve"}}, "is not a number"},
		"zone":      {"/sites/" + id + "/edit", url.Values{"name": {"Typed name"}, "code": {"Z"}, "customer": {x.owner.String()}, "zone": {"Atlantis"}, "gas": {"natural"}}, "time zone"},
		"taken":     {"/sites/" + id + "/edit", url.Values{"name": {"Typed name"}, "code": {"b"}, "customer": {x.owner.String()}, "zone": {"Europe/Dublin"}, "gas": {"none"}}, "is taken already"},
		"fryer":     {"/fryers/" + id + "/edit", url.Values{"name": {"Typed name"}, "tag": {"t-2"}, "site": {x.own.site.String()}, "model": {x.model.String()}}, "is taken already"},
		"no site":   {"/fryers/" + id + "/edit", url.Values{"name": {"Typed name"}, "tag": {"T-9"}, "site": {id}, "model": {x.model.String()}}, "Choose one of those that exist"},
		"retired":   {"/fryers/" + x.own.fryer.String() + "/retire", url.Values{"why": {"Typed name\u202e"}, "base": {x.fryerVersion()}}, "cannot be seen"},
		"override":  {"/sites/" + id + "/edit", url.Values{"name": {"Typed name \u202egpj.exe"}, "code": {"Z"}, "customer": {x.owner.String()}, "zone": {"Europe/Dublin"}, "gas": {"none"}}, "U+202E"},
		"damaged":   {"/customers/" + id, url.Values{"name": {"Typed name \xff"}, "code": {"Z"}}, "arrived damaged"},
		"thousands": {"/models/" + id, url.Values{"name": {"Typed name"}, "code": {"M"}, "sheet": {x.sheet.String()}, "energy": {"gas"}, "pot": {"single"}, "rated_watts": {"14,000"}}, "in two ways"},
		"model":     {"/models/" + id, url.Values{"name": {"Typed name"}, "code": {"M"}, "sheet": {x.sheet.String()}, "energy": {"gas"}, "pot": {"single"}, "basket_lifts": {"3"}}, "0, 1 or 2"},
		"unit":      {"/models/" + id, url.Values{"name": {"Typed name"}, "code": {"M"}, "sheet": {x.sheet.String()}, "energy": {"gas"}, "pot": {"single"}, "rated_watts": {"30 kW"}}, "in the unit that stands beside"},
		"customer":  {"/customers/" + id, url.Values{"name": {"Typed name"}, "code": {"a code with spaces"}}, "short code"},
		"setting":   {"/sheets/" + x.sheet.String() + "/settings/-", url.Values{"key": {"new"}, "label": {"Typed name"}, "group": {"Heat"}, "kind": {"number"}, "scope": {"controller"}, "class": {"minor"}, "min": {"9"}, "max": {"1"}, "base": {x.version("/sheets/" + x.sheet.String())}}, "above the highest"},
		"interlock": {"/sheets/" + x.sheet.String() + "/interlocks/-", url.Values{"key": {"new"}, "label": {"Typed name"}, "must": {"nothing is on"}, "class": {"minor"}, "base": {x.version("/sheets/" + x.sheet.String())}}, "nothing"},
		"standard":  {x.standardPath(), url.Values{"v.setpoint": {"9999"}, "why": {"Typed name"}}, "outside the range"},
		"move":      {"/fryers/" + x.own.fryer.String() + "/move", url.Values{"from": {x.own.site.String()}, "to": {x.own.site.String()}, "why": {"Typed name"}}, "stands there already"},
	} {
		t.Run(name, func(t *testing.T) {
			status, page := x.post(c, form.path, form.values)
			assert.Equal(t, http.StatusUnprocessableEntity, status)
			assert.Contains(t, page, form.says)
			assert.Contains(t, page, "Typed name", "what was typed is kept")
			assert.Contains(t, page, `aria-invalid="true"`, "the complaint stands beside its field")
		})
	}
}

func (x *instance) standardPath() string {
	return "/standards/customer/" + x.owner.String() + "/" + x.sheet.String()
}

// version gives the version that a page's form carries.
func (x *instance) version(path string) string {
	_, page := x.get(x.client(access.Dispatcher), path)
	return hidden(x.t, page, "base")
}

// fryerVersion gives the version of the own fryer.
func (x *instance) fryerVersion() string {
	_, base, err := x.store.FryerRecord(x.office, x.own.fryer)
	require.NoError(x.t, err)
	return base.String()
}

// TestTwoDispatchersNeverOverwriteEachOther opens one standard twice and saves both.
func TestTwoDispatchersNeverOverwriteEachOther(t *testing.T) {
	x := newInstance(t)
	one, other := x.client(access.Dispatcher), x.client(access.Administrator)
	_, page := x.get(one, x.standardPath())
	base := hidden(t, page, "base")
	save := func(c *http.Client, value string) (int, string) {
		return x.post(c, x.standardPath(), url.Values{"v.setpoint": {value}, "why": {"mine"}, "base": {base}, "step": {"save"}, "entry": {newID().String()}})
	}
	status, _ := save(one, "345")
	require.Equal(t, http.StatusSeeOther, status)
	status, page = save(other, "335")
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "Test dispatcher changed this meanwhile")
	assert.Contains(t, page, `value="335"`, "what was typed is kept")
	layer, _, err := x.store.Layer(x.office, standard.OfCustomer, x.owner, x.sheet)
	require.NoError(t, err)
	assert.Equal(t, "345", string(layer.Sets[0].Value), "nothing is overwritten unseen")
}

// TestAFormSentTwiceCountsOnce sends the same note twice, as a double tap does.
func TestAFormSentTwiceCountsOnce(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Technician)
	values := url.Values{"text": {"The lid sticks."}, "entry": {newID().String()}}
	path := "/fryers/" + x.own.fryer.String()
	for range 2 {
		status, _ := x.post(c, path+"/notes", values)
		require.Equal(t, http.StatusSeeOther, status)
	}
	_, page := x.get(c, path+"/history")
	assert.Len(t, regexp.MustCompile(`The lid sticks\.`).FindAllString(page, -1), 1)
}

// TestSheetIsEditedOnItsPages adds, moves and removes a setting, and adds an interlock.
func TestSheetIsEditedOnItsPages(t *testing.T) {
	x := newInstance(t)
	c := x.client(access.Dispatcher)
	base := func() string { return x.version("/sheets/" + x.sheet.String()) }
	at := "/sheets/" + x.sheet.String()
	setting := url.Values{"key": {"ready"}, "label": {"Ready band"}, "group": {"Frying"}, "kind": {"number"}, "unit": {"°F"}, "min": {"0"}, "max": {"40"}, "factory": {"20"}, "scope": {"controller"}, "class": {"output"}, "step": {"1"}, "do": {"save"}, "base": {base()}}
	status, page := x.post(c, at+"/settings/-", setting)
	require.Equal(t, http.StatusSeeOther, status, page)
	sh, _, err := x.store.Sheet(x.office, x.sheet)
	require.NoError(t, err)
	require.Len(t, sh.Settings, 3)
	assert.Equal(t, "ready", sh.Settings[1].Key, "it stands behind the last of its group")
	status, _ = x.post(c, at+"/settings/ready", url.Values{"do": {"down"}, "base": {base()}})
	require.Equal(t, http.StatusSeeOther, status)
	status, page = x.post(c, at+"/interlocks/-", url.Values{"key": {"band"}, "label": {"The band is narrow with a pilot"}, "when": {"pilot is on"}, "must": {"ready at-most 10"}, "class": {"output"}, "step": {"1"}, "do": {"save"}, "base": {base()}})
	require.Equal(t, http.StatusSeeOther, status, page)
	sh, _, err = x.store.Sheet(x.office, x.sheet)
	require.NoError(t, err)
	assert.Equal(t, "ready", sh.Settings[2].Key)
	assert.Len(t, sh.Interlocks, 2)
	history, err := x.store.SheetHistory(x.office, x.sheet)
	require.NoError(t, err)
	assert.Len(t, history, 4, "every version is kept")
	_, file := x.get(c, at+"/files/sheets.csv")
	assert.Contains(t, file, "Ready band")
}

// TestFirstSetUp goes from an empty instance to the first administrator by the link that is printed once.
func TestFirstSetUp(t *testing.T) {
	x := emptyInstance(t)
	token := "first-token"
	require.NoError(t, x.store.Invite(x.office, uuid.Nil, token, setupValid))
	c := x.client("")
	status, _ := x.get(c, "/setup/"+token)
	require.Equal(t, http.StatusOK, status)
	values := url.Values{"name": {"First Person"}, "email": {"first@frywright.example"}, "password": {"short"}, "again": {"short"}}
	status, page := x.post(c, "/setup/"+token, values)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, page, "First Person")
	values.Set("password", testPassword)
	values.Set("again", testPassword)
	status, page = x.post(c, "/setup/"+token, values)
	require.Equal(t, http.StatusSeeOther, status, page)
	status, _ = x.post(c, "/setup/"+token, values)
	assert.Equal(t, http.StatusNotFound, status, "the link works once")
	status, _ = x.post(c, "/signin", url.Values{"email": {"first@frywright.example"}, "password": {testPassword}})
	assert.Equal(t, http.StatusSeeOther, status)
	status, _ = x.get(c, "/people")
	assert.Equal(t, http.StatusOK, status)
}
