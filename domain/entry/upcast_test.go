package entry

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"frywright/domain/access"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// weighed is a made-up kind of entry that has come to its third version: grams became kilograms, then the oil was named.
type weighed struct {
	Kilograms float64 `json:"kg"`
	Oil       string  `json:"oil"`
}

func (weighed) Kind() string    { return "oil.weighed" }
func (weighed) Validate() error { return nil }

var errNoWeight = errors.New("no weight")

func gramsToKilograms(raw json.RawMessage) (json.RawMessage, error) {
	var old struct {
		Grams *float64 `json:"g"`
	}
	if err := json.Unmarshal(raw, &old); err != nil || old.Grams == nil {
		return nil, errors.Join(errNoWeight, err)
	}
	return json.Marshal(map[string]float64{"kg": *old.Grams / 1000})
}

func nameTheOil(raw json.RawMessage) (json.RawMessage, error) {
	return json.RawMessage(strings.Replace(string(raw), "}", `,"oil":"not noted"}`, 1)), nil
}

func TestOldVersionsAreLifted(t *testing.T) {
	s := spec[weighed](access.TakeReading, false, gramsToKilograms, nameTheOil)
	assert.Equal(t, 3, s.Version())
	for version, raw := range map[int]string{1: `{"g":11300}`, 2: `{"kg":11.3}`, 3: `{"kg":11.3,"oil":"not noted"}`} {
		b, err := s.read(version, json.RawMessage(raw))
		require.NoError(t, err, "version %d", version)
		assert.Equal(t, weighed{Kilograms: 11.3, Oil: "not noted"}, b, "version %d", version)
	}
	for _, version := range []int{-1, 0, 4, 99} {
		_, err := s.read(version, json.RawMessage(`{}`))
		assert.ErrorIs(t, err, ErrUnknown, "version %d", version)
	}
	_, err := s.read(1, json.RawMessage(`{}`))
	assert.ErrorIs(t, err, errNoWeight)
	assert.ErrorContains(t, err, "lift oil.weighed from version 1")
	assert.NotErrorIs(t, err, ErrUnknown)
}

func TestAKindWithoutOlderVersionsIsAtItsFirst(t *testing.T) {
	assert.Equal(t, 1, spec[weighed](access.TakeReading, false).Version())
}
