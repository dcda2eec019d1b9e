package form_test

import (
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
)

func TestClean(t *testing.T) {
	for text, want := range map[string]string{
		"  KF-1\tpale \r\n fries ": "KF-1 pale \n fries",
		"a\x00b\u202ec":            "abc",
		"caf\xe9":                  "caf\uFFFD",
	} {
		assert.Equal(t, want, form.Clean(text))
	}
}

func FuzzClean(f *testing.F) {
	f.Add("350\t°F")
	f.Add(strings.Repeat("é", 20_000))
	f.Fuzz(func(t *testing.T, text string) {
		clean := form.Clean(text)
		require.True(t, utf8.ValidString(clean))
		require.LessOrEqual(t, len(clean), 20_000)
		require.Equal(t, clean, form.Clean(clean), "clean is clean")
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
	r := request("c=12,5&n=1e300&w=3&t=two&id=nonsense&entry=" + uuid.NewString())
	require.NoError(t, form.Parse(httptest.NewRecorder(), r))
	var f fault.Fields
	assert.InDelta(t, 12.5, form.Number(r, &f, "c", "C"), 1e-9)
	assert.Equal(t, 3, form.Whole(r, &f, "w", "W"))
	assert.Nil(t, form.OptionalNumber(r, &f, "none", "None"))
	assert.Empty(t, f)
	form.Whole(r, &f, "n", "N")
	form.Number(r, &f, "t", "T")
	assert.Len(t, f, 2)
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
