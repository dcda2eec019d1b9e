package store

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"frywright/domain/entry"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// projections are the tables that the journal can make again.
var projections = []string{
	"customer", "site", "sheet", "model", "fryer", "layer", "layer_value", "acceptance", "site_rule", "person", "person_site",
	"snapshot", "event", "tick", "known", "tally", "standing", "fryer_word", "site_word",
}

// Rebuild drops the projections and replays the journal, in one transaction. It gives the number of entries replayed.
func (s *Store) Rebuild(ctx context.Context) (int, error) {
	replayed := 0
	err := s.inTx(ctx, func(t *tx) error {
		for _, table := range projections {
			if err := t.exec(`DELETE FROM ` + table); err != nil {
				return err
			}
		}
		var err error
		if replayed, err = t.replay(ctx); err != nil {
			return err
		}
		return t.exec(`DELETE FROM meta WHERE key = 'replay'`)
	})
	return replayed, err
}

// replayIfWanted rebuilds after a migration that asks for it: one that changes how projections are kept.
func (s *Store) replayIfWanted(ctx context.Context) error {
	var wanted int
	err := s.inTx(ctx, func(t *tx) error { return t.row(`SELECT count(*) FROM meta WHERE key = 'replay'`).Scan(&wanted) })
	if err == nil && wanted > 0 {
		_, err = s.Rebuild(ctx)
	}
	return err
}

// ofOneFryer are the kinds of entries that change nothing but what is kept of one fryer's readings. A replay takes them
// fryer by fryer, so that it never holds more than a few and writes each row once.
var ofOneFryer = []string{
	snapshot.KindBegun, snapshot.KindRead, snapshot.KindFinished, snapshot.KindDropped, snapshot.KindEvent, snapshot.KindTicked,
	standard.KindAccepted, standard.KindEnded,
}

// silent are the kinds that live in the journal alone: timelines read them there.
var silent = []string{snapshot.KindNote}

// replay projects every entry that is not set aside: first the fleet and its standards in the order of commit, then the
// readings of one fryer after the other, which ends in how it stands.
func (t *tx) replay(ctx context.Context) (int, error) {
	t.replaying, t.changes = true, true
	defer func() { t.replaying = false }()
	aside, err := t.aside()
	if err != nil {
		return 0, err
	}
	if err := t.replayFleet(aside); err != nil {
		return 0, err
	}
	t.forget()
	if err := t.wordSites(); err != nil {
		return 0, err
	}
	if err := t.replayFryers(ctx, aside); err != nil {
		return 0, err
	}
	clear(t.dirty)
	count := 0
	err = t.row(`SELECT count(*) - (SELECT count(*) FROM quarantine WHERE outcome <> 'applied') FROM entry`).Scan(&count)
	return count, err
}

// replayPage is how many entries are read at once.
const replayPage = 2000

const replayColumns = `j.seq, j.id, j.kind, j.v, j.at, j.author, j.site, j.subject, j.fryer, j.body`

// replayed is an entry as a replay reads it.
type replayed struct {
	journal.Entry
	fryer uuid.UUID
	text  string // of the body
	body  journal.Body
}

func (e *replayed) scan(r *sql.Rows) error {
	return r.Scan(&e.Seq, &e.ID, &e.Kind, &e.V, timeOf{&e.At}, &e.Author, &e.Site, &e.Subject, &e.fryer, &e.text)
}

func (e *replayed) decode() (err error) {
	e.Body = []byte(e.text)
	if e.body, err = entry.Decode(e.Entry); err != nil {
		return fmt.Errorf("entry %d: %w", e.Seq, err)
	}
	return nil
}

// replayFleet projects what is not one fryer's alone.
func (t *tx) replayFleet(aside asides) error {
	last := int64(0)
	query := `SELECT ` + replayColumns + ` FROM entry j WHERE j.seq > ? AND j.kind NOT IN (` + quoted(append(slices.Clone(ofOneFryer), silent...)) + `)
		ORDER BY j.seq LIMIT ` + strconv.Itoa(replayPage)
	due := slices.Clone(aside.late)
	late := func(before int64) error {
		for len(due) > 0 && due[0].after < before {
			if !slices.Contains(ofOneFryer, due[0].Kind) && !slices.Contains(silent, due[0].Kind) {
				if err := t.replayOne(&due[0].replayed); err != nil {
					return err
				}
			}
			due = due[1:]
		}
		return nil
	}
	for {
		page, err := collect(t, query, func(r *sql.Rows) (replayed, error) {
			var e replayed
			return e, e.scan(r)
		}, last)
		if err != nil {
			return err
		}
		for i := range page {
			last = page[i].Seq
			if err := late(last); err != nil {
				return err
			}
			if aside.ids[page[i].ID] {
				continue
			}
			if err := t.replayOne(&page[i]); err != nil {
				return err
			}
		}
		if len(page) < replayPage {
			return late(math.MaxInt64)
		}
	}
}

func (t *tx) replayOne(e *replayed) error {
	if err := e.decode(); err != nil {
		return err
	}
	return t.project(e.Entry, e.body)
}

// quoted gives a list of texts of our own as SQL.
func quoted(list []string) string { return "'" + strings.Join(list, "', '") + "'" }

// replayFryers folds the entries of one fryer after the other. Reading and decoding them goes on beside folding and writing.
func (t *tx) replayFryers(ctx context.Context, aside asides) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	groups := make(chan [][]replayed, 2)
	failed := make(chan error, 1)
	go func() {
		defer close(groups)
		failed <- t.s.readGroups(ctx, aside, groups)
	}()
	l := t.s.layering(t)
	if err := l.forMany(); err != nil {
		return err
	}
	for page := range groups {
		if err := t.replayGroups(l, page); err != nil {
			return err
		}
	}
	return <-failed
}

// groupPage is how many fryers are folded at once.
const groupPage = 100

// readGroups sends the entries of fryers, some fryers at a time, those of each in the order in which they were applied.
func (s *Store) readGroups(ctx context.Context, aside asides, out chan<- [][]replayed) error {
	var page [][]replayed
	var group []replayed
	send := func(least int) error {
		if len(page) < least || len(page) == 0 {
			return nil
		}
		select {
		case out <- page:
			page = nil
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	next := func() error {
		if len(group) == 0 {
			return nil
		}
		aside.order(group)
		page, group = append(page, group), make([]replayed, 0, len(group))
		return send(groupPage)
	}
	rows, err := s.reader(ctx).query(`SELECT ` + replayColumns + ` FROM entry j INDEXED BY entry_fryer
		WHERE j.fryer <> '' AND j.kind IN (` + quoted(append(slices.Clone(ofOneFryer), fleet.KindFryerSaved, fleet.KindFryerMoved)) + `) ORDER BY j.fryer, j.seq`)
	err = each(rows, err, func(r *sql.Rows) error {
		var e replayed
		if err := e.scan(r); err != nil {
			return err
		}
		if len(group) > 0 && group[0].fryer != e.fryer {
			if err := next(); err != nil {
				return err
			}
		}
		if aside.passes(e.ID) {
			return nil
		}
		group = append(group, e)
		return group[len(group)-1].decode()
	})
	if err == nil {
		err = next()
	}
	if err == nil {
		err = send(1)
	}
	return err
}

// replayGroups folds the entries of some fryers and works out how these stand.
func (t *tx) replayGroups(l *layering, groups [][]replayed) error {
	ids := make([]uuid.UUID, 0, len(groups))
	for _, group := range groups {
		for i := range group {
			if err := t.foldOne(&group[i]); err != nil {
				return fmt.Errorf("entry %d: %w", group[i].Seq, err)
			}
		}
		ids = append(ids, group[0].fryer)
	}
	if err := t.writeFolds(); err != nil {
		return err
	}
	list, err := idList(ids)
	if err != nil {
		return err
	}
	if err := t.wordFryers(list); err != nil {
		return err
	}
	x := loader{q: t, ids: list, at: make(map[uuid.UUID]*assessment, len(ids))}
	all, err := x.placings(len(ids))
	if err != nil {
		return err
	}
	for i := range all {
		t.fold(all[i].placing.fryer).assess(&all[i])
	}
	if err := l.expect(all); err != nil {
		return err
	}
	together(len(all), func(i int) { all[i].compare(t.now) })
	t.forget()
	return t.refresh(l, all)
}

// foldOne takes an entry into what is kept of one fryer's readings.
func (t *tx) foldOne(e *replayed) error {
	switch b := e.body.(type) {
	case fleet.FryerSaved:
		t.fold(e.fryer) // a fryer of which nothing else is known stands somehow too
		return nil
	case fleet.FryerMoved:
		return t.fold(e.fryer).move(t, b.To)
	default:
		return t.project(e.Entry, b)
	}
}

// assess gives what was folded to an assessment, as loading it would.
func (f *fold) assess(a *assessment) {
	a.known = f.known
	for _, ref := range refsOf(f.accepted) {
		a.accepted = append(a.accepted, f.accepted[ref])
	}
	for ref, x := range f.ticks {
		a.ticks[ref] = x.value
	}
	a.events = f.events
	slices.SortFunc(a.events, func(x, y eventRow) int {
		return cmp.Or(y.happened.Compare(x.happened), bytes.Compare(y.id[:], x.id[:]))
	})
	slices.SortFunc(f.snaps, func(x, y *snap) int {
		return cmp.Or(y.finished.Compare(x.finished), y.begun.Compare(x.begun), bytes.Compare(y.id[:], x.id[:]))
	})
	for _, x := range f.snaps {
		switch {
		case !x.finished.IsZero() && x.values() > 0:
			a.finished(snapshotRow{x.id, x.purpose, x.finished})
		case x.finished.IsZero() && !x.dropped && a.open == uuid.Nil:
			a.open = x.id
		}
	}
}

// asides are the entries that were set aside, and those of them that were applied later.
type asides struct {
	ids  map[uuid.UUID]bool
	late []lateEntry // in the order in which they were applied
	at   map[uuid.UUID]int
}

// lateEntry is an entry that was applied later, and after which one.
type lateEntry struct {
	replayed
	after int64
}

// passes says whether an entry was set aside and never applied.
func (a asides) passes(id uuid.UUID) bool {
	_, late := a.at[id]
	return a.ids[id] && !late
}

// order puts entries into the order in which they were applied.
func (a asides) order(group []replayed) {
	if len(a.late) == 0 {
		return
	}
	place := func(e *replayed) (int64, int) {
		if n, late := a.at[e.ID]; late {
			return a.late[n].after, n + 1
		}
		return e.Seq, 0
	}
	slices.SortStableFunc(group, func(x, y replayed) int {
		xs, xn := place(&x)
		ys, yn := place(&y)
		return cmp.Or(cmp.Compare(xs, ys), cmp.Compare(xn, yn))
	})
}

func (t *tx) aside() (asides, error) {
	a := asides{ids: map[uuid.UUID]bool{}, at: map[uuid.UUID]int{}}
	rows, err := t.query(`SELECT ` + replayColumns + `, q.outcome = 'applied', q.after_seq FROM quarantine q JOIN entry j ON j.id = q.entry_id ORDER BY q.settled_n`)
	err = each(rows, err, func(r *sql.Rows) error {
		var e lateEntry
		var applied bool
		err := r.Scan(&e.Seq, &e.ID, &e.Kind, &e.V, timeOf{&e.At}, &e.Author, &e.Site, &e.Subject, &e.fryer, &e.text, &applied, &e.after)
		a.ids[e.ID] = true
		if applied {
			a.at[e.ID] = len(a.late)
			a.late = append(a.late, e)
		}
		return err
	})
	return a, err
}

// Verify reads the whole journal and says what does not hold: a hash that does not match, a gap in a device's numbers.
func (s *Store) Verify(ctx context.Context) error {
	q := s.reader(ctx)
	last := map[uuid.UUID]int64{}
	// What was damaged when it came is kept as it came, beside: it says nothing of what is kept here.
	rows, err := q.query(`SELECT ` + entryColumns + `, EXISTS (SELECT 1 FROM quarantine q WHERE q.entry_id = j.id) FROM entry j ORDER BY j.device, j.n`)
	var problems []error
	err = each(rows, err, func(r *sql.Rows) error {
		var aside bool
		e, err := scanEntry(r, &aside)
		if err != nil {
			return err
		}
		if aside && e.Check() != nil {
			last[e.Device] = max(last[e.Device], e.N)
			return nil
		}
		if sum, err := e.Sum(); err != nil || sum != e.Hash {
			problems = append(problems, fmt.Errorf("entry %d: its hash does not match", e.Seq))
		}
		if e.N != last[e.Device]+1 {
			problems = append(problems, fmt.Errorf("device %s: after entry %d comes %d", e.Device, last[e.Device], e.N))
		}
		last[e.Device] = e.N
		return nil
	})
	return errors.Join(append(problems, err)...)
}
