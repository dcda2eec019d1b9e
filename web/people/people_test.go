package people

import (
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/domain/state"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestListGroupsPeopleByRole(t *testing.T) {
	store := newFake()
	store.people = append(store.people, person.Person{ID: id(4), Name: "Old <b>Hand</b>", Email: "old@example.com", Role: access.Technician, Gone: true})
	w := serve(t, store).get("/people")
	require.Equal(t, http.StatusOK, w.Code)
	body := w.Body.String()
	for _, want := range []string{"Ada Finch", "Tomas Reed", "Harbour", "1 restaurant", "Restaurant managers", "Old &lt;b&gt;Hand&lt;/b&gt;", `id="gone"`} {
		assert.Contains(t, body, want)
	}
	assert.NotContains(t, body, "Dispatchers", "an empty group is not shown")
}

func TestAPersonIsAdded(t *testing.T) {
	s := serve(t, newFake())
	entry := id(700)
	w := s.post(path.PersonEdit(id(40)), url.Values{
		"entry": {entry.String()}, "base": {uuid.Nil.String()}, "name": {" Nadia Brook "}, "email": {" Nadia@Example.com "},
		"role": {"technician"}, "area": {"Harbour", "Harbour"}, "more_areas": {"Fens, , North"}, "site": {id(52).String(), "nonsense"},
	})
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	assert.Equal(t, path.Person(id(40))+"?notice=added", w.Header().Get("Location"))
	require.Len(t, s.store.recorded, 1)
	d := s.store.recorded[0]
	assert.Equal(t, entry, d.ID)
	assert.Equal(t, uuid.Nil, d.Base)
	assert.Equal(t, person.Saved{Person: person.Person{
		ID: id(40), Name: "Nadia Brook", Email: "nadia@example.com", Role: access.Technician,
		Areas: []string{"Harbour", "Fens", "North"}, Sites: []uuid.UUID{id(52)},
	}}, d.Body)
}

func TestAreasAndRestaurantsGoWithTheRole(t *testing.T) {
	for role, want := range map[access.Role]struct{ areas, sites int }{
		access.Technician: {1, 1}, access.Manager: {0, 1}, access.Dispatcher: {0, 0}, access.Administrator: {0, 0},
	} {
		t.Run(string(role), func(t *testing.T) {
			s := serve(t, newFake())
			w := s.post(path.PersonEdit(id(40)), url.Values{
				"name": {"Nadia Brook"}, "email": {"nadia@example.com"}, "role": {string(role)}, "area": {"Harbour"}, "site": {id(52).String()},
			})
			require.Equal(t, http.StatusSeeOther, w.Code)
			saved, ok := s.store.recorded[0].Body.(person.Saved)
			require.True(t, ok)
			assert.Len(t, saved.Person.Areas, want.areas)
			assert.Len(t, saved.Person.Sites, want.sites)
		})
	}
}

func TestAWrongFormKeepsWhatWasTyped(t *testing.T) {
	s := serve(t, newFake())
	w := s.post(path.PersonEdit(id(40)), url.Values{
		"name": {`Nadia "<i>`}, "email": {"not an address"}, "role": {"manager"}, "more_areas": {"Fens"},
	})
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	body := w.Body.String()
	assert.Contains(t, body, "Nadia &#34;&lt;i&gt;")
	assert.Contains(t, body, `value="not an address"`)
	assert.Contains(t, body, "Give an e-mail address")
	assert.Contains(t, body, "A restaurant manager needs at least one restaurant.")
	assert.Regexp(t, `value="manager" checked`, body)
	assert.Regexp(t, `value="Fens" checked`, body)
	assert.Empty(t, s.store.recorded)
}

func TestAStaleFormShowsWhatStandsNow(t *testing.T) {
	s := serve(t, newFake())
	s.store.refuse = fault.New(fault.Conflict, "Ada Finch changed this meanwhile.")
	w := s.post(path.PersonEdit(tech.ID), url.Values{
		"base": {id(800).String()}, "name": {"Tom Reed"}, "email": {"tom@example.com"}, "role": {"technician"},
	})
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	body := w.Body.String()
	assert.Contains(t, body, "Ada Finch changed this meanwhile.")
	assert.Contains(t, body, "What stands now")
	assert.Contains(t, body, "tomas@example.com")
	assert.Contains(t, body, `value="Tom Reed"`)
	assert.Contains(t, body, base.String(), "the form carries the version that stands now")
	assert.NotContains(t, body, id(800).String())
}

func TestOtherFailuresAreNotShownOnTheForm(t *testing.T) {
	s := serve(t, newFake())
	s.store.refuse = fault.New(fault.Denied, "not yours")
	assert.Equal(t, http.StatusTeapot, s.post(path.PersonEdit(tech.ID), url.Values{"name": {"x"}, "role": {"technician"}, "email": {"x@example.com"}}).Code)
	assert.Equal(t, http.StatusTeapot, s.get(path.Person(id(99))).Code)
	assert.Equal(t, http.StatusTeapot, s.get("/people/nonsense").Code)
}

func TestSomebodyStaysWhoCanLetPeopleIn(t *testing.T) {
	second := person.Person{ID: id(5), Name: "Bo Lind", Email: "bo@example.com", Role: access.Administrator}
	gone := second
	gone.Gone = true
	for _, c := range []struct {
		name   string
		others []person.Person
		who    person.Person
		says   string // empty: it is done
	}{
		{"the last administrator", nil, boss, "last administrator"},
		{"the last beside one who is gone", []person.Person{gone}, boss, "last administrator"},
		{"oneself, though another is left", []person.Person{second}, boss, "cannot take this from yourself"},
		{"another administrator", []person.Person{second}, second, ""},
		{"no administrator", nil, tech, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			store := newFake()
			store.people = append(store.people, c.others...)
			s := serve(t, store)
			demoted := s.post(path.PersonEdit(c.who.ID), url.Values{
				"base": {base.String()}, "name": {c.who.Name}, "email": {c.who.Email}, "role": {"dispatcher"},
			})
			left := s.post(path.PersonGone(c.who.ID), url.Values{"base": {base.String()}, "gone": {"yes"}})
			if c.says == "" {
				assert.Equal(t, http.StatusSeeOther, demoted.Code)
				assert.Equal(t, http.StatusSeeOther, left.Code)
				assert.Len(t, store.recorded, 2)
				return
			}
			for _, w := range []int{demoted.Code, left.Code} {
				assert.Equal(t, http.StatusUnprocessableEntity, w)
			}
			assert.Contains(t, demoted.Body.String(), c.says)
			assert.Contains(t, left.Body.String(), c.says)
			assert.Empty(t, store.recorded)
			assert.Empty(t, store.signedOut)
		})
	}
}

func TestAnAdministratorChangesTheirOwnName(t *testing.T) {
	s := serve(t, newFake())
	w := s.post(path.PersonEdit(boss.ID), url.Values{"base": {base.String()}, "name": {"Ada Finch-Hale"}, "email": {boss.Email}, "role": {"administrator"}})
	assert.Equal(t, http.StatusSeeOther, w.Code)
	assert.Len(t, s.store.recorded, 1)
}

func TestGoingEndsEverySession(t *testing.T) {
	s := serve(t, newFake())
	w := s.post(path.PersonGone(tech.ID), url.Values{"base": {base.String()}, "gone": {"yes"}})
	require.Equal(t, http.StatusSeeOther, w.Code)
	want := tech
	want.Gone = true
	assert.Equal(t, person.Saved{Person: want}, s.store.recorded[0].Body)
	assert.Equal(t, base, s.store.recorded[0].Base)
	assert.Equal(t, []uuid.UUID{tech.ID}, s.store.signedOut)

	s.store.people[1].Gone = true
	w = s.post(path.PersonGone(tech.ID), url.Values{"base": {base.String()}, "gone": {"no"}})
	require.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, person.Saved{Person: tech}, s.store.recorded[1].Body)
	assert.Len(t, s.store.signedOut, 1, "coming back signs nobody out")
}

func TestALinkIsMadeAndShownOnce(t *testing.T) {
	s := serve(t, newFake())
	w := s.post(path.PersonLink(tech.ID), nil)
	require.Equal(t, http.StatusOK, w.Code)
	assert.Contains(t, w.Body.String(), `value="http://example.com/welcome/TOKEN"`)
	assert.Equal(t, "TOKEN", s.store.invited[tech.ID])
	assert.Equal(t, 7*24*time.Hour, s.store.valid)
	assert.Contains(t, w.Body.String(), "27 Nov 2026", "until when it works")
	assert.NotContains(t, s.get(path.Person(tech.ID)).Body.String(), "TOKEN", "it is not shown again")
}

func TestALinkBearsTheAddressOfTheAdministratorsOwnBrowser(t *testing.T) {
	for origin, want := range map[string]string{
		"https://example.com":          "https://example.com/welcome/TOKEN",
		"https://elsewhere.example":    "http://example.com/welcome/TOKEN",
		"null":                         "http://example.com/welcome/TOKEN",
		"javascript://example.com":     "http://example.com/welcome/TOKEN",
		"https://example.com@bad.test": "http://example.com/welcome/TOKEN",
	} {
		w := serve(t, newFake()).post(path.PersonLink(tech.ID), nil, "Origin", origin)
		assert.Contains(t, w.Body.String(), `value="`+want+`"`, origin)
	}
}

func TestWhoeverIsGoneGetsNoLink(t *testing.T) {
	s := serve(t, newFake())
	s.store.people[1].Gone = true
	w := s.post(path.PersonLink(tech.ID), nil)
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Empty(t, s.store.invited)
}

func TestFewRestaurantsAreAllListed(t *testing.T) {
	body := serve(t, newFake()).get(path.PersonEdit(head.ID)).Body.String()
	assert.Regexp(t, `value="`+id(51).String()+`" checked`, body)
	assert.Contains(t, body, id(52).String())
	assert.NotContains(t, body, `name="look"`)
}

func TestManyRestaurantsAreLookedFor(t *testing.T) {
	store := newFake()
	for n := range 100 {
		store.sites = append(store.sites, state.Site{ID: id(1000 + n), Name: fmt.Sprintf("Branch %d", n), Town: "Fenwick"})
	}
	s := serve(t, store)
	body := s.get(path.PersonEdit(head.ID)).Body.String()
	assert.Regexp(t, `value="`+id(51).String()+`" checked`, body, "what was chosen stays")
	assert.NotContains(t, body, "Branch 7")
	assert.Contains(t, body, `name="look"`)

	w := s.post(path.PersonEdit(head.ID), url.Values{
		"base": {base.String()}, "name": {"Mira St."}, "email": {head.Email}, "role": {"manager"}, "site": {id(51).String(), id(1003).String()},
		"look": {"branch"}, "do": {"look"},
	})
	require.Equal(t, http.StatusOK, w.Code)
	body = w.Body.String()
	assert.Contains(t, body, `value="Mira St."`)
	assert.Regexp(t, `value="`+id(1003).String()+`" checked`, body)
	assert.Contains(t, body, "Branch 7")
	assert.Contains(t, body, "And 59 more")
	assert.Empty(t, store.recorded, "looking saves nothing")
}

func TestATechnicianWithoutAnAreaIsSaidToSeeNothing(t *testing.T) {
	store := newFake()
	store.people = append(store.people, person.Person{ID: id(5), Name: "New Hand", Email: "new@example.com", Role: access.Technician})
	assert.Contains(t, serve(t, store).get(path.Person(id(5))).Body.String(), "They see no fryer yet.")
	for _, x := range store.people[:len(store.people)-1] {
		assert.NotContains(t, serve(t, store).get(path.Person(x.ID)).Body.String(), "They see no fryer yet.", x.Name)
	}
}
