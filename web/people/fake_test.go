package people

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/state"
	"frywright/web/form"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
)

var (
	now  = time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC)
	base = id(900)
	boss = person.Person{ID: id(1), Name: "Ada Finch", Email: "ada@example.com", Role: access.Administrator}
	tech = person.Person{ID: id(2), Name: "Tomas Reed", Email: "tomas@example.com", Role: access.Technician, Areas: []string{"Harbour"}}
	head = person.Person{ID: id(3), Name: "Mira Stone", Email: "mira@example.com", Role: access.Manager, Sites: []uuid.UUID{id(51)}}
)

func id(n int) uuid.UUID {
	return uuid.MustParse("01900000-0000-7000-8000-" + strconv.Itoa(100000000000+n))
}

// fake keeps people in memory.
type fake struct {
	people    []person.Person
	sites     []state.Site
	recorded  []journal.Draft
	invited   map[uuid.UUID]string
	valid     time.Duration
	signedOut []uuid.UUID
	signIns   map[uuid.UUID][]person.SignIn
	factors   map[uuid.UUID]person.Factor
	required  bool
	notes     []person.AccountNote
	refuse    error
}

func newFake() *fake {
	return &fake{
		people: []person.Person{boss, tech, head}, invited: map[uuid.UUID]string{},
		signIns: map[uuid.UUID][]person.SignIn{}, factors: map[uuid.UUID]person.Factor{},
		sites: []state.Site{
			{ID: id(51), Name: "Quay Street", Town: "Port Ellery", CustomerName: "Golden Net"},
			{ID: id(52), Name: "Market Hall", Town: "Lowbridge", CustomerName: "Golden Net"},
		},
	}
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
	f.recorded = append(f.recorded, drafts...)
	return nil, nil
}

func (f *fake) People(context.Context) ([]person.Person, error) { return f.people, nil }

func (f *fake) Person(_ context.Context, id uuid.UUID) (person.Person, uuid.UUID, error) {
	for _, x := range f.people {
		if x.ID == id {
			return x, base, nil
		}
	}
	return person.Person{}, uuid.Nil, fault.New(fault.NotFound, "There is nothing at this address.")
}

func (f *fake) Invite(_ context.Context, id uuid.UUID, token string, valid time.Duration) error {
	f.invited[id], f.valid = token, valid
	return nil
}

func (f *fake) SignOutEverywhere(_ context.Context, id uuid.UUID) error {
	f.signedOut = append(f.signedOut, id)
	return nil
}

func (f *fake) SignIns(_ context.Context, id uuid.UUID) ([]person.SignIn, error) {
	return f.signIns[id], nil
}

func (f *fake) Factor(_ context.Context, id uuid.UUID) (person.Factor, error) {
	return f.factors[id], nil
}

func (f *fake) AccountNotes(context.Context, uuid.UUID) ([]person.AccountNote, error) {
	return f.notes, nil
}

func (f *fake) ResetFactor(_ context.Context, id uuid.UUID, reason string) error {
	var wrong fault.Fields
	if wrong.Need("reason", reason, "Say why: it is kept."); wrong.Err() != nil {
		return wrong.Err()
	}
	delete(f.factors, id)
	f.notes = append(f.notes, person.AccountNote{At: now, What: person.FactorReset, By: boss.Name, Reason: reason})
	return nil
}

func (f *fake) RequiresFactor(_ context.Context, role access.Role) (bool, error) {
	return f.required && role == access.Administrator, nil
}

func (f *fake) RequireFactor(_ context.Context, required bool) error {
	if required && !f.factors[boss.ID].On() {
		return fault.New(fault.Invalid, "Switch on your own second step first, under My account.")
	}
	f.required = required
	return nil
}

func (f *fake) Areas(context.Context) ([]string, error) { return []string{"Harbour", "North"}, nil }

func (f *fake) Sites(_ context.Context, filter state.SiteFilter) (state.SitePage, error) {
	var page state.SitePage
	for _, s := range f.sites {
		if strings.Contains(strings.ToLower(s.Name+" "+s.Town), strings.ToLower(filter.Query)) {
			page.Sites = append(page.Sites, s)
		}
	}
	return page, nil
}

func (f *fake) Site(_ context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error) {
	for _, s := range f.sites {
		if s.ID == id {
			return fleet.Site{ID: s.ID, Name: s.Name, Town: s.Town}, base, nil
		}
	}
	return fleet.Site{}, uuid.Nil, fault.New(fault.NotFound, "There is nothing at this address.")
}

// server serves the pages to an actor; failures give their status as text.
type server struct {
	t     *testing.T
	store *fake
	actor access.Actor
	mux   *chi.Mux
}

func serve(t *testing.T, store *fake) *server {
	next := 500
	p := &Pages{
		Store: store, Now: func() time.Time { return now }, NewToken: func() string { return "TOKEN" },
		NewID: func() uuid.UUID { next++; return id(next) },
	}
	s := &server{t: t, store: store, actor: access.Actor{Person: boss.ID, Name: boss.Name, Role: boss.Role}, mux: chi.NewRouter()}
	for _, route := range p.Routes() {
		s.mux.Method(route.Method, route.Pattern, s.handle(route.Handler))
		assert.Equal(t, access.EditPeople, route.Action, route.Pattern)
		assert.False(t, route.Local, route.Pattern)
	}
	return s
}

func (s *server) handle(h form.Handler) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r.WithContext(access.NewContext(r.Context(), s.actor))); err != nil {
			w.WriteHeader(http.StatusTeapot)
			_, _ = w.Write([]byte(err.Error()))
		}
	}
}

func (s *server) get(path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	s.mux.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w
}

func (s *server) post(path string, values url.Values, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(values.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	s.mux.ServeHTTP(w, r)
	return w
}
