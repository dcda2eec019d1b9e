package people

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"frywright/domain/person"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var on = person.Factor{Secret: "sealed", Confirmed: now, CodesLeft: 9}

func TestWhereAPersonIsSignedInAndEndingIt(t *testing.T) {
	s := serve(t, newFake())
	body := s.get(path.Person(tech.ID)).Body.String()
	assert.Contains(t, body, "Nowhere")
	assert.NotContains(t, body, path.PersonSessions(tech.ID), "there is nothing to end")

	s.store.signIns[tech.ID] = []person.SignIn{
		{ID: id(71), Person: tech.ID, Seen: now.Add(-3 * time.Hour), Agent: "Chrome on Android"}, {ID: id(72), Person: tech.ID, Seen: now.Add(-72 * time.Hour)},
	}
	assert.Contains(t, s.get(path.Person(tech.ID)).Body.String(), "2 devices, last used 3 hours ago")
	w := s.post(path.PersonSessions(tech.ID), nil)
	assert.Equal(t, path.Person(tech.ID)+"?notice=person-sessions", w.Header().Get("Location"))
	assert.Equal(t, []uuid.UUID{tech.ID}, s.store.signedOut)
}

func TestTakingALostSecondStepAway(t *testing.T) {
	s := serve(t, newFake())
	assert.NotContains(t, s.get(path.Person(tech.ID)).Body.String(), path.PersonFactor(tech.ID), "there is none")
	w := s.post(path.PersonFactor(tech.ID), url.Values{"reason": {"lost"}})
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Tomas Reed has no second step.")

	s.store.factors[tech.ID] = on
	body := s.get(path.Person(tech.ID)).Body.String()
	assert.Contains(t, body, "On, 9 recovery codes left")
	assert.Contains(t, body, path.PersonFactor(tech.ID))

	w = s.post(path.PersonFactor(tech.ID), url.Values{"reason": {" "}})
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Say why: it is kept.")
	assert.True(t, s.store.factors[tech.ID].On(), "without a reason nothing is done")

	w = s.post(path.PersonFactor(tech.ID), url.Values{"reason": {"phone fell <into> the vat"}})
	require.Equal(t, path.Person(tech.ID)+"?notice=factor-reset", w.Header().Get("Location"))
	assert.False(t, s.store.factors[tech.ID].On())
	body = s.get(path.Person(tech.ID)).Body.String()
	for _, want := range []string{"Second step taken away", "by Ada Finch", "phone fell &lt;into&gt; the vat"} {
		assert.Contains(t, body, want)
	}
}

func TestNobodyTakesTheirOwnSecondStepAwayHere(t *testing.T) {
	s := serve(t, newFake())
	s.store.factors[boss.ID] = on
	assert.NotContains(t, s.get(path.Person(boss.ID)).Body.String(), path.PersonFactor(boss.ID))
	w := s.post(path.PersonFactor(boss.ID), url.Values{"reason": {"a thief at an open screen"}})
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "This is you.")
	assert.True(t, s.store.factors[boss.ID].On())
}

func TestAskingTheSecondStepOfAdministrators(t *testing.T) {
	s := serve(t, newFake())
	assert.Contains(t, s.get(path.People()).Body.String(), "Ask it of every administrator")
	w := s.post(path.PeopleFactor(), url.Values{"required": {"yes"}})
	assert.Equal(t, http.StatusUnprocessableEntity, w.Code)
	assert.Contains(t, w.Body.String(), "Switch on your own second step first")
	assert.False(t, s.store.required)

	s.store.factors[boss.ID] = on
	w = s.post(path.PeopleFactor(), url.Values{"required": {"yes"}})
	assert.Equal(t, path.People()+"?notice=factor-required", w.Header().Get("Location"))
	assert.True(t, s.store.required)
	assert.Contains(t, s.get(path.People()).Body.String(), "No longer ask for it")

	w = s.post(path.PeopleFactor(), url.Values{"required": {"no"}})
	assert.Equal(t, path.People()+"?notice=factor-optional", w.Header().Get("Location"))
	assert.False(t, s.store.required)
}

func TestWhoeverIsGoneHasNoSignInToShow(t *testing.T) {
	s := serve(t, newFake())
	for i := range s.store.people {
		s.store.people[i].Gone = s.store.people[i].ID == tech.ID
	}
	assert.False(t, strings.Contains(s.get(path.Person(tech.ID)).Body.String(), "Their sign-in"))
}
