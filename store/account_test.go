package store_test

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tom gives the technician, with a password.
func (w *world) tom() uuid.UUID {
	w.t.Helper()
	id := w.people[access.Technician].ID
	require.NoError(w.t, w.store.SetPassword(w.office, id, "hash"))
	return id
}

// signIn signs a person in under a token.
func (w *world) signIn(id uuid.UUID, token string) person.SignIn {
	w.t.Helper()
	in := person.SignIn{ID: uuid.New(), Person: id, Agent: "Chrome on Android"}
	require.NoError(w.t, w.store.BeginSignIn(w.office, token, in))
	return in
}

// over asserts that a token is nobody's.
func (w *world) over(token string) {
	w.t.Helper()
	_, err := w.store.SignIn(w.office, token)
	assert.Equal(w.t, fault.NotFound, fault.KindOf(err), token)
}

func TestASignInIsFoundByItsTokenAndEndsAlone(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	a, b := w.signIn(id, "token a"), w.signIn(id, "token b")
	got, err := w.store.SignIn(w.office, "token a")
	require.NoError(t, err)
	assert.Equal(t, person.SignIn{ID: a.ID, Person: id, Began: w.clock, Seen: w.clock, Agent: "Chrome on Android"}, got)

	tom := w.as(access.Technician)
	require.NoError(t, w.store.EndSignIn(tom, id, a.ID))
	require.NoError(t, w.store.EndSignIn(tom, id, a.ID), "twice does no harm")
	w.over("token a")
	list, err := w.store.SignIns(tom, id)
	require.NoError(t, err)
	require.Len(t, list, 1)
	assert.Equal(t, b.ID, list[0].ID)
}

func TestUseIsNotedAndTheLatestComesFirst(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	a, b := w.signIn(id, "token a"), w.signIn(id, "token b")
	w.clock = w.clock.Add(time.Hour)
	require.NoError(t, w.store.SeenSignIn(w.office, "token a"))
	list, err := w.store.SignIns(w.as(access.Technician), id)
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, []uuid.UUID{a.ID, b.ID}, []uuid.UUID{list[0].ID, list[1].ID})
	assert.Equal(t, w.clock, list[0].Seen)
	assert.Equal(t, w.clock.Add(-time.Hour), list[1].Seen)
}

func TestWhatEndsEverySignIn(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	tom, boss := w.as(access.Technician), w.as(access.Administrator)
	for name, end := range map[string]func() error{
		"another password": func() error { return w.store.SetPassword(tom, id, "another") },
		"oneself":          func() error { return w.store.SignOutEverywhere(tom, id) },
		"an administrator": func() error { return w.store.SignOutEverywhere(boss, id) },
		"a second step": func() error {
			return firstErr(w.store.BeginFactor(tom, id, "s"), w.store.ConfirmFactor(tom, id, 1, nil))
		},
		"one that is reset": func() error { return w.store.ResetFactor(boss, id, "lost") },
		"a link taken up":   func() error { return w.takeUp(id) },
	} {
		w.signIn(id, name)
		before, err := w.store.Account(w.office, id)
		require.NoError(t, err)
		require.NoError(t, end(), name)
		w.over(name)
		after, err := w.store.Account(w.office, id)
		require.NoError(t, err)
		assert.Greater(t, after.Generation, before.Generation, "%s ends what is half done", name)
	}
}

func firstErr(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func (w *world) takeUp(id uuid.UUID) error {
	if err := w.store.Invite(w.office, id, "link", time.Hour); err != nil {
		return err
	}
	_, err := w.store.TakeUp(w.office, "link", "chosen")
	return err
}

func TestNobodyLooksAtOrEndsTheSignInsOfOthers(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	in := w.signIn(id, "token")
	for _, role := range []access.Role{access.Dispatcher, access.Manager} {
		other := w.as(role)
		_, err := w.store.SignIns(other, id)
		assert.Equal(t, fault.Denied, fault.KindOf(err), role)
		_, err = w.store.AccountNotes(other, id)
		assert.Equal(t, fault.Denied, fault.KindOf(err), role)
		for _, do := range []func() error{
			func() error { return w.store.EndSignIn(other, id, in.ID) },
			func() error { return w.store.EndOtherSignIns(other, id, uuid.Nil) },
			func() error { return w.store.SignOutEverywhere(other, id) },
			func() error { return w.store.ResetFactor(other, id, "curious") },
			func() error { return w.store.RenewCodes(other, id, nil) },
			func() error { return w.store.RequireFactor(other, false) },
		} {
			assert.Equal(t, fault.Denied, fault.KindOf(do()), role)
		}
		assert.Equal(t, fault.NotFound, fault.KindOf(w.store.DropFactor(other, id)), role)
	}
	_, err := w.store.SignIn(w.office, "token")
	require.NoError(t, err)
	own := w.people[access.Dispatcher].ID
	require.NoError(t, w.store.EndSignIn(w.as(access.Dispatcher), own, in.ID))
	_, err = w.store.SignIn(w.office, "token")
	require.NoError(t, err, "somebody's own list holds nobody else's")
}

// TestNothingThatOpensADoorIsInTheDatabase looks through every column of every table.
func TestNothingThatOpensADoorIsInTheDatabase(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	const secret = "a-secret-that-opens-a-door"
	w.signIn(id, "session "+secret)
	require.NoError(t, w.store.Invite(w.office, id, "link "+secret, time.Hour))
	require.NoError(t, w.store.KnowBrowser(w.office, id, "browser "+secret))
	require.NoError(t, w.store.BeginFactor(w.office, id, "sealed"))
	require.NoError(t, w.store.ConfirmFactor(w.office, id, 1, []string{"code " + secret}))
	for _, text := range w.everything() {
		assert.NotContains(t, text, secret)
	}
}

// everything gives each row of each table as text.
func (w *world) everything() []string {
	w.t.Helper()
	db := w.store.Sessions()
	rows, err := db.Query(`SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`)
	require.NoError(w.t, err)
	defer rows.Close()
	var tables []string
	for rows.Next() {
		var name string
		require.NoError(w.t, rows.Scan(&name))
		tables = append(tables, name)
	}
	require.NoError(w.t, rows.Err())
	var all []string
	for _, table := range tables {
		all = append(all, w.rowsOf(db, table)...)
	}
	require.NotEmpty(w.t, all)
	return all
}

func (w *world) rowsOf(db *sql.DB, table string) []string {
	w.t.Helper()
	rows, err := db.Query(`SELECT * FROM "` + table + `"`)
	require.NoError(w.t, err)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(w.t, err)
	var all []string
	for rows.Next() {
		cells := make([]any, len(columns))
		for i := range cells {
			cells[i] = new(sql.RawBytes)
		}
		require.NoError(w.t, rows.Scan(cells...))
		var b strings.Builder
		for _, c := range cells {
			fmt.Fprintf(&b, "%s|", *c.(*sql.RawBytes))
		}
		all = append(all, b.String())
	}
	require.NoError(w.t, rows.Err())
	return all
}

func TestALinkIsUsedOnceEndsAndGivesWayToANewerOne(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	require.NoError(t, w.store.Invite(w.office, id, "first", time.Hour))
	require.NoError(t, w.store.Invite(w.office, id, "second", time.Hour))
	_, err := w.store.Invited(w.office, "first")
	assert.Equal(t, fault.NotFound, fault.KindOf(err), "a newer link ends it")
	for range 5 {
		_, err = w.store.Invited(w.office, "second")
		require.NoError(t, err, "looking uses nothing up")
	}

	var group sync.WaitGroup
	taken := make(chan error, 8)
	for n := range cap(taken) {
		group.Go(func() {
			_, err := w.store.TakeUp(w.office, "second", fmt.Sprintf("hash %d", n))
			taken <- err
		})
	}
	group.Wait()
	close(taken)
	once := 0
	for err := range taken {
		if err == nil {
			once++
		} else {
			assert.Equal(t, fault.NotFound, fault.KindOf(err))
		}
	}
	assert.Equal(t, 1, once, "however many come at one moment")

	require.NoError(t, w.store.Invite(w.office, id, "late", time.Hour))
	w.clock = w.clock.Add(time.Hour)
	_, err = w.store.Invited(w.office, "late")
	assert.Equal(t, fault.NotFound, fault.KindOf(err))
	_, err = w.store.TakeUp(w.office, "late", "hash")
	assert.Equal(t, fault.NotFound, fault.KindOf(err))
}

func TestAHashIsReplacedOnlyWhereItStillStands(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	w.signIn(id, "token")
	require.NoError(t, w.store.Rehash(w.office, id, "hash", "stronger"))
	require.NoError(t, w.store.Rehash(w.office, id, "hash", "of a password that was changed meanwhile"))
	a, err := w.store.Account(w.office, id)
	require.NoError(t, err)
	assert.Equal(t, "stronger", a.PasswordHash)
	_, err = w.store.SignIn(w.office, "token")
	assert.NoError(t, err, "nobody is signed out by it")
}

func TestAFactorIsConfirmedUsedAndDropped(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	tom := w.as(access.Technician)
	f, err := w.store.Factor(w.office, id)
	require.NoError(t, err)
	assert.Equal(t, person.Factor{}, f)

	require.NoError(t, w.store.BeginFactor(tom, id, "sealed 1"))
	used, err := w.store.UseStep(w.office, id, 100)
	require.NoError(t, err)
	assert.False(t, used, "nothing is taken before it is confirmed")
	require.NoError(t, w.store.BeginFactor(tom, id, "sealed 2"))
	require.NoError(t, w.store.ConfirmFactor(tom, id, 50, []string{"a", "b"}))
	f, err = w.store.Factor(w.office, id)
	require.NoError(t, err)
	assert.Equal(t, person.Factor{Secret: "sealed 2", Begun: w.clock, Confirmed: w.clock, LastStep: 50, CodesLeft: 2}, f)
	assert.Equal(t, fault.Conflict, fault.KindOf(w.store.BeginFactor(tom, id, "sealed 3")), "one that is on is not overwritten")
	assert.Equal(t, fault.Conflict, fault.KindOf(w.store.ConfirmFactor(tom, id, 51, nil)))

	for _, c := range []struct {
		step int64
		want bool
	}{{50, false}, {49, false}, {52, true}, {52, false}, {51, false}, {53, true}} {
		used, err := w.store.UseStep(w.office, id, c.step)
		require.NoError(t, err)
		assert.Equal(t, c.want, used, "step %d", c.step)
	}
	for _, c := range []struct {
		whose uuid.UUID
		code  string
		want  bool
	}{{w.people[access.Manager].ID, "a", false}, {id, "c", false}, {id, "a", true}, {id, "a", false}} {
		used, err := w.store.UseCode(w.office, c.whose, c.code)
		require.NoError(t, err)
		assert.Equal(t, c.want, used, c.code)
	}
	require.NoError(t, w.store.RenewCodes(tom, id, []string{"d"}))
	used, err = w.store.UseCode(w.office, id, "b")
	require.NoError(t, err)
	assert.False(t, used, "other codes end those before")

	require.NoError(t, w.store.DropFactor(tom, id))
	f, err = w.store.Factor(w.office, id)
	require.NoError(t, err)
	assert.Equal(t, person.Factor{}, f)
}

func TestACodeOfOneStepIsTakenOnceHoweverManyCome(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	require.NoError(t, w.store.BeginFactor(w.office, id, "s"))
	require.NoError(t, w.store.ConfirmFactor(w.office, id, 1, []string{"spare"}))
	for name, use := range map[string]func() (bool, error){
		"step":     func() (bool, error) { return w.store.UseStep(w.office, id, 2) },
		"recovery": func() (bool, error) { return w.store.UseCode(w.office, id, "spare") },
	} {
		var group sync.WaitGroup
		results := make(chan bool, 8)
		for range cap(results) {
			group.Go(func() {
				ok, err := use()
				assert.NoError(t, err)
				results <- ok
			})
		}
		group.Wait()
		close(results)
		taken := 0
		for ok := range results {
			if ok {
				taken++
			}
		}
		assert.Equal(t, 1, taken, name)
	}
}

func TestTheFactorThatAdministratorsNeed(t *testing.T) {
	w := newWorld(t)
	boss := w.people[access.Administrator].ID
	require.NoError(t, w.store.SetPassword(w.office, boss, "hash"))
	ctx := w.as(access.Administrator)
	needs := func(role access.Role) bool {
		must, err := w.store.RequiresFactor(w.office, role)
		require.NoError(t, err)
		return must
	}
	assert.False(t, needs(access.Administrator))
	assert.Equal(t, fault.Invalid, fault.KindOf(w.store.RequireFactor(ctx, true)), "whoever asks it of others has it")
	require.NoError(t, w.store.BeginFactor(ctx, boss, "s"))
	assert.Equal(t, fault.Invalid, fault.KindOf(w.store.RequireFactor(ctx, true)), "and has confirmed it")
	require.NoError(t, w.store.ConfirmFactor(ctx, boss, 1, nil))
	require.NoError(t, w.store.RequireFactor(ctx, true))
	for _, role := range access.Roles() {
		assert.Equal(t, role == access.Administrator, needs(role), role)
	}
	assert.Equal(t, fault.Invalid, fault.KindOf(w.store.DropFactor(ctx, boss)))
	require.NoError(t, w.store.RequireFactor(ctx, false))
	assert.False(t, needs(access.Administrator))
	require.NoError(t, w.store.DropFactor(ctx, boss))
}

func TestTakingAFactorAwayNeedsAReasonThatIsKept(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	boss := w.as(access.Administrator)
	require.NoError(t, w.store.BeginFactor(w.office, id, "s"))
	require.NoError(t, w.store.ConfirmFactor(w.office, id, 1, nil))
	for _, reason := range []string{"", "  ", strings.Repeat("x", 501)} {
		assert.NotEmpty(t, fault.FieldsOf(w.store.ResetFactor(boss, id, reason)), reason)
	}
	assert.Equal(t, fault.NotFound, fault.KindOf(w.store.ResetFactor(boss, uuid.New(), "nobody")))
	require.NoError(t, w.store.ResetFactor(boss, id, " phone lost, called back "))
	notes, err := w.store.AccountNotes(w.as(access.Technician), id)
	require.NoError(t, err)
	require.NotEmpty(t, notes)
	assert.Equal(t, person.AccountNote{At: w.clock, What: person.FactorReset, By: w.people[access.Administrator].Name, Reason: "phone lost, called back"}, notes[0])
}

func TestABrowserIsKnownToThosePersonsWhoUsedIt(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	knows := func(id uuid.UUID, cookie string) bool {
		known, err := w.store.KnowsBrowser(w.office, id, cookie)
		require.NoError(t, err)
		return known
	}
	for n := range 25 {
		w.clock = w.clock.Add(time.Minute)
		require.NoError(t, w.store.KnowBrowser(w.office, id, fmt.Sprintf("browser %d", n)))
		require.NoError(t, w.store.KnowBrowser(w.office, id, "used daily"))
	}
	assert.True(t, knows(id, "used daily"))
	assert.True(t, knows(id, "browser 24"))
	assert.False(t, knows(id, "browser 0"), "the one seen longest ago is forgotten")
	assert.False(t, knows(w.people[access.Manager].ID, "used daily"))
	assert.False(t, knows(uuid.Nil, "used daily"), "nobody has a browser")
}

// TestNotingUseNeverWaits: while something large is being written, reading a page goes on. The clock is asked while the
// writer is held, so a clock that stands still holds it.
func TestNotingUseNeverWaits(t *testing.T) {
	w := newWorld(t)
	writing, goOn := make(chan struct{}), make(chan struct{})
	var armed atomic.Bool
	slow, err := store.Open(t.Context(), store.Config{Path: filepath.Join(t.TempDir(), "slow.db"), NewID: uuid.New, Now: func() time.Time {
		if armed.CompareAndSwap(true, false) {
			close(writing)
			<-goOn
		}
		return w.clock
	}})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, slow.Close()) })
	in := person.SignIn{ID: uuid.New(), Person: uuid.New()}
	require.NoError(t, slow.BeginSignIn(t.Context(), "token", in))

	armed.Store(true)
	written := make(chan error)
	go func() {
		written <- slow.BeginSignIn(t.Context(), "another", person.SignIn{ID: uuid.New(), Person: uuid.New()})
	}()
	<-writing
	w.clock = w.clock.Add(time.Hour)
	require.NoError(t, slow.SeenSignIn(t.Context(), "token"), "comes back while the other still writes")
	close(goOn)
	require.NoError(t, <-written)
	got, err := slow.SignIn(t.Context(), "token")
	require.NoError(t, err)
	assert.Equal(t, got.Began, got.Seen, "this use was not noted")
	require.NoError(t, slow.SeenSignIn(t.Context(), "token"))
	got, err = slow.SignIn(t.Context(), "token")
	require.NoError(t, err)
	assert.Equal(t, w.clock, got.Seen, "the next is")
}

// TestSignInsOutlastARebuild: what is not in the journal stays when the tables of the journal are made again.
func TestSignInsOutlastARebuild(t *testing.T) {
	w := newWorld(t)
	id := w.tom()
	require.NoError(t, w.store.BeginFactor(w.office, id, "sealed"))
	require.NoError(t, w.store.ConfirmFactor(w.office, id, 1, []string{"a"}))
	w.signIn(id, "token")
	_, err := w.store.Rebuild(w.office)
	require.NoError(t, err)
	_, err = w.store.SignIn(w.office, "token")
	require.NoError(t, err)
	f, err := w.store.Factor(w.office, id)
	require.NoError(t, err)
	assert.True(t, f.On())
	assert.Equal(t, 1, f.CodesLeft)
}
