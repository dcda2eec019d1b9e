package account

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"

	"frywright/domain/fault"

	"golang.org/x/time/rate"
)

// How often somebody may try. Only whoever tries is ever refused, by where they come from. An e-mail address that is tried
// from everywhere gets slower to answer and no more: a stranger elsewhere cannot lock anybody out.
const (
	pairBurst    = 5                // one address and one e-mail
	pairEvery    = time.Minute      //
	addressBurst = 40               // one address, all e-mails: a kitchen or an office shares one
	addressEvery = 10 * time.Second //
	emailBurst   = 10               // one e-mail from everywhere, until it gets slower
	emailEvery   = 30 * time.Second //
	slowest      = 2 * time.Second  //
	limitsMost   = 20_000           // so many are remembered
	ipv6Site     = 64               // bits of an IPv6 address that belong to one connection
)

// limitKey is what is counted; who is empty for the address as a whole, address for the e-mail from everywhere.
type limitKey struct {
	address string
	who     string
}

// limits counts tries, in memory.
type limits struct {
	mu   sync.Mutex
	most int
	by   map[limitKey]*rate.Limiter
}

func newLimits() *limits { return &limits{most: limitsMost, by: map[limitKey]*rate.Limiter{}} }

// try counts a try of a person from an address; a TooMany fault where there were too many. It is to be looked at after
// slow. A try that came out well is taken back with good.
func (l *limits) try(now time.Time, address, who string) (good func(), slow time.Duration, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	pair := l.limiter(now, limitKey{address, who}, pairEvery, pairBurst).ReserveN(now, 1)
	all := l.limiter(now, limitKey{address: address}, addressEvery, addressBurst).ReserveN(now, 1)
	if pair.DelayFrom(now) > 0 || all.DelayFrom(now) > 0 {
		pair.CancelAt(now)
		all.CancelAt(now)
		return nil, 0, fault.New(fault.TooMany, "Too many tries from here. Wait a few minutes, then try again. The sign-in itself is not locked.")
	}
	everywhere := l.limiter(now, limitKey{who: who}, emailEvery, emailBurst).ReserveN(now, 1)
	if slow = everywhere.DelayFrom(now); slow > slowest {
		everywhere.CancelAt(now) // no debt beyond this, so that it is over soon after the tries are
		slow = slowest
	}
	good = func() {
		pair.CancelAt(now)
		all.CancelAt(now)
		everywhere.CancelAt(now)
	}
	return good, slow, nil
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

func (l *limits) limiter(now time.Time, k limitKey, every time.Duration, burst int) *rate.Limiter {
	if found, ok := l.by[k]; ok {
		return found
	}
	if len(l.by) >= l.most {
		l.purge(now)
	}
	made := rate.NewLimiter(rate.Every(every), burst)
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

// addressOf gives where a request comes from: the address of the connection, for IPv6 its network. Headers can be made
// up by anybody, so none is believed.
func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	ip, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if ip = ip.Unmap().WithZone(""); ip.Is6() {
		if network, err := ip.Prefix(ipv6Site); err == nil {
			return network.String()
		}
	}
	return ip.String()
}
