package bench

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/HdrHistogram/hdrhistogram-go"
)

// hit is one request of a user.
type hit struct {
	address string // whole
	cookie  string // who asks; empty for the floor
	form    string // what is posted; empty: the page is asked for
}

// caller makes requests as a browser does: it keeps its connections and takes what is packed. It reads every byte of the
// answers and looks at none.
type caller struct {
	client *http.Client
	buffer sync.Pool
}

func newCaller(users int) *caller {
	return &caller{
		client: &http.Client{
			Transport:     &http.Transport{MaxIdleConnsPerHost: users, DisableCompression: true, IdleConnTimeout: time.Minute},
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
		buffer: sync.Pool{New: func() any { b := make([]byte, 64<<10); return &b }},
	}
}

func (c *caller) close() { c.client.CloseIdleConnections() }

func (c *caller) send(ctx context.Context, h hit) (*http.Response, error) {
	method := http.MethodGet
	var body io.Reader
	if h.form != "" {
		method, body = http.MethodPost, strings.NewReader(h.form)
	}
	req, err := http.NewRequestWithContext(ctx, method, h.address, body)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Accept-Encoding", "gzip")
	if h.cookie != "" {
		req.Header.Set("Cookie", h.cookie)
	}
	if h.form != "" {
		req.ContentLength = int64(len(h.form))
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		req.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	return c.client.Do(req)
}

// call makes one request and gives how many bytes the answer's body has.
func (c *caller) call(ctx context.Context, h hit) (int64, error) {
	resp, err := c.send(ctx, h)
	if err != nil {
		return 0, err
	}
	defer resp.Body.Close() //nolint:errcheck // nothing more is read from it
	buffer := c.buffer.Get().(*[]byte)
	defer c.buffer.Put(buffer)
	n, err := io.CopyBuffer(io.Discard, onlyReader{resp.Body}, *buffer)
	want := http.StatusOK
	if h.form != "" {
		want = http.StatusSeeOther
	}
	if err == nil && resp.StatusCode != want {
		err = fmt.Errorf("%s answers %s", h.address, resp.Status)
	}
	return n, err
}

// onlyReader hides whatever else a body can, so that the copy goes through the buffer.
type onlyReader struct{ io.Reader }

// tally is what a drive came to.
type tally struct {
	times *hdrhistogram.Histogram // µs
	bytes int64
	took  time.Duration
}

const longestMicros = 120_000_000

func newTally() *tally { return &tally{times: hdrhistogram.New(1, longestMicros, 3)} }

func (t *tally) note(took time.Duration, bytes int64) error {
	t.bytes += bytes
	return t.times.RecordValue(max(1, took.Microseconds()))
}

// add takes another tally in. Their times follow each other.
func (t *tally) add(other *tally) {
	t.times.Merge(other.times)
	t.bytes += other.bytes
	t.took += other.took
}

func (t *tally) n() int { return int(t.times.TotalCount()) }

// millis gives a quantile in ms.
func (t *tally) millis(percent float64) float64 {
	return float64(t.times.ValueAtQuantile(percent)) / 1000
}

func (t *tally) max() float64 { return float64(t.times.Max()) / 1000 }

// rate gives requests a second.
func (t *tally) rate() float64 { return float64(t.n()) / t.took.Seconds() }

// size gives the mean of bytes of an answer.
func (t *tally) size() float64 { return float64(t.bytes) / float64(max(1, t.n())) }

// drive lets users ask, each for one thing after another without a pause, until done says so. A failed request ends it.
func (c *caller) drive(ctx context.Context, users int, next func(*rand.Rand) hit, done <-chan struct{}) (*tally, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	tallies := make([]*tally, users)
	began := time.Now()
	var wait sync.WaitGroup
	for i := range users {
		tallies[i] = newTally()
		wait.Go(func() {
			rnd := rand.New(rand.NewPCG(uint64(i), draws.Add(1)))
			for open(done) && ctx.Err() == nil {
				if err := c.one(ctx, tallies[i], next(rnd)); err != nil {
					cancel(err)
					return
				}
			}
		})
	}
	wait.Wait()
	all := newTally()
	for _, t := range tallies {
		all.add(t)
	}
	all.took = time.Since(began)
	return all, context.Cause(ctx)
}

// draws makes every drive ask for other things than the one before.
var draws atomic.Uint64

func (c *caller) one(ctx context.Context, t *tally, h hit) error {
	began := time.Now()
	n, err := c.call(ctx, h)
	if err != nil {
		return err
	}
	return t.note(time.Since(began), n)
}

func open(done <-chan struct{}) bool {
	select {
	case <-done:
		return false
	default:
		return true
	}
}

// driveFor drives for a time.
func (c *caller) driveFor(ctx context.Context, users int, span time.Duration, next func(*rand.Rand) hit) (*tally, error) {
	done := make(chan struct{})
	timer := time.AfterFunc(span, func() { close(done) })
	defer timer.Stop()
	return c.drive(ctx, users, next, done)
}
