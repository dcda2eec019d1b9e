package bench

import (
	"crypto/sha256"
	"encoding/hex"
	"testing"

	"frywright/domain/entry"
	"frywright/domain/journal"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// told is the whole journal of a plan, hashed.
func told(t *testing.T, p Plan) (hash string, entries int) {
	t.Helper()
	sum := sha256.New()
	for f, err := range p.Tell() {
		require.NoError(t, err)
		sum.Write([]byte(f.Entry.Hash + journal.FormatTime(f.Entry.ReceivedAt) + f.Fryer.String()))
		entries++
	}
	return hex.EncodeToString(sum.Sum(nil)), entries
}

func TestTheSamePlanTellsTheSame(t *testing.T) {
	p := Plan{Seed: 7, Fryers: 200}
	first, n := told(t, p)
	again, _ := told(t, p)
	other, _ := told(t, Plan{Seed: 8, Fryers: 200})
	assert.Equal(t, 200*entriesPerFryer, n)
	assert.Equal(t, first, again)
	assert.NotEqual(t, first, other)
}

// TestEveryEntryIsWhatThePhoneWouldSend: the envelope is whole, the body is one that a person could have recorded, numbers
// follow each other on every device, and what an entry is about was there before it.
func TestEveryEntryIsWhatThePhoneWouldSend(t *testing.T) {
	last := map[uuid.UUID]int64{}
	there := map[uuid.UUID]bool{}
	for f, err := range (Plan{Seed: 3, Fryers: 300}).Tell() {
		require.NoError(t, err)
		e := f.Entry
		require.NoError(t, e.Check())
		require.NoError(t, f.Body.Validate(), e.Kind)
		body, err := entry.Decode(e)
		require.NoError(t, err)
		raw, err := journal.Encode(body)
		require.NoError(t, err)
		require.JSONEq(t, string(e.Body), string(raw))
		require.Equal(t, last[e.Device]+1, e.N)
		last[e.Device] = e.N
		if f.Fryer != uuid.Nil && e.Subject != f.Fryer {
			require.True(t, there[f.Fryer], "%s before its fryer", e.Kind)
		}
		require.False(t, e.ReceivedAt.Before(e.At))
		there[e.Subject] = true
	}
}

func TestPlansThatMakeNoFleet(t *testing.T) {
	for _, fryers := range []int{0, 190, 205} {
		for _, err := range (Plan{Fryers: fryers}).Tell() {
			require.ErrorContains(t, err, "at least 200 fryers")
		}
	}
}

// TestWhoeverHearsEnoughCanStop: a story that is told no further costs nothing more.
func TestWhoeverHearsEnoughCanStop(t *testing.T) {
	n := 0
	for _, err := range (Plan{Seed: 1, Fryers: 200}).Tell() {
		require.NoError(t, err)
		if n++; n == 500 {
			break
		}
	}
	assert.Equal(t, 500, n)
}

func TestEveryControllerTypeIsWhole(t *testing.T) {
	for _, k := range kits(func() uuid.UUID { return uuid.New() }) {
		require.NoError(t, k.sheet.Validate())
		require.Len(t, k.sheet.Settings, 40)
		for _, m := range k.models {
			require.Len(t, k.sheet.Places(m.Appliance()), 40)
			for n := range mostCustomers {
				x := standard.Lay(&k.sheet, m.Appliance(), []standard.Layer{{Level: standard.OfCustomer, Sets: sets(house(&k.sheet, n))}})
				require.Empty(t, x.Breaches(), "customer %d", n)
				informative := 0
				for i := range x.List {
					require.NoError(t, x.List[i].Setting.Check(x.List[i].Value))
					if x.List[i].Informative() {
						informative++
					}
				}
				require.GreaterOrEqual(t, informative, 10)
			}
		}
	}
}

func TestAreasAreToldApart(t *testing.T) {
	seen := map[string]bool{}
	for i := range 250 {
		require.False(t, seen[areaName(i)], areaName(i))
		seen[areaName(i)] = true
	}
}
