package entry_test

import (
	"encoding/json"
	"errors"
	"testing"
	"time"

	"frywright/domain/entry"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// FuzzDecode reads bodies of every kind that another program made. Whatever is found right can be written, and is read again
// as the same; it is filed and judged without a stumble.
func FuzzDecode(f *testing.F) {
	for _, said := range story() {
		raw, err := journal.Encode(said.body)
		require.NoError(f, err)
		for i, s := range entry.Specs() {
			if s.Kind == said.body.Kind() {
				f.Add(uint8(i), 1, string(raw))
			}
		}
	}
	f.Add(uint8(8), 1, `{"until":"9999-12-31T23:59:59-12:00","ref":{"key":"a"},"value":"1","reason":"x"}`)
	f.Add(uint8(0), 0, `null`)
	f.Fuzz(func(t *testing.T, which uint8, version int, body string) {
		spec := entry.Specs()[int(which)%len(entry.Specs())]
		b, err := entry.Decode(journal.Entry{Kind: spec.Kind, V: version, Body: json.RawMessage(body)})
		if err != nil {
			require.Equal(t, version < 1 || version > spec.Version(), errors.Is(err, entry.ErrUnknown))
			return
		}
		entry.SubjectOf(b)
		require.NotEmpty(t, entry.Stream(uuid.Nil, b))
		require.NotEmpty(t, entry.ActionFor(b))
		if b.Validate() != nil {
			return
		}
		raw, err := journal.Encode(b)
		require.NoError(t, err, "what is right can be written")
		again, err := entry.Decode(journal.Entry{Kind: spec.Kind, V: spec.Version(), Body: raw})
		require.NoError(t, err)
		require.NoError(t, again.Validate(), "and is right again")
		if saved, ok := again.(sheet.Saved); ok {
			judged(&saved.Sheet)
		}
	})
}

// judged lays a sheet out for every appliance and judges its interlocks over its factory values.
func judged(s *sheet.Sheet) {
	for _, energy := range []sheet.Energy{sheet.Gas, sheet.Electric} {
		for _, pot := range []sheet.Pot{sheet.SinglePot, sheet.SplitPot} {
			a := sheet.Appliance{Energy: energy, Pot: pot}
			x := standard.Lay(s, a, nil)
			x.Breaches()
			for _, p := range s.Places(a) {
				_ = p.Setting.Range() + p.Setting.Show(p.Setting.Factory)
				p.Setting.Differ(p.Setting.Factory, x.Value(p.Ref))
			}
		}
	}
}

// TestEveryKindOfAChangeNamesItsSubject: what changes a record says which, so that its envelope can be held to it.
func TestEveryKindOfAChangeNamesItsSubject(t *testing.T) {
	for _, said := range story() {
		if own := entry.SubjectOf(said.body); own != uuid.Nil {
			assert.Equal(t, said.subject, own, said.body.Kind())
		}
	}
	assert.Equal(t, uuid.Nil, entry.SubjectOf(nil))
}

func TestOrdinaryTimes(t *testing.T) {
	for at, want := range map[time.Time]bool{
		time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC): true,
		time.Unix(0, 0): true,
		time.Date(2199, 12, 31, 23, 59, 59, 0, time.UTC):                  true,
		time.Date(1969, 12, 31, 23, 0, 0, 0, time.FixedZone("", -2*3600)): true,
		time.Unix(-1, 0): false,
		time.Date(2199, 12, 31, 23, 59, 59, 0, time.FixedZone("", -3600)): false,
		time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC):                          false,
		{}:                                                                false,
	} {
		assert.Equal(t, want, journal.Ordinary(at), at)
	}
}
