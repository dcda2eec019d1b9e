package entry_test

import (
	"encoding/json"
	"errors"
	"testing"

	"frywright/domain/access"
	"frywright/domain/entry"
	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEveryKindIsReadAndGuarded(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range entry.Specs() {
		assert.False(t, seen[s.Kind], "%s twice", s.Kind)
		seen[s.Kind] = true
		assert.Contains(t, access.Actions(), s.Action, s.Kind)
		b, err := entry.Decode(journal.Entry{Kind: s.Kind, V: s.Version(), Body: json.RawMessage(`{"of_a_newer_program":1}`)})
		require.NoError(t, err, "a field that is not known here is passed over")
		assert.Equal(t, s.Kind, b.Kind())
		assert.Equal(t, s.Action, entry.ActionFor(b), s.Kind)
		_, err = entry.Decode(journal.Entry{Kind: s.Kind, V: s.Version() + 1, Body: json.RawMessage(`{}`)})
		assert.ErrorIs(t, err, entry.ErrUnknown)
		_, err = entry.Decode(journal.Entry{Kind: s.Kind, V: s.Version(), Body: json.RawMessage(`[`)})
		assert.True(t, err != nil && !errors.Is(err, entry.ErrUnknown), "damaged is not unknown")
	}
	_, err := entry.Decode(journal.Entry{Kind: "fryer.sang", V: 1, Body: json.RawMessage(`{}`)})
	assert.ErrorIs(t, err, entry.ErrUnknown)
}

func TestStandardsBelongToWhomTheySpeakOf(t *testing.T) {
	id := uuid.MustParse("0192f3a0-0000-7000-8000-000000000001")
	for level, want := range map[standard.Level]access.Action{
		standard.OfModel: access.SetStandard, standard.OfCustomer: access.SetStandard,
		standard.OfSite: access.SetSiteStandard, standard.OfFryer: access.SetSiteStandard,
	} {
		assert.Equal(t, want, entry.ActionFor(standard.Changed{Level: level, Of: id}), level)
	}
	assert.Equal(t, "site:"+id.String(), entry.Stream(id, snapshot.Note{}))
	assert.Equal(t, "customer:"+id.String(), entry.Stream(uuid.Nil, standard.Changed{Level: standard.OfCustomer, Of: id}))
	assert.Equal(t, "company", entry.Stream(uuid.Nil, standard.Changed{Level: standard.OfModel, Of: id}))
}
