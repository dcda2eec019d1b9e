package account

import (
	"strings"
	"testing"
	"unicode"

	"frywright/domain/fault"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestPasswordsAreHashedAsPublished(t *testing.T) {
	// OWASP, Password Storage Cheat Sheet: Argon2id with 19 MiB of memory, an iteration count of 2, and 1 degree of parallelism.
	hash, err := Hash("the geese fly low tonight")
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(hash, "$argon2id$v=19$m=19456,t=2,p=1$"), hash)
	other, err := Hash("the geese fly low tonight")
	require.NoError(t, err)
	assert.NotEqual(t, hash, other, "each has its own salt")

	v := newWorld(t)
	for password, want := range map[string]bool{"the geese fly low tonight": true, "the geese fly low tonight ": false, "The geese fly low tonight": false, "": false} {
		got, err := v.pages.hashing.compare(t.Context(), password, hash, false)
		require.NoError(t, err)
		assert.Equal(t, proof{right: want}, got, password)
	}
}

func TestTheHashIsTheReferencesOwn(t *testing.T) {
	// A vector of the reference implementation of Argon2, its test.c, version 0x13, argon2id, t=2, m=2^16, p=1 (from memory).
	right, err := argon2id.ComparePasswordAndHash("password", "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc")
	require.NoError(t, err)
	assert.True(t, right)
}

func TestWhatANewPasswordMustBe(t *testing.T) {
	const good = "seven herons over the weir"
	for _, c := range []struct {
		name, password, again, field, says string
	}{
		{"a sentence", good, good, "", ""},
		{"fifteen characters", "wet oak by nine", "wet oak by nine", "", ""},
		{"fifteen characters of more than a byte", "žluťoučký kůň x", "žluťoučký kůň x", "", ""},
		{"the longest", strings.Repeat("quiet lamp 12 ", 9) + "ab", strings.Repeat("quiet lamp 12 ", 9) + "ab", "", ""},
		{"no rule about kinds of characters", "allsmallletterswilldo", "allsmallletterswilldo", "", ""},
		{"spaces at the ends count", " herons by day ", " herons by day ", "", ""},
		{"nothing", "", "", "password", "Choose a password"},
		{"fourteen", "wet oak by six", "wet oak by six", "password", "at least 15 characters; this has 14"},
		{"too long", strings.Repeat("quiet lamp 12 ", 10), "", "password", "at most 128"},
		{"typed differently", good, good + " ", "again", "not the same"},
		{"common", "passwordpassword", "passwordpassword", "password", "among the first"},
		{"common, dressed up", "Correct-Horse Battery Staple 1", "", "password", "among the first"},
		{"a run", "123456789012345", "", "password", "among the first"},
		{"one letter", strings.Repeat("a", 20), "", "password", "among the first"},
		{"signs only", "!!!!!!!!!!!!!!!!!!", "", "password", "among the first"},
		{"a piece again and again", "abc12abc12abc12abc12", "", "password", "among the first"},
		{"the name", "Ines Quillfeather 1984", "", "password", "among the first"},
		{"the e-mail", "ines.quillfeather@example.com", "", "password", "among the first"},
		{"what stands before the at, twice", "ines.quillfeather ines.quillfeather", "", "password", "among the first"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var f fault.Fields
			checkNew(&f, c.password, c.again, "Ines Quillfeather", "ines.quillfeather@example.com")
			if c.field == "" {
				assert.Empty(t, f)
				return
			}
			require.Len(t, f, 1)
			assert.Equal(t, c.field, f[0].Name)
			assert.Contains(t, f[0].Message, c.says)
		})
	}
}

func TestTheListOfCommonPasswordsIsOfUse(t *testing.T) {
	require.NotEmpty(t, common())
	for _, one := range common() {
		assert.Equal(t, squeeze(one), one)
		assert.True(t, tooCommon(one, nil), one)
		if strings.ContainsFunc(one, unicode.IsLetter) {
			assert.True(t, tooCommon(strings.ToUpper(one)+" 99", nil), one)
		}
	}
}

func TestAShortPieceAgainAndAgainIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		piece := rapid.StringMatching(`[a-z0-9]{1,5}`).Draw(t, "piece")
		cut := rapid.IntRange(0, len(piece)-1).Draw(t, "cut")
		if text := strings.Repeat(piece, 20) + piece[:cut]; !tooCommon(text, nil) {
			t.Fatalf("%q is let through", text)
		}
	})
}
