package bench

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"frywright/domain/state"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// pageServer gives pages of different lengths, to those who have the cookie.
func pageServer(t *testing.T, asked *atomic.Int64) (base string) {
	t.Helper()
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n := asked.Add(1)
		if r.Header.Get("Cookie") != "who=me" {
			http.Error(w, "who are you", http.StatusForbidden)
			return
		}
		if r.Method == http.MethodPost {
			http.Redirect(w, r, "/", http.StatusSeeOther)
			return
		}
		w.Header().Set("X-Page", r.URL.Path)
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = io.WriteString(w, strings.Repeat("fries ", 10+int(n%5)))
	}))
	t.Cleanup(s.Close)
	return s.URL
}

func asks(base, cookie string) func(*rand.Rand) hit {
	return func(rnd *rand.Rand) hit {
		return hit{address: fmt.Sprintf("%s/%d", base, rnd.IntN(100)), cookie: cookie}
	}
}

// TestTheFloorServesTheSame: byte for byte and header for header, for a request that is as long.
func TestTheFloorServesTheSame(t *testing.T) {
	var asked atomic.Int64
	next := asks(pageServer(t, &asked), "who=me")
	c := newCaller(2)
	defer c.close()
	f, err := newFloor(t.Context(), c, next)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.close()) }()
	require.Len(t, f.answers, samples)
	bare := f.next(next)
	for i := range samples {
		h := hit{address: fmt.Sprintf("%s%d", f.base, i), cookie: bare(rand.New(rand.NewPCG(1, 1))).cookie}
		assert.Equal(t, "who=me", h.cookie)
		got, err := c.fetch(t.Context(), h)
		require.NoError(t, err)
		assert.Equal(t, f.answers[i], got)
		assert.NotEmpty(t, got.header.Get("X-Page"))
	}
	_, err = c.call(t.Context(), hit{address: f.base + "99"})
	require.ErrorContains(t, err, "404")
}

func TestADriveCountsEveryRequest(t *testing.T) {
	var asked atomic.Int64
	base := pageServer(t, &asked)
	c := newCaller(4)
	defer c.close()
	got, err := c.driveFor(t.Context(), 4, 50*time.Millisecond, asks(base, "who=me"))
	require.NoError(t, err)
	assert.EqualValues(t, asked.Load(), got.n())
	assert.GreaterOrEqual(t, got.took, 50*time.Millisecond)
	assert.InDelta(t, 72, got.size(), 13)
	assert.LessOrEqual(t, got.millis(50), got.millis(99))
	assert.LessOrEqual(t, got.millis(99), got.max())
	assert.InEpsilon(t, float64(got.n())/got.took.Seconds(), got.rate(), 1e-9)
}

// TestAPageThatFailsEndsTheDrive: a page that says no is quick, and would flatter the figures.
func TestAPageThatFailsEndsTheDrive(t *testing.T) {
	var asked atomic.Int64
	base := pageServer(t, &asked)
	c := newCaller(1)
	defer c.close()
	_, err := c.driveFor(t.Context(), 2, time.Minute, asks(base, "who=you"))
	require.ErrorContains(t, err, "403")
	_, err = c.call(t.Context(), hit{address: base, cookie: "who=me", form: "a=b"})
	require.NoError(t, err, "what is posted leads on")
	_, err = newFloor(t.Context(), c, asks(base, ""))
	require.ErrorContains(t, err, "403")
	ended, end := context.WithCancel(t.Context())
	end()
	_, err = c.driveFor(ended, 2, time.Minute, asks(base, "who=me"))
	require.ErrorIs(t, err, context.Canceled)
}

// TestASoakKeepsItsRate: requests come at their moments, and one that had to wait counts from when it was due.
func TestASoakKeepsItsRate(t *testing.T) {
	var asked atomic.Int64
	one := []state.Fryer{{Tag: "TM-000001"}}
	x := &site{session: &session{base: pageServer(t, &asked), desk: "who=me"}, caller: newCaller(manyUsers), cast: &cast{fryers: one, openFryers: one}}
	defer x.caller.close()
	x.kinds = []page{{"any", asks(x.base, "who=me")}}
	r := &Run{Requests: 2 * everyNote, Rate: 500}
	got, err := r.pour(t.Context(), x)
	require.NoError(t, err)
	assert.Equal(t, r.Requests, got.n())
	assert.EqualValues(t, r.Requests, asked.Load())
	assert.GreaterOrEqual(t, got.took, time.Duration(r.Requests)*time.Second/time.Duration(r.Rate))
	writes := 0
	for n, next := int64(1), x.soaking(); n <= int64(r.Requests); n++ {
		if next(rand.New(rand.NewPCG(1, 1)), n).form != "" {
			writes++
		}
	}
	assert.Equal(t, r.Requests/everyNote+r.Requests/everyValue, writes)

	began := time.Now()
	tally := newTally()
	require.NoError(t, r.drop(t.Context(), x, tally, x.kinds[0].next(rand.New(rand.NewPCG(1, 1))), r.moment(began, 25)))
	assert.GreaterOrEqual(t, time.Since(began), 50*time.Millisecond)
	require.NoError(t, r.drop(t.Context(), x, tally, x.kinds[0].next(rand.New(rand.NewPCG(1, 1))), began.Add(-time.Second)))
	assert.GreaterOrEqual(t, tally.max(), 1000.0)
	assert.True(t, (&Run{}).moment(began, 5).IsZero(), "without a rate it goes at once")
}

func TestGrew(t *testing.T) {
	for _, tt := range []struct {
		first, middle, last float64
		want                string
	}{
		{100, 100, 101, "it did not grow"}, {100, 120, 121, "it rose and stayed"}, {100, 120, 140, "it grew"}, {100, 100, 120, "it grew at the end"},
		{120, 100, 90, "it did not grow"},
	} {
		assert.Equal(t, tt.want, grew(tt.first, tt.middle, tt.last))
	}
}

func TestAScanSeesEveryDifference(t *testing.T) {
	for _, n := range []int{1, 10, 999, 10_000} {
		took, err := scan(n)
		require.NoError(t, err)
		assert.Positive(t, took)
	}
}

func TestThirdsOfASoak(t *testing.T) {
	var samples []sample
	for i := range 9 {
		samples = append(samples, sample{resident: 100 + 10*float64(i), own: 50, handles: 20})
	}
	tally := newTally()
	require.NoError(t, tally.note(3*time.Millisecond, 10))
	tally.took = time.Second
	rows := soaked(tally, samples)
	require.Len(t, rows, 6, "goroutines are not counted here")
	assert.InDelta(t, 110, rows[3].Floor, 1e-9)
	assert.InDelta(t, 170, rows[3].Figure, 1e-9)
	assert.Contains(t, rows[3].How, "it grew")
	assert.Contains(t, rows[4].How, "it did not grow")
	assert.Len(t, soaked(tally, nil), 3)
}
