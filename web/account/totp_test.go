package account

import (
	"encoding/base32"
	"image"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/pquerna/otp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
	"rsc.io/qr"
)

// rfcSecret is the shared secret of the vectors of both RFCs.
var rfcSecret = base32.StdEncoding.WithPadding(base32.NoPadding).EncodeToString([]byte("12345678901234567890"))

// TestTheVectorsOfRFC6238 takes the rows of SHA-1 of RFC 6238, Appendix B. They have eight digits; codes of six digits are
// the last six of them (RFC 4226, 5.3: the number modulo a power of ten).
func TestTheVectorsOfRFC6238(t *testing.T) {
	for _, v := range []struct {
		seconds int64
		step    int64
		code    string
	}{
		{59, 0x0000000000000001, "94287082"},
		{1111111109, 0x00000000023523EC, "07081804"},
		{1111111111, 0x00000000023523ED, "14050471"},
		{1234567890, 0x000000000273EF07, "89005924"},
		{2000000000, 0x0000000003F940AA, "69279037"},
		{20000000000, 0x0000000027BC86AA, "65353130"},
	} {
		at := time.Unix(v.seconds, 0)
		assert.Equal(t, v.step, stepOf(at))
		step, ok := matchStep(rfcSecret, v.code[2:], at, 0)
		assert.True(t, ok, v.code)
		assert.Equal(t, v.step, step)
	}
}

// TestTheVectorsOfRFC4226 takes RFC 4226, Appendix D: the codes of the counters from 0 on. With steps of thirty seconds the
// counter is the time.
func TestTheVectorsOfRFC4226(t *testing.T) {
	for counter, code := range []string{"755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"} {
		step, ok := matchStep(rfcSecret, code, time.Unix(int64(counter)*stepSeconds, 0), -1)
		assert.True(t, ok, code)
		assert.EqualValues(t, counter, step)
	}
}

// TestACodeCountsOnceAndNearItsTime: one step before and after counts too (RFC 6238, 5.2), none twice, and none before one
// that was taken.
func TestACodeCountsOnceAndNearItsTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := time.Unix(rapid.Int64Range(10*stepSeconds, 1<<35).Draw(t, "now"), 0)
		away := rapid.Int64Range(-4, 4).Draw(t, "away")
		last := rapid.Int64Range(stepOf(now)-3, stepOf(now)+3).Draw(t, "last")
		step := stepOf(now) + away
		code := codeAt(t, rfcSecret, time.Unix(step*stepSeconds, 0))
		for near := stepOf(now) - skewSteps; near <= stepOf(now)+skewSteps; near++ {
			if near != step && codeAt(t, rfcSecret, time.Unix(near*stepSeconds, 0)) == code {
				t.Skip("two steps have one code")
			}
		}
		got, ok := matchStep(rfcSecret, code, now, last)
		require.Equal(t, away >= -1 && away <= 1 && step > last, ok, "%d steps away, %d taken, now %d", away, last, stepOf(now))
		if ok {
			require.Equal(t, step, got)
		}
	})
	for _, typed := range []string{"", "12345", "1234567", "abcdef", "١٢٣٤٥٦", strings.Repeat("0", 1<<16)} {
		_, ok := matchStep(rfcSecret, typed, time.Unix(59, 0), 0)
		assert.False(t, ok, typed)
	}
}

func TestASecretIsFreshAndAsLongAsTheRFCAsks(t *testing.T) {
	a, err := newSecret(inesEmail)
	require.NoError(t, err)
	b, err := newSecret(inesEmail)
	require.NoError(t, err)
	assert.NotEqual(t, a, b)
	raw, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(a)
	require.NoError(t, err)
	assert.Len(t, raw, 20, "RFC 4226, 4, R6: 160 bits are recommended")
}

// TestTheQRCodeSaysWhatAppsRead draws the picture and compares it with the encoder's squares, then looks at the address in
// it and at its parts.
func TestTheQRCodeSaysWhatAppsRead(t *testing.T) {
	code, err := enrolCode(rfcSecret, inesEmail)
	require.NoError(t, err)
	got := squares(t, drawn(code))
	for y := range code.Size + 2*quiet {
		for x := range code.Size + 2*quiet {
			require.Equal(t, code.Black(x-quiet, y-quiet), got[image.Point{x, y}], "%d %d", x, y)
		}
	}

	same, err := qr.Encode("otpauth://totp/Frywright:ines@example.com?algorithm=SHA1&digits=6&issuer=Frywright&period=30&secret="+rfcSecret, qr.M)
	require.NoError(t, err)
	assert.Equal(t, same.Bitmap, code.Bitmap)
	key, err := otp.NewKeyFromURL("otpauth://totp/Frywright:ines@example.com?algorithm=SHA1&digits=6&issuer=Frywright&period=30&secret=" + rfcSecret)
	require.NoError(t, err)
	assert.Equal(t, rfcSecret, key.Secret())
}

// squares gives the squares that a path fills.
func squares(t *testing.T, path string) map[image.Point]bool {
	t.Helper()
	found := map[image.Point]bool{}
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-(\d+)z`).FindAllStringSubmatch(path, -1) {
		assert.Equal(t, m[3], m[4], "a run comes back to where it began")
		x, y, n := number(t, m[1]), number(t, m[2]), number(t, m[3])
		for i := range n {
			found[image.Point{x + i, y}] = true
		}
	}
	return found
}

func number(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

func TestRecoveryCodes(t *testing.T) {
	all := map[string]bool{}
	for range 20 {
		for _, code := range newSpares() {
			assert.Regexp(t, `^[A-Z2-7]{24}$`, code, "24 characters of five bits: 120 bits, where 112 are asked for")
			all[code] = true
		}
	}
	assert.Len(t, all, 200, "none is like another")
	for typed, want := range map[string]string{
		"abcd efgh ijkl mnop qrst uvwx": "ABCDEFGHIJKLMNOPQRSTUVWX",
		" 2345-67AB ":                   "234567AB",
		"o0 i1 b8":                      "OOIIBB",
		"ab\u00a0c!":                    "ABC",
	} {
		assert.Equal(t, want, typedSpare(typed))
	}
	assert.Equal(t, "ABCD EFGH IJ", grouped("ABCDEFGHIJ"))
	assert.Equal(t, "ABCD", grouped("ABCD"))
}

func FuzzTypedSpare(f *testing.F) {
	f.Add("abcd efgh")
	f.Add("\x00\xff0O1I8B")
	f.Fuzz(func(t *testing.T, text string) {
		code := typedSpare(text)
		require.Regexp(t, `^[A-Z2-7]*$`, code)
		require.Equal(t, code, typedSpare(grouped(code)), "as it is printed it is read")
		require.Equal(t, code, typedSpare(code))
	})
}
