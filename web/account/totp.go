package account

import (
	"crypto/rand"
	"encoding/base32"
	"strconv"
	"strings"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"
	"github.com/pquerna/otp/totp"
	"rsc.io/qr"
)

// The codes are those of RFC 6238 as every app makes them: SHA-1, six digits, steps of thirty seconds. One step before and
// one after are taken too (RFC 6238, 5.2), for clocks that differ and people who type slowly.
const (
	stepSeconds = 30
	codeDigits  = 6
	skewSteps   = 1
	secretBytes = 20 // RFC 4226, 4, R6: 160 bits
	issuer      = "Frywright"
)

// stepOf gives the time step of a moment.
func stepOf(t time.Time) int64 { return t.Unix() / stepSeconds }

// matchStep gives the time step whose code was typed, among those that are near enough to now and after last.
func matchStep(secret, typed string, now time.Time, last int64) (step int64, ok bool) {
	at := stepOf(now)
	for step = at - skewSteps; step <= at+skewSteps; step++ {
		right, err := hotp.ValidateCustom(typed, uint64(step), secret, hotp.ValidateOpts{Digits: codeDigits, Algorithm: otp.AlgorithmSHA1}) //nolint:gosec // steps since 1970 are positive
		if err == nil && right {
			return step, step > last
		}
	}
	return 0, false
}

// newSecret gives a fresh secret in base 32, as people type it.
func newSecret(email string) (string, error) {
	key, err := totp.Generate(totp.GenerateOpts{Issuer: issuer, AccountName: email, SecretSize: secretBytes})
	if err != nil {
		return "", err
	}
	return key.Secret(), nil
}

// enrolCode gives the QR code with which an app takes a secret in.
func enrolCode(secret, email string) (*qr.Code, error) {
	raw, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(secret)
	if err != nil {
		return nil, err
	}
	key, err := totp.Generate(totp.GenerateOpts{Issuer: issuer, AccountName: email, Secret: raw})
	if err != nil {
		return nil, err
	}
	return qr.Encode(key.URL(), qr.M)
}

// quiet is the empty margin of a QR code, in its squares (ISO/IEC 18004: four).
const quiet = 4

// drawn gives the black squares of a QR code as a path of SVG, a run of them at a time.
func drawn(code *qr.Code) string {
	var b strings.Builder
	for y := range code.Size {
		for x := 0; x < code.Size; x++ {
			from := x
			for x < code.Size && code.Black(x, y) {
				x++
			}
			if n := strconv.Itoa(x - from); x > from {
				b.WriteString("M" + strconv.Itoa(from+quiet) + " " + strconv.Itoa(y+quiet) + "h" + n + "v1h-" + n + "z")
			}
		}
	}
	return b.String()
}

// Recovery codes: ten, each of 24 characters of base 32. At 120 bits nobody can guess one, so that a plain hash will do
// (NIST SP 800-63B-4, 3.1.2.2: 112 bits).
const (
	spareCodes = 10
	spareSize  = 24
	groupSize  = 4
)

func newSpares() []string {
	list := make([]string, spareCodes)
	for i := range list {
		list[i] = rand.Text()[:spareSize]
	}
	return list
}

// typedSpare gives a recovery code as it was typed from paper: the case of letters and what stands between the groups do
// not matter, and digits that are no part of base 32 are the letters that they look like.
func typedSpare(text string) string {
	text = strings.NewReplacer("0", "O", "1", "I", "8", "B").Replace(strings.ToUpper(text))
	return strings.Map(func(c rune) rune {
		if c >= 'A' && c <= 'Z' || c >= '2' && c <= '7' {
			return c
		}
		return -1
	}, text)
}

// grouped sets characters in groups of four, for reading aloud and typing.
func grouped(text string) string {
	var groups []string
	for len(text) > groupSize {
		groups, text = append(groups, text[:groupSize]), text[groupSize:]
	}
	return strings.Join(append(groups, text), " ")
}
