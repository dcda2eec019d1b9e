package journal_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"frywright/domain/journal"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func id(last byte) uuid.UUID {
	u := uuid.MustParse("017f22e2-79b0-7cc3-98c4-000000000000")
	u[15] = last
	return u
}

// sound is an entry with nothing wrong, its hash included.
func sound(t require.TestingT) journal.Entry {
	e := journal.Entry{
		ID: id(1), Device: id(2), N: 7, Kind: "note.written", V: 1, At: time.Date(2026, 11, 20, 21, 15, 9, 480e6, time.UTC), Zone: "Europe/Dublin",
		SkewMillis: -2500, Author: id(3), Site: id(4), Subject: id(5), Body: json.RawMessage(`{"text":"the probe reads high"}`),
	}
	return sealed(t, e)
}

func sealed(t require.TestingT, e journal.Entry) journal.Entry {
	sum, err := e.Sum()
	require.NoError(t, err)
	e.Hash = sum
	return e
}

// TestUUIDv7 reads the example of RFC 9562, A.6: version 7, made on 2022-02-22 at 19:22:22 UTC.
func TestUUIDv7(t *testing.T) {
	u := uuid.MustParse("017F22E2-79B0-7CC3-98C4-DC0C0C07398F")
	assert.Equal(t, uuid.Version(7), u.Version())
	assert.Equal(t, uuid.RFC4122, u.Variant())
	seconds, nanos := u.Time().UnixTime()
	assert.Equal(t, time.Date(2022, 2, 22, 19, 22, 22, 0, time.UTC), time.Unix(seconds, nanos).UTC())
	assert.Equal(t, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", u.String(), "RFC 9562, 4: written in small letters")

	e := sound(t)
	e.ID = u
	assert.NoError(t, sealed(t, e).Check())
}

// TestSHA256 makes sure that the hash is the one that it is said to be: the example of one block of FIPS 180-4 (from
// memory).
func TestSHA256(t *testing.T) {
	sum := sha256.Sum256([]byte("abc"))
	assert.Equal(t, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", hex.EncodeToString(sum[:]))
}

// TestTheHashByHand builds the documented lines as text.
func TestTheHashByHand(t *testing.T) {
	e := sound(t)
	text := "017f22e2-79b0-7cc3-98c4-000000000001\n" +
		"017f22e2-79b0-7cc3-98c4-000000000002\n" +
		"7\n" +
		"note.written\n" +
		"1\n" +
		"2026-11-20T21:15:09.480Z\n" +
		"Europe/Dublin\n" +
		"-2500\n" +
		"017f22e2-79b0-7cc3-98c4-000000000003\n" +
		"017f22e2-79b0-7cc3-98c4-000000000004\n" +
		"017f22e2-79b0-7cc3-98c4-000000000005\n" +
		"00000000-0000-0000-0000-000000000000\n" +
		`{"text":"the probe reads high"}`
	sum := sha256.Sum256([]byte(text))
	assert.Equal(t, hex.EncodeToString(sum[:]), e.Hash)
	assert.Equal(t, "bc0b90d92452779cc82b8e383c6afc6562ef023f12de346d6c1a7b1ff9b102de", e.Hash, "it is stored for ever and must never change; sha256sum says the same")
}

// vector is a line of testdata/entries.json: an entry as it is sent, and the lines that are hashed. The file was written
// by another program, in another language.
type vector struct {
	About string          `json:"about"`
	Entry json.RawMessage `json:"entry"`
	Lines []string        `json:"lines"`
}

func TestVectors(t *testing.T) {
	raw, err := os.ReadFile("testdata/entries.json")
	require.NoError(t, err)
	var vectors []vector
	require.NoError(t, json.Unmarshal(raw, &vectors))
	require.Len(t, vectors, 4)
	for _, v := range vectors {
		t.Run(v.About, func(t *testing.T) {
			var e journal.Entry
			require.NoError(t, json.Unmarshal(v.Entry, &e))
			sum := sha256.Sum256([]byte(strings.Join(v.Lines, "\n")))
			assert.Equal(t, hex.EncodeToString(sum[:]), e.Hash, "the lines of the file are those of its hash")
			assert.NoError(t, e.Check())
		})
	}
}

// TestAnEntryIsSentOnAsItIs writes an entry and reads it again: with its body unescaped it is whole; an encoder that
// escapes for HTML writes the body another way, and that is found out.
func TestAnEntryIsSentOnAsItIs(t *testing.T) {
	e := sound(t)
	e.Body = json.RawMessage(`{"text":"oil < 350 °F & rising"}`)
	e = sealed(t, e)
	for _, escape := range []bool{false, true} {
		var out bytes.Buffer
		enc := json.NewEncoder(&out)
		enc.SetEscapeHTML(escape)
		require.NoError(t, enc.Encode(e))
		var again journal.Entry
		require.NoError(t, json.Unmarshal(out.Bytes(), &again))
		assert.Equal(t, escape, again.Check() != nil)
	}
}

// TestEveryChangeIsFoundOut changes one thing after the other; what the server adds is not hashed.
func TestEveryChangeIsFoundOut(t *testing.T) {
	for name, change := range map[string]func(*journal.Entry){
		"id":      func(e *journal.Entry) { e.ID[15]++ },
		"device":  func(e *journal.Entry) { e.Device[15]++ },
		"n":       func(e *journal.Entry) { e.N++ },
		"kind":    func(e *journal.Entry) { e.Kind = "note.struck" },
		"v":       func(e *journal.Entry) { e.V++ },
		"at":      func(e *journal.Entry) { e.At = e.At.Add(time.Millisecond) },
		"zone":    func(e *journal.Entry) { e.Zone = "UTC" },
		"skew":    func(e *journal.Entry) { e.SkewMillis++ },
		"author":  func(e *journal.Entry) { e.Author = uuid.Nil },
		"site":    func(e *journal.Entry) { e.Site = uuid.Nil },
		"subject": func(e *journal.Entry) { e.Subject[15]++ },
		"base":    func(e *journal.Entry) { e.Base = e.ID },
		"body":    func(e *journal.Entry) { e.Body = json.RawMessage(`{"text":"the probe reads low"}`) },
		"hash":    func(e *journal.Entry) { e.Hash = strings.ToUpper(e.Hash) },
	} {
		e := sound(t)
		change(&e)
		assert.ErrorContains(t, e.Check(), "hash does not match", name)
	}
	e := sound(t)
	e.Seq, e.ReceivedAt = 99, e.At.Add(time.Hour)
	e.At = e.At.In(time.FixedZone("", 2*3600))
	e.Body = json.RawMessage("{ \"text\" :\n\"the probe reads high\" }")
	assert.NoError(t, e.Check(), "what the server adds, the zone of a time and white space in the body do not count")
}

func TestCheckSaysWhatIsWrong(t *testing.T) {
	for want, change := range map[string]func(*journal.Entry){
		"entry without id":     func(e *journal.Entry) { e.ID = uuid.Nil },
		"id is not a UUIDv7":   func(e *journal.Entry) { e.ID = uuid.MustParse("919108f7-52d1-4320-9bac-f847db4148a8") }, // RFC 9562, A.3: version 4
		"no device":            func(e *journal.Entry) { e.Device = uuid.Nil },
		"n is 0":               func(e *journal.Entry) { e.N = 0 },
		"n is -1":              func(e *journal.Entry) { e.N = -1 },
		"no kind or version":   func(e *journal.Entry) { e.Kind = "" },
		": no kind or version": func(e *journal.Entry) { e.V = 0 },
		"line feed":            func(e *journal.Entry) { e.Zone = "UTC\n0" },
		"a line feed, which separates what is hashed": func(e *journal.Entry) { e.Kind = "note\nwritten" },
		"no time":    func(e *journal.Entry) { e.At = time.Time{} },
		"no subject": func(e *journal.Entry) { e.Subject = uuid.Nil },
	} {
		e := sound(t)
		change(&e)
		assert.ErrorContains(t, sealed(t, e).Check(), want)
	}
	for _, body := range []string{"", "{", "{}{}", "nonsense", "{\"a\":\x01}"} {
		e := sound(t)
		e.Body = json.RawMessage(body)
		assert.ErrorContains(t, e.Check(), "body of note.written", "%q", body)
	}
}

// TestParseTime reads the examples of RFC 3339, 5.8 (from memory).
func TestParseTime(t *testing.T) {
	for text, want := range map[string]time.Time{
		"1985-04-12T23:20:50.52Z":        time.Date(1985, 4, 12, 23, 20, 50, 520e6, time.UTC),
		"1996-12-19T16:39:57-08:00":      time.Date(1996, 12, 20, 0, 39, 57, 0, time.UTC),
		"1990-12-31T23:59:60Z":           time.Date(1991, 1, 1, 0, 0, 0, 0, time.UTC),
		"1990-12-31T15:59:60-08:00":      time.Date(1991, 1, 1, 0, 0, 0, 0, time.UTC),
		"1937-01-01T12:00:27.87+00:20":   time.Date(1937, 1, 1, 11, 40, 27, 870e6, time.UTC),
		"1985-04-12t23:20:50.52z":        time.Date(1985, 4, 12, 23, 20, 50, 520e6, time.UTC), // small letters are allowed
		"2016-12-31T23:59:60.5Z":         time.Date(2017, 1, 1, 0, 0, 0, 500e6, time.UTC),
		"2026-11-20T21:15:09.480Z":       time.Date(2026, 11, 20, 21, 15, 9, 480e6, time.UTC),
		"2026-11-20T21:15:09.123456789Z": time.Date(2026, 11, 20, 21, 15, 9, 123456789, time.UTC),
	} {
		got, err := journal.ParseTime(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, got, text)
		assert.Equal(t, time.UTC, got.Location())
	}
	for _, text := range []string{
		"", "now", "2026-11-20", "2026-11-20 21:15:09Z", "2026-11-20T21:15:09", "2026-13-01T00:00:00Z", "2026-02-30T00:00:00Z", "2026-11-20T24:00:00Z",
		"2026-11-20T21:15:60Z", "2026-11-20T23:59:60Z", "2026-12-31T23:59:61Z", "2026-12-31T23:59:60", ":60", "2026-12-31T23:59:60Zx",
	} {
		got, err := journal.ParseTime(text)
		assert.Error(t, err, text)
		assert.True(t, got.IsZero(), text)
	}
}

func TestFormatTime(t *testing.T) {
	assert.Equal(t, "1996-12-20T00:39:57.000Z", journal.FormatTime(time.Date(1996, 12, 19, 16, 39, 57, 0, time.FixedZone("", -8*3600))))
	assert.Equal(t, "2026-11-20T22:59:59.999Z", journal.FormatTime(time.Date(2026, 11, 20, 22, 59, 59, 999999999, time.UTC)), "cut, not rounded")
}

// TestTimesSortAsTheirTexts: the store compares texts.
func TestTimesSortAsTheirTexts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(label string) time.Time {
			millis := rapid.Int64Range(0, time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC).UnixMilli()).Draw(t, label)
			return time.UnixMilli(millis).In(time.FixedZone("", 60*rapid.IntRange(-840, 840).Draw(t, "offset")))
		}
		a, b := draw("a"), draw("b")
		if got := strings.Compare(journal.FormatTime(a), journal.FormatTime(b)); got != a.Compare(b) {
			t.Fatalf("%v and %v: %d", a, b, got)
		}
		again, err := journal.ParseTime(journal.FormatTime(a))
		if err != nil || !again.Equal(a) {
			t.Fatalf("%v was read as %v: %v", a, again, err)
		}
	})
}

func FuzzParseTime(f *testing.F) {
	for _, seed := range []string{"1985-04-12T23:20:50.52Z", "1990-12-31T15:59:60-08:00", "2026-11-20T21:15:09.480Z", "9999-12-31T23:59:60Z", ":60", "0000-01-01T00:00:00Z"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := journal.ParseTime(text)
		if err != nil {
			require.True(t, got.IsZero())
			return
		}
		if got.Year() < 0 || got.Year() > 9999 { // an offset can lead out of the years that RFC 3339 writes
			return
		}
		again, err := journal.ParseTime(journal.FormatTime(got))
		require.NoError(t, err)
		require.True(t, again.Equal(got.Truncate(time.Millisecond)), "%s was written %s", text, journal.FormatTime(got))
	})
}

// note is a body for the tests.
type note struct {
	Text string  `json:"text"`
	Size float64 `json:"size,omitempty"`
}

func (note) Kind() string    { return "note.written" }
func (note) Validate() error { return nil }

func TestEncode(t *testing.T) {
	raw, err := journal.Encode(note{Text: "oil < 350 °F & \"rising\"\n揚げ物"})
	require.NoError(t, err)
	assert.Equal(t, `{"text":"oil < 350 °F & \"rising\"\n揚げ物"}`, string(raw), "compact, not escaped for HTML, no line feed behind it")
	_, err = journal.Encode(note{Size: math.NaN()})
	assert.ErrorContains(t, err, "encode note.written")
}
