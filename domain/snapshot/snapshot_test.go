package snapshot_test

import (
	"strings"
	"testing"
	"time"

	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
)

func TestBodiesSayWhatIsWrongWithThem(t *testing.T) {
	ref := sheet.Ref{Key: "setpoint", Vat: 1}
	fryer, at := uuid.MustParse("0192f3a0-0000-7000-8000-000000000001"), time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC)
	reading := func(r snapshot.Reading) journal.Body { return snapshot.Read{Readings: []snapshot.Reading{r}} }
	for name, c := range map[string]struct {
		body  journal.Body
		field string // empty: nothing is wrong
	}{
		"begun":                  {snapshot.Begun{Fryer: fryer, Purpose: snapshot.AsFound}, ""},
		"begun at no fryer":      {snapshot.Begun{Purpose: snapshot.AsFound}, "fryer"},
		"begun for nothing":      {snapshot.Begun{Fryer: fryer, Purpose: "curious"}, "purpose"},
		"read":                   {reading(snapshot.Reading{Ref: ref, Value: "350"}), ""},
		"skipped":                {reading(snapshot.Reading{Ref: ref, Skipped: true}), ""},
		"skipped and known":      {reading(snapshot.Reading{Ref: ref, Skipped: true, Value: "350"}), "value"},
		"nothing read":           {snapshot.Read{}, "value"},
		"a third vat":            {reading(snapshot.Reading{Ref: sheet.Ref{Key: "setpoint", Vat: 3}, Value: "350"}), "value"},
		"too long a value":       {reading(snapshot.Reading{Ref: ref, Value: sheet.Value(strings.Repeat("3", 201))}), "value"},
		"too many":               {snapshot.Finished{Readings: make([]snapshot.Reading, 1501)}, "readings"},
		"finished":               {snapshot.Finished{Note: "key holder was out"}, ""},
		"dropped at length":      {snapshot.Dropped{Why: strings.Repeat("x", 4001)}, "why"},
		"an event":               {snapshot.Event{What: cause.PowerCut, Happened: at}, ""},
		"an event before clocks": {snapshot.Event{What: cause.PowerCut, Happened: time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)}, "happened"},
		"a value turned round":   {snapshot.Read{Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "a"}, Value: "3\u202e40"}}}, "value"},
		"typed and damaged":      {snapshot.Read{Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "a"}, Value: "340", Typed: "340\xff"}}}, "value"},
		"a key like a page":      {snapshot.Read{Readings: []snapshot.Reading{{Ref: sheet.Ref{Key: "<b>"}, Value: "340"}}}, "value"},
		"an event of no kind":    {snapshot.Event{What: "ghost", Happened: at}, "what"},
		"an event at no time":    {snapshot.Event{What: cause.PowerCut}, "happened"},
		"an empty note":          {snapshot.Note{Text: " "}, "text"},
		"ticked":                 {snapshot.Ticked{Ref: ref, Value: "350", Done: true}, ""},
		"nothing ticked":         {snapshot.Ticked{}, "ref"},
		"ticked with too much":   {snapshot.Ticked{Ref: ref, Value: sheet.Value(strings.Repeat("3", 201))}, "value"},
		"ticked at a wrong vat":  {snapshot.Ticked{Ref: sheet.Ref{Key: "setpoint", Vat: 9}}, "ref"},
	} {
		t.Run(name, func(t *testing.T) {
			err := c.body.Validate()
			if c.field == "" {
				assert.NoError(t, err)
				return
			}
			assert.Equal(t, fault.Invalid, fault.KindOf(err))
			assert.Equal(t, c.field, fault.FieldsOf(err)[0].Name)
		})
	}
}

func TestOnlyWhatWasReadIsKnown(t *testing.T) {
	a, b := sheet.Ref{Key: "a"}, sheet.Ref{Key: "b"}
	s := snapshot.Snapshot{Readings: map[sheet.Ref]snapshot.Reading{a: {Ref: a, Value: "1"}, b: {Ref: b, Skipped: true}}}
	assert.Equal(t, map[sheet.Ref]sheet.Value{a: "1"}, s.Values())
	assert.True(t, s.Open())
	s.Dropped = true
	assert.False(t, s.Open())
}
