package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// placing is where a fryer stands in the fleet: what decides its expected settings.
type placing struct {
	fryer, site, customer, model, sheet uuid.UUID
	tag, siteName, customerName         string
	modelName                           string
	appliance                           sheet.Appliance
	retired                             bool
}

const (
	placingColumns = `f.id, f.site_id, s.customer_id, f.model_id, m.sheet_id, f.tag, s.name, c.name, m.name, m.energy, m.pot, f.retired_at <> ''`
	placingTables  = `fryer f JOIN site s ON s.id = f.site_id JOIN customer c ON c.id = s.customer_id JOIN model m ON m.id = f.model_id`
)

func scanPlacing(r interface{ Scan(...any) error }) (placing, error) {
	var p placing
	err := r.Scan(&p.fryer, &p.site, &p.customer, &p.model, &p.sheet, &p.tag, &p.siteName, &p.customerName, &p.modelName,
		&p.appliance.Energy, &p.appliance.Pot, &p.retired)
	return p, err
}

func loadPlacing(q querier, fryer uuid.UUID) (placing, error) {
	p, err := scanPlacing(q.row(`SELECT `+placingColumns+` FROM `+placingTables+` WHERE f.id = ?`, idText(fryer)))
	return p, orNotFound(err)
}

// owner gives the owner of a level's layer and its name.
func (p placing) owner(level standard.Level) (uuid.UUID, string) {
	switch level {
	case standard.OfModel:
		return p.model, p.modelName
	case standard.OfCustomer:
		return p.customer, p.customerName
	case standard.OfSite:
		return p.site, p.siteName
	default:
		return p.fryer, p.tag
	}
}

// layering works out expected settings and keeps what fryers share, for the length of one transaction or page.
type layering struct {
	q        querier
	s        *Store
	layers   map[uuid.UUID]*standard.Layer // nil: there is none
	sheets   map[uuid.UUID]*sheet.Sheet
	expected map[shared]*standard.Expected
	others   map[otherKey][]cause.Alternative
	rules    map[uuid.UUID]siteRules
	// override stands in for the stored layer of its id: what would be if it were saved.
	override map[uuid.UUID]standard.Layer
	// version is which version of the standards is read; what other pages laid of it is used. Negative: a transaction's own.
	version int64
	// known lists the layers that exist, so that many fryers need not ask for those that do not; nil: ask.
	known map[uuid.UUID]bool
}

// shared is what fryers with the same expected settings have in common; Nil where they have no layer of that level.
type shared struct {
	model, customer, site, fryer uuid.UUID
}

type otherKey struct {
	model, customer uuid.UUID
}

// laid is what pages share of laid standards.
type laid struct {
	layers   memo[uuid.UUID, *standard.Layer]
	expected memo[shared, *standard.Expected]
	rules    memo[uuid.UUID, siteRules]
}

func (s *Store) layering(q querier) *layering {
	version := int64(-1)
	if _, reads := q.(reader); reads {
		version = s.changes.Load()
	}
	return &layering{
		version: version, q: q, s: s, layers: map[uuid.UUID]*standard.Layer{}, sheets: map[uuid.UUID]*sheet.Sheet{},
		expected: map[shared]*standard.Expected{}, others: map[otherKey][]cause.Alternative{}, rules: map[uuid.UUID]siteRules{}, override: map[uuid.UUID]standard.Layer{},
	}
}

// forMany reads once which layers exist.
func (l *layering) forMany() error {
	l.known = map[uuid.UUID]bool{}
	rows, err := l.q.query(`SELECT id FROM layer`)
	return each(rows, err, func(r *sql.Rows) error {
		var id uuid.UUID
		err := r.Scan(&id)
		l.known[id] = true
		return err
	})
}

func (l *layering) sheet(id uuid.UUID) (*sheet.Sheet, error) {
	if sh, ok := l.sheets[id]; ok {
		return sh, nil
	}
	sh, err := loadSheet(l.q, l.s, id)
	l.sheets[id] = sh
	return sh, err
}

// layer gives a layer; nil where there is none.
func (l *layering) layer(level standard.Level, of, sheetID uuid.UUID, name string) (*standard.Layer, error) {
	id := standard.LayerID(level, of, sheetID)
	if stand, ok := l.override[id]; ok {
		stand.Name = name
		return &stand, nil
	}
	if l.known != nil && !l.known[id] {
		return nil, nil
	}
	if layer, ok := l.layers[id]; ok {
		return layer, nil
	}
	found, err := shareLaid(l, &l.s.laid.layers, id, func() (*standard.Layer, error) {
		layer, ok, err := loadLayer(l.q, level, of, sheetID)
		if err != nil || !ok {
			return nil, err
		}
		layer.Name = name
		return &layer, nil
	})
	if err == nil {
		l.layers[id] = found
	}
	return found, err
}

// of gives the expected settings of a fryer.
func (l *layering) of(p placing) (*standard.Expected, error) {
	key := shared{model: p.model, customer: p.customer}
	var layers []standard.Layer
	for _, level := range standard.Levels()[1:] {
		owner, name := p.owner(level)
		layer, err := l.layer(level, owner, p.sheet, name)
		if err != nil {
			return nil, err
		}
		if layer == nil {
			continue
		}
		layers = append(layers, *layer)
		switch level {
		case standard.OfSite:
			key.site = p.site
		case standard.OfFryer:
			key.fryer = p.fryer
		}
	}
	if x, ok := l.expected[key]; ok {
		return x, nil
	}
	x, err := shareLaid(l, &l.s.laid.expected, key, func() (*standard.Expected, error) {
		sh, err := l.sheet(p.sheet)
		if err != nil {
			return nil, err
		}
		return standard.Lay(sh, p.appliance, layers), nil
	})
	if err == nil {
		l.expected[key] = x
	}
	return x, err
}

// shareLaid loads what other pages may have laid already; a transaction, and what only would be, keep to themselves.
func shareLaid[K comparable, V any](l *layering, m *memo[K, V], k K, load func() (V, error)) (V, error) {
	if l.version < 0 || len(l.override) > 0 {
		return load()
	}
	return remember(m, l.version, k, load)
}

// alternatives gives what other customers' standards would make of a fryer: what its controller may have been
// programmed to by mistake.
func (l *layering) alternatives(p placing) ([]cause.Alternative, error) {
	key := otherKey{p.model, p.customer}
	if found, ok := l.others[key]; ok {
		return found, nil
	}
	others, err := l.otherCustomers(p)
	if err != nil {
		return nil, err
	}
	found := []cause.Alternative{}
	for _, o := range others {
		x, err := l.of(o)
		if err != nil {
			return nil, err
		}
		found = append(found, cause.Alternative{Name: o.customerName, Expected: x})
	}
	l.others[key] = found
	return found, nil
}

func (l *layering) otherCustomers(p placing) ([]placing, error) {
	var others []placing
	rows, err := l.q.query(`SELECT c.id, c.name FROM layer l JOIN customer c ON c.id = l.of_id
		WHERE l.sheet_id = ? AND l.level = 'customer' AND c.id <> ? ORDER BY c.name, c.id LIMIT 40`, idText(p.sheet), idText(p.customer))
	err = each(rows, err, func(r *sql.Rows) error {
		o := p
		o.site, o.fryer = uuid.Nil, uuid.Nil
		err := r.Scan(&o.customer, &o.customerName)
		others = append(others, o)
		return err
	})
	return others, err
}

// loadRules gives the keys of the rules switched on for a site, and when each was.
func loadRules(q querier, site uuid.UUID) (keys []string, at map[string]time.Time, err error) {
	at = map[string]time.Time{}
	rows, err := q.query(`SELECT rule, at FROM site_rule WHERE site_id = ? ORDER BY rule`, idText(site))
	err = each(rows, err, func(r *sql.Rows) error {
		var k string
		var since time.Time
		err := r.Scan(&k, timeOf{&since})
		keys = append(keys, k)
		at[k] = since
		return err
	})
	return keys, at, err
}

// Expected gives the expected settings of a fryer, with their provenance.
func (s *Store) Expected(ctx context.Context, fryer uuid.UUID) (*standard.Expected, error) {
	q := s.reader(ctx)
	p, err := loadPlacing(q, fryer)
	if err != nil {
		return nil, err
	}
	if err := need(ctx, access.SeeSettings, p.site); err != nil {
		return nil, err
	}
	return s.layering(q).of(p)
}

// Layer gives a layer as it stands and its version; empty where there is none yet.
func (s *Store) Layer(ctx context.Context, level standard.Level, of, sheetID uuid.UUID) (standard.Layer, uuid.UUID, error) {
	if err := need(ctx, access.SetStandard, uuid.Nil); err != nil {
		return standard.Layer{}, uuid.Nil, err
	}
	q := s.reader(ctx)
	layer, _, err := loadLayer(q, level, of, sheetID)
	if err != nil {
		return layer, uuid.Nil, err
	}
	table, ok := ownerTable[level]
	if !ok {
		return layer, uuid.Nil, notFound()
	}
	column := "name"
	if level == standard.OfFryer {
		column = "tag"
	}
	err = q.row(`SELECT `+column+` FROM `+table+` WHERE id = ?`, idText(of)).Scan(&layer.Name)
	if errors.Is(err, sql.ErrNoRows) {
		return layer, uuid.Nil, notFound()
	}
	if err != nil {
		return layer, uuid.Nil, err
	}
	version, err := layerVersion(q, standard.LayerID(level, of, sheetID))
	return layer, version, err
}

// Beneath gives the layers over which a layer is laid, the factory values left out, the lower first: for a site's, its
// customer's; for a fryer's, its model's, customer's and site's.
func (s *Store) Beneath(ctx context.Context, level standard.Level, of, sheetID uuid.UUID) ([]standard.Layer, error) {
	if err := need(ctx, access.SetStandard, uuid.Nil); err != nil {
		return nil, err
	}
	q := s.reader(ctx)
	var p placing
	var levels []standard.Level
	switch level {
	case standard.OfSite:
		err := q.row(`SELECT s.customer_id, c.name FROM site s JOIN customer c ON c.id = s.customer_id WHERE s.id = ?`, idText(of)).Scan(&p.customer, &p.customerName)
		if err != nil {
			return nil, orNotFound(err)
		}
		levels = []standard.Level{standard.OfCustomer}
	case standard.OfFryer:
		var err error
		if p, err = loadPlacing(q, of); err != nil {
			return nil, err
		}
		levels = []standard.Level{standard.OfModel, standard.OfCustomer, standard.OfSite}
	}
	l := s.layering(q)
	var layers []standard.Layer
	for _, lower := range levels {
		owner, name := p.owner(lower)
		layer, err := l.layer(lower, owner, sheetID, name)
		if err != nil {
			return nil, err
		}
		if layer != nil {
			layers = append(layers, *layer)
		}
	}
	return layers, nil
}
