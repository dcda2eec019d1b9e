package store_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"os"
	"testing"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/state"

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
	fryers := map[uuid.UUID]bool{}
	for lines.Scan() {
		var e journal.Entry
		require.NoError(t, json.Unmarshal(lines.Bytes(), &e))
		if e.Kind == fleet.KindFryerSaved {
			fryers[e.Subject] = true
		}
		_, err := w.store.Sessions().Exec(`INSERT INTO entry (id, device, n, kind, v, at, zone, skew_ms, author, site, subject, base, body, hash, received_at, stream)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 'company')`, e.ID.String(), e.Device.String(), e.N, e.Kind, e.V, journal.FormatTime(e.At), e.Zone,
			e.SkewMillis, idOrNone(e.Author.String()), idOrNone(e.Site.String()), e.Subject.String(), idOrNone(e.Base.String()), string(e.Body), e.Hash, journal.FormatTime(e.ReceivedAt))
		require.NoError(t, err)
		n++
	}
	require.NoError(t, lines.Err())
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

// idOrNone stores an id as the journal does: the nil id as the empty text.
func idOrNone(id string) string {
	if id == "00000000-0000-0000-0000-000000000000" {
		return ""
	}
	return id
}
