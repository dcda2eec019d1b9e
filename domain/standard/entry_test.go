package standard_test

import (
	"crypto/sha1"
	"strings"
	"testing"
	"time"

	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	owner   = uuid.MustParse("0190f5a0-0000-7000-8000-000000000001")
	sheetID = uuid.MustParse("0190f5a0-0000-7000-8000-000000000002")
)

func TestLevels(t *testing.T) {
	assert.Equal(t, []standard.Level{"factory", "model", "customer", "site", "fryer"}, standard.Levels())
	words := map[string]bool{}
	for _, l := range standard.Levels() {
		words[l.Word()] = true
	}
	assert.Len(t, words, 5)
	assert.Equal(t, "planet", standard.Level("planet").Word())
}

// TestLayerIDIsAUUIDv5 checks the library against the example of RFC 9562, A.4, and the layer's id against the RFC's
// construction (5.5) by hand.
func TestLayerIDIsAUUIDv5(t *testing.T) {
	assert.Equal(t, "2ed6657d-e927-568b-95e1-2665a8aea6a2", uuid.NewSHA1(uuid.NameSpaceDNS, []byte("www.example.com")).String())

	space := uuid.MustParse("6f0f2a0e-5b0f-5d9e-9c5e-0d4d8a1c7b11")
	sum := sha1.Sum(append(space[:], "site|0190f5a0-0000-7000-8000-000000000001|0190f5a0-0000-7000-8000-000000000002"...))
	sum[6], sum[8] = sum[6]&0x0f|0x50, sum[8]&0x3f|0x80
	assert.Equal(t, uuid.UUID(sum[:16]), standard.LayerID(standard.OfSite, owner, sheetID), "it names stored layers and must never change")

	assert.NotEqual(t, standard.LayerID(standard.OfSite, owner, sheetID), standard.LayerID(standard.OfFryer, owner, sheetID))
	assert.NotEqual(t, standard.LayerID(standard.OfSite, owner, sheetID), standard.LayerID(standard.OfSite, sheetID, owner))
}

func ref(text string) sheet.Ref {
	r, _ := sheet.ParseRef(text)
	return r
}

func changed(spoil func(*standard.Changed)) standard.Changed {
	b := standard.Changed{
		Level: standard.OfSite, Of: owner, Sheet: sheetID, Why: "the new menu",
		Set: []standard.Value{{Ref: ref("setpoint"), Value: "345"}, {Ref: ref("setpoint@2"), Value: "340"}}, Clear: []sheet.Ref{ref("name@1")},
	}
	spoil(&b)
	return b
}

func accepted(spoil func(*standard.Accepted)) standard.Accepted {
	b := standard.Accepted{Ref: ref("setpoint@1"), Value: "340", Reason: "probe ordered", Until: day}
	spoil(&b)
	return b
}

func ended(spoil func(*standard.Ended)) standard.Ended {
	b := standard.Ended{Ref: ref("setpoint@1"), Reason: "probe changed"}
	spoil(&b)
	return b
}

func TestWhatIsRightIsTaken(t *testing.T) {
	require.NoError(t, changed(func(*standard.Changed) {}).Validate())
	require.NoError(t, accepted(func(*standard.Accepted) {}).Validate())
	require.NoError(t, ended(func(*standard.Ended) {}).Validate())
	for _, level := range standard.Levels()[1:] {
		require.NoError(t, changed(func(b *standard.Changed) { b.Level = level }).Validate())
	}
	assert.Equal(t, "standard.changed", standard.Changed{}.Kind())
	assert.Equal(t, "difference.accepted", standard.Accepted{}.Kind())
	assert.Equal(t, "difference.ended", standard.Ended{}.Kind())
}

// TestEachProblemOfAnEntryIsFound has one row a problem; the entry has no other.
func TestEachProblemOfAnEntryIsFound(t *testing.T) {
	for name, tt := range map[string]struct {
		body    interface{ Validate() error }
		field   string
		message string
	}{
		"the factory's level":   {changed(func(b *standard.Changed) { b.Level = standard.OfFactory }), "level", "A standard belongs to a model, a customer, a site or a fryer."},
		"no level":              {changed(func(b *standard.Changed) { b.Level = "" }), "level", "A standard belongs to a model, a customer, a site or a fryer."},
		"nobody's":              {changed(func(b *standard.Changed) { b.Of = uuid.Nil }), "of", "Say whose standard it is, and for which controller type."},
		"of no sheet":           {changed(func(b *standard.Changed) { b.Sheet = uuid.Nil }), "of", "Say whose standard it is, and for which controller type."},
		"nothing":               {changed(func(b *standard.Changed) { b.Set, b.Clear = nil, nil }), "set", "Nothing was changed."},
		"no reason":             {changed(func(b *standard.Changed) { b.Why = " " }), "why", "Say why, in a few words: the next person will ask."},
		"a value of nothing":    {changed(func(b *standard.Changed) { b.Set[0].Ref = sheet.Ref{} }), "set", "A value names no setting."},
		"a vat too many":        {changed(func(b *standard.Changed) { b.Set[0].Ref.Vat = 3 }), "set", "A value names no setting."},
		"a value that is none":  {changed(func(b *standard.Changed) { b.Set[0].Value = "" }), "set", "setpoint has no value: clear it instead."},
		"set twice":             {changed(func(b *standard.Changed) { b.Set[0].Ref.Vat = 2 }), "set", "setpoint@2 is changed twice."},
		"set and cleared":       {changed(func(b *standard.Changed) { b.Clear[0] = ref("setpoint@2") }), "set", "setpoint@2 is changed twice."},
		"nothing cleared":       {changed(func(b *standard.Changed) { b.Clear[0] = sheet.Ref{} }), "set", "A value names no setting."},
		"accepted: nothing":     {accepted(func(b *standard.Accepted) { b.Ref = sheet.Ref{} }), "ref", "Say which setting and which value."},
		"accepted: no such vat": {accepted(func(b *standard.Accepted) { b.Ref.Vat = -1 }), "ref", "Say which setting and which value."},
		"accepted: no value":    {accepted(func(b *standard.Accepted) { b.Value = "" }), "ref", "Say which setting and which value."},
		"accepted: no reason":   {accepted(func(b *standard.Accepted) { b.Reason = "" }), "reason", "Say why the difference may stay."},
		"accepted: too long":    {accepted(func(b *standard.Accepted) { b.Until = time.Date(9999, 12, 31, 23, 0, 0, 0, time.FixedZone("", -3600)) }), "until", "Give a date of this century."},
		"accepted: an override": {accepted(func(b *standard.Accepted) { b.Value = "3\u202e40" }), "ref", "A character that cannot be seen stands in it after “3”, U+202E. Type the text again rather than pasting it."},
		"a long reason":         {changed(func(b *standard.Changed) { b.Why = strings.Repeat("x", 4001) }), "why", "At most 4000 characters."},
		"more than a sheet":     {changed(func(b *standard.Changed) { b.Set = make([]standard.Value, 1501) }), "set", "At most 1500 values are changed at once."},
		"accepted: for ever":    {accepted(func(b *standard.Accepted) { b.Until = time.Time{} }), "until", "Give a date until which it may stay."},
		"ended: nothing":        {ended(func(b *standard.Ended) { b.Ref = sheet.Ref{} }), "ref", "Say which setting."},
		"ended: no reason":      {ended(func(b *standard.Ended) { b.Reason = "" }), "reason", "Say why it ends."},
	} {
		t.Run(name, func(t *testing.T) {
			err := tt.body.Validate()
			require.Error(t, err)
			assert.Equal(t, []fault.Field{{Name: tt.field, Message: tt.message}}, fault.FieldsOf(err))
		})
	}
}
