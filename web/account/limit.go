package account

import (
	"context"
	"sync"
	"time"

	"frywright/domain/fault"

	"golang.org/x/time/rate"
)

// pace is how often something may be tried: so many at once, and one more each so often.
type pace struct {
	burst int
	every time.Duration
}

// rules say how often somebody may try. By where they come from, whoever tries too often is refused. What is tried from
// everywhere gets slower to answer and no more, where slowest is set: a stranger elsewhere cannot lock anybody out. A
// browser that the person has signed in with before has a pace of its own, whatever strangers do, next door too.
type rules struct {
	pair    pace          // one address and one person; also one known browser and its person
	address pace          // one address, all persons: a kitchen or an office shares one
	person  pace          // one person from everywhere
	slowest time.Duration // how long a try waits at most once person is used up; 0: it is refused
}

var passwordRules = rules{
	pair: pace{5, time.Minute}, address: pace{40, 10 * time.Second}, person: pace{10, 30 * time.Second}, slowest: 2 * time.Second,
}

// codeRules are for the codes of the second step. Whoever gets there has the password, and six digits can be guessed, so
// here the person's sign-in from browsers that are not known is refused for a while: at this pace a guesser needs years.
var codeRules = rules{pair: pace{5, time.Minute}, address: pace{40, 10 * time.Second}, person: pace{20, 2 * time.Minute}}

// limitsMost is how many are remembered.
const limitsMost = 20_000

// limitKey is what is counted.
type limitKey struct {
	address string // of the connection; empty for the person from everywhere
	who     string // empty for the address as a whole
	browser string // a known browser's cookie, instead of the address
}

// limits counts tries, in memory.
type limits struct {
	rules
	mu   sync.Mutex
	most int
	by   map[limitKey]*rate.Limiter
}

func newLimits(r rules) *limits {
	return &limits{rules: r, most: limitsMost, by: map[limitKey]*rate.Limiter{}}
}

// try is somebody's try.
type try struct {
	address string
	who     string
	browser string // where it is known for who
}

// leave is what a try may do.
type leave struct {
	good func()        // takes the try back: it came out well
	slow time.Duration // how long it waits before it is looked at
	own  bool          // it is a known browser's
}

// count counts a try; a TooMany fault where there were too many.
func (l *limits) count(now time.Time, t try) (leave, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if t.browser != "" {
		own := l.limiter(now, limitKey{who: t.who, browser: t.browser}, l.pair).ReserveN(now, 1)
		if own.DelayFrom(now) == 0 {
			return leave{good: l.back(now, own), own: true}, nil
		}
		own.CancelAt(now) // used up: now it is a stranger's
	}
	pair := l.limiter(now, limitKey{address: t.address, who: t.who}, l.pair).ReserveN(now, 1)
	all := l.limiter(now, limitKey{address: t.address}, l.address).ReserveN(now, 1)
	everywhere := l.limiter(now, limitKey{who: t.who}, l.person).ReserveN(now, 1)
	slow := everywhere.DelayFrom(now)
	if pair.DelayFrom(now) > 0 || all.DelayFrom(now) > 0 || slow > 0 && l.slowest == 0 {
		l.back(now, pair, all, everywhere)()
		return leave{}, fault.New(fault.TooMany, "Too many tries. Wait a few minutes, then try again. The sign-in itself is not locked.")
	}
	if slow > l.slowest {
		everywhere.CancelAt(now) // no debt beyond this, so that it is over soon after the tries are
		slow = l.slowest
	}
	return leave{good: l.back(now, pair, all, everywhere), slow: slow}, nil
}

// back gives how to take what was counted back.
func (l *limits) back(now time.Time, counted ...*rate.Reservation) func() {
	return func() {
		for _, c := range counted {
			c.CancelAt(now)
		}
	}
}

// pause waits, or gives up with the request.
func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return fault.Wrap(ctx.Err(), fault.Unavailable, "Try again in a moment.")
	}
}

func (l *limits) limiter(now time.Time, k limitKey, p pace) *rate.Limiter {
	if found, ok := l.by[k]; ok {
		return found
	}
	if len(l.by) >= l.most {
		l.purge(now)
	}
	made := rate.NewLimiter(rate.Every(p.every), p.burst)
	l.by[k] = made
	return made
}

// purge forgets those that are as good as new, and where that is not enough any others, to half.
func (l *limits) purge(now time.Time) {
	for k, one := range l.by {
		if one.TokensAt(now) >= float64(one.Burst()) {
			delete(l.by, k)
		}
	}
	for k := range l.by {
		if len(l.by) <= l.most/2 {
			return
		}
		delete(l.by, k)
	}
}
