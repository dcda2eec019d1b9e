package account

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
	"frywright/domain/person"
	"frywright/web/form"

	"github.com/alexedwards/scs/v2"
	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

const (
	inesEmail    = "ines@example.com"
	inesPassword = "seven herons over the weir"
)

func id(n int) uuid.UUID {
	return uuid.MustParse("01900000-0000-7000-8000-" + strconv.Itoa(100000000000+n))
}

// fake keeps people and their secrets in memory.
type fake struct {
	people   map[uuid.UUID]person.Person
	accounts map[uuid.UUID]person.Account
	links    map[string]uuid.UUID // by token; Nil: the set-up link
	signedIn []uuid.UUID
	broken   error
}

func notFound() error { return fault.New(fault.NotFound, "There is nothing at this address.") }

func (f *fake) Account(_ context.Context, id uuid.UUID) (person.Account, error) {
	a, ok := f.accounts[id]
	if f.broken != nil {
		return person.Account{}, f.broken
	}
	if !ok || f.people[id].Gone {
		return person.Account{}, notFound()
	}
	return a, nil
}

func (f *fake) AccountByEmail(ctx context.Context, email string) (person.Account, error) {
	for id, x := range f.people {
		if x.Email == email {
			return f.Account(ctx, id)
		}
	}
	return person.Account{}, notFound()
}

func (f *fake) Generation(_ context.Context, id uuid.UUID) (int64, error) {
	a, ok := f.accounts[id]
	if !ok {
		return 0, notFound()
	}
	return a.Generation, f.broken
}

func (f *fake) Actor(_ context.Context, id uuid.UUID) (access.Actor, error) {
	x, ok := f.people[id]
	if !ok || x.Gone {
		return access.Actor{}, notFound()
	}
	return access.Actor{Person: id, Name: x.Name, Role: x.Role}, nil
}

func (f *fake) SignedIn(_ context.Context, id uuid.UUID) error {
	f.signedIn = append(f.signedIn, id)
	return nil
}

func (f *fake) SignOutEverywhere(_ context.Context, id uuid.UUID) error {
	a := f.accounts[id]
	a.Generation++
	f.accounts[id] = a
	return nil
}

func (f *fake) SetPassword(_ context.Context, id uuid.UUID, hash string) error {
	a := f.accounts[id]
	a.Person, a.Name, a.Email, a.PasswordHash = id, f.people[id].Name, f.people[id].Email, hash
	a.Generation++
	f.accounts[id] = a
	return nil
}

func (f *fake) Invited(_ context.Context, token string) (person.Person, error) {
	id, ok := f.links[token]
	if !ok {
		return person.Person{}, notFound()
	}
	return f.people[id], nil
}

func (f *fake) TakeUp(ctx context.Context, token, hash string) (uuid.UUID, error) {
	id, ok := f.links[token]
	if !ok || id == uuid.Nil {
		return uuid.Nil, notFound()
	}
	delete(f.links, token)
	return id, f.SetPassword(ctx, id, hash)
}

func (f *fake) SetUp(ctx context.Context, token string, p person.Person, hash string) error {
	if id, ok := f.links[token]; !ok || id != uuid.Nil {
		return notFound()
	}
	delete(f.links, token)
	f.people[p.ID] = p
	return f.SetPassword(ctx, p.ID, hash)
}

// world is the pages with a store, a clock and a router, as the server puts them together.
type world struct {
	t     *testing.T
	store *fake
	pages *Pages
	mux   http.Handler
	now   time.Time
	slept time.Duration
}

func newWorld(t *testing.T) *world {
	t.Helper()
	ines := person.Person{ID: id(1), Name: "Ines Quill", Email: inesEmail, Role: access.Technician}
	v := &world{t: t, now: time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC)}
	v.store = &fake{people: map[uuid.UUID]person.Person{ines.ID: ines}, accounts: map[uuid.UUID]person.Account{}, links: map[string]uuid.UUID{}}
	sessions := scs.New()
	sessions.Cookie.Name = "frywright"
	next := 500
	v.pages = New(v.store, sessions, func() uuid.UUID { next++; return id(next) }, func() time.Time { return v.now }, nil)
	v.pages.pause = func(_ context.Context, d time.Duration) error { v.slept += d; return nil }
	hash, err := v.pages.hashing.hash(t.Context(), inesPassword)
	require.NoError(t, err)
	require.NoError(t, v.store.SetPassword(t.Context(), ines.ID, hash))

	router := chi.NewRouter()
	for _, route := range v.pages.Routes() {
		router.Method(route.Method, route.Pattern, v.handle(route))
	}
	router.Get("/who", func(w http.ResponseWriter, r *http.Request) {
		_, _ = w.Write([]byte(access.FromContext(r.Context()).Name))
	})
	v.mux = sessions.LoadAndSave(v.known(router))
	return v
}

// known puts who acts into the context.
func (v *world) known(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		actor, err := v.pages.Identify(r)
		if err != nil {
			w.WriteHeader(http.StatusTeapot)
			return
		}
		next.ServeHTTP(w, r.WithContext(access.NewContext(r.Context(), actor)))
	})
}

// handle runs a handler as the server does; what is not shown on a page is answered with the text of the failure.
func (v *world) handle(route form.Route) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if route.Action == form.Anyone && !access.FromContext(r.Context()).SignedIn() {
			w.WriteHeader(http.StatusUnauthorized)
			return
		}
		if err := route.Handler(w, r); err != nil {
			w.WriteHeader(http.StatusTeapot)
			_, _ = w.Write([]byte(err.Error()))
		}
	}
}

// browser keeps a cookie, and comes from an address.
type browser struct {
	v       *world
	address string
	cookie  string
}

func (v *world) browser(address string) *browser { return &browser{v: v, address: address + ":40000"} }

func (b *browser) send(r *http.Request) *httptest.ResponseRecorder {
	r.RemoteAddr = b.address
	if b.cookie != "" {
		r.AddCookie(&http.Cookie{Name: "frywright", Value: b.cookie})
	}
	w := httptest.NewRecorder()
	b.v.mux.ServeHTTP(w, r)
	for _, c := range w.Result().Cookies() {
		if c.Name == "frywright" {
			b.cookie = c.Value
		}
	}
	return w
}

func (b *browser) get(path string) *httptest.ResponseRecorder {
	return b.send(httptest.NewRequest(http.MethodGet, path, nil))
}

func (b *browser) post(path string, values url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, path, strings.NewReader(values.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return b.send(r)
}

func (b *browser) signIn(email, password string) *httptest.ResponseRecorder {
	return b.post("/signin", url.Values{"email": {email}, "password": {password}})
}

// who says who is signed in; empty for nobody.
func (b *browser) who() string { return b.get("/who").Body.String() }
