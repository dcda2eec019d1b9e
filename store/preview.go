package store

import (
	"context"
	"database/sql"
	"slices"

	"frywright/domain/access"
	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// previewLines is how many of the drifts created and cleared are listed.
const previewLines = 50

// PreviewStandard says what a change of a standard would do, without saving it.
func (s *Store) PreviewStandard(ctx context.Context, b standard.Changed) (state.Preview, error) {
	if err := need(ctx, access.SetStandard, uuid.Nil); err != nil {
		return state.Preview{}, err
	}
	q := s.reader(ctx)
	sh, err := loadSheet(q, s, b.Sheet)
	if err != nil {
		return state.Preview{}, err
	}
	var f fault.Fields
	for _, v := range b.Set {
		checkLayerValue(&f, sh, v)
	}
	if err := f.Err(); err != nil {
		return state.Preview{}, err
	}
	return s.preview(q, b)
}

func (s *Store) preview(q reader, b standard.Changed) (state.Preview, error) {
	var p state.Preview
	before, after := s.layering(q), s.layering(q)
	if err := changed(q, after, b); err != nil {
		return p, err
	}
	ids, err := collect(q, fryersOf[b.Level], func(r *sql.Rows) (uuid.UUID, error) {
		var id uuid.UUID
		err := r.Scan(&id)
		return id, err
	}, idText(b.Of), idText(b.Sheet))
	if err != nil {
		return p, err
	}
	if len(ids) >= manyFryers {
		if err := before.forMany(); err != nil {
			return p, err
		}
		after.known = before.known
	}
	p.Fryers = len(ids)
	for page := range slices.Chunk(ids, refreshPage) {
		if err := s.previewPage(q, &p, before, after, page); err != nil {
			return p, err
		}
	}
	return p, nil
}

// changed lays the layer as it would be over what is stored.
func changed(q querier, l *layering, b standard.Changed) error {
	layer, _, err := loadLayer(q, b.Level, b.Of, b.Sheet)
	if err != nil {
		return err
	}
	gone := func(ref sheet.Ref) bool {
		return slices.Contains(b.Clear, ref) || slices.ContainsFunc(b.Set, func(v standard.Value) bool { return v.Ref == ref })
	}
	layer.Sets = slices.DeleteFunc(layer.Sets, func(set standard.Set) bool { return gone(set.Ref) })
	for _, v := range b.Set {
		layer.Sets = append(layer.Sets, standard.Set{Ref: v.Ref, Value: v.Value, Why: b.Why})
	}
	l.override[standard.LayerID(b.Level, b.Of, b.Sheet)] = layer
	return nil
}

// previewPage adds what would become of some fryers.
func (s *Store) previewPage(q querier, p *state.Preview, before, after *layering, ids []uuid.UUID) error {
	now := s.now()
	all, err := assessAll(q, before, ids, now)
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(a assessment) bool { return a.placing.retired })
	expected := make([]*standard.Expected, len(all))
	for i := range all {
		if expected[i], err = after.of(all[i].placing); err != nil {
			return err
		}
	}
	then := make([]drift.Result, len(all))
	together(len(all), func(i int) { then[i] = drift.Compare(expected[i], all[i].values, all[i].accepted, all[i].rules, now) })
	for i := range all {
		previewFryer(p, &all[i], expected[i], &then[i])
	}
	return nil
}

func previewFryer(p *state.Preview, a *assessment, x *standard.Expected, then *drift.Result) {
	touched := false
	for i := range x.List {
		was, will := &a.result.Findings[i], &then.Findings[i]
		if was.Value != will.Value {
			touched = true
			addPreview(p, a.placing, was, will)
		}
	}
	if !touched {
		return
	}
	p.Touched++
	if len(a.values) == 0 {
		p.Unread++
	}
	addBreaches(p, x)
}

func addPreview(p *state.Preview, at placing, was, will *drift.Finding) {
	line := state.PreviewLine{
		FryerID: at.fryer, Tag: at.tag, SiteName: at.siteName, Label: label(at.appliance, will.Place), Class: will.Setting.Class,
		Read: will.Setting.Show(will.Read), Before: will.Setting.Show(was.Value), After: will.Setting.Show(will.Value),
	}
	switch {
	case was.Status != drift.Drifted && will.Status == drift.Drifted:
		p.CreatedTotal++
		if len(p.Created) < previewLines {
			p.Created = append(p.Created, line)
		}
	case was.Status == drift.Drifted && will.Status != drift.Drifted:
		p.ClearedTotal++
		if len(p.Cleared) < previewLines {
			p.Cleared = append(p.Cleared, line)
		}
	}
}

func label(a sheet.Appliance, p sheet.Place) string {
	if vat := sheet.VatName(a, p.Ref.Vat); vat != "" {
		return p.Setting.Label + ", " + vat
	}
	return p.Setting.Label
}

func addBreaches(p *state.Preview, x *standard.Expected) {
	for _, b := range x.Breaches() {
		if !slices.Contains(p.Breaches, b.Interlock.Label) {
			p.Breaches = append(p.Breaches, b.Interlock.Label)
		}
	}
}
