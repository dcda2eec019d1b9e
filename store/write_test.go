package store_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func modelSaved(m fleet.Model) fleet.ModelSaved { return fleet.ModelSaved{Model: m} }

func (w *world) version(query string) uuid.UUID {
	w.t.Helper()
	var id uuid.UUID
	require.NoError(w.t, w.store.Sessions().QueryRow(query).Scan(&id))
	return id
}

// notes gives the texts of the notes on a fryer's timeline, the latest first.
func (w *world) notes(fryer uuid.UUID) []string {
	w.t.Helper()
	history, err := w.store.FryerHistory(w.office, fryer, 0, 100)
	require.NoError(w.t, err)
	var texts []string
	for _, h := range history {
		if h.Kind == snapshot.KindNote {
			texts = append(texts, h.Title+" "+h.Detail)
		}
	}
	return texts
}

func TestAFormSentAgainWithSomethingElseInItLosesNothing(t *testing.T) {
	w := newWorld(t)
	tech, id := w.as(access.Technician), uuid.Must(uuid.NewV7())
	first := w.must(tech, journal.Draft{ID: id, Subject: w.fryer.ID, Body: snapshot.Note{Text: "once"}})[0]
	again := w.must(tech, journal.Draft{ID: id, Subject: w.fryer.ID, Body: snapshot.Note{Text: "once"}})[0]
	assert.Equal(t, first, again, "the entry that is there is given back")
	other := w.must(tech, journal.Draft{ID: id, Subject: w.fryer.ID, Body: snapshot.Note{Text: "and this"}})[0]
	assert.NotEqual(t, id, other.ID)
	assert.Len(t, w.notes(w.fryer.ID), 2)
	require.NoError(t, w.store.Verify(context.Background()))

	d := w.standardDraft(uuid.Nil, "setpoint", "345")
	d.ID = uuid.Must(uuid.NewV7())
	w.must(w.as(access.Dispatcher), d)
	d.Body = w.standardDraft(uuid.Nil, "setpoint", "340").Body
	_, err := w.store.Record(w.as(access.Dispatcher), d)
	assert.Equal(t, fault.Conflict, fault.KindOf(err), "a change still needs the version that it was made on")
}

func TestAReadingIsBegunOnce(t *testing.T) {
	w := newWorld(t)
	snap := w.read(w.office, w.fryer.ID, snapshot.Routine, all(nil))
	_, err := w.store.Record(w.office, journal.Draft{Subject: snap, Body: snapshot.Begun{Fryer: w.foreign.ID, Purpose: snapshot.AsFound}})
	assert.Equal(t, fault.Conflict, fault.KindOf(err))
}

func TestReadingsGoWhereTheirFryerGoes(t *testing.T) {
	w := newWorld(t)
	tech, desk := w.as(access.Technician), w.as(access.Dispatcher)
	snap := w.read(desk, w.foreign.ID, snapshot.Routine, all(nil))
	_, err := w.store.Snapshot(tech, snap)
	require.Equal(t, fault.NotFound, fault.KindOf(err))
	f, version, err := w.store.FryerRecord(desk, w.foreign.ID)
	require.NoError(t, err)
	w.must(desk, journal.Draft{Subject: f.ID, Base: version, Body: fleet.FryerMoved{From: f.Site, To: w.site.ID, Why: "swap"}})
	_, err = w.store.Snapshot(tech, snap)
	require.NoError(t, err, "whoever sees the fryer sees what was read of it")
	site, err := w.store.SiteOfReading(context.Background(), snap)
	require.NoError(t, err)
	assert.Equal(t, w.site.ID, site)
}

func TestEntriesOfADeviceComeInTheirOrder(t *testing.T) {
	w := newWorld(t)
	tom, snap := w.people[access.Technician].ID, uuid.New()
	begun := w.received(tom, w.site.ID, snap, 1, snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.AsFound})
	finished := w.received(tom, w.site.ID, snap, 2, snapshot.Finished{Readings: one("profile", 0, "gas")})
	verdicts, err := w.store.Receive(w.as(access.Technician), []journal.Entry{finished, begun, finished, finished})
	require.NoError(t, err)
	assert.Equal(t, []store.Verdict{store.Gap, store.Accepted, store.Accepted, store.Already}, verdicts)
	assert.Equal(t, 1, w.stands().Right)
	require.NoError(t, w.store.Verify(context.Background()))
}

func TestNobodySendsInAnothersName(t *testing.T) {
	w := newWorld(t)
	e := w.received(w.people[access.Administrator].ID, w.site.ID, w.fryer.ID, 1, snapshot.Note{Text: "as if from the office"})
	verdicts, err := w.store.Receive(w.as(access.Technician), []journal.Entry{e})
	require.NoError(t, err)
	assert.Equal(t, []store.Verdict{store.Quarantined}, verdicts)
	assert.Empty(t, w.notes(w.fryer.ID))
}

func TestWhatWasSetAsideAndAppliedIsTold(t *testing.T) {
	w := newWorld(t)
	mia := w.people[access.Manager].ID
	var sent []journal.Entry
	for i, offset := range []sheet.Value{"3", "5", "0"} {
		sent = append(sent, w.received(mia, w.site.ID, w.fryer.ID, int64(i+1), snapshot.Ticked{Ref: sheet.Ref{Key: "offset", Vat: 1}, Value: offset, Done: true}))
	}
	sent = append(sent, w.received(mia, w.site.ID, w.fryer.ID, 4, snapshot.Note{Text: "pale fries"}))
	_, err := w.store.Receive(w.as(access.Manager), sent)
	require.NoError(t, err)
	desk := w.as(access.Dispatcher)
	// All at one moment and against the order of their ids: what comes last stands.
	for _, i := range []int{2, 0, 1, 3} {
		require.NoError(t, w.store.SettleAside(desk, sent[i].ID, true))
	}
	assert.Len(t, w.notes(w.fryer.ID), 1)
	w.assertRebuildEqual()
	assert.Equal(t, fault.Denied, fault.KindOf(w.store.SettleAside(w.as(access.Technician), sent[0].ID, true)))
}

// TestTheOddsFollowOtherCustomersStandards keeps what is stored equal to what a rebuild makes of the journal.
func TestTheOddsFollowOtherCustomersStandards(t *testing.T) {
	w := newWorld(t)
	desk := w.as(access.Dispatcher)
	w.setStandard(desk, uuid.Nil, "setpoint", "340")
	w.read(desk, w.fryer.ID, snapshot.AsFound, all(map[string]sheet.Value{"setpoint@1": "325", "offset@1": "5", "profile": "plain"}))
	other := fleet.Customer{ID: uuid.New(), Code: "ZZ", Name: "Zealous Crumb"}
	w.must(w.office, journal.Draft{Subject: other.ID, Body: fleet.CustomerSaved{Customer: other}})
	w.must(desk, journal.Draft{Subject: standard.LayerID(standard.OfCustomer, other.ID, w.sheet.ID), Body: standard.Changed{
		Level: standard.OfCustomer, Of: other.ID, Sheet: w.sheet.ID, Why: "theirs", Set: []standard.Value{
			{Ref: sheet.Ref{Key: "setpoint"}, Value: "325"}, {Ref: sheet.Ref{Key: "offset"}, Value: "5"}, {Ref: sheet.Ref{Key: "profile"}, Value: "plain"},
		},
	}})
	w.assertRebuildEqual()
}

func TestTheLastAdministratorStays(t *testing.T) {
	w := newWorld(t)
	ada := w.people[access.Administrator]
	_, version, err := w.store.Person(w.office, ada.ID)
	require.NoError(t, err)
	for _, change := range []func(*person.Person){
		func(p *person.Person) { p.Gone = true },
		func(p *person.Person) { p.Role = access.Dispatcher },
	} {
		p := ada
		change(&p)
		_, err = w.store.Record(w.office, journal.Draft{Subject: p.ID, Base: version, Body: person.Saved{Person: p}})
		assert.Equal(t, fault.Invalid, fault.KindOf(err))
	}
	second := person.Person{ID: uuid.New(), Name: "Bea Office", Email: "bea@frywright.example", Role: access.Administrator}
	w.must(w.office, journal.Draft{Subject: second.ID, Body: person.Saved{Person: second}})
	ada.Gone = true
	w.must(w.office, journal.Draft{Subject: ada.ID, Base: version, Body: person.Saved{Person: ada}})
}

func TestLinksEndWithTheirReason(t *testing.T) {
	w := newWorld(t)
	require.NoError(t, w.store.Invite(w.office, uuid.Nil, "set-up", time.Hour))
	tom := w.people[access.Technician]
	require.NoError(t, w.store.Invite(w.office, tom.ID, "for tom", time.Hour))
	assert.Equal(t, fault.Denied, fault.KindOf(w.store.Invite(w.as(access.Technician), tom.ID, "own", time.Hour)))
	_, version, err := w.store.Person(w.office, tom.ID)
	require.NoError(t, err)
	tom.Gone = true
	w.must(w.office, journal.Draft{Subject: tom.ID, Base: version, Body: person.Saved{Person: tom}})
	_, err = w.store.TakeUp(context.Background(), "for tom", "hash")
	assert.Equal(t, fault.NotFound, fault.KindOf(err), "whoever is gone chooses no password")
	require.NoError(t, w.store.SetPassword(w.office, w.people[access.Administrator].ID, "hash"))
	eve := person.Person{ID: uuid.New(), Name: "Eve", Email: "eve@frywright.example", Role: access.Administrator}
	err = w.store.SetUp(context.Background(), "set-up", eve, "hash")
	assert.Equal(t, fault.NotFound, fault.KindOf(err), "once somebody can sign in there is nothing to set up")
}

func TestSearchTextsHaveLimits(t *testing.T) {
	w := newWorld(t)
	desk := w.as(access.Dispatcher)
	for _, query := range []string{strings.Repeat("t-001 ", 20_000), strings.Repeat("ü", 200_000), `\`, `'%_"`, "\x00"} {
		_, err := w.store.Fryers(desk, state.Filter{Query: query})
		require.NoError(t, err)
		_, err = w.store.Sites(desk, state.SiteFilter{Query: query})
		require.NoError(t, err)
	}
	page, err := w.store.Fryers(desk, state.Filter{Page: 1 << 40, OlderH: 1 << 40})
	require.NoError(t, err)
	assert.Zero(t, page.Number)
	page, err = w.store.Fryers(desk, state.Filter{Page: -3})
	require.NoError(t, err)
	assert.Len(t, page.Fryers, 2)
}

func TestABackupOverwritesNothing(t *testing.T) {
	w := newWorld(t)
	before := w.dump()
	_, err := w.store.Backup(context.Background(), w.path, false)
	assert.Equal(t, fault.Invalid, fault.KindOf(err))
	assert.Equal(t, before, w.dump())
	_, err = w.store.Backup(context.Background(), w.path+"/no/such/folder", false)
	assert.Error(t, err)
	_, err = w.store.Backup(context.Background(), "/no-such-folder/x.db", false)
	assert.NotEmpty(t, fault.MessageOf(err))
}
