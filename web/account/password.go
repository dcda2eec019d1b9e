package account

import (
	"context"
	"encoding/base64"
	"fmt"
	"net/http"
	"unicode/utf8"

	"frywright/domain/fault"

	"github.com/alexedwards/argon2id"
	"golang.org/x/crypto/argon2"
	"golang.org/x/text/unicode/norm"
)

// Length of a password in characters, as it is hashed. NIST SP 800-63B-4 asks for at least 15 where the password stands
// alone, OWASP ASVS 4.0.3, 2.1.1 and 2.1.2, for at least 12 and for 64 at the least to be taken; both for no rules of
// composition.
const (
	passwordMin  = 15
	passwordMax  = 128
	passwordHint = "15 characters or more. A short sentence is good: easy to remember, hard to guess."
)

// cost of a hash: OWASP Password Storage Cheat Sheet, argon2id with 19 MiB, two passes, one lane.
var cost = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// How many passwords are worked on at once, which bounds the memory that a flood of sign-ins can take: strangers share
// most of the turns, and one is kept for whoever is known. So many strangers wait at most; more are asked to come again.
const (
	turnsOpen   = 3
	turnsKept   = 1
	waitingMost = 256
)

// hasher hashes and compares passwords, a few at a time.
type hasher struct {
	open    chan struct{} // a turn for anybody
	kept    chan struct{} // a turn for whoever is known
	waiting chan struct{} // strangers who wait for a turn, or are slowed down
	create  func(password string, params *argon2id.Params) (string, error)
	check   func(password, hash string) (bool, *argon2id.Params, error)
}

func newHasher() *hasher {
	return &hasher{
		open: make(chan struct{}, turnsOpen), kept: make(chan struct{}, turnsKept), waiting: make(chan struct{}, waitingMost),
		create: argon2id.CreateHash, check: argon2id.CheckHash,
	}
}

// hash gives the stored form of a new password. Whoever sets one has shown a link or a session before, so is known.
func (h *hasher) hash(ctx context.Context, password string) (hash string, err error) {
	leave, err := h.turn(ctx, true)
	if err != nil {
		return "", err
	}
	defer leave()
	return h.create(normal(password), cost)
}

// proof is what comparing a password with a hash shows.
type proof struct {
	right bool
	stale bool // the hash was made with other parameters, or of text as it was typed: it should be made anew
}

// compare compares a password with a hash. It works as long for a wrong one as for a right one, whatever hash it is given.
func (h *hasher) compare(ctx context.Context, password, hash string, known bool) (proof, error) {
	leave, err := h.turn(ctx, known)
	if err != nil {
		return proof{}, err
	}
	defer leave()
	right, params, err := h.check(normal(password), hash)
	if err != nil {
		return proof{}, err
	}
	p := proof{right: right, stale: right && *params != *cost}
	if password != normal(password) && !right { // hashes were made of text as it was typed, once
		p.right, _, err = h.check(password, hash)
		p.stale = p.right
	}
	return p, err
}

// turn waits until there is a turn, and gives how to leave it.
func (h *hasher) turn(ctx context.Context, known bool) (leave func(), err error) {
	kept := h.kept
	if !known {
		kept = nil // never ready
	}
	select {
	case h.open <- struct{}{}:
		return func() { <-h.open }, nil
	case kept <- struct{}{}:
		return func() { <-h.kept }, nil
	case <-ctx.Done():
		return nil, fault.Wrap(ctx.Err(), fault.Unavailable, busyText)
	}
}

const busyText = "Many people sign in just now. Try again in a moment."

// wait lets a stranger in among those who wait, and gives how to leave them.
func (h *hasher) wait() (leave func(), err error) {
	select {
	case h.waiting <- struct{}{}:
		return func() { <-h.waiting }, nil
	default:
		return nil, fault.New(fault.TooMany, busyText)
	}
}

// normal gives a password in the form that is hashed: NFKC, so that it is the same from every keyboard (NIST SP 800-63B-4,
// 3.1.1.2; UAX #15).
func normal(password string) string { return norm.NFKC.String(password) }

// nobodysHash is compared against for an address that nobody has, so that the answer takes as long as for one that
// somebody has.
func nobodysHash() string {
	encode := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, cost.Memory, cost.Iterations, cost.Parallelism,
		encode(make([]byte, cost.SaltLength)), encode(make([]byte, cost.KeyLength)))
}

// typedMost is how many bytes of a password are worked on. Letters may come in parts, with their accents apart, so it is
// far more than a password has.
const typedMost = 4096

// typedPassword gives a password as it was typed: nothing is trimmed or dropped.
func typedPassword(r *http.Request, name string) string {
	text := r.Form.Get(name)
	return text[:min(len(text), typedMost)] // the rest would not make it a right one
}

// checkNew notes what is wrong with a new password. about is what is known of the person: their address and name.
func checkNew(f *fault.Fields, password, again string, about ...string) {
	length := utf8.RuneCountInString(normal(password))
	switch {
	case password == "":
		f.Add("password", "Choose a password.")
	case length < passwordMin:
		f.Add("password", "Use at least %d characters; this has %d. A short sentence is good.", passwordMin, length)
	case length > passwordMax:
		f.Add("password", "Use at most %d characters.", passwordMax)
	case tooCommon(password, about):
		f.Add("password", "This is among the first that others would try. Choose a sentence of your own.")
	case normal(password) != normal(again):
		f.Add("again", "The two passwords are not the same. Type it once more.")
	}
}
