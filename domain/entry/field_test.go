package entry_test

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"os"
	"reflect"
	"slices"
	"testing"

	"frywright/domain/entry"
	"frywright/domain/journal"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// everyField is a second journal of version 1, a line an entry, that fills every field of every kind. It is never changed:
// a new version of a kind gets a file of its own, and an upcaster.
const (
	everyField    = "testdata/v1-every-field.jsonl"
	everyFieldSum = "06c9e6afae73d654793f308ae9937f50e0b237bd94120693a288dfe4873f6f47"
)

func lines(t *testing.T) []journal.Entry {
	t.Helper()
	raw, err := os.ReadFile(everyField)
	require.NoError(t, err)
	sum := sha256.Sum256(raw)
	require.Equal(t, everyFieldSum, hex.EncodeToString(sum[:]), "what was released never changes")
	var entries []journal.Entry
	for scan := bufio.NewScanner(bytes.NewReader(raw)); scan.Scan(); {
		var e journal.Entry
		require.NoError(t, json.Unmarshal(scan.Bytes(), &e))
		entries = append(entries, e)
	}
	return entries
}

func TestEveryFieldOfVersionOneIsRead(t *testing.T) {
	entries, told := lines(t), story()
	require.Len(t, entries, len(told))
	kinds := map[string]bool{}
	for i, e := range entries {
		kinds[e.Kind] = true
		assert.Equal(t, 1, e.V)
		assert.Equal(t, device, e.Device)
		assert.Equal(t, int64(i+1), e.N)
		require.NoError(t, e.Check(), e.Kind)
		body, err := entry.Decode(e)
		require.NoError(t, err, e.Kind)
		assert.Equal(t, told[i].body, body)
		assert.NoError(t, body.Validate(), e.Kind)
		assert.Equal(t, told[i].subject, e.Subject)
		assert.Equal(t, told[i].base, e.Base)
		assert.Equal(t, told[i].site, e.Site)
	}
	for _, s := range entry.Specs() {
		assert.True(t, kinds[s.Kind], "the sample journal has no %s; give kinds that came later a file of their own", s.Kind)
	}
}

// TestWhatIsEncodedIsDecoded writes and reads a body of every kind; what is written is what was released.
func TestWhatIsEncodedIsDecoded(t *testing.T) {
	entries := lines(t)
	for i, said := range story() {
		kind := said.body.Kind()
		raw, err := journal.Encode(said.body)
		require.NoError(t, err, kind)
		assert.Equal(t, string(entries[i].Body), string(raw), "the fields of a released version keep their names and their order")
		spec, ok := entry.Find(kind)
		require.True(t, ok, kind)
		again, err := entry.Decode(journal.Entry{Kind: kind, V: spec.Version(), Body: raw})
		require.NoError(t, err, kind)
		assert.Equal(t, said.body, again)
	}
}

// TestTheSamplesAreFull makes sure that no field of any body is left out of the samples, so that one that is not written
// would be missed.
func TestTheSamplesAreFull(t *testing.T) {
	byKind := map[string][]reflect.Value{}
	for _, said := range story() {
		byKind[said.body.Kind()] = append(byKind[said.body.Kind()], reflect.ValueOf(said.body))
	}
	for kind, samples := range byKind {
		assert.Empty(t, empty(kind, samples), "fields that no sample fills")
	}
}

// empty lists the fields that none of the values fills.
func empty(path string, values []reflect.Value) []string {
	values = slices.DeleteFunc(values, func(v reflect.Value) bool { return v.IsZero() })
	if len(values) == 0 {
		return []string{path}
	}
	var inner []reflect.Value
	switch t := values[0].Type(); {
	case t.Kind() == reflect.Slice && t.Elem().Kind() != reflect.Uint8:
		for _, v := range values {
			for i := range v.Len() {
				inner = append(inner, v.Index(i))
			}
		}
		return empty(path, inner)
	case t.Kind() == reflect.Struct && t.PkgPath() != "time":
		var missing []string
		for i := range t.NumField() {
			inner = nil
			for _, v := range values {
				inner = append(inner, v.Field(i))
			}
			missing = append(missing, empty(path+"."+t.Field(i).Name, inner)...)
		}
		return missing
	}
	return nil
}
