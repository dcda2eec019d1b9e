package account

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func sealed(b byte) seal {
	return seal{func() ([]byte, error) { return []byte(strings.Repeat(string(rune(b)), KeySize)), nil }}
}

func TestASecretOpensForItsPersonAndKeyOnly(t *testing.T) {
	s := sealed('k')
	text, err := s.close(id(1), rfcSecret)
	require.NoError(t, err)
	assert.NotContains(t, text, rfcSecret)
	again, err := s.close(id(1), rfcSecret)
	require.NoError(t, err)
	assert.NotEqual(t, text, again, "each sealing has a nonce of its own")

	secret, ok, err := s.open(id(1), text)
	require.NoError(t, err)
	assert.True(t, ok)
	assert.Equal(t, rfcSecret, secret)
	for name, try := range map[string]func() (string, bool, error){
		"another person":  func() (string, bool, error) { return s.open(id(2), text) },
		"another key":     func() (string, bool, error) { return sealed('l').open(id(1), text) },
		"cut off":         func() (string, bool, error) { return s.open(id(1), text[:8]) },
		"never sealed":    func() (string, bool, error) { return s.open(id(1), "not base 64!") },
		"one bit changed": func() (string, bool, error) { return s.open(id(1), flip(text)) },
	} {
		secret, ok, err := try()
		require.NoError(t, err, name)
		assert.False(t, ok, name)
		assert.Empty(t, secret, name)
	}
}

func flip(text string) string {
	if text[20] == 'A' {
		return text[:20] + "B" + text[21:]
	}
	return text[:20] + "A" + text[21:]
}

func TestWithoutAKeyNothingIsSealed(t *testing.T) {
	for _, s := range []seal{{}, {func() ([]byte, error) { return nil, errors.New("disk") }}, {func() ([]byte, error) { return []byte("short"), nil }}} {
		_, err := s.close(id(1), rfcSecret)
		require.Error(t, err)
		_, _, err = s.open(id(1), "AAAA")
		require.Error(t, err)
	}
}
