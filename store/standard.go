package store

import (
	"database/sql"
	"errors"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

func (t *tx) changeLayer(e journal.Entry, b standard.Changed) error {
	id := e.Subject.String()
	err := t.exec(`INSERT INTO layer (id, level, of_id, sheet_id, version, changed_at, changed_by) VALUES (?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET version = excluded.version, changed_at = excluded.changed_at, changed_by = excluded.changed_by`,
		id, string(b.Level), idText(b.Of), idText(b.Sheet), e.ID.String(), journal.FormatTime(e.At), idText(e.Author))
	if err != nil {
		return err
	}
	for _, ref := range b.Clear {
		if err := t.exec(`DELETE FROM layer_value WHERE layer_id = ? AND key = ? AND vat = ?`, id, ref.Key, ref.Vat); err != nil {
			return err
		}
	}
	for _, v := range b.Set {
		err := t.exec(`INSERT INTO layer_value (layer_id, key, vat, value, by_id, at, why) VALUES (?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (layer_id, key, vat) DO UPDATE SET value = excluded.value, by_id = excluded.by_id, at = excluded.at, why = excluded.why`,
			id, v.Ref.Key, v.Ref.Vat, string(v.Value), idText(e.Author), journal.FormatTime(e.At), b.Why)
		if err != nil {
			return err
		}
	}
	return t.touchLayer(b)
}

// fryersOf are the queries for the fryers that a layer of a level speaks of; the arguments are its owner and its sheet.
var fryersOf = map[standard.Level]string{
	standard.OfModel: `SELECT f.id FROM fryer f JOIN model m ON m.id = f.model_id WHERE f.model_id = ? AND m.sheet_id = ?`,
	standard.OfCustomer: `SELECT f.id FROM site s JOIN fryer f ON f.site_id = s.id JOIN model m ON m.id = f.model_id
		WHERE s.customer_id = ? AND m.sheet_id = ?`,
	standard.OfSite:  `SELECT f.id FROM fryer f JOIN model m ON m.id = f.model_id WHERE f.site_id = ? AND m.sheet_id = ?`,
	standard.OfFryer: `SELECT f.id FROM fryer f JOIN model m ON m.id = f.model_id WHERE f.id = ? AND m.sheet_id = ?`,
}

func (t *tx) touchLayer(b standard.Changed) error {
	if b.Level == standard.OfCustomer {
		if err := t.touchElsewhere(b.Sheet); err != nil {
			return err
		}
	}
	return t.touch(fryersOf[b.Level], idText(b.Of), idText(b.Sheet))
}

// mostElsewhere is up to how many fryers of others get new odds at once; more of them get theirs at the next recheck.
const mostElsewhere = 500

// touchElsewhere marks the fryers of others that are off: they may have been programmed to the standard of a company by
// mistake, so that the odds change with it. How they stand does not.
func (t *tx) touchElsewhere(sheetID uuid.UUID) error {
	if t.replaying {
		return nil
	}
	const off = ` FROM standing t CROSS JOIN fryer f ON f.id = t.fryer_id JOIN model m ON m.id = f.model_id WHERE t.hands = 1 AND t.worst > 0 AND m.sheet_id = ?`
	var n int
	if err := t.row(`SELECT count(*) FROM (SELECT 1`+off+` LIMIT ?)`, idText(sheetID), mostElsewhere+1).Scan(&n); err != nil {
		return err
	}
	if n <= mostElsewhere {
		return t.touch(`SELECT t.fryer_id`+off, idText(sheetID))
	}
	return t.exec(`UPDATE standing SET recheck_at = ? WHERE fryer_id IN (SELECT t.fryer_id`+off+`)`, timeText(t.now), idText(sheetID))
}

// ownerTable names the table of a layer's owner.
var ownerTable = map[standard.Level]string{
	standard.OfModel: "model", standard.OfCustomer: "customer", standard.OfSite: "site", standard.OfFryer: "fryer",
}

func (t *tx) checkLayer(e journal.Entry, b standard.Changed) error {
	if e.Subject != standard.LayerID(b.Level, b.Of, b.Sheet) {
		return fault.New(fault.Invalid, "The standard's id does not belong to it.")
	}
	if err := firstOf(t.exists("of", ownerTable[b.Level], b.Of), t.exists("sheet", "sheet", b.Sheet)); err != nil {
		return err
	}
	sh, err := loadSheet(t, t.s, b.Sheet)
	if err != nil {
		return err
	}
	var f fault.Fields
	for _, v := range b.Set {
		checkLayerValue(&f, sh, v)
	}
	return f.Err()
}

// checkLayerValue notes a complaint, under the ref's text, about a value that the sheet does not allow.
func checkLayerValue(f *fault.Fields, sh *sheet.Sheet, v standard.Value) {
	set, ok := sh.Setting(v.Ref.Key)
	switch {
	case !ok:
		f.Add(v.Ref.String(), "The settings sheet has no such setting.")
	case v.Ref.Vat != 0 && set.Scope != sheet.PerVat:
		f.Add(v.Ref.String(), "%s is set once for the whole controller.", set.Label)
	default:
		if err := set.Check(v.Value); err != nil {
			f.Add(v.Ref.String(), "%s", fault.MessageOf(err))
		}
	}
}

func (t *tx) acceptDifference(e journal.Entry, b standard.Accepted) error {
	t.dirty[e.Subject] = true
	if f := t.fold(e.Subject); f.fresh {
		f.accepted[b.Ref] = standard.Acceptance{Ref: b.Ref, Value: b.Value, Reason: b.Reason, Until: b.Until, At: e.At}
	}
	return t.exec(`INSERT INTO acceptance (fryer_id, key, vat, value, reason, until, by_id, at) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (fryer_id, key, vat) DO UPDATE SET value = excluded.value, reason = excluded.reason, until = excluded.until,
		by_id = excluded.by_id, at = excluded.at`,
		idText(e.Subject), b.Ref.Key, b.Ref.Vat, string(b.Value), b.Reason, timeText(b.Until), idText(e.Author), journal.FormatTime(e.At))
}

func (t *tx) endDifference(e journal.Entry, b standard.Ended) error {
	t.dirty[e.Subject] = true
	if f := t.fold(e.Subject); f.fresh {
		delete(f.accepted, b.Ref)
	}
	return t.exec(`DELETE FROM acceptance WHERE fryer_id = ? AND key = ? AND vat = ?`, idText(e.Subject), b.Ref.Key, b.Ref.Vat)
}

// acceptLimitDays is how far ahead a difference may be accepted.
const acceptLimitDays = 366

func (t *tx) checkAccepted(e journal.Entry, b standard.Accepted) error {
	var f fault.Fields
	if !b.Until.After(e.At) {
		f.Add("until", "The end date lies in the past.")
	}
	if b.Until.After(e.At.AddDate(0, 0, acceptLimitDays)) {
		f.Add("until", "A difference is accepted for a year at most; after that it should be a standard.")
	}
	return f.Err()
}

func (t *tx) switchRule(e journal.Entry, b rule.Switched) error {
	if err := t.touch(`SELECT id FROM fryer WHERE site_id = ?`, idText(e.Subject)); err != nil {
		return err
	}
	if !b.On {
		return t.exec(`DELETE FROM site_rule WHERE site_id = ? AND rule = ?`, idText(e.Subject), b.Rule)
	}
	return t.exec(`INSERT INTO site_rule (site_id, rule, by_id, at) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING`,
		idText(e.Subject), b.Rule, idText(e.Author), journal.FormatTime(e.At))
}

// loadSheet gives the sheet of an id.
func loadSheet(q querier, s *Store, id uuid.UUID) (*sheet.Sheet, error) {
	var body string
	if err := q.row(`SELECT body FROM sheet WHERE id = ?`, idText(id)).Scan(&body); err != nil {
		return nil, orNotFound(err)
	}
	return s.sheetOf(body)
}

// loadLayer gives the layer of an owner and a sheet; ok is false where there is none. Its Name is left empty.
func loadLayer(q querier, level standard.Level, of, sheetID uuid.UUID) (layer standard.Layer, ok bool, err error) {
	id := standard.LayerID(level, of, sheetID)
	layer = standard.Layer{Level: level, Of: of}
	rows, err := q.query(`SELECT v.key, v.vat, v.value, coalesce(p.name, ''), v.at, v.why FROM layer_value v
		LEFT JOIN person p ON p.id = v.by_id WHERE v.layer_id = ?`, id.String())
	err = each(rows, err, func(r *sql.Rows) error {
		var set standard.Set
		err := r.Scan(&set.Ref.Key, &set.Ref.Vat, &set.Value, &set.By, timeOf{&set.At}, &set.Why)
		layer.Sets = append(layer.Sets, set)
		return err
	})
	return layer, len(layer.Sets) > 0, err
}

// layerVersion gives the version of a layer; Nil where there is none yet.
func layerVersion(q querier, id uuid.UUID) (uuid.UUID, error) {
	var v uuid.UUID
	err := q.row(`SELECT version FROM layer WHERE id = ?`, id.String()).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return uuid.Nil, nil
	}
	return v, err
}
