package bench

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"strconv"
	"strings"
)

// answer is a page as it came over the wire.
type answer struct {
	header http.Header
	body   []byte
}

// floor serves answers from memory: what a page costs apart from making it.
type floor struct {
	base    string
	answers []answer
	server  *http.Server
	ended   chan error
}

// samples is how many answers of a page the floor serves in turn.
const samples = 16

// newFloor asks for a page a few times and serves what it was given, header for header and byte for byte.
func newFloor(ctx context.Context, c *caller, next func(*rand.Rand) hit) (*floor, error) {
	f := &floor{ended: make(chan error, 1)}
	rnd := rand.New(rand.NewPCG(1, 1))
	for range samples {
		a, err := c.fetch(ctx, next(rnd))
		if err != nil {
			return nil, err
		}
		f.answers = append(f.answers, a)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	f.base = "http://" + l.Addr().String() + "/"
	f.server = &http.Server{Handler: f, ReadHeaderTimeout: patience}
	go func() { f.ended <- f.server.Serve(l) }()
	return f, nil
}

func (c *caller) fetch(ctx context.Context, h hit) (answer, error) {
	resp, err := c.send(ctx, h)
	if err != nil {
		return answer{}, err
	}
	defer resp.Body.Close() //nolint:errcheck // nothing more is read from it
	body, err := io.ReadAll(resp.Body)
	if err == nil && resp.StatusCode != http.StatusOK {
		err = errors.New(h.address + " answers " + resp.Status)
	}
	resp.Header.Del("Date") // the server of the floor sets its own, as every server does
	return answer{resp.Header, body}, err
}

// ServeHTTP implements http.Handler.
func (f *floor) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	i, err := strconv.Atoi(strings.TrimPrefix(r.URL.Path, "/"))
	if err != nil || i < 0 || i >= len(f.answers) {
		http.NotFound(w, r)
		return
	}
	for name, values := range f.answers[i].header {
		w.Header()[name] = values
	}
	_, _ = w.Write(f.answers[i].body) // an error here means that the bench was stopped
}

// next gives one of the answers' addresses. The request is as long as the page's, cookie and all.
func (f *floor) next(page func(*rand.Rand) hit) func(*rand.Rand) hit {
	addresses := make([]string, len(f.answers))
	for i := range addresses {
		addresses[i] = f.base + strconv.Itoa(i)
	}
	return func(rnd *rand.Rand) hit {
		return hit{address: pick(rnd, addresses), cookie: page(rnd).cookie}
	}
}

func (f *floor) close() error {
	err := f.server.Close()
	if ended := <-f.ended; !errors.Is(ended, http.ErrServerClosed) {
		err = errors.Join(err, ended)
	}
	return err
}
