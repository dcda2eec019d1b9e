package store

import (
	"context"
	"database/sql"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/intake"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// PlanImport says what importing the files would do, row by row, and writes nothing.
func (s *Store) PlanImport(ctx context.Context, files []intake.File) (intake.Plan, error) {
	if err := need(ctx, access.Import, uuid.Nil); err != nil {
		return intake.Plan{}, err
	}
	known, err := s.knownForImport(s.reader(ctx))
	if err != nil {
		return intake.Plan{}, err
	}
	return intake.Make(files, known), nil
}

// Import writes what the files say, all of it in one transaction. Where anything is wrong it writes nothing, unless
// goodRows asks for the rows that are right. It gives the plan and whether it was written.
func (s *Store) Import(ctx context.Context, files []intake.File, goodRows bool) (intake.Plan, bool, error) {
	plan, err := s.PlanImport(ctx, files)
	if err != nil || (plan.Problems > 0 && !goodRows) {
		return plan, false, err
	}
	_, err = s.Record(ctx, plan.Drafts...)
	return plan, err == nil, err
}

func (s *Store) knownForImport(q reader) (k intake.Known, err error) {
	k.NewID = s.newID
	if k.Customers, err = byCode(q, `SELECT id, code, name, note, version FROM customer`, scanCustomer, func(c fleet.Customer) string { return c.Code }); err != nil {
		return k, err
	}
	if k.Sites, err = byCode(q, `SELECT `+siteColumns+` FROM site`, scanSite, func(x fleet.Site) string { return x.Code }); err != nil {
		return k, err
	}
	if k.Models, err = byCode(q, `SELECT body, version FROM model`, scanModel, func(m fleet.Model) string { return m.Code }); err != nil {
		return k, err
	}
	if k.Sheets, err = byCode(q, `SELECT body, version FROM sheet`, scanSheet, func(x sheet.Sheet) string { return x.Code }); err != nil {
		return k, err
	}
	if k.Fryers, err = byCode(q, `SELECT `+fryerRecordColumns+` FROM fryer`, scanFryerRecord, func(f fleet.Fryer) string { return f.Tag }); err != nil {
		return k, err
	}
	layers, err := layersForImport(q)
	k.Layer = func(level standard.Level, of, sheetID uuid.UUID) intake.Item[map[sheet.Ref]sheet.Value] {
		return layers[standard.LayerID(level, of, sheetID)]
	}
	return k, err
}

// byCode reads everything of a kind, keyed by its code in lower case.
func byCode[T any](q querier, query string, scan func(interface{ Scan(...any) error }) (T, uuid.UUID, error), code func(T) string) (map[string]intake.Item[T], error) {
	items := map[string]intake.Item[T]{}
	rows, err := q.query(query)
	err = each(rows, err, func(r *sql.Rows) error {
		x, version, err := scan(r)
		items[strings.ToLower(code(x))] = intake.Item[T]{Value: x, Version: version}
		return err
	})
	return items, err
}

func scanSheet(r interface{ Scan(...any) error }) (sheet.Sheet, uuid.UUID, error) {
	var body string
	var version uuid.UUID
	if err := r.Scan(&body, &version); err != nil {
		return sheet.Sheet{}, version, err
	}
	sh, err := decodeSheet(body)
	if err != nil {
		return sheet.Sheet{}, version, err
	}
	return *sh, version, nil
}

func layersForImport(q querier) (map[uuid.UUID]intake.Item[map[sheet.Ref]sheet.Value], error) {
	layers := map[uuid.UUID]intake.Item[map[sheet.Ref]sheet.Value]{}
	rows, err := q.query(`SELECT l.id, l.version, v.key, v.vat, v.value FROM layer l LEFT JOIN layer_value v ON v.layer_id = l.id`)
	err = each(rows, err, func(r *sql.Rows) error {
		var id, version uuid.UUID
		var key, value sql.NullString
		var vat sql.NullInt64
		if err := r.Scan(&id, &version, &key, &vat, &value); err != nil {
			return err
		}
		item, had := layers[id]
		if !had {
			item = intake.Item[map[sheet.Ref]sheet.Value]{Value: map[sheet.Ref]sheet.Value{}, Version: version}
			layers[id] = item
		}
		if key.Valid {
			item.Value[sheet.Ref{Key: key.String, Vat: int(vat.Int64)}] = sheet.Value(value.String)
		}
		return nil
	})
	return layers, err
}
