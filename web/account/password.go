package account

import (
	"context"
	_ "embed" // the list of common passwords
	"encoding/base64"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"frywright/domain/fault"

	"github.com/alexedwards/argon2id"
	"golang.org/x/crypto/argon2"
)

// Length of a password in characters. NIST SP 800-63B-4 asks for at least 15 where the password stands alone, and for no
// rules of composition.
const (
	passwordMin  = 15
	passwordMax  = 128
	passwordHint = "15 characters or more. A short sentence is good: easy to remember, hard to guess."
)

// cost of a hash: OWASP Password Storage Cheat Sheet, argon2id with 19 MiB, two passes, one lane.
var cost = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// hashesAtOnce bounds the memory that hashing takes, however many sign in at once.
const hashesAtOnce = 4

// hasher hashes and compares passwords, a few at a time.
type hasher struct{ turns chan struct{} }

func newHasher() hasher { return hasher{make(chan struct{}, hashesAtOnce)} }

func (h hasher) hash(ctx context.Context, password string) (hash string, err error) {
	err = h.inTurn(ctx, func() error {
		hash, err = argon2id.CreateHash(password, cost)
		return err
	})
	return hash, err
}

func (h hasher) matches(ctx context.Context, password, hash string) (match bool, err error) {
	err = h.inTurn(ctx, func() error {
		match, err = argon2id.ComparePasswordAndHash(password, hash)
		return err
	})
	return match, err
}

func (h hasher) inTurn(ctx context.Context, do func() error) error {
	select {
	case h.turns <- struct{}{}:
		defer func() { <-h.turns }()
		return do()
	case <-ctx.Done():
		return fault.Wrap(ctx.Err(), fault.Unavailable, "Many people sign in just now. Try again in a moment.")
	}
}

// nobodysHash is compared against for an address that nobody has, so that the answer takes as long as for one that
// somebody has.
func nobodysHash() string {
	encode := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, cost.Memory, cost.Iterations, cost.Parallelism,
		encode(make([]byte, cost.SaltLength)), encode(make([]byte, cost.KeyLength)))
}

// typedPassword gives a password as it was typed: nothing is trimmed or dropped.
func typedPassword(r *http.Request, name string) string {
	text := r.Form.Get(name)
	if len(text) > passwordMax*utf8.UTFMax {
		return text[:passwordMax*utf8.UTFMax+1] // too long in any case: no need to carry all of it
	}
	return text
}

// checkNew notes what is wrong with a new password. about is what is known of the person: their address and name.
func checkNew(f *fault.Fields, password, again string, about ...string) {
	length := utf8.RuneCountInString(password)
	switch {
	case password == "":
		f.Add("password", "Choose a password.")
	case length < passwordMin:
		f.Add("password", "Use at least %d characters; this has %d. A short sentence is good.", passwordMin, length)
	case length > passwordMax:
		f.Add("password", "Use at most %d characters.", passwordMax)
	case tooCommon(password, about):
		f.Add("password", "This is among the first that others would try. Choose a sentence of your own.")
	case password != again:
		f.Add("again", "The two passwords are not the same. Type it once more.")
	}
}

// commonText is passwords of full length that are tried first, one a line, and what they are made of: runs along a
// keyboard and phrases that are widely used (common practice, no source).
//
//go:embed passwords.txt
var commonText string

// common is commonText, as squeezed.
var common = sync.OnceValue(func() []string {
	var list []string
	for line := range strings.Lines(commonText) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			list = append(list, squeeze(line))
		}
	}
	return list
})

// tooCommon says whether a password is common, is one short piece again and again, or is what is known of the person, in
// each case apart from the case of letters, what stands between them, and digits or signs around it.
func tooCommon(password string, about []string) bool {
	whole := squeeze(password)
	core := strings.TrimFunc(whole, unicode.IsDigit)
	known := slices.Clone(common())
	for _, text := range about {
		name, _, _ := strings.Cut(text, "@")
		known = append(known, squeeze(text), squeeze(name))
	}
	for _, k := range known {
		bare := strings.TrimFunc(k, unicode.IsDigit)
		if k != "" && (whole == k || core == k || repeats(core, k) || bare != "" && repeats(core, bare)) {
			return true
		}
	}
	return repeated(whole)
}

// squeeze keeps letters and digits, in lower case.
func squeeze(text string) string {
	return strings.Map(func(c rune) rune {
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			return unicode.ToLower(c)
		}
		return -1
	}, text)
}

// longestPiece is how long a piece may be that fills a password again and again.
const longestPiece = 5

func repeated(text string) bool {
	for n := 1; n <= longestPiece && n < len(text); n++ {
		if strings.HasPrefix(strings.Repeat(text[:n], len(text)/n+1), text) {
			return true
		}
	}
	return text == ""
}

func repeats(text, piece string) bool {
	return text != "" && strings.ReplaceAll(text, piece, "") == ""
}
