package account

import (
	"net/http"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/web/path"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	phoneAgent = "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/141.0.0.0 Mobile Safari/537.36"
	deskAgent  = "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0"
)

func TestWhereSomebodyIsSignedIn(t *testing.T) {
	v := newWorld(t)
	phone, desk := v.browser("192.0.2.1"), v.browser("192.0.2.2")
	phone.agent, desk.agent = phoneAgent, deskAgent
	phone.signIn(inesEmail, inesPassword)
	v.now = v.now.Add(3 * time.Hour)
	desk.signIn(inesEmail, inesPassword)
	body := desk.get(path.AccountSessions()).Body.String()
	for _, want := range []string{"Firefox on Linux", "This one", "Chrome on Android", "Last used 3 hours ago", "30 days after it began", "for 14 days"} {
		assert.Contains(t, body, want)
	}
	assert.Contains(t, desk.get(path.Account()).Body.String(), "In 2 places")

	w := desk.post(path.SessionEnd(v.store.signIns[phone.session()].ID), nil)
	assert.Equal(t, path.AccountSessions()+"?notice=session-ended", w.Header().Get("Location"))
	assert.Empty(t, phone.who())
	assert.Equal(t, "Ines Quill", desk.who())
	assert.Contains(t, desk.get(path.AccountSessions()).Body.String(), "Nowhere else.")
	assert.Equal(t, http.StatusSeeOther, desk.post(path.SessionEnd(id(9)), nil).Code, "one that is over already stays so")
}

func TestEndingAllOthers(t *testing.T) {
	v := newWorld(t)
	here, a, b := v.browser("192.0.2.1"), v.browser("192.0.2.2"), v.browser("192.0.2.3")
	for _, x := range []*browser{here, a, b} {
		x.signIn(inesEmail, inesPassword)
	}
	w := here.post(path.SessionsEnd(), nil)
	assert.Equal(t, path.AccountSessions()+"?notice=sessions-ended", w.Header().Get("Location"))
	assert.Equal(t, "Ines Quill", here.who())
	assert.Empty(t, a.who())
	assert.Empty(t, b.who())
}

// The limits are those of session.go: a whole time and an idle one, shorter for administrators.
func TestASignInEndsByItself(t *testing.T) {
	for _, c := range []struct {
		role        access.Role
		whole, idle time.Duration
	}{
		{access.Administrator, 7 * 24 * time.Hour, 12 * time.Hour},
		{access.Dispatcher, 30 * 24 * time.Hour, 14 * 24 * time.Hour},
		{access.Technician, 30 * 24 * time.Hour, 14 * 24 * time.Hour},
		{access.Manager, 30 * 24 * time.Hour, 14 * 24 * time.Hour},
	} {
		t.Run(string(c.role), func(t *testing.T) {
			v := newWorld(t)
			ines := v.store.people[id(1)]
			ines.Role = c.role
			v.store.people[ines.ID] = ines
			b := v.browser("192.0.2.1")
			b.signIn(inesEmail, inesPassword)
			v.now = v.now.Add(c.idle - time.Second)
			require.Equal(t, "Ines Quill", b.who())
			v.now = v.now.Add(c.idle)
			assert.Empty(t, b.who(), "not used for long")

			b.signIn(inesEmail, inesPassword)
			for end := v.now.Add(c.whole); v.now.Before(end); v.now = v.now.Add(c.idle / 2) {
				require.Equal(t, "Ines Quill", b.who())
			}
			assert.Empty(t, b.who(), "however much it is used")
		})
	}
}

func TestReadingPagesSeldomWrites(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	for range 120 { // a page every ten seconds for twenty minutes
		v.now = v.now.Add(10 * time.Second)
		b.who()
	}
	assert.Equal(t, 4, v.store.seen, "once in five minutes")
	assert.WithinDuration(t, v.now, v.store.signIns[b.session()].Seen, seenEvery)
}

func TestSigningOutEndsItsLineInTheList(t *testing.T) {
	v := newWorld(t)
	b := v.browser("192.0.2.1")
	b.signIn(inesEmail, inesPassword)
	require.Len(t, v.store.signIns, 1)
	b.post("/signout", nil)
	assert.Empty(t, v.store.signIns)
}
