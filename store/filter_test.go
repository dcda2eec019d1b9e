package store_test

import (
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/domain/state"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFiltersOfTheDeskFollowAFryer(t *testing.T) {
	w := newWorld(t)
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	found := func(f state.Filter) bool {
		page, err := w.store.Fryers(desk, f)
		require.NoError(t, err)
		for _, x := range page.Fryers {
			if x.ID == w.fryer.ID {
				return true
			}
		}
		return false
	}
	stale, open, never := state.Filter{Stale: true}, state.Filter{Open: true}, state.Filter{Never: true}
	assert.Equal(t, []bool{false, false, true}, []bool{found(stale), found(open), found(never)}, "nobody read it yet")

	w.must(tech, journal.Draft{Subject: uuid.New(), Body: snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.Routine}})
	assert.Equal(t, []bool{false, true, true}, []bool{found(stale), found(open), found(never)}, "it is being read")
	page, err := w.store.Fryers(desk, open)
	require.NoError(t, err)
	require.Len(t, page.Fryers, 1)
	one, err := w.store.Fryer(desk, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, one, page.Fryers[0], "a list says of an open reading what the fryer's page says")
	assert.Equal(t, w.clock, one.OpenBegun)
}

func TestFilterOfTheDeskFindsWhatIsToBeReadAgain(t *testing.T) {
	w := newWorld(t)
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	w.read(tech, w.fryer.ID, snapshot.Routine, all(nil))
	w.clock = w.clock.Add(time.Hour)
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Event{What: cause.PowerCut, Happened: w.clock}})
	page, err := w.store.Fryers(desk, state.Filter{Hands: true, Stale: true})
	require.NoError(t, err)
	require.Len(t, page.Fryers, 1)
	assert.Equal(t, w.fryer.ID, page.Fryers[0].ID)
	for _, f := range []state.Filter{{Hands: true, Open: true}, {Stale: true, Never: true}} {
		page, err := w.store.Fryers(desk, f)
		require.NoError(t, err)
		assert.Empty(t, page.Fryers)
	}
}
