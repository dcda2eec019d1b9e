package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
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
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEntryHasTheWholeEnvelope(t *testing.T) {
	w := newWorld(t)
	ctx := w.as(access.Technician)
	e := w.must(ctx, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: "the lid <sticks> & squeaks"}})[0]
	require.NoError(t, e.Check())
	assert.Equal(t, w.people[access.Technician].ID, e.Author)
	assert.Equal(t, w.site.ID, e.Site, "the store works out the site")
	assert.Equal(t, "Europe/Dublin", e.Zone)
	assert.Equal(t, w.clock, e.At)
	assert.Positive(t, e.Seq)
	assert.Contains(t, string(e.Body), "<sticks> &", "bodies are stored without HTML escaping")
	next := w.must(ctx, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: "again"}})[0]
	assert.Equal(t, e.N+1, next.N, "numbers of a device are consecutive")
	require.NoError(t, w.store.Verify(context.Background()))
}

func TestSameEntryTwiceIsOnce(t *testing.T) {
	w := newWorld(t)
	ctx := w.as(access.Technician)
	d := journal.Draft{ID: uuid.Must(uuid.NewV7()), Subject: w.fryer.ID, Body: snapshot.Note{Text: "once"}}
	w.must(ctx, d)
	w.must(ctx, d)
	history, err := w.store.FryerHistory(ctx, w.fryer.ID, 0, 50)
	require.NoError(t, err)
	notes := 0
	for _, h := range history {
		if h.Kind == snapshot.KindNote {
			notes++
		}
	}
	assert.Equal(t, 1, notes)
	require.NoError(t, w.store.Verify(context.Background()), "a repeated post leaves no gap in the numbers")
}

func TestAllDraftsOrNone(t *testing.T) {
	w := newWorld(t)
	ctx := w.as(access.Technician)
	_, err := w.store.Record(ctx,
		journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: "good"}},
		journal.Draft{Subject: w.foreign.ID, Body: snapshot.Note{Text: "not mine"}})
	assert.Equal(t, fault.NotFound, fault.KindOf(err), "a foreign site looks as if it did not exist")
	history, err := w.store.FryerHistory(ctx, w.fryer.ID, 0, 50)
	require.NoError(t, err)
	for _, h := range history {
		assert.NotEqual(t, snapshot.KindNote, h.Kind)
	}
}

func TestPermissionIsDecidedInsideTheWrite(t *testing.T) {
	w := newWorld(t)
	manager := w.as(access.Manager)
	_, err := w.store.Record(manager, journal.Draft{Subject: uuid.New(), Body: snapshot.Begun{Fryer: w.fryer.ID, Purpose: snapshot.AsFound}})
	assert.Equal(t, fault.Denied, fault.KindOf(err))
	technician := w.as(access.Technician)
	_, err = w.store.Record(technician, w.standardDraft(uuid.Nil, "setpoint", "345"))
	assert.Equal(t, fault.Denied, fault.KindOf(err))
	gone := w.people[access.Technician]
	gone.Gone = true
	p, version, err := w.store.Person(w.office, gone.ID)
	require.NoError(t, err)
	require.Equal(t, "Tom Tech", p.Name)
	w.must(w.office, journal.Draft{Subject: gone.ID, Base: version, Body: person.Saved{Person: gone}})
	_, err = w.store.Record(technician, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: "still here?"}})
	assert.Equal(t, fault.SignedOut, fault.KindOf(err), "who has left since signing in may write nothing")
}

func TestNothingIsOverwrittenUnseen(t *testing.T) {
	w := newWorld(t)
	desk := w.as(access.Dispatcher)
	first := w.setStandard(desk, uuid.Nil, "setpoint", "345")
	_, err := w.store.Record(desk, w.standardDraft(uuid.Nil, "setpoint", "340"))
	require.Equal(t, fault.Conflict, fault.KindOf(err))
	assert.Contains(t, fault.MessageOf(err), "Dee Desk")
	w.setStandard(desk, first.ID, "setpoint", "340")
	history, err := w.store.LayerHistory(desk, standard.OfCustomer, w.customer.ID, w.sheet.ID)
	require.NoError(t, err)
	assert.Len(t, history, 2, "every version is kept")
}

func TestComplaintsAboutReferences(t *testing.T) {
	w := newWorld(t)
	for name, c := range map[string]struct {
		draft journal.Draft
		field string
	}{
		"tag taken":        {journal.Draft{Body: fleet.FryerSaved{Fryer: fleet.Fryer{ID: uuid.New(), Tag: "t-001", Site: w.site.ID, Model: w.model.ID}}}, "tag"},
		"no such model":    {journal.Draft{Body: fleet.FryerSaved{Fryer: fleet.Fryer{ID: uuid.New(), Tag: "T-9", Site: w.site.ID, Model: uuid.New()}}}, "model"},
		"value off sheet":  {w.standardDraft(uuid.Nil, "setpoint", "900"), "setpoint"},
		"no such setting":  {w.standardDraft(uuid.Nil, "nonsense", "1"), "nonsense"},
		"accepted too far": {journal.Draft{Subject: w.fryer.ID, Body: standard.Accepted{Ref: sheet.Ref{Key: "offset", Vat: 1}, Value: "3", Reason: "x", Until: w.clock.AddDate(3, 0, 0)}}, "until"},
	} {
		t.Run(name, func(t *testing.T) {
			if c.draft.Subject == uuid.Nil {
				c.draft.Subject = uuid.New()
			}
			_, err := w.store.Record(w.office, c.draft)
			require.Equal(t, fault.Invalid, fault.KindOf(err), "%v", err)
			require.NotEmpty(t, fault.FieldsOf(err))
			assert.Equal(t, c.field, fault.FieldsOf(err)[0].Name)
		})
	}
}

// received makes an entry as another device would send it.
func (w *world) received(author, site, subject uuid.UUID, n int64, body journal.Body) journal.Entry {
	raw, err := journal.Encode(body)
	require.NoError(w.t, err)
	e := journal.Entry{
		ID: uuid.Must(uuid.NewV7()), Device: phone, N: n, Kind: body.Kind(), V: 1, At: w.clock, Zone: "Europe/Dublin",
		Author: author, Site: site, Subject: subject, Body: raw,
	}
	e.Hash, err = e.Sum()
	require.NoError(w.t, err)
	return e
}

var phone = uuid.MustParse("0192f3a0-0000-7000-8000-000000000001")

func TestReceivedEntriesAreNeverRefused(t *testing.T) {
	w := newWorld(t)
	tom, mia := w.people[access.Technician].ID, w.people[access.Manager].ID
	note := snapshot.Note{Text: "from the basement"}
	good := w.received(tom, w.site.ID, w.fryer.ID, 1, note)
	unauthorised := w.received(mia, w.site.ID, w.fryer.ID, 2, note)
	newer := w.received(tom, w.site.ID, w.fryer.ID, 3, note)
	newer.V = 99
	newer.Hash, _ = newer.Sum()
	damaged := w.received(tom, w.site.ID, w.fryer.ID, 4, note)
	damaged.Hash = strings.Repeat("0", 64)
	wrongSite := w.received(tom, w.site.ID, w.foreign.ID, 5, note)
	fork := w.received(tom, w.site.ID, w.fryer.ID, 1, snapshot.Note{Text: "a restored phone"})

	verdicts, err := w.store.Receive(w.office, []journal.Entry{good, unauthorised, newer, damaged, wrongSite, fork, good})
	require.NoError(t, err)
	assert.Equal(t, []store.Verdict{
		store.Accepted, store.Quarantined, store.Quarantined, store.Quarantined, store.Quarantined, store.Fork, store.Already,
	}, verdicts)
	aside, err := w.store.SetAside(w.as(access.Dispatcher))
	require.NoError(t, err)
	require.Len(t, aside, 4)

	desk := w.as(access.Dispatcher)
	require.NoError(t, w.store.SettleAside(desk, unauthorised.ID, true), "the desk may stand in for the manager")
	assert.Equal(t, fault.Invalid, fault.KindOf(w.store.SettleAside(desk, damaged.ID, true)))
	require.NoError(t, w.store.SettleAside(desk, damaged.ID, false))
	assert.Equal(t, fault.NotFound, fault.KindOf(w.store.SettleAside(desk, damaged.ID, false)), "settled once")
	w.assertRebuildEqual()
}

// dumped are the projections and the columns that give their rows an order.
var dumped = map[string]string{
	"customer": "1", "site": "1", "sheet": "1", "model": "1", "fryer": "1", "layer": "1", "layer_value": "1, 2, 3", "acceptance": "1, 2, 3",
	"site_rule": "1, 2", "person": "1", "person_site": "1, 2", "snapshot": "1", "event": "1", "tick": "1, 2, 3", "known": "1", "standing": "1",
	"fryer_word": "1, 2", "site_word": "1, 2",
	"tally WHERE n > 0": "1, 2, 3, 4, 5, 6, 7", // what no fryer stands like any more may stay with none
}

// dump gives every row of every projection as text.
func (w *world) dump() string {
	w.t.Helper()
	var b strings.Builder
	for _, table := range slices.Sorted(maps.Keys(dumped)) {
		w.dumpTable(&b, table)
	}
	return b.String()
}

func (w *world) dumpTable(b *strings.Builder, table string) {
	w.t.Helper()
	rows, err := w.store.Sessions().Query(`SELECT * FROM ` + table + ` ORDER BY ` + dumped[table])
	require.NoError(w.t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(w.t, err)
	for rows.Next() {
		values := make([]any, len(columns))
		for i := range values {
			values[i] = new(sql.NullString)
		}
		require.NoError(w.t, rows.Scan(values...))
		b.WriteString(table)
		for _, v := range values {
			fmt.Fprintf(b, "|%s", v.(*sql.NullString).String)
		}
		b.WriteString("\n")
	}
	require.NoError(w.t, rows.Err())
}

func (w *world) assertRebuildEqual() {
	w.t.Helper()
	before := w.dump()
	_, err := w.store.Rebuild(context.Background())
	require.NoError(w.t, err)
	require.Equal(w.t, before, w.dump())
}

// TestRebuildEqualsForEveryKind records at least one entry of each kind and compares all projections before and after a
// rebuild.
func TestRebuildEqualsForEveryKind(t *testing.T) {
	w := newWorld(t)
	w.liveALittle()
	kinds := map[string]int{}
	rows, err := w.store.Sessions().Query(`SELECT kind, count(*) FROM entry GROUP BY kind`)
	require.NoError(t, err)
	defer rows.Close()
	for rows.Next() {
		var k string
		var n int
		require.NoError(t, rows.Scan(&k, &n))
		kinds[k] = n
	}
	require.NoError(t, rows.Err())
	for _, spec := range everyKind() {
		assert.Positive(t, kinds[spec], "no entry of kind %s was recorded: add one to liveALittle", spec)
	}
	w.assertRebuildEqual()
	require.NoError(t, w.store.Verify(context.Background()))
}

func TestReopenKeepsEverything(t *testing.T) {
	w := newWorld(t)
	w.liveALittle()
	before := w.dump()
	require.NoError(t, w.store.Close())
	w.open()
	assert.Equal(t, before, w.dump())
	e := w.must(w.office, journal.Draft{Subject: w.fryer.ID, Body: snapshot.Note{Text: "after"}})[0]
	require.NoError(t, w.store.Verify(context.Background()), "numbers go on after entry %d", e.N)
}

func TestBackupIsAWholeCopy(t *testing.T) {
	w := newWorld(t)
	w.liveALittle()
	path := w.path + ".copy"
	held, err := w.store.Backup(context.Background(), path, true)
	require.NoError(t, err)
	now, err := w.store.Content(context.Background())
	require.NoError(t, err)
	assert.Equal(t, now, held)
	before := w.dump()
	copied := *w
	copied.path = path
	copied.open()
	assert.Equal(t, before, copied.dump())
	require.NoError(t, copied.store.Verify(context.Background()))
}

func TestClockOfAnEntryIsTheStores(t *testing.T) {
	w := newWorld(t)
	past := w.clock.AddDate(-1, 0, 0)
	e := w.must(w.as(access.Technician), journal.Draft{At: past, Subject: w.fryer.ID, Body: snapshot.Note{Text: "backdated?"}})[0]
	assert.Equal(t, w.clock, e.At, "only the program itself may record for another time")
	e = w.must(w.office, journal.Draft{At: past, Author: w.people[access.Technician].ID, Subject: w.fryer.ID, Body: snapshot.Note{Text: "history"}})[0]
	assert.Equal(t, past, e.At)
	assert.Equal(t, w.people[access.Technician].ID, e.Author)
	assert.WithinDuration(t, w.clock, e.ReceivedAt, time.Second)
}
