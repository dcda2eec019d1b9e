package intake_test

import (
	"encoding/binary"
	"fmt"
	"maps"
	"strings"

	"frywright/domain/fleet"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// world is an instance in memory: it takes drafts as a journal would, and complains about any that it could not.
type world struct {
	intake.Known
	ids    uint64
	layers map[uuid.UUID]intake.Item[map[sheet.Ref]sheet.Value]
}

func newWorld() *world {
	w := &world{layers: map[uuid.UUID]intake.Item[map[sheet.Ref]sheet.Value]{}}
	w.Known = intake.Known{
		Customers: map[string]intake.Item[fleet.Customer]{}, Sites: map[string]intake.Item[fleet.Site]{},
		Models: map[string]intake.Item[fleet.Model]{}, Sheets: map[string]intake.Item[sheet.Sheet]{},
		Fryers: map[string]intake.Item[fleet.Fryer]{}, NewID: w.newID,
		Layer: func(level standard.Level, of, sheetID uuid.UUID) intake.Item[map[sheet.Ref]sheet.Value] {
			return w.layers[standard.LayerID(level, of, sheetID)]
		},
	}
	return w
}

// newID counts, in the form of a UUIDv7.
func (w *world) newID() uuid.UUID {
	w.ids++
	id := uuid.UUID{6: 0x70, 8: 0x80}
	binary.BigEndian.PutUint32(id[12:], uint32(w.ids))
	return id
}

func (w *world) clone() *world {
	c := newWorld()
	c.ids = w.ids
	maps.Copy(c.Customers, w.Customers)
	maps.Copy(c.Sites, w.Sites)
	maps.Copy(c.Models, w.Models)
	maps.Copy(c.Sheets, w.Sheets)
	maps.Copy(c.Fryers, w.Fryers)
	for id, item := range w.layers {
		item.Value = maps.Clone(item.Value)
		c.layers[id] = item
	}
	return c
}

// apply takes drafts in their order; each must be valid, build on what stands, and refer to what is there.
func (w *world) apply(t require.TestingT, drafts []journal.Draft) {
	for _, d := range drafts {
		require.NoError(t, d.Body.Validate())
		id := d.ID
		if id == uuid.Nil {
			id = w.newID()
		}
		switch b := d.Body.(type) {
		case fleet.CustomerSaved:
			require.Equal(t, uuid.Nil, d.Site)
			put(t, w.Customers, d, id, b.Customer.ID, b.Customer.Code, b.Customer, func(c fleet.Customer) uuid.UUID { return c.ID })
		case sheet.Saved:
			require.Equal(t, uuid.Nil, d.Site)
			put(t, w.Sheets, d, id, b.Sheet.ID, b.Sheet.Code, b.Sheet, func(s sheet.Sheet) uuid.UUID { return s.ID })
		case fleet.ModelSaved:
			require.Equal(t, uuid.Nil, d.Site)
			w.needs(t, b.Model.Sheet)
			put(t, w.Models, d, id, b.Model.ID, b.Model.Code, b.Model, func(m fleet.Model) uuid.UUID { return m.ID })
		case fleet.SiteSaved:
			require.Equal(t, b.Site.ID, d.Site)
			w.needs(t, b.Site.Customer)
			put(t, w.Sites, d, id, b.Site.ID, b.Site.Code, b.Site, func(s fleet.Site) uuid.UUID { return s.ID })
		case fleet.FryerSaved:
			require.Equal(t, b.Fryer.Site, d.Site)
			w.needs(t, b.Fryer.Site)
			w.needs(t, b.Fryer.Model)
			if old, ok := w.Fryers[strings.ToLower(b.Fryer.Tag)]; ok {
				require.Equal(t, old.Value.Site, b.Fryer.Site, "only a move changes the site")
			}
			put(t, w.Fryers, d, id, b.Fryer.ID, b.Fryer.Tag, b.Fryer, func(f fleet.Fryer) uuid.UUID { return f.ID })
		case fleet.FryerMoved:
			w.move(t, d, id, b)
		case standard.Changed:
			w.change(t, d, id, b)
		default:
			require.Fail(t, "a draft of another kind", "%T", b)
		}
	}
}

func put[T any](t require.TestingT, items map[string]intake.Item[T], d journal.Draft, entry, id uuid.UUID, code string, v T, idOf func(T) uuid.UUID) {
	require.Equal(t, id, d.Subject)
	old, known := items[strings.ToLower(code)]
	require.Equal(t, old.Version, d.Base)
	if known {
		require.Equal(t, idOf(old.Value), id)
	}
	items[strings.ToLower(code)] = intake.Item[T]{Value: v, Version: entry}
}

// needs checks that a thing is there already.
func (w *world) needs(t require.TestingT, id uuid.UUID) {
	require.NotEmpty(t, w.codeOf(id))
}

func (w *world) codeOf(id uuid.UUID) string {
	for _, x := range w.Customers {
		if x.Value.ID == id {
			return "customer " + x.Value.Code
		}
	}
	for _, x := range w.Sites {
		if x.Value.ID == id {
			return "site " + x.Value.Code
		}
	}
	for _, x := range w.Models {
		if x.Value.ID == id {
			return "model " + x.Value.Code
		}
	}
	for _, x := range w.Sheets {
		if x.Value.ID == id {
			return "sheet " + x.Value.Code
		}
	}
	for _, x := range w.Fryers {
		if x.Value.ID == id {
			return "fryer " + x.Value.Tag
		}
	}
	return ""
}

func (w *world) move(t require.TestingT, d journal.Draft, entry uuid.UUID, b fleet.FryerMoved) {
	for key, item := range w.Fryers {
		if item.Value.ID == d.Subject {
			require.Equal(t, item.Version, d.Base)
			require.Equal(t, item.Value.Site, b.From)
			require.Equal(t, b.To, d.Site)
			w.needs(t, b.To)
			item.Value.Site, item.Version = b.To, entry
			w.Fryers[key] = item
			return
		}
	}
	require.Fail(t, "a move of no fryer")
}

func (w *world) change(t require.TestingT, d journal.Draft, entry uuid.UUID, b standard.Changed) {
	require.Equal(t, standard.LayerID(b.Level, b.Of, b.Sheet), d.Subject)
	w.needs(t, b.Of)
	w.needs(t, b.Sheet)
	require.Equal(t, w.siteOf(b.Level, b.Of), d.Site)
	item := w.layers[d.Subject]
	require.Equal(t, item.Version, d.Base)
	item.Version = entry
	if item.Value == nil {
		item.Value = map[sheet.Ref]sheet.Value{}
	}
	for _, ref := range b.Clear {
		require.Contains(t, item.Value, ref)
		delete(item.Value, ref)
	}
	for _, v := range b.Set {
		require.NoError(t, w.allows(b.Sheet, v))
		require.NotEqual(t, item.Value[v.Ref], v.Value)
		item.Value[v.Ref] = v.Value
	}
	w.layers[d.Subject] = item
}

func (w *world) siteOf(level standard.Level, of uuid.UUID) uuid.UUID {
	if level == standard.OfSite {
		return of
	}
	for _, f := range w.Fryers {
		if level == standard.OfFryer && f.Value.ID == of {
			return f.Value.Site
		}
	}
	return uuid.Nil
}

func (w *world) allows(sheetID uuid.UUID, v standard.Value) error {
	for _, s := range w.Sheets {
		if s.Value.ID != sheetID {
			continue
		}
		set, ok := s.Value.Setting(v.Ref.Key)
		if !ok {
			return fmt.Errorf("no setting %s", v.Ref.Key)
		}
		return set.Check(v.Value)
	}
	return fmt.Errorf("no sheet")
}

// files writes everything that the world holds.
func (w *world) files() []intake.File {
	var files []intake.File
	for _, k := range intake.Kinds() {
		files = append(files, intake.File{Name: string(k) + ".csv", Data: intake.Write(k, w.Known)})
	}
	return files
}

// takeFleet takes a plan of new sites and fryers without looking at what they refer to.
func (w *world) takeFleet(p intake.Plan) {
	for _, d := range p.Drafts {
		switch b := d.Body.(type) {
		case fleet.SiteSaved:
			w.Sites[strings.ToLower(b.Site.Code)] = intake.Item[fleet.Site]{Value: b.Site, Version: w.newID()}
		case fleet.FryerSaved:
			w.Fryers[strings.ToLower(b.Fryer.Tag)] = intake.Item[fleet.Fryer]{Value: b.Fryer, Version: w.newID()}
		}
	}
}
