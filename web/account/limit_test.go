package account

import (
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"frywright/domain/fault"
	"frywright/web/form"
	"frywright/web/path"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var noon = time.Date(2026, 11, 20, 12, 0, 0, 0, time.UTC)

func TestWhoeverGuessesHasToWaitAndNobodyElse(t *testing.T) {
	v := newWorld(t)
	guesser := v.browser("192.0.2.1")
	for range passwordRules.pair.burst {
		assert.Equal(t, http.StatusUnprocessableEntity, guesser.signIn(inesEmail, "a guess").Code)
	}
	w := guesser.signIn(inesEmail, inesPassword)
	assert.Equal(t, http.StatusTooManyRequests, w.Code, "even the right one")
	assert.NotEmpty(t, w.Header().Get("Retry-After"))
	assert.Contains(t, w.Body.String(), "Too many tries. Wait a few minutes")
	assert.Contains(t, w.Body.String(), `value="`+inesEmail+`"`, "what was typed stays")
	assert.Empty(t, guesser.who())

	assert.Equal(t, http.StatusUnprocessableEntity, guesser.signIn("piotr@example.com", "a guess").Code, "another e-mail is another matter")
	victim := v.browser("198.51.100.7")
	assert.Equal(t, http.StatusSeeOther, victim.signIn(inesEmail, inesPassword).Code, "she is not locked out elsewhere")

	v.now = v.now.Add(passwordRules.pair.every)
	assert.Equal(t, http.StatusSeeOther, guesser.signIn(inesEmail, inesPassword).Code, "after a while it goes on")
}

func TestRightSignInsAreNotCounted(t *testing.T) {
	v := newWorld(t)
	for range 2 * passwordRules.pair.burst {
		require.Equal(t, http.StatusSeeOther, v.browser("192.0.2.1").signIn(inesEmail, inesPassword).Code)
	}
	assert.Zero(t, v.slept)
}

func TestARightSignInDoesNotPayForGuesses(t *testing.T) {
	l := newLimits(passwordRules)
	for range passwordRules.pair.burst - 1 {
		_, err := l.count(noon, try{address: "192.0.2.1", who: "a"})
		require.NoError(t, err)
	}
	for range 10 { // their own sign-in, in between
		given, err := l.count(noon, try{address: "192.0.2.1", who: "own"})
		require.NoError(t, err)
		given.good()
	}
	_, err := l.count(noon, try{address: "192.0.2.1", who: "a"})
	require.NoError(t, err)
	_, err = l.count(noon, try{address: "192.0.2.1", who: "a"})
	assert.Equal(t, fault.TooMany, fault.KindOf(err))
}

func TestOneAddressCannotGoThroughManyEmails(t *testing.T) {
	l := newLimits(passwordRules)
	count := func(now time.Time, address string, n int) error {
		_, err := l.count(now, try{address: address, who: fmt.Sprintf("person%d@example.com", n)})
		return err
	}
	for n := range passwordRules.address.burst {
		require.NoError(t, count(noon, "192.0.2.1", n))
	}
	assert.Equal(t, fault.TooMany, fault.KindOf(count(noon, "192.0.2.1", 1000)))
	require.NoError(t, count(noon, "192.0.2.2", 1001))
	require.NoError(t, count(noon.Add(passwordRules.address.every), "192.0.2.1", 1002))
	assert.Equal(t, fault.TooMany, fault.KindOf(count(noon.Add(passwordRules.address.every), "192.0.2.1", 1003)))
}

func TestAnEmailTriedFromEverywhereGetsSlowerAndNoMore(t *testing.T) {
	l := newLimits(passwordRules)
	count := func(now time.Time, n int) time.Duration {
		given, err := l.count(now, try{address: fmt.Sprintf("net %d", n), who: inesEmail})
		require.NoError(t, err, "it is never refused")
		return given.slow
	}
	for n := range passwordRules.person.burst {
		assert.Zero(t, count(noon, n))
	}
	for n := range 1000 {
		slow := count(noon, 100+n)
		assert.Positive(t, slow)
		assert.LessOrEqual(t, slow, passwordRules.slowest)
	}
	assert.Zero(t, count(noon.Add(2*passwordRules.person.every), 5000), "it is over soon after")
}

func TestASlowTryWaitsBeforeItIsLookedAt(t *testing.T) {
	v := newWorld(t)
	for n := range passwordRules.person.burst {
		_, err := v.pages.limits.count(v.now, try{address: fmt.Sprintf("other %d", n), who: inesEmail})
		require.NoError(t, err)
	}
	assert.Equal(t, http.StatusSeeOther, v.browser("192.0.2.1").signIn(inesEmail, inesPassword).Code)
	assert.Equal(t, passwordRules.slowest, v.slept)
}

// TestAnAttackFromEverywhereKeepsNobodyOut: strangers at many addresses hammer one account. Its person comes in at once from
// a browser that they have used before, even through a stranger's own connection, and from a new one after a short wait.
func TestAnAttackFromEverywhereKeepsNobodyOut(t *testing.T) {
	v := newWorld(t)
	v.pages.hashing.check = func(password, hash string) (bool, *argon2id.Params, error) {
		return password == inesPassword, cost, nil // the work itself is not what is looked at here
	}
	own := v.browser("198.51.100.7")
	require.Equal(t, http.StatusSeeOther, own.signIn(inesEmail, inesPassword).Code)
	own.post("/signout", nil)

	var crowd []*browser
	for n := range 250 {
		crowd = append(crowd, v.browser(fmt.Sprintf("203.0.113.%d", n)))
	}
	refused := 0
	for n := range 4000 {
		v.now = v.now.Add(20 * time.Millisecond)
		if crowd[n%len(crowd)].signIn(inesEmail, fmt.Sprintf("guess %d", n)).Code == http.StatusTooManyRequests {
			refused++
		}
	}
	assert.Greater(t, refused, 2000, "the crowd is held back")

	v.slept = 0
	require.Equal(t, http.StatusSeeOther, own.signIn(inesEmail, inesPassword).Code)
	assert.Zero(t, v.slept, "a browser that is known waits for nothing")
	own.post("/signout", nil)
	own.address = crowd[0].address
	require.Equal(t, http.StatusSeeOther, own.signIn(inesEmail, inesPassword).Code)
	assert.Zero(t, v.slept, "nor behind an address that is used up")

	fresh := v.browser("198.51.100.8")
	require.Equal(t, http.StatusSeeOther, fresh.signIn(inesEmail, inesPassword).Code)
	assert.LessOrEqual(t, v.slept, passwordRules.slowest, "a new one waits for a moment, once")
}

// TestABrowserIsKnownToItsPersonOnly: whoever has a browser's cookie has a pace of their own for its person, and no other's.
func TestABrowserIsKnownToItsPersonOnly(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	require.Equal(t, http.StatusSeeOther, b.signIn(inesEmail, inesPassword).Code)
	b.post("/signout", nil)
	c := b.cookies[browserCookie]
	require.NotNil(t, c)
	assert.True(t, c.HttpOnly)
	assert.Equal(t, http.SameSiteLaxMode, c.SameSite)
	assert.Len(t, c.Value, browserSize)

	// A thief of the cookie may guess at that pace and then at anybody's, and no faster.
	guesses := 0
	for range 100 {
		if b.signIn(inesEmail, "a guess").Code == http.StatusUnprocessableEntity {
			guesses++
		}
	}
	assert.Equal(t, 2*passwordRules.pair.burst, guesses)
	assert.Equal(t, http.StatusUnprocessableEntity, b.signIn("piotr@example.com", "a guess").Code, "another e-mail is another matter")

	b.signIn(inesEmail, inesPassword)
	planted := v.browser("192.0.2.3")
	planted.cookies[browserCookie] = &http.Cookie{Name: browserCookie, Value: "ABCDEFGHIJKLMNOPQRSTUVWXYZ", Path: path.SignIn()}
	for range passwordRules.pair.burst {
		planted.signIn(inesEmail, "a guess")
	}
	assert.Equal(t, http.StatusTooManyRequests, planted.signIn(inesEmail, "a guess").Code, "a cookie that was made up is worth nothing")
}

// TestPasswordsAreWorkedOnAFewAtATime: a flood of sign-ins takes bounded memory, so many wait at most, and whoever is known
// has a turn that no stranger takes.
func TestPasswordsAreWorkedOnAFewAtATime(t *testing.T) {
	h := newHasher()
	var now, most atomic.Int64
	hold := make(chan struct{})
	h.check = func(string, string) (bool, *argon2id.Params, error) {
		most.Store(max(most.Load(), now.Add(1)))
		<-hold
		now.Add(-1)
		return false, cost, nil
	}
	var group sync.WaitGroup
	work := func(known bool) {
		group.Go(func() {
			_, err := h.compare(t.Context(), "x", "", known)
			assert.NoError(t, err)
		})
	}
	for range 40 {
		work(false)
	}
	require.Eventually(t, func() bool { return now.Load() == turnsOpen }, time.Second, time.Millisecond)
	work(true)
	require.Eventually(t, func() bool { return now.Load() == turnsOpen+turnsKept }, time.Second, time.Millisecond, "whoever is known comes on at once")
	close(hold)
	group.Wait()
	assert.EqualValues(t, turnsOpen+turnsKept, most.Load())

	for range waitingMost {
		_, err := h.wait()
		require.NoError(t, err)
	}
	_, err := h.wait()
	assert.Equal(t, fault.TooMany, fault.KindOf(err), "beyond those that wait, others are asked to come again")
}

func TestWhoeverGoesAwayGivesTheirPlaceUp(t *testing.T) {
	h := newHasher()
	for range turnsOpen {
		h.open <- struct{}{}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := h.compare(ctx, "x", nobodysHash(), false)
	assert.Equal(t, fault.Unavailable, fault.KindOf(err))
}

func TestWhatIsRememberedIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := newLimits(passwordRules)
		l.most = rapid.IntRange(3, 50).Draw(t, "most")
		now := noon
		for range rapid.IntRange(1, 300).Draw(t, "tries") {
			now = now.Add(time.Duration(rapid.IntRange(0, 100).Draw(t, "seconds")) * time.Second)
			address, who := rapid.StringMatching(`[a-z]{1,3}`).Draw(t, "address"), rapid.StringMatching(`[a-z]{1,3}`).Draw(t, "who")
			_, _ = l.count(now, try{address: address, who: who})
			if len(l.by) > l.most {
				t.Fatalf("%d are remembered, of at most %d", len(l.by), l.most)
			}
		}
	})
}

func TestTheAddressIsTheConnections(t *testing.T) {
	for from, want := range map[string]string{
		"192.0.2.7:1234":                 "192.0.2.7",
		"[::ffff:192.0.2.7]:1234":        "192.0.2.7",
		"[2001:db8:1:2:3:4:5:6]:1234":    "2001:db8:1:2::/64",
		"[2001:db8:1:2:ffff::1]:1234":    "2001:db8:1:2::/64",
		"[fe80::1%eth0]:1234":            "fe80::/64",
		"2001:db8:1:2:3:4:5:6":           "2001:db8:1:2::/64",
		"@":                              "@",
		"[2001:db8:1:3:ffff::1]:1234":    "2001:db8:1:3::/64",
		"[2001:0db8:0001:0003::1]:1234":  "2001:db8:1:3::/64",
		"[::ffff:192.0.2.7%zone]:1234":   "192.0.2.7",
		"[2001:db8:1:2::%evil.zone]:99":  "2001:db8:1:2::/64",
		"unix socket without an address": "unix socket without an address",
	} {
		r := httptest.NewRequest(http.MethodPost, "/signin", nil)
		r.RemoteAddr = from
		r.Header.Set("X-Forwarded-For", "203.0.113.9")
		r.Header.Set("Forwarded", "for=203.0.113.9")
		assert.Equal(t, want, form.Network(r), from)
	}
}
