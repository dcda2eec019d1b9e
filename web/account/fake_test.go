package account

import (
	"context"
	"errors"
	"maps"
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
	links    map[string]uuid.UUID     // by token; Nil: the set-up link
	signIns  map[string]person.SignIn // by token
	factors  map[uuid.UUID]person.Factor
	spares   map[string]uuid.UUID
	browsers map[string]uuid.UUID
	notes    []person.AccountEvent
	required bool
	seen     int
	broken   error
	now      func() time.Time
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

func (f *fake) Actor(_ context.Context, id uuid.UUID) (access.Actor, error) {
	x, ok := f.people[id]
	if !ok || x.Gone {
		return access.Actor{}, notFound()
	}
	return access.Actor{Person: id, Name: x.Name, Role: x.Role}, nil
}

func (f *fake) AccountNotes(context.Context, uuid.UUID) ([]person.AccountNote, error) {
	var list []person.AccountNote
	for _, what := range f.notes {
		list = append(list, person.AccountNote{At: f.now(), What: what})
	}
	return list, nil
}

func (f *fake) SignOutEverywhere(_ context.Context, id uuid.UUID) error {
	a := f.accounts[id]
	a.Generation++
	f.accounts[id] = a
	maps.DeleteFunc(f.signIns, func(_ string, in person.SignIn) bool { return in.Person == id })
	return nil
}

func (f *fake) SetPassword(ctx context.Context, id uuid.UUID, hash string) error {
	a := f.accounts[id]
	a.Person, a.Name, a.Email, a.PasswordHash = id, f.people[id].Name, f.people[id].Email, hash
	f.accounts[id] = a
	f.notes = append(f.notes, person.PasswordSet)
	return f.SignOutEverywhere(ctx, id)
}

func (f *fake) Rehash(_ context.Context, id uuid.UUID, old, hash string) error {
	if a := f.accounts[id]; a.PasswordHash == old {
		a.PasswordHash = hash
		f.accounts[id] = a
	}
	return nil
}

func (f *fake) BeginSignIn(_ context.Context, token string, in person.SignIn) error {
	in.Began, in.Seen = f.now(), f.now()
	f.signIns[token] = in
	return nil
}

func (f *fake) SignIn(_ context.Context, token string) (person.SignIn, error) {
	in, ok := f.signIns[token]
	if f.broken != nil {
		return in, f.broken
	}
	if !ok {
		return in, notFound()
	}
	return in, nil
}

func (f *fake) SeenSignIn(_ context.Context, token string) error {
	in := f.signIns[token]
	in.Seen = f.now()
	f.signIns[token] = in
	f.seen++
	return nil
}

func (f *fake) SignIns(_ context.Context, id uuid.UUID) ([]person.SignIn, error) {
	var list []person.SignIn
	for _, in := range f.signIns {
		if in.Person == id {
			list = append(list, in)
		}
	}
	return list, nil
}

func (f *fake) EndSignIn(_ context.Context, id, signIn uuid.UUID) error {
	maps.DeleteFunc(f.signIns, func(_ string, in person.SignIn) bool { return in.Person == id && in.ID == signIn })
	return nil
}

func (f *fake) EndOtherSignIns(_ context.Context, id, but uuid.UUID) error {
	maps.DeleteFunc(f.signIns, func(_ string, in person.SignIn) bool { return in.Person == id && in.ID != but })
	return nil
}

func (f *fake) KnowBrowser(_ context.Context, id uuid.UUID, cookie string) error {
	f.browsers[cookie+id.String()] = id
	return nil
}

func (f *fake) KnowsBrowser(_ context.Context, id uuid.UUID, cookie string) (bool, error) {
	_, ok := f.browsers[cookie+id.String()]
	return ok, nil
}

func (f *fake) Factor(_ context.Context, id uuid.UUID) (person.Factor, error) {
	x := f.factors[id]
	x.CodesLeft = 0
	for _, whose := range f.spares {
		if whose == id {
			x.CodesLeft++
		}
	}
	return x, nil
}

func (f *fake) BeginFactor(_ context.Context, id uuid.UUID, sealed string) error {
	if f.factors[id].On() {
		return fault.New(fault.Conflict, "Your second step is switched on already.")
	}
	f.factors[id] = person.Factor{Secret: sealed, Begun: f.now()}
	return nil
}

func (f *fake) ConfirmFactor(ctx context.Context, id uuid.UUID, step int64, codes []string) error {
	x := f.factors[id]
	x.Confirmed, x.LastStep = f.now(), step
	f.factors[id] = x
	f.notes = append(f.notes, person.FactorOn)
	return firstError(f.RenewCodes(ctx, id, codes), f.SignOutEverywhere(ctx, id))
}

func firstError(errs ...error) error { return errors.Join(errs...) }

func (f *fake) UseStep(_ context.Context, id uuid.UUID, step int64) (bool, error) {
	x := f.factors[id]
	if step <= x.LastStep {
		return false, nil
	}
	x.LastStep = step
	f.factors[id] = x
	return true, nil
}

func (f *fake) UseCode(_ context.Context, id uuid.UUID, code string) (bool, error) {
	if f.spares[code] != id {
		return false, nil
	}
	delete(f.spares, code)
	return true, nil
}

func (f *fake) RenewCodes(_ context.Context, id uuid.UUID, codes []string) error {
	maps.DeleteFunc(f.spares, func(_ string, whose uuid.UUID) bool { return whose == id })
	for _, code := range codes {
		f.spares[code] = id
	}
	return nil
}

func (f *fake) DropFactor(ctx context.Context, id uuid.UUID) error {
	delete(f.factors, id)
	return firstError(f.RenewCodes(ctx, id, nil), f.SignOutEverywhere(ctx, id))
}

func (f *fake) RequiresFactor(_ context.Context, role access.Role) (bool, error) {
	return f.required && role == access.Administrator, nil
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
	v.store = &fake{
		people: map[uuid.UUID]person.Person{ines.ID: ines}, accounts: map[uuid.UUID]person.Account{}, links: map[string]uuid.UUID{},
		signIns: map[string]person.SignIn{}, factors: map[uuid.UUID]person.Factor{}, spares: map[string]uuid.UUID{}, browsers: map[string]uuid.UUID{},
		now: func() time.Time { return v.now },
	}
	sessions := scs.New()
	sessions.Cookie.Name = "frywright"
	next := 500
	v.pages = New(Config{
		Store: v.store, Sessions: sessions, NewID: func() uuid.UUID { next++; return id(next) }, Now: v.store.now,
		Key: func() ([]byte, error) { return make([]byte, KeySize), nil },
	})
	v.pages.pause = func(_ context.Context, d time.Duration) error { v.slept += d; return nil }
	hash, err := v.pages.hashing.hash(t.Context(), inesPassword)
	require.NoError(t, err)
	require.NoError(t, v.store.SetPassword(t.Context(), ines.ID, hash))
	v.store.notes = nil

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

// browser keeps its cookies, and comes from an address.
type browser struct {
	v       *world
	address string
	agent   string
	cookies map[string]*http.Cookie
}

func (v *world) browser(address string) *browser {
	return &browser{v: v, address: address + ":40000", cookies: map[string]*http.Cookie{}}
}

func (b *browser) send(r *http.Request) *httptest.ResponseRecorder {
	r.RemoteAddr = b.address
	r.Header.Set("User-Agent", b.agent)
	for _, c := range b.cookies {
		if c.Path == "" || strings.HasPrefix(r.URL.Path, c.Path) {
			r.AddCookie(c)
		}
	}
	w := httptest.NewRecorder()
	b.v.mux.ServeHTTP(w, r)
	for _, c := range w.Result().Cookies() {
		if b.cookies[c.Name] = c; c.MaxAge < 0 {
			delete(b.cookies, c.Name)
		}
	}
	return w
}

// plant puts a session's token into the browser.
func (b *browser) plant(token string) {
	b.cookies["frywright"] = &http.Cookie{Name: "frywright", Value: token}
}

// session gives the token of the session.
func (b *browser) session() string {
	if c := b.cookies["frywright"]; c != nil {
		return c.Value
	}
	return ""
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
