package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"frywright/domain/access"
	"frywright/domain/entry"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// happeningTables join what a timeline tells of an entry.
const happeningTables = ` FROM entry j LEFT JOIN person p ON p.id = j.author LEFT JOIN site s ON s.id = j.site
	LEFT JOIN fryer f ON f.id = j.fryer LEFT JOIN snapshot x ON x.id = j.subject LEFT JOIN quarantine q ON q.entry_id = j.id`

const happeningColumns = entryColumns + `, coalesce(p.name, ''), coalesce(s.name, ''), j.fryer, coalesce(f.tag, ''), coalesce(x.purpose, ''), coalesce(x.known, 0)`

// small are the kinds that a timeline passes over: steps on the way to what it tells.
const small = `j.kind NOT IN ('snapshot.begun', 'snapshot.read', 'putback.ticked') AND (q.entry_id IS NULL OR q.outcome = 'applied')`

func scanHappening(r *sql.Rows) (state.Happening, error) {
	var h state.Happening
	var purpose snapshot.Purpose
	var known int
	e, err := scanEntry(r, &h.By, &h.SiteName, &h.FryerID, &h.FryerTag, &purpose, &known)
	if err != nil {
		return h, err
	}
	h.EntryID, h.Kind, h.At, h.Received, h.Zone = e.ID, e.Kind, e.At, e.ReceivedAt, e.Zone
	h.SiteID, h.SubjectID, h.Skew = e.Site, e.Subject, time.Duration(e.SkewMillis)*time.Millisecond
	decoded, err := entry.Decode(e)
	if err != nil {
		h.Title = "Recorded by another version of the program"
		return h, nil //nolint:nilerr // it is shown as what it is: not readable here
	}
	told := state.Tell(decoded, purpose, known)
	h.Title, h.Plain, h.Detail = told.Title, told.Plain, told.Detail
	return h, nil
}

// FryerHistory gives the timeline of a fryer, the latest first, a page at a time.
func (s *Store) FryerHistory(ctx context.Context, fryer uuid.UUID, page, perPage int) ([]state.Happening, error) {
	q := s.reader(ctx)
	p, err := loadPlacing(q, fryer)
	if err != nil {
		return nil, err
	}
	if err := need(ctx, access.SeeSite, p.site); err != nil {
		return nil, err
	}
	list, err := collect(q, `SELECT `+happeningColumns+happeningTables+` WHERE j.fryer = ? AND j.fryer <> '' AND `+small+`
		ORDER BY j.seq DESC LIMIT ? OFFSET ?`, scanHappening, idText(fryer), perPage, page*perPage)
	return forReader(ctx, p.site, list), err
}

// SiteHistory gives the timeline of a restaurant, the latest first.
func (s *Store) SiteHistory(ctx context.Context, site uuid.UUID, page, perPage int) ([]state.Happening, error) {
	if err := need(ctx, access.SeeSite, site); err != nil {
		return nil, err
	}
	list, err := collect(s.reader(ctx), `SELECT `+happeningColumns+happeningTables+` WHERE j.site = ? AND j.site <> '' AND `+small+`
		ORDER BY j.seq DESC LIMIT ? OFFSET ?`, scanHappening, idText(site), perPage, page*perPage)
	return forReader(ctx, site, list), err
}

// Lately gives what came in over the whole fleet, the latest first.
func (s *Store) Lately(ctx context.Context, page, perPage int) ([]state.Happening, error) {
	if err := need(ctx, access.SeeDesk, uuid.Nil); err != nil {
		return nil, err
	}
	return collect(s.reader(ctx), `SELECT `+happeningColumns+happeningTables+` WHERE `+small+` ORDER BY j.seq DESC LIMIT ? OFFSET ?`,
		scanHappening, perPage, page*perPage)
}

// forReader leaves out, for those who may not see settings, what is not told in plain words, and what was done to a moved
// fryer where it stood before: that is another restaurant's matter.
func forReader(ctx context.Context, site uuid.UUID, list []state.Happening) []state.Happening {
	if access.Can(access.FromContext(ctx), access.SeeSettings, site) == access.Allowed {
		return list
	}
	var plain []state.Happening
	for _, h := range list {
		if h.Plain != "" && h.SiteID == site {
			h.Title, h.Detail = h.Plain, ""
			plain = append(plain, h)
		}
	}
	return plain
}

// Layers lists every standard of a company and of a model, and of the restaurants' and the fryers' own those that were
// changed last, state.LayersListed of each: the others stand at their owners' pages.
func (s *Store) Layers(ctx context.Context) ([]state.LayerSummary, error) {
	if err := need(ctx, access.SetStandard, uuid.Nil); err != nil {
		return nil, err
	}
	return collect(s.reader(ctx), `SELECT l.level, l.of_id, coalesce(m.name, c.name, s.name, f.tag, ''), l.sheet_id, h.name,
			(SELECT count(*) FROM layer_value v WHERE v.layer_id = l.id), l.changed_at, coalesce(p.name, '')
		FROM (SELECT id FROM layer WHERE level IN ('customer', 'model')
			UNION ALL SELECT id FROM (SELECT id FROM layer WHERE level = 'site' ORDER BY changed_at DESC, id LIMIT ?1)
			UNION ALL SELECT id FROM (SELECT id FROM layer WHERE level = 'fryer' ORDER BY changed_at DESC, id LIMIT ?1)) k
		CROSS JOIN layer l ON l.id = k.id JOIN sheet h ON h.id = l.sheet_id
		LEFT JOIN model m ON l.level = 'model' AND m.id = l.of_id LEFT JOIN customer c ON l.level = 'customer' AND c.id = l.of_id
		LEFT JOIN site s ON l.level = 'site' AND s.id = l.of_id LEFT JOIN fryer f ON l.level = 'fryer' AND f.id = l.of_id
		LEFT JOIN person p ON p.id = l.changed_by
		ORDER BY CASE l.level WHEN 'customer' THEN 1 WHEN 'model' THEN 2 WHEN 'site' THEN 3 ELSE 4 END, 3, h.name, l.id`,
		func(r *sql.Rows) (state.LayerSummary, error) {
			var x state.LayerSummary
			err := r.Scan(&x.Level, &x.Of, &x.OfName, &x.SheetID, &x.SheetName, &x.Values, timeOf{&x.Changed}, &x.By)
			return x, err
		}, state.LayersListed)
}

// versions gives the entries of a subject and a kind, the latest first, with their authors' names.
func (s *Store) versions(ctx context.Context, kind string, subject uuid.UUID, fn func(e journal.Entry, body journal.Body, by string)) error {
	rows, err := s.reader(ctx).query(`SELECT `+entryColumns+`, coalesce(p.name, '') FROM entry j LEFT JOIN person p ON p.id = j.author
		WHERE j.subject = ? AND j.kind = ? ORDER BY j.seq DESC LIMIT 200`, idText(subject), kind)
	return each(rows, err, func(r *sql.Rows) error {
		var by string
		e, err := scanEntry(r, &by)
		if err != nil {
			return err
		}
		decoded, err := entry.Decode(e)
		if errors.Is(err, entry.ErrUnknown) {
			return nil
		}
		if err == nil {
			fn(e, decoded, by)
		}
		return err
	})
}

// LayerHistory gives every version of a standard, the latest first.
func (s *Store) LayerHistory(ctx context.Context, level standard.Level, of, sheetID uuid.UUID) ([]state.LayerChange, error) {
	if err := need(ctx, access.SetStandard, uuid.Nil); err != nil {
		return nil, err
	}
	var list []state.LayerChange
	err := s.versions(ctx, standard.KindChanged, standard.LayerID(level, of, sheetID), func(e journal.Entry, b journal.Body, by string) {
		if c, ok := b.(standard.Changed); ok {
			list = append(list, state.LayerChange{EntryID: e.ID, At: e.At, By: by, Change: c})
		}
	})
	return list, err
}

// SheetHistory gives every version of a settings sheet, the latest first.
func (s *Store) SheetHistory(ctx context.Context, id uuid.UUID) ([]state.SheetChange, error) {
	if err := need(ctx, access.EditSheet, uuid.Nil); err != nil {
		return nil, err
	}
	var list []state.SheetChange
	err := s.versions(ctx, sheet.KindSaved, id, func(e journal.Entry, b journal.Body, by string) {
		if c, ok := b.(sheet.Saved); ok {
			list = append(list, state.SheetChange{EntryID: e.ID, At: e.At, By: by, Why: c.Why, Sheet: &c.Sheet})
		}
	})
	return list, err
}

// SetAside lists the entries that were kept but not applied and wait to be settled.
func (s *Store) SetAside(ctx context.Context) ([]state.Aside, error) {
	if err := need(ctx, access.SeeDesk, uuid.Nil); err != nil {
		return nil, err
	}
	return collect(s.reader(ctx), `SELECT j.id, j.kind, j.at, j.received_at, coalesce(p.name, ''), coalesce(s.name, ''), q.reason, j.body
		FROM quarantine q JOIN entry j ON j.id = q.entry_id LEFT JOIN person p ON p.id = j.author LEFT JOIN site s ON s.id = j.site
		WHERE q.settled_at = '' ORDER BY q.seq LIMIT 200`, func(r *sql.Rows) (state.Aside, error) {
		var a state.Aside
		err := r.Scan(&a.EntryID, &a.Kind, timeOf{&a.At}, timeOf{&a.Received}, &a.By, &a.SiteName, &a.Reason, &a.Body)
		return a, err
	})
}

// SettleAside applies an entry that was set aside, on the word of the actor, or leaves it out for good.
func (s *Store) SettleAside(ctx context.Context, id uuid.UUID, apply bool) error {
	return s.inTx(ctx, func(t *tx) error {
		actor, err := t.actor()
		if err != nil {
			return err
		}
		if err := verdict(actor, access.SeeDesk, uuid.Nil); err != nil {
			return err
		}
		outcome := "left out"
		if apply {
			outcome = "applied"
			if err := t.applyAside(actor, id); err != nil {
				return err
			}
		}
		n, err := t.execN(`UPDATE quarantine SET settled_at = ?, settled_by = ?, outcome = ?, after_seq = (SELECT max(seq) FROM entry),
			settled_n = (SELECT max(settled_n) + 1 FROM quarantine) WHERE entry_id = ? AND settled_at = ''`,
			timeText(t.now), idText(actor.Person), outcome, id.String())
		if err == nil && n == 0 {
			return notFound()
		}
		return err
	})
}

func (t *tx) applyAside(actor access.Actor, id uuid.UUID) error {
	e, err := scanEntry(t.row(`SELECT `+entryColumns+` FROM entry j JOIN quarantine q ON q.entry_id = j.id WHERE j.id = ? AND q.settled_at = ''`, id.String()))
	if err != nil {
		return orNotFound(err)
	}
	if err := e.Check(); err != nil {
		return fault.Wrap(err, fault.Invalid, "The entry is damaged and cannot be applied. It stays in the journal.")
	}
	body, err := entry.Decode(e)
	if err != nil {
		return fault.Wrap(err, fault.Invalid, "This version of the program cannot read the entry. It stays in the journal.")
	}
	if err := firstOf(body.Validate(), t.admit(actor, e, body)); err != nil {
		return err
	}
	fryer, err := t.fryerOf(e.Subject, body)
	if err != nil {
		return err
	}
	// It was stored when nobody could say what it is about; timelines look it up by that.
	if err := t.exec(`UPDATE entry SET fryer = ?, stream = ? WHERE id = ?`, idText(fryer), entry.Stream(e.Site, body), e.ID.String()); err != nil {
		return err
	}
	return t.project(e, body)
}
