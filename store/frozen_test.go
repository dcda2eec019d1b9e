package store_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"os"
	"testing"

	"frywright/domain/access"
	"frywright/domain/entry"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/domain/state"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTheJournalOfVersionOneIsReplayed puts the frozen journal of version 1 into an empty database and makes every table
// from it.
func TestTheJournalOfVersionOneIsReplayed(t *testing.T) {
	w := newWorld(t)
	require.NoError(t, w.store.Close())
	w.path += ".frozen"
	w.open()
	data, err := os.ReadFile("../domain/entry/testdata/v1.jsonl")
	require.NoError(t, err)
	lines := bufio.NewScanner(bytes.NewReader(data))
	lines.Buffer(nil, 1<<20)
	n := 0
	fryers, of := map[uuid.UUID]bool{}, map[uuid.UUID]uuid.UUID{}
	loaded, err := w.store.Load(context.Background(), func(yield func(store.Filed, error) bool) {
		for lines.Scan() {
			var e journal.Entry
			require.NoError(t, json.Unmarshal(lines.Bytes(), &e))
			body, err := entry.Decode(e)
			require.NoError(t, err)
			switch b := body.(type) {
			case fleet.FryerSaved:
				fryers[e.Subject], of[e.Subject] = true, e.Subject
			case snapshot.Begun:
				of[e.Subject] = b.Fryer
			}
			n++
			if !yield(store.Filed{Entry: e, Body: body, Fryer: of[e.Subject]}, nil) {
				return
			}
		}
	})
	require.NoError(t, err)
	require.NoError(t, lines.Err())
	assert.Equal(t, n, loaded)
	replayed, err := w.store.Rebuild(context.Background())
	require.NoError(t, err)
	assert.Equal(t, n, replayed)
	require.NoError(t, w.store.Verify(context.Background()))
	ctx := access.NewContext(context.Background(), access.Actor{System: true, Role: access.Administrator})
	page, err := w.store.Fryers(ctx, state.Filter{})
	require.NoError(t, err)
	require.Len(t, fryers, page.Total)
	assert.Positive(t, page.Fryers[0].Places, "how the fryer stands is worked out from what was recorded then")
}
