package form_test

import (
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/web/form"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/unicode/norm"
)

func TestClean(t *testing.T) {
	for text, want := range map[string]string{
		"  KF-1\tpale \r\n fries ":       "KF-1 pale   fries",
		"a\x00b\u202ec\u200b":            "abc",
		"\ufeff350":                      "350",
		strings.Repeat("é", 300):         strings.Repeat("é", 200),
		strings.Repeat("x", 199) + " yz": strings.Repeat("x", 199),
	} {
		assert.Equal(t, want, form.Clean(text))
	}
}

// TestWhatStandsInTheAddressOfAFormDoesNotCount: a link to a form cannot add a field to what is sent.
func TestWhatStandsInTheAddressOfAFormDoesNotCount(t *testing.T) {
	r := httptest.NewRequest(http.MethodPost, "/x?text=added&why=added", strings.NewReader("text=typed"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	require.NoError(t, form.Parse(httptest.NewRecorder(), r))
	assert.Equal(t, "typed", form.Text(r, "text"))
	assert.Empty(t, form.Text(r, "why"))
	assert.Equal(t, []string{"typed"}, r.Form["text"])
}

// TestTidyKeepsWhatIsToBeRefused: what a record must not take stays in the text, so that the record can say so and the form
// shows it again.
func TestTidyKeepsWhatIsToBeRefused(t *testing.T) {
	long := strings.Repeat("x", 1<<20)
	for text, want := range map[string]string{
		"  KF-1\tpale \r\n fries ":  "KF-1 pale \n fries",
		"one\rtwo\u2028three\u2029": "one\ntwo\nthree",
		"a\x00b\x7f\u0085":          "ab",
		"a\u202ec":                  "a\u202ec",
		"\ufeffad\u200bmin\u200b":   "ad\u200bmin",
		"caf\xe9":                   "caf\uFFFD",
		"cafe\u0301":                "café",
		"\u212b":                    "Å", // U+212B and U+00C5 are one letter, in the words of UAX #15
		"ﬁ":                         "ﬁ", // a ligature is compatible only, and stays
		"بلدية":                     "بلدية",
		long:                        long,
	} {
		assert.Equal(t, want, form.Tidy(text))
	}
}

func FuzzTidy(f *testing.F) {
	for _, seed := range []string{"350\t°F", "e\u0301", "\x00\u202e\ufeff", "\xff\r\n", strings.Repeat("é", 400), "\u0344\u200d", "e\u202e\u0301", "\n\x00\n"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		tidy, clean := form.Tidy(text), form.Clean(text)
		require.True(t, utf8.ValidString(tidy))
		require.True(t, norm.NFC.IsNormalString(tidy))
		require.NotContains(t, tidy, "\x00")
		require.Equal(t, tidy, form.Tidy(tidy), "tidy is tidy")
		require.Equal(t, clean, form.Clean(clean), "clean is clean")
		require.LessOrEqual(t, utf8.RuneCountInString(clean), 200)
		require.NotContains(t, clean, "\n")
		if utf8.ValidString(text) && !strings.ContainsRune(text, utf8.RuneError) {
			require.NotContains(t, tidy, string(utf8.RuneError), "nothing is lost")
		}
	})
}

func TestSeePutsTheNoticeBeforeTheMark(t *testing.T) {
	for to, want := range map[string]string{
		"/fryers":         "/fryers?notice=saved",
		"/fryers?q=1#row": "/fryers?q=1&notice=saved#row",
	} {
		w := httptest.NewRecorder()
		require.NoError(t, form.See(w, httptest.NewRequest(http.MethodPost, "/", nil), to, "saved"))
		assert.Equal(t, want, w.Header().Get("Location"))
	}
}

func request(values string) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "/", strings.NewReader(values))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return r
}

func TestMomentsAndDatesAreOfTheirZone(t *testing.T) {
	r := request("at=2026-11-20T21:40&until=2026-03-29&bad=yesterday")
	require.NoError(t, form.Parse(httptest.NewRecorder(), r))
	var f fault.Fields
	assert.Equal(t, time.Date(2026, 11, 21, 2, 40, 0, 0, time.UTC), form.Moment(r, &f, "at", "America/New_York"))
	assert.Equal(t, time.Date(2026, 3, 29, 23, 0, 0, 0, time.UTC), form.Date(r, &f, "until", "Europe/Dublin"), "the day on which clocks change has its end too")
	assert.Equal(t, time.Date(2026, 11, 20, 21, 40, 0, 0, time.UTC), form.Moment(r, &f, "at", "No/Where"))
	assert.Empty(t, f)
	form.Moment(r, &f, "bad", "UTC")
	form.Date(r, &f, "none", "UTC")
	assert.Len(t, f, 2)
}

func TestNumbers(t *testing.T) {
	r := request("c=12,5&n=1e300&w=3&t=two&id=nonsense&thousands=14,000&zero=-0&entry=" + uuid.NewString())
	require.NoError(t, form.Parse(httptest.NewRecorder(), r))
	var f fault.Fields
	assert.InDelta(t, 12.5, form.Number(r, &f, "c", "C"), 1e-9)
	assert.Equal(t, 3, form.Whole(r, &f, "w", "W"))
	assert.Nil(t, form.OptionalNumber(r, &f, "none", "None"))
	assert.Empty(t, f)
	assert.False(t, math.Signbit(form.Number(r, &f, "zero", "Z")), "there is one zero")
	form.Whole(r, &f, "n", "N")
	form.Number(r, &f, "t", "T")
	form.Number(r, &f, "thousands", "The rated input")
	require.Len(t, f, 3)
	assert.Equal(t, "The rated input can be read in two ways. Write 14000 without marks between the digits, or the fraction behind a point.", f[2].Message)
	assert.Equal(t, uuid.Nil, form.UUID(r, "id"))
	assert.Equal(t, uuid.Nil, form.EntryID(r), "only a UUIDv7 counts")
}

func TestPagesHaveBounds(t *testing.T) {
	for query, want := range map[string]int{"": 0, "page=1": 0, "page=3": 2, "page=-4": 0, "page=x": 0, "page=999999999": 100_000, "page=99999999999999999999": 0} {
		assert.Equal(t, want, form.Page(httptest.NewRequest(http.MethodGet, "/?"+query, nil)), query)
	}
}

func TestAFormTooLargeIsSaidSo(t *testing.T) {
	err := form.Parse(httptest.NewRecorder(), request("note="+strings.Repeat("x", 5<<20)))
	assert.Equal(t, fault.Invalid, fault.KindOf(err))
}

// FuzzNumbersAndTimes reads what stands in fields of numbers, days and moments: a number that can be worked with or a
// complaint, and never a time that cannot be written down.
func FuzzNumbersAndTimes(f *testing.F) {
	for _, seed := range []string{"12,5", "-0", "NaN", "-Infinity", "1e999", "0x1p-2", "14,000", "1.2.3", "٣٥٠", "30 kW", "−5", "9999-12-31", "0000-01-01T00:00", "2026-03-29T01:30", "2026-11-20T21:40:61", "\x00", strings.Repeat("9", 400)} {
		f.Add(seed, "Europe/Dublin")
	}
	f.Add("2026-11-20T21:40", "../../etc/localtime")
	f.Fuzz(func(t *testing.T, text, zone string) {
		r := httptest.NewRequest(http.MethodPost, "/", nil)
		r.Form = map[string][]string{"x": {text}}
		var read fault.Fields
		n, whole := form.Number(r, &read, "x", "X"), form.Whole(r, &read, "x", "X")
		require.False(t, math.IsNaN(n) || math.IsInf(n, 0) || math.Abs(n) > 1e12)
		if len(read) == 0 {
			require.InDelta(t, n, float64(whole), 0)
		}
		for _, at := range []time.Time{form.Date(r, &read, "x", zone), form.Moment(r, &read, "x", zone)} {
			require.Less(t, at.Year(), 10_001)
			for _, c := range read {
				require.Equal(t, "x", c.Name)
				require.NotEmpty(t, c.Message)
			}
		}
		form.UUID(r, "x")
		form.EntryID(r)
	})
}
