package store

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// manyFryers is from how many fryers on it pays to read once which layers exist.
const manyFryers = 50

// refreshPage is how many fryers are worked out at once.
const refreshPage = 500

// refreshDirty works out again how the touched fryers stand.
func (t *tx) refreshDirty() error {
	if t.replaying || len(t.dirty) == 0 {
		return nil
	}
	ids := make([]uuid.UUID, 0, len(t.dirty))
	for id := range t.dirty {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	l := t.s.layering(t)
	if len(ids) >= manyFryers {
		if err := l.forMany(); err != nil {
			return err
		}
	}
	for page := range slices.Chunk(ids, refreshPage) {
		all, err := assessAll(t, l, page, t.now)
		if err != nil {
			return err
		}
		if err := t.refresh(l, all); err != nil {
			return err
		}
	}
	clear(t.dirty)
	return nil
}

// refresh works out how fryers stand and stores it.
func (t *tx) refresh(l *layering, all []assessment) error {
	standings, err := stand(l, all)
	if err != nil {
		return err
	}
	for i := range all {
		if err := t.saveStanding(&all[i], &standings[i]); err != nil {
			return err
		}
	}
	return nil
}

// stand gives how fryers stand, with the cause where anything is wrong.
func stand(l *layering, all []assessment) ([]state.Standing, error) {
	standings := make([]state.Standing, len(all))
	others := make([][]cause.Alternative, len(all))
	together(len(all), func(i int) { standings[i] = all[i].standing() })
	for i := range all {
		if standings[i].Wrong() == 0 {
			continue
		}
		var err error
		if others[i], err = l.alternatives(all[i].placing); err != nil {
			return nil, err
		}
	}
	together(len(all), func(i int) {
		if standings[i].Wrong() == 0 {
			return
		}
		w := all[i].weighed(others[i], all[i].eventsSince())
		standings[i].Cause = w.Verdict
		if len(w.Odds) > 0 {
			standings[i].CauseOdds = w.Odds[0].Probability
		}
	})
	return standings, nil
}

// together runs fn for 0 to n-1, on all processors where there is enough to do.
func together(n int, fn func(i int)) {
	const worth = 16 // fewer are done sooner than they are handed out
	workers := runtime.GOMAXPROCS(0)
	if n < worth || workers < 2 {
		for i := range n {
			fn(i)
		}
		return
	}
	var next atomic.Int64
	var all sync.WaitGroup
	for range workers {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				fn(i)
			}
		})
	}
	all.Wait()
}

// assessment is everything known of how a fryer stands.
type assessment struct {
	placing  placing
	expected *standard.Expected
	known    knownValues
	values   map[sheet.Ref]sheet.Value // known and not stale
	accepted []standard.Acceptance
	rules    []string
	ruleAt   map[string]time.Time // when each was switched on
	ticks    map[sheet.Ref]sheet.Value
	events   []eventRow // the latest first
	last     snapshotRow
	before   time.Time // when the reading before the last was finished
	open     uuid.UUID
	result   drift.Result
}

type eventRow struct {
	id       uuid.UUID
	what     cause.EventKind
	happened time.Time
}

type snapshotRow struct {
	id       uuid.UUID
	purpose  snapshot.Purpose
	finished time.Time
}

// event gives the latest event; the zero one where there was none.
func (a *assessment) event() eventRow {
	if len(a.events) == 0 {
		return eventRow{}
	}
	return a.events[0]
}

// assess reads and compares all of it, as of now.
func assess(q querier, l *layering, fryer uuid.UUID, now time.Time) (assessment, error) {
	all, err := assessAll(q, l, []uuid.UUID{fryer}, now)
	if err != nil {
		return assessment{}, err
	}
	if len(all) == 0 {
		return assessment{}, notFound()
	}
	return all[0], nil
}

// assessAll reads and compares all of it for many fryers, as of now. A fryer that is not there is left out.
func assessAll(q querier, l *layering, fryers []uuid.UUID, now time.Time) ([]assessment, error) {
	all, err := loadAssessments(q, l, fryers)
	if err != nil {
		return nil, err
	}
	together(len(all), func(i int) { all[i].compare(now) })
	return all, nil
}

// compare compares what counts of the last known values with what is expected.
func (a *assessment) compare(now time.Time) {
	a.values = a.known.after(a.event().happened)
	a.result = drift.Compare(a.expected, a.values, a.accepted, a.rules, now)
}

// standing counts the assessment.
func (a *assessment) standing() state.Standing {
	c := a.result.Counts()
	st := state.Standing{
		Places: c.Places, Right: c.Right, Unknown: c.Unknown, Accepted: c.Accepted, ByClass: c.ByClass, Broken: c.Broken,
		LastRead: a.last.finished, LastPurpose: a.last.purpose, OpenID: a.open,
	}
	for _, f := range a.result.Drifted() {
		if f.Setting.ReadOnly {
			continue
		}
		st.PutBack++
		if a.ticks[f.Ref] == f.Value {
			st.Ticked++
		}
	}
	if e := a.event(); !e.happened.IsZero() && len(a.values) == 0 {
		st.StaleSince, st.StaleWhat = e.happened, e.what
	}
	st.Since = a.since(st.Worst())
	return st
}

// since says how long the worst is known to be so: the earliest of what is of that class.
func (a *assessment) since(worst sheet.Class) time.Time {
	var since time.Time
	count := func(class sheet.Class, at time.Time) {
		if class == worst && (since.IsZero() || at.Before(since)) {
			since = at
		}
	}
	for _, f := range a.result.Drifted() {
		count(f.Setting.Class, a.driftedSince(&f))
	}
	for _, b := range a.result.Breaches {
		count(b.Interlock.Class, a.brokenSince(b))
	}
	for _, b := range a.result.Rules {
		count(b.Class, latest(a.known[b.Ref].Since, a.ruleAt[b.Rule]))
	}
	return since
}

// driftedSince gives since when a value is known to drift: since it was first read so, the standard that it misses was
// set, or its acceptance ran out, whichever is the latest.
func (a *assessment) driftedSince(f *drift.Finding) time.Time {
	at := a.known[f.Ref].Since
	if step, ok := f.From(); ok {
		at = latest(at, step.Set.At)
	}
	if f.Acceptance != nil {
		at = latest(at, f.Acceptance.Until)
	}
	return at
}

// brokenSince gives since when an interlock is known to be broken: since the last of its values was first read so.
func (a *assessment) brokenSince(b sheet.Breach) time.Time {
	var at time.Time
	for _, key := range b.Interlock.Keys() {
		for _, ref := range []sheet.Ref{{Key: key}, {Key: key, Vat: b.Vat}} {
			if _, counts := a.values[ref]; counts {
				at = latest(at, a.known[ref].Since)
			}
		}
	}
	return at
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// weigh gives the odds of what happened, from what is known now and what was noted since the reading before the last.
func (a *assessment) weigh(l *layering) (cause.Result, error) {
	others, err := l.alternatives(a.placing)
	if err != nil {
		return cause.Result{}, err
	}
	return a.weighed(others, a.eventsSince()), nil
}

// eventsSince lists what was noted between the reading before the last and the last, the earliest first.
func (a *assessment) eventsSince() []cause.EventKind {
	var events []cause.EventKind
	for _, e := range slices.Backward(a.events) {
		if e.happened.After(a.before) && !e.happened.After(a.last.finished) {
			events = append(events, e.what)
		}
	}
	return events
}

func (a *assessment) weighed(others []cause.Alternative, events []cause.EventKind) cause.Result {
	accepted := map[sheet.Ref]sheet.Value{}
	for _, f := range a.result.With(drift.Accepted) {
		accepted[f.Ref] = f.Read
	}
	return cause.Weigh(cause.Input{Expected: a.expected, Readings: a.values, Accepted: accepted, Alternatives: others, Events: events})
}

// recheck gives when the first of the accepted differences that count now runs out.
func (a *assessment) recheck() time.Time {
	var first time.Time
	for _, f := range a.result.With(drift.Accepted) {
		if until := f.Acceptance.Until; first.IsZero() || until.Before(first) {
			first = until
		}
	}
	return first
}

// urgencyOf is how urgent what is wrong of a class is.
var urgencyOf = map[sheet.Class]int{sheet.Safety: 40, sheet.Food: 30, sheet.Output: 20, sheet.Minor: 10}

// urgency orders the desk: the worse the class the sooner; not read since a reset ranks between output and food, for it
// may hide either; then what was begun and not finished.
func urgency(st *state.Standing) int {
	base := urgencyOf[st.Worst()]
	if !st.StaleSince.IsZero() {
		base = max(base, 25)
	}
	if st.OpenID != uuid.Nil {
		base = max(base, 5)
	}
	return base
}

// rank gives a fryer's place on the desk: by urgency, then by how long.
func rank(st *state.Standing, since time.Time) string { return rankOf(urgency(st)) + timeText(since) }

// rankOf gives the beginning of the ranks of an urgency.
func rankOf(urgency int) string { return fmt.Sprintf("%03d ", 999-urgency) }

// place gives a fryer's place in lists. No name holds a tab.
func (p placing) place() string { return p.siteName + "\t" + idText(p.site) + "\t" + p.tag }

// standingColumns are the columns that saveStanding writes, the id first.
var standingColumns = []string{
	"fryer_id", "site_id", "customer_id", "place", "rank", "places", "matching", "unknown", "accepted", "safety", "food", "output", "minor",
	"broken", "put_back", "ticked", "since", "last_read", "last_purpose", "stale_since", "stale_what", "cause", "cause_odds", "open_id",
	"worst", "in_use", "hands", "recheck_at",
}

var saveStandingQuery = func() string {
	set := make([]string, 0, len(standingColumns))
	for _, c := range standingColumns[1:] {
		set = append(set, c+" = excluded."+c)
	}
	return `INSERT INTO standing (` + strings.Join(standingColumns, ", ") + `) VALUES (?` + strings.Repeat(", ?", len(standingColumns)-1) + `)
		ON CONFLICT (fryer_id) DO UPDATE SET ` + strings.Join(set, ", ")
}()

func (t *tx) saveStanding(a *assessment, st *state.Standing) error {
	since := st.Since
	if since.IsZero() {
		since = st.StaleSince
	}
	p := &a.placing
	return t.exec(saveStandingQuery, idText(p.fryer), idText(p.site), idText(p.customer), p.place(), rank(st, since), st.Places, st.Right, st.Unknown,
		st.Accepted, st.ByClass[sheet.Safety], st.ByClass[sheet.Food], st.ByClass[sheet.Output], st.ByClass[sheet.Minor], st.Broken, st.PutBack,
		st.Ticked, timeText(since), timeText(st.LastRead), string(st.LastPurpose), timeText(st.StaleSince), string(st.StaleWhat),
		string(st.Cause), st.CauseOdds, idText(st.OpenID), int(st.Worst()), !p.retired, st.NeedsHands() && !p.retired, timeText(a.recheck()))
}

// Recheck works out again the fryers whose accepted differences have run out, and those that were put off until now, and
// gives how many there were. It does so in pages, so that nobody who wants to save something waits for long.
func (s *Store) Recheck(ctx context.Context) (int, error) {
	now := timeText(s.now())
	done := 0
	for {
		due, err := collect(s.reader(ctx), `SELECT fryer_id FROM standing WHERE recheck_at <> '' AND recheck_at <= ? LIMIT ?`, scanID, now, refreshPage)
		if err != nil || len(due) == 0 || ctx.Err() != nil {
			return done, errors.Join(err, ctx.Err())
		}
		err = s.inTx(ctx, func(t *tx) error {
			for _, id := range due {
				t.dirty[id] = true
			}
			return nil
		})
		if err != nil {
			return done, err
		}
		done += len(due)
	}
}
