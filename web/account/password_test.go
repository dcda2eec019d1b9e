package account

import (
	"net/http"
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
		{"a word twice, and a year", "ottershell ottershell 84", "", "password", "among the first"},
		{"a walk over the keyboard", "Q1w2E3r4-T5y6U7i8", "", "password", "among the first"},
		{"signs only", "!!!!!!!!!!!!!!!!!!", "", "password", "among the first"},
		{"a piece again and again", "abc12abc12abc12abc12", "", "password", "among the first"},
		{"the name", "Ines Quillfeather 1984", "", "password", "among the first"},
		{"the e-mail", "ines.quillfeather@example.com", "", "password", "among the first"},
		{"what stands before the at, twice", "ines.quillfeather ines.quillfeather", "", "password", "among the first"},
		{"the program's name", "Frywright Frywright 26", "", "password", "among the first"},
		{"the name and the program", "Ines-Frywright-2026", "", "password", "among the first"},
		{"common words in a row", "monkey dragon sunshine", "", "password", "among the first"},
		{"common words and digits", "123 Welcome 456 Football 789", "", "password", "among the first"},
		{"many words, though common", "monkey and dragon eat fries together", "monkey and dragon eat fries together", "", ""},
		{"letters that look alike in other scripts are other letters", "пароль пароль да", "пароль пароль да", "", ""},
		{"signs and spaces only besides letters", "🐟 herons ~ over % weirs", "🐟 herons ~ over % weirs", "", ""},
		{"typed again on another keyboard", "žluťoučký kůň běží", "z\u030cluťoučký kůň běží", "", ""},
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

// TestAPasswordIsTheSameFromEveryKeyboard: what Unicode holds for one text is one password (NIST SP 800-63B-4, 3.1.1.2, asks
// for NFKC or NFKD; the pairs are of UAX #15, figures 3 to 6).
func TestAPasswordIsTheSameFromEveryKeyboard(t *testing.T) {
	h := newHasher()
	for _, same := range [][2]string{
		{"\u00e9", "e\u0301"},             // composed, and in parts
		{"\u212b", "A\u030a"},             // the sign of a unit, and the letter with its ring
		{"\ufb01", "fi"},                  // a ligature, and its letters
		{"2\u2075", "25"},                 // a raised digit
		{"\u1e9b\u0323", "s\u0323\u0307"}, // marks in another order
		{"\uff46\uff52\uff59", "fry"},     // letters of full width
	} {
		hash, err := h.hash(t.Context(), "a heron "+same[0])
		require.NoError(t, err)
		got, err := h.compare(t.Context(), "a heron "+same[1], hash, false)
		require.NoError(t, err)
		assert.Equal(t, proof{right: true}, got, "%q", same)
	}
}

// TestNothingIsCutOff: a password of 128 characters counts to its last, whatever they are.
func TestNothingIsCutOff(t *testing.T) {
	h := newHasher()
	h.create = func(password string, _ *argon2id.Params) (string, error) { return password, nil }
	h.check = func(password, hash string) (bool, *argon2id.Params, error) { return password == hash, cost, nil }
	rapid.Check(t, func(rt *rapid.T) {
		password := string(rapid.SliceOfN(rapid.Rune(), passwordMax, passwordMax).Draw(rt, "password"))
		hash, err := h.hash(t.Context(), password)
		require.NoError(t, err)
		got, err := h.compare(t.Context(), password, hash, false)
		require.NoError(t, err)
		require.True(t, got.right)
		got, err = h.compare(t.Context(), password+"x", hash, false)
		require.NoError(t, err)
		require.False(t, got.right)
	})
}

func TestAHashOfTextAsItWasTypedStillOpensAndIsMadeAnew(t *testing.T) {
	v := newWorld(t)
	const typed = "ein Ko\u0308nig am Wehr" // in parts, as some phones send it
	old, err := argon2id.CreateHash(typed, cost)
	require.NoError(t, err)
	require.NoError(t, v.store.SetPassword(t.Context(), id(1), old))
	require.Equal(t, http.StatusSeeOther, v.browser("192.0.2.1").signIn(inesEmail, typed).Code)
	assert.NotEqual(t, old, v.store.accounts[id(1)].PasswordHash)
	assert.Equal(t, http.StatusSeeOther, v.browser("192.0.2.2").signIn(inesEmail, "ein K\u00f6nig am Wehr").Code, "now from any keyboard")
}

func TestAHashOfOlderParametersIsMadeAnew(t *testing.T) {
	v := newWorld(t)
	weak, err := argon2id.CreateHash(inesPassword, &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	require.NoError(t, err)
	require.NoError(t, v.store.SetPassword(t.Context(), id(1), weak))
	elsewhere := v.browser("192.0.2.9")
	assert.Equal(t, http.StatusUnprocessableEntity, elsewhere.signIn(inesEmail, "not the password").Code)
	assert.Equal(t, weak, v.store.accounts[id(1)].PasswordHash, "only whoever gives the password makes it anew")
	b := v.browser("192.0.2.1")
	require.Equal(t, http.StatusSeeOther, b.signIn(inesEmail, inesPassword).Code)
	fresh := v.store.accounts[id(1)].PasswordHash
	params, _, _, err := argon2id.DecodeHash(fresh)
	require.NoError(t, err)
	assert.Equal(t, cost, params)
	assert.Equal(t, "Ines Quill", b.who(), "nobody is signed out by it")
	require.Equal(t, http.StatusSeeOther, v.browser("192.0.2.2").signIn(inesEmail, inesPassword).Code)
	assert.Equal(t, fresh, v.store.accounts[id(1)].PasswordHash, "once is enough")
}

// TestSentencesAreLetThrough: strength is not judged by composition, and a sentence of one's own is not taken for a common
// password.
func TestSentencesAreLetThrough(t *testing.T) {
	for _, password := range []string{
		"seven herons over the weir", "my summer in the blue kitchen", "friday is fish and the oil is hot", "the quick brown otter jumps", "nine wet oaks by noon",
		"correct zebra battery staple", "die Katze sitzt auf dem Dach", "xkqzvwpjmtrbnhl",
	} {
		assert.False(t, tooCommon(password, []string{"Ines Quillfeather", "ines.quillfeather@example.com"}), password)
	}
}

func FuzzTooCommon(f *testing.F) {
	f.Add("passwordpassword1", "Ines Quill")
	f.Add("\xff\xfe 123", "")
	f.Fuzz(func(t *testing.T, password, about string) {
		require.Equal(t, tooCommon(password, []string{about}), tooCommon("¿ "+password+" !?", []string{about}), "signs around it hide nothing")
	})
}

func TestTheListOfCommonPasswordsIsOfUse(t *testing.T) {
	require.NotEmpty(t, common())
	for _, one := range words() {
		assert.True(t, tooCommon(one+" "+one+" "+one, nil), one)
		assert.True(t, tooCommon("1"+one+"-Welcome-2026-"+one, nil), one)
	}
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
		piece := rapid.StringMatching(`[a-z0-9]{1,12}`).Draw(t, "piece")
		cut := rapid.IntRange(0, len(piece)-1).Draw(t, "cut")
		if text := strings.Repeat(piece, 20) + piece[:cut]; !tooCommon(text, nil) {
			t.Fatalf("%q is let through", text)
		}
	})
}
