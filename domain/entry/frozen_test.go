package entry_test

import (
	"bufio"
	"encoding/json"
	"os"
	"testing"

	"frywright/domain/entry"
	"frywright/domain/journal"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// frozen reads the journal of version 1, as it was written then. Its bytes are never changed: what was recorded once must
// be read for ever.
func frozen(t *testing.T) []journal.Entry {
	t.Helper()
	f, err := os.Open("testdata/v1.jsonl")
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	var list []journal.Entry
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var e journal.Entry
		require.NoError(t, json.Unmarshal(lines.Bytes(), &e))
		list = append(list, e)
	}
	require.NoError(t, lines.Err())
	return list
}

// TestTheJournalOfVersionOneIsReadForEver checks envelope and hash of every entry, reads its body, and writes it again as
// it was.
func TestTheJournalOfVersionOneIsReadForEver(t *testing.T) {
	seen := map[string]bool{}
	for _, e := range frozen(t) {
		require.NoError(t, e.Check())
		body, err := entry.Decode(e)
		require.NoError(t, err, e.Kind)
		require.NoError(t, body.Validate(), e.Kind)
		if spec, _ := entry.Find(e.Kind); spec.Version() == e.V {
			again, err := journal.Encode(body)
			require.NoError(t, err)
			assert.Equal(t, string(e.Body), string(again), "%s is written as it was read", e.Kind)
		}
		seen[e.Kind] = true
	}
	for _, spec := range entry.Specs() {
		if len(spec.Up) == 0 {
			continue
		}
		assert.True(t, seen[spec.Kind], "%s has an older version, but no entry of it was kept", spec.Kind)
	}
	assert.Len(t, seen, 20, "one kind at least that version 1 knew is missing from the frozen journal")
}
