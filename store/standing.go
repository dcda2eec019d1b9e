package store

import (
	"context"
	"database/sql"
	"errors"
	"slices"
	"strings"
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

// refreshDirty works out again how the touched fryers stand.
func (t *tx) refreshDirty() error {
	if t.lazy || len(t.dirty) == 0 {
		return nil
	}
	ids := make([]uuid.UUID, 0, len(t.dirty))
	for id := range t.dirty {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, func(a, b uuid.UUID) int { return strings.Compare(a.String(), b.String()) })
	l := t.s.layering(t)
	if len(ids) >= manyFryers {
		if err := l.forMany(); err != nil {
			return err
		}
	}
	for _, id := range ids {
		if err := t.refresh(l, id); err != nil {
			return err
		}
	}
	clear(t.dirty)
	return nil
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
	event    eventRow // the latest one
	last     snapshotRow
	open     uuid.UUID
	result   drift.Result
}

type eventRow struct {
	what     cause.EventKind
	happened time.Time
}

type snapshotRow struct {
	id       uuid.UUID
	purpose  snapshot.Purpose
	finished time.Time
}

// assess reads and compares all of it, as of now.
func assess(q querier, l *layering, fryer uuid.UUID, now time.Time) (a assessment, err error) {
	if a.placing, err = loadPlacing(q, fryer); err != nil {
		return a, err
	}
	if a.expected, err = l.of(a.placing); err != nil {
		return a, err
	}
	if a.known, err = loadKnown(q, fryer); err != nil {
		return a, err
	}
	if a.accepted, err = loadAcceptances(q, fryer); err != nil {
		return a, err
	}
	if a.rules, a.ruleAt, err = loadRules(q, a.placing.site); err != nil {
		return a, err
	}
	if a.ticks, err = loadTicks(q, fryer); err != nil {
		return a, err
	}
	if err = a.loadMoments(q); err != nil {
		return a, err
	}
	a.values = a.known.after(a.event.happened)
	a.result = drift.Compare(a.expected, a.values, a.accepted, a.rules, now)
	return a, nil
}

// loadMoments reads the latest event, the latest finished reading and the open one.
func (a *assessment) loadMoments(q querier) error {
	fryer := idText(a.placing.fryer)
	err := q.row(`SELECT what, happened FROM event WHERE fryer_id = ? ORDER BY happened DESC, entry_id DESC LIMIT 1`, fryer).
		Scan(&a.event.what, timeOf{&a.event.happened})
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	err = q.row(`SELECT id, purpose, finished FROM snapshot WHERE fryer_id = ? AND finished <> '' AND known > 0
		ORDER BY finished DESC, begun DESC, id DESC LIMIT 1`, fryer).
		Scan(&a.last.id, &a.last.purpose, timeOf{&a.last.finished})
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	err = q.row(`SELECT id FROM snapshot WHERE fryer_id = ? AND finished = '' AND dropped = 0 ORDER BY begun DESC, id DESC LIMIT 1`, fryer).Scan(&a.open)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	return nil
}

func loadTicks(q querier, fryer uuid.UUID) (map[sheet.Ref]sheet.Value, error) {
	ticks := map[sheet.Ref]sheet.Value{}
	rows, err := q.query(`SELECT key, vat, value FROM tick WHERE fryer_id = ?`, idText(fryer))
	err = each(rows, err, func(r *sql.Rows) error {
		var ref sheet.Ref
		var v sheet.Value
		err := r.Scan(&ref.Key, &ref.Vat, &v)
		ticks[ref] = v
		return err
	})
	return ticks, err
}

// refresh works out how a fryer stands and stores it.
func (t *tx) refresh(l *layering, fryer uuid.UUID) error {
	a, err := assess(t, l, fryer, t.now)
	if err != nil {
		return err
	}
	st := a.standing()
	if st.Wrong() > 0 {
		w, err := a.weigh(t, l)
		if err != nil {
			return err
		}
		st.Cause = w.Verdict
		if len(w.Odds) > 0 {
			st.CauseOdds = w.Odds[0].Probability
		}
	}
	return t.saveStanding(&a, st)
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
	if !a.event.happened.IsZero() && len(a.values) == 0 {
		st.StaleSince, st.StaleWhat = a.event.happened, a.event.what
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
func (a *assessment) weigh(q querier, l *layering) (cause.Result, error) {
	others, err := l.alternatives(a.placing)
	if err != nil {
		return cause.Result{}, err
	}
	events, err := eventsBetween(q, a.placing.fryer, a.last.id, a.last.finished)
	if err != nil {
		return cause.Result{}, err
	}
	accepted := map[sheet.Ref]sheet.Value{}
	for _, f := range a.result.With(drift.Accepted) {
		accepted[f.Ref] = f.Read
	}
	return cause.Weigh(cause.Input{Expected: a.expected, Readings: a.values, Accepted: accepted, Alternatives: others, Events: events}), nil
}

// eventsBetween lists what was noted between the finish of the reading before a given one and the given one's finish.
func eventsBetween(q querier, fryer, reading uuid.UUID, until time.Time) ([]cause.EventKind, error) {
	var from time.Time
	err := q.row(`SELECT finished FROM snapshot WHERE fryer_id = ? AND finished <> '' AND finished < ? AND id <> ? AND known > 0 ORDER BY finished DESC LIMIT 1`,
		idText(fryer), timeText(until), idText(reading)).Scan(timeOf{&from})
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, err
	}
	var events []cause.EventKind
	rows, err := q.query(`SELECT what FROM event WHERE fryer_id = ? AND happened > ? AND happened <= ? ORDER BY happened, entry_id`,
		idText(fryer), timeText(from), timeText(until))
	err = each(rows, err, func(r *sql.Rows) error {
		var what cause.EventKind
		err := r.Scan(&what)
		events = append(events, what)
		return err
	})
	return events, err
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

// urgency orders the desk: the worse the class the sooner; not read since a reset ranks between output and food, for it
// may hide either; then what was begun and not finished.
func urgency(st *state.Standing) int {
	base := map[sheet.Class]int{sheet.Safety: 40, sheet.Food: 30, sheet.Output: 20, sheet.Minor: 10}[st.Worst()]
	if !st.StaleSince.IsZero() {
		base = max(base, 25)
	}
	if st.OpenID != uuid.Nil {
		base = max(base, 5)
	}
	return base
}

func (t *tx) saveStanding(a *assessment, st state.Standing) error {
	since := st.Since
	if since.IsZero() {
		since = st.StaleSince
	}
	return t.exec(`INSERT INTO standing (fryer_id, places, matching, unknown, accepted, safety, food, output, minor, broken, put_back, ticked,
			since, last_read, last_purpose, stale_since, stale_what, cause, cause_odds, open_id, worst, in_use, hands, urgency, recheck_at)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (fryer_id) DO UPDATE SET places = excluded.places, matching = excluded.matching, unknown = excluded.unknown,
		accepted = excluded.accepted, safety = excluded.safety, food = excluded.food, output = excluded.output, minor = excluded.minor,
		broken = excluded.broken, put_back = excluded.put_back, ticked = excluded.ticked, since = excluded.since, last_read = excluded.last_read,
		last_purpose = excluded.last_purpose, stale_since = excluded.stale_since, stale_what = excluded.stale_what, cause = excluded.cause,
		cause_odds = excluded.cause_odds, open_id = excluded.open_id, worst = excluded.worst, in_use = excluded.in_use, hands = excluded.hands,
		urgency = excluded.urgency, recheck_at = excluded.recheck_at`,
		idText(a.placing.fryer), st.Places, st.Right, st.Unknown, st.Accepted, st.ByClass[sheet.Safety], st.ByClass[sheet.Food],
		st.ByClass[sheet.Output], st.ByClass[sheet.Minor], st.Broken, st.PutBack, st.Ticked, timeText(since), timeText(st.LastRead),
		string(st.LastPurpose), timeText(st.StaleSince), string(st.StaleWhat), string(st.Cause), st.CauseOdds, idText(st.OpenID),
		int(st.Worst()), !a.placing.retired, st.NeedsHands() && !a.placing.retired, urgency(&st), timeText(a.recheck()))
}

// Recheck works out again the fryers whose accepted differences have run out, and gives how many there were.
func (s *Store) Recheck(ctx context.Context) (int, error) {
	due := 0
	now := timeText(s.now())
	err := s.reader(ctx).row(`SELECT count(*) FROM standing WHERE recheck_at <> '' AND recheck_at <= ?`, now).Scan(&due)
	if err != nil || due == 0 {
		return 0, err
	}
	return due, s.inTx(ctx, func(t *tx) error {
		return t.touch(`SELECT fryer_id FROM standing WHERE recheck_at <> '' AND recheck_at <= ?`, now)
	})
}
