package store

import (
	"database/sql"
	"encoding/json"
	"time"

	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// many begins a query that is asked for many fryers at once: the ids come as one argument, a JSON list.
const many = ` FROM json_each(?) k CROSS JOIN `

func idList(ids []uuid.UUID) (string, error) {
	text, err := json.Marshal(ids)
	return string(text), err
}

// loader reads what is known of many fryers, a query a table.
type loader struct {
	q   querier
	ids string // JSON list
	at  map[uuid.UUID]*assessment
}

// loadAssessments reads everything that is known of fryers, without comparing it, in the order of the ids.
func loadAssessments(q querier, l *layering, fryers []uuid.UUID) ([]assessment, error) {
	ids, err := idList(fryers)
	if err != nil {
		return nil, err
	}
	x := loader{q: q, ids: ids, at: make(map[uuid.UUID]*assessment, len(fryers))}
	all, err := x.placings(len(fryers))
	if err != nil {
		return nil, err
	}
	for _, load := range []func() error{x.known, x.acceptances, x.ticks, x.events, x.snapshots, x.open} {
		if err := load(); err != nil {
			return nil, err
		}
	}
	return all, l.expect(all)
}

// expect adds the expected settings and the rules of each site.
func (l *layering) expect(all []assessment) error {
	for i := range all {
		a := &all[i]
		var err error
		if a.expected, err = l.of(a.placing); err != nil {
			return err
		}
		if a.rules, a.ruleAt, err = l.rulesOf(a.placing.site); err != nil {
			return err
		}
	}
	return nil
}

// run runs a query over the ids; its first column is the fryer.
func (x *loader) run(query string, scan func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error)) error {
	rows, err := x.q.query(query, x.ids)
	return each(rows, err, func(r *sql.Rows) error {
		var fryer uuid.UUID
		add, err := scan(r, &fryer)
		if err != nil {
			return err
		}
		if a, ok := x.at[fryer]; ok {
			add(a)
		}
		return nil
	})
}

func (x *loader) placings(n int) ([]assessment, error) {
	all := make([]assessment, 0, n)
	rows, err := x.q.query(`SELECT `+placingColumns+many+placingTables+` WHERE f.id = k.value`, x.ids)
	err = each(rows, err, func(r *sql.Rows) error {
		p, err := scanPlacing(r)
		all = append(all, assessment{placing: p, known: knownValues{}, ticks: map[sheet.Ref]sheet.Value{}})
		return err
	})
	for i := range all {
		x.at[all[i].placing.fryer] = &all[i]
	}
	return all, err
}

func (x *loader) known() error {
	return x.run(`SELECT n.fryer_id, n.readings`+many+`known n ON n.fryer_id = k.value`, func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error) {
		var packed sql.RawBytes
		if err := r.Scan(fryer, &packed); err != nil {
			return nil, err
		}
		known, err := unpackKnown(packed)
		return func(a *assessment) { a.known = known }, err
	})
}

func (x *loader) acceptances() error {
	return x.run(`SELECT a.fryer_id, a.key, a.vat, a.value, a.reason, a.until, coalesce(p.name, ''), a.at`+many+`acceptance a ON a.fryer_id = k.value
		LEFT JOIN person p ON p.id = a.by_id ORDER BY a.fryer_id, a.key, a.vat`, func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error) {
		var c standard.Acceptance
		err := r.Scan(fryer, &c.Ref.Key, &c.Ref.Vat, &c.Value, &c.Reason, timeOf{&c.Until}, &c.By, timeOf{&c.At})
		return func(a *assessment) { a.accepted = append(a.accepted, c) }, err
	})
}

func (x *loader) ticks() error {
	return x.run(`SELECT n.fryer_id, n.key, n.vat, n.value`+many+`tick n ON n.fryer_id = k.value`, func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error) {
		var ref sheet.Ref
		var v sheet.Value
		err := r.Scan(fryer, &ref.Key, &ref.Vat, &v)
		return func(a *assessment) { a.ticks[ref] = v }, err
	})
}

func (x *loader) events() error {
	return x.run(`SELECT e.fryer_id, e.what, e.happened`+many+`event e ON e.fryer_id = k.value ORDER BY e.fryer_id, e.happened DESC, e.entry_id DESC`,
		func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error) {
			var e eventRow
			err := r.Scan(fryer, &e.what, timeOf{&e.happened})
			return func(a *assessment) { a.events = append(a.events, e) }, err
		})
}

// snapshots reads the latest finished reading of each fryer that knows anything, and when the one before it was finished.
func (x *loader) snapshots() error {
	return x.run(`SELECT x.fryer_id, x.id, x.purpose, x.finished`+many+`snapshot x INDEXED BY snapshot_done ON x.fryer_id = k.value AND x.finished <> '' AND x.known > 0
		AND x.finished >= coalesce((SELECT y.finished FROM snapshot y WHERE y.fryer_id = k.value AND y.finished <> '' AND y.known > 0
			ORDER BY y.finished DESC LIMIT 1 OFFSET 1), '')
		ORDER BY x.fryer_id, x.finished DESC, x.begun DESC, x.id DESC`, func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error) {
		var s snapshotRow
		err := r.Scan(fryer, &s.id, &s.purpose, timeOf{&s.finished})
		return func(a *assessment) { a.finished(s) }, err
	})
}

// finished takes in a finished reading; they come the latest first.
func (a *assessment) finished(s snapshotRow) {
	switch {
	case a.last.id == uuid.Nil:
		a.last = s
	case a.before.IsZero() && s.finished.Before(a.last.finished):
		a.before = s.finished
	}
}

func (x *loader) open() error {
	return x.run(`SELECT x.fryer_id, x.id`+many+`snapshot x INDEXED BY snapshot_open ON x.fryer_id = k.value AND x.finished = '' AND x.dropped = 0
		ORDER BY x.fryer_id, x.begun DESC, x.id DESC`, func(r *sql.Rows, fryer *uuid.UUID) (func(*assessment), error) {
		var id uuid.UUID
		err := r.Scan(fryer, &id)
		return func(a *assessment) {
			if a.open == uuid.Nil {
				a.open = id
			}
		}, err
	})
}

// siteRules are the rules switched on for a site.
type siteRules struct {
	keys []string
	at   map[string]time.Time
}

func (l *layering) rulesOf(site uuid.UUID) ([]string, map[string]time.Time, error) {
	if had, ok := l.rules[site]; ok {
		return had.keys, had.at, nil
	}
	found, err := shareLaid(l, &l.s.laid.rules, site, func() (siteRules, error) {
		keys, at, err := loadRules(l.q, site)
		return siteRules{keys, at}, err
	})
	if err == nil {
		l.rules[site] = found
	}
	return found.keys, found.at, err
}
