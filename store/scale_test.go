package store_test

import (
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// manyOff is more fryers of others than get new odds at once.
const manyOff = 520

// crowd adds a company with a restaurant of many fryers, all of them read and off.
func (w *world) crowd(code string) fleet.Customer {
	w.t.Helper()
	other := fleet.Customer{ID: uuid.New(), Code: code, Name: "Gull and Gherkin"}
	site := fleet.Site{ID: uuid.New(), Code: code + "-1", Customer: other.ID, Name: "Gullhaven", Zone: "Europe/Dublin", Gas: fleet.NaturalGas}
	w.must(w.office, journal.Draft{Subject: other.ID, Body: fleet.CustomerSaved{Customer: other}}, journal.Draft{Subject: site.ID, Body: fleet.SiteSaved{Site: site}})
	var drafts []journal.Draft
	for i := range manyOff {
		f := fleet.Fryer{ID: uuid.New(), Tag: "G-" + uuid.NewString()[:13], Site: site.ID, Model: w.model.ID}
		reading := uuid.New()
		drafts = append(drafts, journal.Draft{Subject: f.ID, Body: fleet.FryerSaved{Fryer: f}},
			journal.Draft{Subject: reading, Body: snapshot.Begun{Fryer: f.ID, Purpose: snapshot.Routine}},
			journal.Draft{Subject: reading, Body: snapshot.Finished{Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "340"}}}})
		if i%5 == 0 {
			drafts = append(drafts, journal.Draft{Subject: f.ID, Body: snapshot.Event{What: cause.PowerCut, Happened: w.clock.Add(-time.Hour)}})
		}
	}
	w.must(w.office, drafts...)
	w.clock = w.clock.Add(time.Minute)
	return other
}

func TestOddsOfManyOthersWaitForTheRecheck(t *testing.T) {
	w := newWorld(t)
	w.crowd("GG")
	w.clock = w.clock.Add(time.Minute)
	w.setStandard(w.office, uuid.Nil, "setpoint", "340")
	var waiting int
	count := func() int {
		require.NoError(t, w.store.Sessions().QueryRow(`SELECT count(*) FROM standing WHERE recheck_at <> ''`).Scan(&waiting))
		return waiting
	}
	assert.Equal(t, manyOff, count())
	n, err := w.store.Recheck(w.office)
	require.NoError(t, err)
	assert.Equal(t, manyOff, n)
	assert.Zero(t, count())
	w.assertRebuildEqual()
}

func TestCountsOfLongListsSayThatThereAreMore(t *testing.T) {
	w := newWorld(t)
	other := w.crowd("GG")
	w.crowd("GH")
	desk := w.as(access.Dispatcher)
	for name, f := range map[string]state.Filter{"by the tally": {}, "needing hands": {Hands: true}, "of a company": {Customer: other.ID}} {
		page, err := w.store.Fryers(desk, f)
		require.NoError(t, err)
		assert.False(t, page.More, name)
	}
	page, err := w.store.Fryers(desk, state.Filter{})
	require.NoError(t, err)
	assert.Equal(t, 2*manyOff+2, page.Total)
	page, err = w.store.Fryers(desk, state.Filter{Query: "g", PerPage: 30, Page: 2})
	require.NoError(t, err)
	assert.True(t, page.More, "more were found than are worth counting")
	assert.Equal(t, 100, page.Total)
	assert.True(t, page.Beyond(30))
	assert.Len(t, page.Fryers, 30)
	page, err = w.store.Fryers(desk, state.Filter{Query: "gullhaven vexley"})
	require.NoError(t, err)
	assert.Zero(t, page.Total, "every word must be there")
}

func TestTheSweepFindsWhatIsStoredWrongly(t *testing.T) {
	w := newWorld(t)
	w.crowd("GG")
	got, err := w.store.Sweep(w.office)
	require.NoError(t, err)
	assert.Equal(t, state.Sweep{Fryers: manyOff + 2, Settings: 5 * (manyOff + 2), Wrong: manyOff}, got)
	_, err = w.store.Sessions().Exec(`UPDATE standing SET worst = 4 WHERE fryer_id = ?`, w.fryer.ID.String())
	require.NoError(t, err)
	got, err = w.store.Sweep(w.office)
	require.NoError(t, err)
	assert.Equal(t, 1, got.Amiss)
}

func TestAPreviewOfManyIsWhatSavingDoes(t *testing.T) {
	w := newWorld(t)
	other := w.crowd("GG")
	change := standard.Changed{
		Level: standard.OfCustomer, Of: other.ID, Sheet: w.sheet.ID, Why: "house menu",
		Set: []standard.Value{{Ref: sheet.Ref{Key: "setpoint"}, Value: "340"}},
	}
	p, err := w.store.PreviewStandard(w.office, change)
	require.NoError(t, err)
	assert.Equal(t, []int{manyOff, manyOff, manyOff, 0}, []int{p.Fryers, p.Touched, p.ClearedTotal, p.CreatedTotal})
	assert.Len(t, p.Cleared, 50)
	w.must(w.office, journal.Draft{Subject: standard.LayerID(change.Level, change.Of, change.Sheet), Body: change})
	totals, err := w.store.Totals(w.office)
	require.NoError(t, err)
	assert.Zero(t, totals.ByWorst[sheet.Food])
	w.assertRebuildEqual()
}

func TestFryersAreFoundByWhatIsReadOut(t *testing.T) {
	w := newWorld(t)
	f := fleet.Fryer{ID: uuid.New(), Tag: "KF-2071", Site: w.site.ID, Model: w.model.ID, Name: "Café line", Serial: "QX-88-40 1967"}
	made := w.must(w.office, journal.Draft{Subject: f.ID, Body: fleet.FryerSaved{Fryer: f}})
	found := func(query string) bool {
		page, err := w.store.Fryers(w.office, state.Filter{Query: query})
		require.NoError(t, err)
		return len(page.Fryers) == 1 && page.Fryers[0].ID == f.ID
	}
	for _, query := range []string{"kf-2071", "KF2071", "kf-20", "2071", "071", "1967", "qx 88", "qx88401967", "cafe", "CAFÉ", "caf vexley"} {
		assert.True(t, found(query), query)
	}
	for _, query := range []string{"f-2071", "cafes", "vexley lumen"} {
		assert.False(t, found(query), query)
	}
	f.Name, f.Tag = "Second line", "KF-2072"
	w.must(w.office, journal.Draft{Subject: f.ID, Base: made[0].ID, Body: fleet.FryerSaved{Fryer: f}})
	assert.False(t, found("cafe"), "it has another name now")
	assert.True(t, found("second 072"))
	w.site.Name = "Old Harbour"
	_, version, err := w.store.Site(w.office, w.site.ID)
	require.NoError(t, err)
	w.must(w.office, journal.Draft{Subject: w.site.ID, Base: version, Body: fleet.SiteSaved{Site: w.site}})
	assert.True(t, found("harbour second"))
	w.assertRebuildEqual()
}
