package state_test

import (
	"testing"
	"time"

	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"

	"github.com/stretchr/testify/assert"
)

func TestEntriesInPlainWords(t *testing.T) {
	set := []standard.Value{{Ref: sheet.Ref{Key: "offset"}, Value: "4"}}
	for _, c := range []struct {
		body journal.Body
		want string
	}{
		{standard.Changed{Level: standard.OfFryer, Set: set}, "Changed this fryer's own standard: 1 value set"},
		{standard.Changed{Level: standard.OfCustomer, Set: set, Clear: []sheet.Ref{{Key: "pilot"}, {Key: "lifts"}}}, "Changed the customer standard: 1 value set, 2 values cleared"},
		// The last day is a matter of the restaurant's zone, which is not known here.
		{standard.Accepted{Until: time.Date(2026, 12, 25, 5, 0, 0, 0, time.UTC)}, "Difference accepted"},
		{snapshot.Finished{}, "Read as found: 3 values"},
	} {
		assert.Equal(t, c.want, state.Tell(c.body, snapshot.AsFound, 3).Title)
	}
}
