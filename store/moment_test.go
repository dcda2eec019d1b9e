package store_test

import (
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fault"
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

// stands gives how the world's fryer stands.
func (w *world) stands() state.Fryer {
	w.t.Helper()
	f, err := w.store.Fryer(w.office, w.fryer.ID)
	require.NoError(w.t, err)
	return f
}

// at records as the program, for a moment of the past.
func (w *world) at(at time.Time, subject uuid.UUID, body journal.Body) {
	w.t.Helper()
	w.must(w.office, journal.Draft{At: at, Subject: subject, Body: body})
}

func one(key string, vat int, v sheet.Value) []snapshot.Reading {
	return []snapshot.Reading{{Ref: sheet.Ref{Key: key, Vat: vat}, Value: v}}
}

func TestWhatWasReadBeforeSomethingHappenedSaysNothingAfterIt(t *testing.T) {
	w := newWorld(t)
	snap, begun := uuid.New(), w.clock
	w.at(begun, snap, snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.AsFound})
	w.at(begun.Add(time.Minute), snap, snapshot.Read{Readings: one("profile", 0, "gas")})
	w.at(begun.Add(3*time.Minute), w.fryer.ID, snapshot.Event{What: cause.PowerCut, Happened: begun.Add(2 * time.Minute)})
	w.at(begun.Add(5*time.Minute), snap, snapshot.Finished{})
	f := w.stands()
	assert.Zero(t, f.Right, "read before the power cut, though finished after it")
	assert.Equal(t, begun.Add(2*time.Minute), f.StaleSince)

	later := uuid.New()
	w.at(begun.Add(6*time.Minute), later, snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.AsFound})
	w.at(begun.Add(7*time.Minute), later, snapshot.Finished{})
	assert.False(t, w.stands().StaleSince.IsZero(), "a reading without a value reads nothing")

	w.read(w.office, w.fryer.ID, snapshot.AsFound, map[string]sheet.Value{"pilot": "off"})
	w.clock = begun.Add(10 * time.Minute)
	w.read(w.office, w.fryer.ID, snapshot.AsFound, map[string]sheet.Value{"pilot": "off"})
	f = w.stands()
	assert.True(t, f.StaleSince.IsZero())
	assert.Equal(t, []int{1, 4}, []int{f.Right, f.Unknown})
	w.assertRebuildEqual()
}

func TestAnEventBeforeTheLastReadingOutdatesNothing(t *testing.T) {
	w := newWorld(t)
	happened := w.clock.Add(-time.Hour)
	w.read(w.office, w.fryer.ID, snapshot.Routine, all(nil))
	w.at(w.clock, w.fryer.ID, snapshot.Event{What: cause.PowerCut, Happened: happened})
	f := w.stands()
	assert.True(t, f.StaleSince.IsZero())
	assert.Equal(t, 5, f.Right)
}

func TestAnEventOfTheFutureIsRefused(t *testing.T) {
	w := newWorld(t)
	tech := w.as(access.Technician)
	_, err := w.store.Record(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Event{What: cause.PowerCut, Happened: w.clock.Add(time.Hour)}})
	require.Equal(t, fault.Invalid, fault.KindOf(err))
	assert.Equal(t, "happened", fault.FieldsOf(err)[0].Name)
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Event{What: cause.PowerCut, Happened: w.clock.Add(5 * time.Minute)}})
	w.clock = w.clock.Add(time.Minute)
	w.read(tech, w.fryer.ID, snapshot.AsFound, all(nil))
	assert.Equal(t, 5, w.stands().Right, "a watch that is ahead does not outdate what is read next")
}

func TestAnOlderReadingThatArrivesLateKeepsItsPlace(t *testing.T) {
	w := newWorld(t)
	start := w.clock
	finish := func(day int, offset sheet.Value) {
		at, snap := start.AddDate(0, 0, day), uuid.New()
		w.at(at, snap, snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.Routine})
		w.at(at, snap, snapshot.Finished{Readings: one("offset", 1, offset)})
	}
	finish(1, "3")
	finish(9, "3")
	assert.Equal(t, start.AddDate(0, 0, 1), w.stands().Since)
	finish(5, "0")
	f := w.stands()
	assert.Equal(t, start.AddDate(0, 0, 9), f.LastRead)
	assert.Equal(t, 1, f.Wrong(), "the latest value stands")
	assert.Equal(t, start.AddDate(0, 0, 9), f.Since, "in between it was right")
	w.at(start.AddDate(0, 0, 8), w.fryer.ID, snapshot.Ticked{Ref: sheet.Ref{Key: "offset", Vat: 1}, Value: "0", Done: true})
	assert.Zero(t, w.stands().Ticked, "ticked off before it was read again as wrong")
	w.assertRebuildEqual()
}

func TestATickIsOfTheStandardOfItsDay(t *testing.T) {
	w := newWorld(t)
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	first := w.setStandard(desk, uuid.Nil, "setpoint", "340")
	w.read(tech, w.fryer.ID, snapshot.AsFound, all(nil))
	w.must(tech, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Ticked{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "340", Done: true}})
	assert.Equal(t, 1, w.stands().Ticked)
	w.setStandard(desk, first.ID, "setpoint", "345")
	f := w.stands()
	assert.Equal(t, []int{1, 0}, []int{f.PutBack, f.Ticked}, "what was put back is not what is expected now")
}

func TestHowLongItIsKnownToBeWrong(t *testing.T) {
	w := newWorld(t)
	start := w.clock
	w.read(w.office, w.fryer.ID, snapshot.Routine, all(map[string]sheet.Value{"offset@1": "3", "pilot": "on", "profile": "plain"}))
	read := start.Add(time.Minute)
	assert.Equal(t, read, w.stands().Since, "a broken interlock since its values were read so")
	w.clock = start.AddDate(0, 0, 3)
	w.read(w.office, w.fryer.ID, snapshot.Routine, map[string]sheet.Value{"pilot": "on", "checksum": "7A1F"})
	assert.Equal(t, read, w.stands().Since, "reading again what was known does not make it younger")

	w.read(w.office, w.fryer.ID, snapshot.AsLeft, map[string]sheet.Value{"pilot": "off", "profile": "gas"})
	assert.Equal(t, read, w.stands().Since)
	until := w.clock.AddDate(0, 0, 7)
	w.must(w.office, journal.Draft{Subject: w.fryer.ID, Body: standard.Accepted{Ref: sheet.Ref{Key: "offset", Vat: 1}, Value: "3", Reason: "probe ordered", Until: until}})
	assert.True(t, w.stands().Since.IsZero())
	w.clock = until.Add(time.Hour)
	_, err := w.store.Recheck(w.office)
	require.NoError(t, err)
	assert.Equal(t, until, w.stands().Since, "it was accepted until then")
	w.assertRebuildEqual()
}

func TestARuleIsBrokenSinceItWasSwitchedOn(t *testing.T) {
	w := newWorld(t)
	w.read(w.office, w.fryer.ID, snapshot.Routine, all(map[string]sheet.Value{"setpoint@1": "480"}))
	w.clock = w.clock.AddDate(0, 1, 0)
	w.must(w.office, journal.Draft{Subject: w.site.ID, Body: rule.Switched{Rule: "nfpa-96-high-limit", On: true}})
	f := w.stands()
	require.Positive(t, f.Broken, "480 °F is more than the 475 °F of NFPA 96")
	assert.Equal(t, w.clock, f.Since)
}

func TestOneVatsAcceptedDifferenceIsNotTheOthers(t *testing.T) {
	w := newWorld(t)
	model := w.model
	model.Pot = sheet.SplitPot
	version := w.version(`SELECT version FROM model`)
	w.must(w.office, journal.Draft{Subject: model.ID, Base: version, Body: modelSaved(model)})
	w.read(w.office, w.fryer.ID, snapshot.Routine, all(map[string]sheet.Value{"offset@1": "3", "offset@2": "3", "setpoint@2": "350"}))
	f := w.stands()
	assert.Equal(t, 2, f.Wrong())
	w.must(w.office, journal.Draft{Subject: w.fryer.ID, Body: standard.Accepted{
		Ref: sheet.Ref{Key: "offset", Vat: 2}, Value: "3", Reason: "probe ordered", Until: w.clock.AddDate(0, 0, 7),
	}})
	f = w.stands()
	assert.Equal(t, []int{1, 1}, []int{f.Wrong(), f.Accepted})
}
