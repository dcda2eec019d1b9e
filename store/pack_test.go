package store

import (
	"testing"
	"time"

	"frywright/domain/sheet"
	"frywright/domain/snapshot"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// drawRef draws a ref; keys are any text, for what is packed was accepted once.
func drawRef(t *rapid.T) sheet.Ref {
	return sheet.Ref{Key: rapid.String().Draw(t, "key"), Vat: rapid.IntRange(-1, 4).Draw(t, "vat")}
}

func drawTime(t *rapid.T) time.Time {
	return time.UnixMilli(rapid.Int64Range(-1e12, 4e12).Draw(t, "at")).UTC()
}

func TestReadingsArePackedAndReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all, known := map[sheet.Ref]storedReading{}, knownValues{}
		for range rapid.IntRange(0, 40).Draw(t, "n") {
			r := storedReading{Reading: snapshot.Reading{
				Ref: drawRef(t), Value: sheet.Value(rapid.String().Draw(t, "value")), Typed: rapid.String().Draw(t, "typed"),
				AsExpected: rapid.Bool().Draw(t, "as expected"), Skipped: rapid.Bool().Draw(t, "skipped"),
			}, At: drawTime(t)}
			all[r.Ref] = r
			known[r.Ref] = knownValue{r.Ref, r.Value, r.At, drawTime(t)}
		}
		gotAll, err := unpackReadings(packReadings(all))
		require.NoError(t, err)
		assert.Equal(t, all, gotAll)
		gotKnown, err := unpackKnown(known.pack())
		require.NoError(t, err)
		assert.Equal(t, known, gotKnown)
	})
}

func TestDamagedPacksAreSaidToBe(t *testing.T) {
	at := time.UnixMilli(1_790_000_000_000).UTC()
	known := knownValues{}
	for _, key := range []string{"setpoint", "offset", "profile"} {
		ref := sheet.Ref{Key: key, Vat: 1}
		known[ref] = knownValue{ref, "350", at, at.Add(-time.Hour)}
	}
	packed := known.pack()
	for cut := 1; cut < len(packed); cut++ {
		_, err := unpackKnown(packed[:cut])
		require.ErrorIs(t, err, errPacked, "cut off after %d of %d bytes", cut, len(packed))
	}
	packed[0]++
	_, err := unpackKnown(packed)
	require.ErrorIs(t, err, errPacked, "a format of another program")
}

// FuzzUnpack reads anything as packed readings: it says that they are damaged, or reads them.
func FuzzUnpack(f *testing.F) {
	ref := sheet.Ref{Key: "setpoint", Vat: 1}
	at := time.UnixMilli(1_790_000_000_000).UTC()
	f.Add(packReadings(map[sheet.Ref]storedReading{ref: {snapshot.Reading{Ref: ref, Value: "350", Typed: "350 F"}, at}}))
	f.Add(knownValues{ref: {ref, "350", at, at}}.pack())
	f.Add([]byte{1, 0xff, 0xff, 0xff, 0xff, 0x0f})
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := unpackReadings(data)
		if err == nil {
			again, err := unpackReadings(packReadings(all))
			require.NoError(t, err)
			require.Equal(t, all, again)
		}
		_, _ = unpackKnown(data)
	})
}
