package standard

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/path"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func num(n float64) *float64 { return &n }

var quill = sheet.Sheet{ID: uuid.New(), Code: "quill", Name: "Quill 5", Settings: []sheet.Setting{
	{Key: "offset", Label: "Probe offset", Group: "Heat", Kind: sheet.Number, Unit: "°F", Min: num(-15), Max: num(15), Step: 1, Factory: "0", Scope: sheet.PerVat, Class: sheet.Food},
	{Key: "hold", Label: "Hold time", Group: "Heat", Kind: sheet.Number, Unit: "min", Min: num(0), Max: num(60), Step: 1, Factory: "7", Scope: sheet.PerController, Class: sheet.Food},
}}

var (
	owner     = uuid.New()
	seen, now = uuid.New(), uuid.New() // the version that a form was made from, and the one that stands
	day       = time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
	at        = path.Standard(string(standard.OfCustomer), owner, quill.ID)
)

// fake is a store with one standard.
type fake struct {
	sets    []standard.Set
	preview state.Preview
	refuse  error
	drafts  []journal.Draft
}

func (f *fake) Record(_ context.Context, drafts ...journal.Draft) ([]journal.Entry, error) {
	f.drafts = append(f.drafts, drafts...)
	return nil, f.refuse
}

func (f *fake) Layers(context.Context) ([]state.LayerSummary, error) {
	list := []state.LayerSummary{{Level: standard.OfCustomer, Of: owner, OfName: "Otterly Battered", SheetID: quill.ID, SheetName: quill.Name, Changed: day, By: "Dee Desk"}}
	for range 30 {
		list = append(list, state.LayerSummary{Level: standard.OfFryer, Of: uuid.New(), OfName: "FW-1", SheetID: quill.ID, SheetName: quill.Name, Changed: day})
	}
	return list, nil
}

func (f *fake) Layer(context.Context, standard.Level, uuid.UUID, uuid.UUID) (standard.Layer, uuid.UUID, error) {
	return standard.Layer{Level: standard.OfCustomer, Name: "Otterly Battered", Sets: f.sets}, now, nil
}

func (f *fake) Beneath(context.Context, standard.Level, uuid.UUID, uuid.UUID) ([]standard.Layer, error) {
	return nil, nil
}

func (f *fake) LayerHistory(context.Context, standard.Level, uuid.UUID, uuid.UUID) ([]state.LayerChange, error) {
	return nil, nil
}

func (f *fake) PreviewStandard(context.Context, standard.Changed) (state.Preview, error) {
	return f.preview, nil
}

func (f *fake) Sheet(context.Context, uuid.UUID) (*sheet.Sheet, uuid.UUID, error) {
	return &quill, uuid.New(), nil
}

func (f *fake) Sheets(context.Context) ([]*sheet.Sheet, error)      { return []*sheet.Sheet{&quill}, nil }
func (f *fake) Customers(context.Context) ([]fleet.Customer, error) { return nil, nil }
func (f *fake) Models(context.Context) ([]fleet.Model, error)       { return nil, nil }

// ask sends a request to the pages.
func ask(t *testing.T, f *fake, method, to string, pairs ...string) *httptest.ResponseRecorder {
	t.Helper()
	form := url.Values{}
	for i := 0; i < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	p := Pages{Store: f, NewID: uuid.New, Now: func() time.Time { return day }}
	mux := chi.NewRouter()
	for _, r := range p.Routes() {
		mux.Method(r.Method, r.Pattern, http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) { assert.NoError(t, r.Handler(w, q)) }))
	}
	r := httptest.NewRequest(method, to, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	mux.ServeHTTP(w, r)
	return w
}

// base gives the version that the shown form carries.
func base(t *testing.T, body string) string {
	t.Helper()
	_, rest, ok := strings.Cut(body, `name="base" value="`)
	require.True(t, ok)
	id, _, _ := strings.Cut(rest, `"`)
	return id
}

func TestTheVersionThatWasSeenIsKeptUntilItConflicts(t *testing.T) {
	for name, c := range map[string]struct {
		refuse error
		fields []string
		status int
		want   uuid.UUID
	}{
		"preview":            {nil, []string{"v.hold", "10", "why", "soft chips"}, http.StatusOK, seen},
		"back to the fields": {nil, []string{"v.hold", "10", "why", "soft chips", "step", "edit"}, http.StatusOK, seen},
		"a wrong value":      {nil, []string{"v.hold", "ten", "why", "soft chips"}, http.StatusUnprocessableEntity, seen},
		"changed meanwhile":  {fault.New(fault.Conflict, "Somebody changed it."), []string{"v.hold", "10", "why", "soft chips", "step", "save"}, http.StatusUnprocessableEntity, now},
	} {
		t.Run(name, func(t *testing.T) {
			got := ask(t, &fake{refuse: c.refuse}, http.MethodPost, at, append(c.fields, "base", seen.String())...)
			assert.Equal(t, c.status, got.Code)
			assert.Equal(t, c.want.String(), base(t, got.Body.String()))
			assert.Contains(t, got.Body.String(), "soft chips")
		})
	}
}

func TestLeftAndRightAreFoldedUntilTheyAreUsed(t *testing.T) {
	shut := ask(t, &fake{}, http.MethodGet, at).Body.String()
	assert.Contains(t, shut, `<details class="fold"><summary><span>Left and right apart`)
	used := &fake{sets: []standard.Set{{Ref: sheet.Ref{Key: "offset", Vat: 2}, Value: "4", By: "Dee Desk", At: day, Why: "by the thermometer"}}}
	assert.Contains(t, ask(t, used, http.MethodGet, at).Body.String(), `<details class="fold" open><summary><span>Left and right apart`)
}

func TestAReasonIsSaidOnce(t *testing.T) {
	set := func(key string) standard.Set {
		return standard.Set{Ref: sheet.Ref{Key: key}, Value: "4", By: "Dee Desk", At: day, Why: "kitchen book"}
	}
	body := ask(t, &fake{sets: []standard.Set{set("offset"), set("hold")}}, http.MethodGet, at).Body.String()
	assert.Equal(t, 2, strings.Count(body, "Set by Dee Desk, 20 Nov 2026"))
	assert.Equal(t, 1, strings.Count(body, "kitchen book"))
}

func TestThePreviewSaysWhatItWouldDo(t *testing.T) {
	for want, p := range map[string]state.Preview{
		"3 of 5 fryers would expect something else. 2 settings that are right now would be off; 1 setting that is off now would be right.": {Fryers: 5, Touched: 3, CreatedTotal: 2, ClearedTotal: 1},
		"1 of 1 fryer would expect something else. Nothing that was read would change its standing.":                                       {Fryers: 1, Touched: 1},
		"No fryer is looked after under this standard yet":                                                                                 {},
	} {
		assert.Contains(t, ask(t, &fake{preview: p}, http.MethodPost, at, "v.hold", "10", "why", "soft chips").Body.String(), want)
	}
}

func TestManyStandardsOfOneLevelAreFolded(t *testing.T) {
	body := ask(t, &fake{}, http.MethodGet, path.Standards()).Body.String()
	assert.Equal(t, 1, strings.Count(body, "Show them all"))
	assert.Contains(t, body, "for Quill 5, changed 20 Nov 2026 by Dee Desk")
}
