package scenario

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"frywright/domain/fleet"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// world is the fleet while its story is told.
type world struct {
	customers map[uuid.UUID]fleet.Customer
	models    map[uuid.UUID]fleet.Model
	sheets    map[uuid.UUID]*sheet.Sheet
	sites     []*place // in the order of the file
	fryers    []*fryer // in the order of the file
	layers    map[uuid.UUID]*layer
}

// place is a restaurant.
type place struct {
	fleet.Site
	zone   *time.Location
	closed time.Time // no routine visit from then on: something is open there; zero: none
}

// layer is one house standard as it stands.
type layer struct {
	standard.Layer
	sheet   uuid.UUID
	version uuid.UUID
}

func newWorld() *world {
	return &world{
		customers: map[uuid.UUID]fleet.Customer{}, models: map[uuid.UUID]fleet.Model{},
		sheets: map[uuid.UUID]*sheet.Sheet{}, layers: map[uuid.UUID]*layer{},
	}
}

// plan imports the files into an empty instance.
func plan(newID func() uuid.UUID) (intake.Plan, error) {
	list, err := Files()
	if err != nil {
		return intake.Plan{}, err
	}
	p := intake.Make(list, intake.Known{NewID: newID})
	if p.Problems == 0 {
		return p, nil
	}
	for _, f := range p.FileProblems {
		return p, fmt.Errorf("%s:%d: %s", f.File, f.Line, f.Message)
	}
	i := slices.IndexFunc(p.Rows, func(r intake.Row) bool { return len(r.Problems) > 0 })
	return p, fmt.Errorf("%s:%d: %s", p.Rows[i].File, p.Rows[i].Line, p.Rows[i].Problems[0].Message)
}

// take takes in what a draft of the fleet makes.
func (w *world) take(d journal.Draft) error {
	switch b := d.Body.(type) {
	case fleet.CustomerSaved:
		w.customers[b.Customer.ID] = b.Customer
	case fleet.ModelSaved:
		w.models[b.Model.ID] = b.Model
	case sheet.Saved:
		w.sheets[b.Sheet.ID] = &b.Sheet
	case fleet.SiteSaved:
		zone, err := time.LoadLocation(b.Site.Zone)
		if err != nil {
			return err
		}
		w.sites = append(w.sites, &place{Site: b.Site, zone: zone})
	case fleet.FryerSaved:
		m := w.models[b.Fryer.Model]
		w.fryers = append(w.fryers, &fryer{Fryer: b.Fryer, at: w.siteOf(b.Fryer.Site), model: m, sheet: w.sheets[m.Sheet], version: d.ID})
	}
	return nil
}

func (w *world) siteOf(id uuid.UUID) *place {
	return w.sites[slices.IndexFunc(w.sites, func(p *place) bool { return p.ID == id })]
}

func (w *world) site(code string) *place {
	return w.sites[slices.IndexFunc(w.sites, func(p *place) bool { return p.Code == code })]
}

func (w *world) fryer(tag string) *fryer {
	return w.fryers[slices.IndexFunc(w.fryers, func(f *fryer) bool { return f.Tag == tag })]
}

func (w *world) customer(code string) fleet.Customer {
	for _, c := range w.customers {
		if strings.EqualFold(c.Code, code) {
			return c
		}
	}
	return fleet.Customer{}
}

// change lays a change over a standard and gives the version that it builds on.
func (w *world) change(b standard.Changed, version uuid.UUID, at time.Time) (base uuid.UUID) {
	id := standard.LayerID(b.Level, b.Of, b.Sheet)
	y, ok := w.layers[id]
	if !ok {
		y = &layer{Layer: standard.Layer{Level: b.Level, Of: b.Of}, sheet: b.Sheet}
		w.layers[id] = y
	}
	for _, v := range b.Set {
		y.Sets = slices.DeleteFunc(y.Sets, func(s standard.Set) bool { return s.Ref == v.Ref })
		y.Sets = append(y.Sets, standard.Set{Ref: v.Ref, Value: v.Value, At: at, Why: b.Why})
	}
	base, y.version = y.version, version
	return base
}

// expected gives the expected settings of a fryer as they stand.
func (w *world) expected(f *fryer) *standard.Expected {
	return w.lay(f, map[standard.Level]uuid.UUID{
		standard.OfModel: f.Model, standard.OfCustomer: f.at.Customer, standard.OfSite: f.at.ID, standard.OfFryer: f.ID,
	})
}

// expectedOf gives what another customer's standard makes of a fryer.
func (w *world) expectedOf(f *fryer, customer string) *standard.Expected {
	return w.lay(f, map[standard.Level]uuid.UUID{standard.OfModel: f.Model, standard.OfCustomer: w.customer(customer).ID})
}

func (w *world) lay(f *fryer, owners map[standard.Level]uuid.UUID) *standard.Expected {
	var layers []standard.Layer
	for level, of := range owners {
		if y, ok := w.layers[standard.LayerID(level, of, f.sheet.ID)]; ok {
			layers = append(layers, y.Layer)
		}
	}
	return standard.Lay(f.sheet, f.model.Appliance(), layers)
}
