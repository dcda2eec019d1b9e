package store_test

import (
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/entry"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func everyKind() []string {
	var kinds []string
	for _, s := range entry.Specs() {
		kinds = append(kinds, s.Kind)
	}
	return kinds
}

// liveALittle records something of every kind.
func (w *world) liveALittle() {
	w.t.Helper()
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	base := w.setStandard(desk, uuid.Nil, "setpoint", "345")
	w.must(desk, journal.Draft{Subject: base.Subject, Base: base.ID, Body: standard.Changed{
		Level: standard.OfCustomer, Of: w.customer.ID, Sheet: w.sheet.ID, Clear: []sheet.Ref{{Key: "setpoint"}},
		Set: []standard.Value{{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "340"}}, Why: "one vat only",
	}})
	w.read(tech, w.fryer.ID, snapshot.AsFound, all(map[string]sheet.Value{"offset@1": "3", "pilot": "on", "profile": "plain"}))
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Ticked{Ref: sheet.Ref{Key: "pilot"}, Value: "off", Done: true}})
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Event{What: cause.PowerCut, Happened: w.clock.Add(-time.Hour)}})
	w.must(desk, journal.Draft{Subject: w.fryer.ID, Body: standard.Accepted{Ref: sheet.Ref{Key: "offset", Vat: 1}, Value: "3", Reason: "new probe ordered", Until: w.clock.AddDate(0, 1, 0)}})
	w.must(desk, journal.Draft{Subject: w.fryer.ID, Body: standard.Accepted{Ref: sheet.Ref{Key: "profile"}, Value: "plain", Reason: "trial", Until: w.clock.AddDate(0, 1, 0)}})
	w.must(desk, journal.Draft{Subject: w.fryer.ID, Body: standard.Ended{Ref: sheet.Ref{Key: "profile"}, Reason: "trial is over"}})
	w.must(desk, journal.Draft{Subject: w.site.ID, Body: rule.Switched{Rule: rule.Rules()[0].Key, On: true}})
	open, dropped := uuid.New(), uuid.New()
	w.must(tech, journal.Draft{Subject: open, Body: snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.Routine}})
	w.must(tech, journal.Draft{Subject: open, Body: snapshot.Read{Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "profile"}, Value: "gas"}}}})
	w.must(tech, journal.Draft{Subject: dropped, Body: snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.Routine}})
	w.must(tech, journal.Draft{Subject: dropped, Body: snapshot.Dropped{Why: "wrong fryer"}})
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: "lid sticks"}})
	f, version, err := w.store.FryerRecord(desk, w.foreign.ID)
	require.NoError(w.t, err)
	moved := w.must(desk, journal.Draft{Subject: f.ID, Base: version, Body: fleet.FryerMoved{From: f.Site, To: w.site.ID, Why: "closed for works"}})[0]
	retired := w.must(desk, journal.Draft{Subject: f.ID, Base: moved.ID, Body: fleet.FryerRetired{Why: "worn out"}})[0]
	w.must(desk, journal.Draft{Subject: f.ID, Base: retired.ID, Body: fleet.FryerReturned{Why: "needed after all"}})
}

func TestUnknownIsNeverRight(t *testing.T) {
	w := newWorld(t)
	tech := w.as(access.Technician)
	f, err := w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, 5, f.Places)
	assert.Equal(t, 0, f.Right)
	assert.Equal(t, 5, f.Unknown)
	assert.Equal(t, state.StepRead, f.Next().Kind)
	w.read(tech, w.fryer.ID, snapshot.Routine, map[string]sheet.Value{"profile": "gas", "pilot": "off"})
	f, err = w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, 2, f.Right)
	assert.Equal(t, 3, f.Unknown)
}

func TestReadingMakesDriftAndAsLeftClosesIt(t *testing.T) {
	w := newWorld(t)
	tech := w.as(access.Technician)
	w.setStandard(w.as(access.Dispatcher), uuid.Nil, "setpoint", "340")
	found := w.clock
	w.read(tech, w.fryer.ID, snapshot.AsFound, all(nil))
	f, err := w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, sheet.Food, f.Worst())
	assert.Equal(t, 1, f.PutBack)
	assert.Equal(t, found.Add(time.Minute), f.Since)
	assert.Equal(t, state.StepPutBack, f.Next().Kind)
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Ticked{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "340", Done: true}})
	f, err = w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, state.StepAsLeft, f.Next().Kind)
	w.read(tech, w.fryer.ID, snapshot.AsLeft, map[string]sheet.Value{"setpoint@1": "340"})
	f, err = w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Zero(t, f.Wrong())
	assert.Equal(t, 5, f.Right, "what was read right as found and not read again stays known")
	assert.False(t, f.NeedsHands())
}

func TestSomethingHappenedMakesOldReadingsStale(t *testing.T) {
	w := newWorld(t)
	tech := w.as(access.Technician)
	w.read(tech, w.fryer.ID, snapshot.Routine, all(nil))
	w.clock = w.clock.Add(time.Hour)
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Event{What: cause.PowerCut, Happened: w.clock}})
	f, err := w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, w.clock, f.StaleSince)
	assert.Zero(t, f.Right, "what was read before says nothing now")
	assert.True(t, f.NeedsHands())
	page, err := w.store.Fryers(w.as(access.Dispatcher), state.Filter{Hands: true})
	require.NoError(t, err)
	require.Len(t, page.Fryers, 1)
	assert.Equal(t, "T-001", page.Fryers[0].Tag)
}

func TestAcceptedDifferenceRunsOut(t *testing.T) {
	w := newWorld(t)
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	w.read(tech, w.fryer.ID, snapshot.Routine, all(map[string]sheet.Value{"offset@1": "3"}))
	until := w.clock.AddDate(0, 0, 7)
	w.must(desk, journal.Draft{Subject: w.fryer.ID, Body: standard.Accepted{Ref: sheet.Ref{Key: "offset", Vat: 1}, Value: "3", Reason: "probe ordered", Until: until}})
	f, err := w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Zero(t, f.Wrong())
	assert.Equal(t, 1, f.Accepted)
	n, err := w.store.Recheck(w.office)
	require.NoError(t, err)
	assert.Zero(t, n)
	w.clock = until
	n, err = w.store.Recheck(w.office)
	require.NoError(t, err)
	assert.Equal(t, 1, n)
	f, err = w.store.Fryer(tech, w.fryer.ID)
	require.NoError(t, err)
	assert.Equal(t, 1, f.Wrong())
}

func TestPreviewSaysWhatAChangeWouldDo(t *testing.T) {
	w := newWorld(t)
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	w.read(tech, w.fryer.ID, snapshot.Routine, all(map[string]sheet.Value{"offset@1": "3"}))
	change := standard.Changed{
		Level: standard.OfCustomer, Of: w.customer.ID, Sheet: w.sheet.ID, Why: "x",
		Set: []standard.Value{{Ref: sheet.Ref{Key: "setpoint"}, Value: "340"}, {Ref: sheet.Ref{Key: "offset"}, Value: "3"}},
	}
	before := w.dump()
	p, err := w.store.PreviewStandard(desk, change)
	require.NoError(t, err)
	assert.Equal(t, before, w.dump(), "a preview writes nothing")
	assert.Equal(t, 2, p.Fryers)
	assert.Equal(t, 2, p.Touched)
	assert.Equal(t, 1, p.Unread)
	require.Len(t, p.Created, 1)
	assert.Equal(t, "Fry setpoint", p.Created[0].Label)
	require.Len(t, p.Cleared, 1)
	assert.Equal(t, "Probe offset", p.Cleared[0].Label)
	w.must(desk, journal.Draft{Subject: standard.LayerID(change.Level, change.Of, change.Sheet), Body: change})
	a, err := w.store.Assessment(desk, w.fryer.ID)
	require.NoError(t, err)
	assert.Len(t, a.Result.With(drift.Drifted), 1, "what was foretold came")
}

func TestMovedFryerKeepsItsHistory(t *testing.T) {
	w := newWorld(t)
	desk := w.as(access.Dispatcher)
	w.read(desk, w.foreign.ID, snapshot.Routine, all(nil))
	f, version, err := w.store.FryerRecord(desk, w.foreign.ID)
	require.NoError(t, err)
	_, err = w.store.Fryer(w.as(access.Technician), f.ID)
	require.Equal(t, fault.NotFound, fault.KindOf(err))
	w.must(desk, journal.Draft{Subject: f.ID, Base: version, Body: fleet.FryerMoved{From: f.Site, To: w.site.ID, Why: "swap"}})
	got, err := w.store.Fryer(w.as(access.Technician), f.ID)
	require.NoError(t, err)
	assert.Equal(t, 5, got.Right)
	readings, err := w.store.Readings(w.as(access.Technician), f.ID, 10)
	require.NoError(t, err)
	assert.Len(t, readings, 1)
}

func TestListsKeepToOwnSites(t *testing.T) {
	w := newWorld(t)
	for role, want := range map[access.Role]int{access.Administrator: 2, access.Dispatcher: 2, access.Technician: 1, access.Manager: 1} {
		ctx := w.as(role)
		page, err := w.store.Fryers(ctx, state.Filter{})
		require.NoError(t, err)
		assert.Equal(t, want, page.Total, "fryers of a %s", role)
		sites, err := w.store.Sites(ctx, state.SiteFilter{})
		require.NoError(t, err)
		assert.Len(t, sites.Sites, want, "sites of a %s", role)
		totals, err := w.store.Totals(ctx)
		require.NoError(t, err)
		assert.Equal(t, want, totals.Fryers)
	}
	w.read(w.office, w.fryer.ID, snapshot.AsFound, all(map[string]sheet.Value{"setpoint@1": "300"}))
	w.read(w.office, w.foreign.ID, snapshot.AsFound, all(map[string]sheet.Value{"pilot": "on", "profile": "plain"}))
	hands, err := w.store.Sites(w.as(access.Dispatcher), state.SiteFilter{Hands: true})
	require.NoError(t, err)
	require.Len(t, hands.Sites, 2)
	assert.Equal(t, []string{w.other.Name, w.site.Name}, []string{hands.Sites[0].Name, hands.Sites[1].Name}, "the worst first")
	page, err := w.store.Fryers(w.as(access.Dispatcher), state.Filter{Query: "lumen t-002"})
	require.NoError(t, err)
	assert.Equal(t, 1, page.Total)
	page, err = w.store.Fryers(w.as(access.Dispatcher), state.Filter{Query: "100%_"})
	require.NoError(t, err)
	assert.Zero(t, page.Total, "search texts are taken literally")
}
