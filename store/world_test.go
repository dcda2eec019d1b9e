package store_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// world is a small invented fleet in a real database, with a clock of its own.
type world struct {
	t        *testing.T
	store    *store.Store
	path     string
	clock    time.Time
	office   context.Context
	sheet    sheet.Sheet
	model    fleet.Model
	customer fleet.Customer
	site     fleet.Site
	other    fleet.Site
	fryer    fleet.Fryer
	foreign  fleet.Fryer
	people   map[access.Role]person.Person
}

func num(n float64) *float64 { return &n }

func (w *world) now() time.Time { return w.clock }

func newWorld(t *testing.T) *world {
	t.Helper()
	w := &world{
		t: t, path: filepath.Join(t.TempDir(), "w.db"), clock: time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC),
		office: access.NewContext(context.Background(), access.Actor{System: true, Role: access.Administrator}),
		people: map[access.Role]person.Person{},
	}
	w.open()
	w.sheet = sheet.Sheet{
		ID: uuid.New(), Code: "quill", Name: "Quill 5",
		Settings: []sheet.Setting{
			{Key: "setpoint", Label: "Fry setpoint", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(200), Max: num(375), Step: 1, Factory: "350", Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 1, Role: sheet.RoleSetpoint},
			{Key: "offset", Label: "Probe offset", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: num(-15), Max: num(15), Step: 1, Factory: "0", Scope: sheet.PerVat, Class: sheet.Food},
			{Key: "profile", Label: "Heat profile", Group: "Heat", Kind: sheet.Choice, Options: []sheet.Option{{Key: "gas", Label: "Gas"}, {Key: "plain", Label: "Plain thermostat"}}, Factory: "gas", Scope: sheet.PerController, Class: sheet.Output},
			{Key: "pilot", Label: "Standing pilot", Group: "Heat", Kind: sheet.Switch, Factory: "off", Scope: sheet.PerController, Class: sheet.Safety, Energies: []sheet.Energy{sheet.Gas}},
			{Key: "checksum", Label: "Program checksum", Group: "About", Kind: sheet.Text, Factory: "7A1F", Scope: sheet.PerController, Class: sheet.Minor, ReadOnly: true},
		},
		Interlocks: []sheet.Interlock{{
			Key: "pilot-profile", Label: "A standing pilot needs the gas profile", Class: sheet.Safety,
			When: []sheet.Condition{{Setting: "pilot", Op: sheet.Is, Values: []sheet.Value{"on"}}},
			Must: []sheet.Condition{{Setting: "profile", Op: sheet.Is, Values: []sheet.Value{"gas"}}},
		}},
	}
	w.customer = fleet.Customer{ID: uuid.New(), Code: "OT", Name: "Otterly Battered"}
	w.model = fleet.Model{ID: uuid.New(), Code: "H35", Name: "Halver 35", Sheet: w.sheet.ID, Energy: sheet.Gas, Pot: sheet.SinglePot, RatedWatts: 35000, OilKg: 22}
	w.site = fleet.Site{ID: uuid.New(), Code: "OT-1", Customer: w.customer.ID, Name: "Vexley Quay", Area: "north", Zone: "Europe/Dublin", Gas: fleet.NaturalGas}
	w.other = fleet.Site{ID: uuid.New(), Code: "OT-2", Customer: w.customer.ID, Name: "Port Lumen", Area: "south", Zone: "America/Denver", Gas: fleet.NaturalGas}
	w.fryer = fleet.Fryer{ID: uuid.New(), Tag: "T-001", Site: w.site.ID, Model: w.model.ID, Name: "line 1"}
	w.foreign = fleet.Fryer{ID: uuid.New(), Tag: "T-002", Site: w.other.ID, Model: w.model.ID}
	w.must(w.office,
		journal.Draft{Subject: w.sheet.ID, Body: sheet.Saved{Sheet: w.sheet}},
		journal.Draft{Subject: w.customer.ID, Body: fleet.CustomerSaved{Customer: w.customer}},
		journal.Draft{Subject: w.model.ID, Body: fleet.ModelSaved{Model: w.model}},
		journal.Draft{Subject: w.site.ID, Body: fleet.SiteSaved{Site: w.site}},
		journal.Draft{Subject: w.other.ID, Body: fleet.SiteSaved{Site: w.other}},
		journal.Draft{Subject: w.fryer.ID, Body: fleet.FryerSaved{Fryer: w.fryer}},
		journal.Draft{Subject: w.foreign.ID, Body: fleet.FryerSaved{Fryer: w.foreign}},
	)
	for _, p := range []person.Person{
		{Name: "Ada Office", Role: access.Administrator}, {Name: "Dee Desk", Role: access.Dispatcher},
		{Name: "Tom Tech", Role: access.Technician, Areas: []string{"north"}},
		{Name: "Mia Manager", Role: access.Manager, Sites: []uuid.UUID{w.site.ID}},
	} {
		p.ID, p.Email = uuid.New(), string(p.Role)+"@frywright.example"
		w.people[p.Role] = p
		w.must(w.office, journal.Draft{Subject: p.ID, Body: person.Saved{Person: p}})
	}
	return w
}

func (w *world) open() {
	w.t.Helper()
	s, err := store.Open(context.Background(), store.Config{Path: w.path, Now: w.now, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) }})
	require.NoError(w.t, err)
	w.store = s
	w.t.Cleanup(func() { _ = s.Close() })
}

// as gives the context of a person of a role, as signing in would.
func (w *world) as(role access.Role) context.Context {
	a, err := w.store.Actor(context.Background(), w.people[role].ID)
	require.NoError(w.t, err)
	return access.NewContext(context.Background(), a)
}

func (w *world) must(ctx context.Context, drafts ...journal.Draft) []journal.Entry {
	w.t.Helper()
	entries, err := w.store.Record(ctx, drafts...)
	require.NoError(w.t, err)
	return entries
}

// read records a finished reading of the fryer and gives its id.
func (w *world) read(ctx context.Context, fryer uuid.UUID, purpose snapshot.Purpose, values map[string]sheet.Value) uuid.UUID {
	w.t.Helper()
	id := uuid.New()
	var readings []snapshot.Reading
	for text, v := range values {
		ref, ok := sheet.ParseRef(text)
		require.True(w.t, ok)
		readings = append(readings, snapshot.Reading{Ref: ref, Value: v})
	}
	w.must(ctx, journal.Draft{Subject: id, Body: snapshot.Begun{Fryer: fryer, Purpose: purpose}})
	w.clock = w.clock.Add(time.Minute)
	w.must(ctx, journal.Draft{Subject: id, Body: snapshot.Finished{Readings: readings}})
	w.clock = w.clock.Add(time.Minute)
	return id
}

// all gives right values for the test fryer under its factory standards.
func all(change map[string]sheet.Value) map[string]sheet.Value {
	values := map[string]sheet.Value{"setpoint@1": "350", "offset@1": "0", "profile": "gas", "pilot": "off", "checksum": "7A1F"}
	for k, v := range change {
		values[k] = v
	}
	return values
}

// setStandard records a change of the customer's standard.
func (w *world) setStandard(ctx context.Context, base uuid.UUID, key string, v sheet.Value) journal.Entry {
	w.t.Helper()
	return w.must(ctx, w.standardDraft(base, key, v))[0]
}

func (w *world) standardDraft(base uuid.UUID, key string, v sheet.Value) journal.Draft {
	return journal.Draft{
		Subject: standard.LayerID(standard.OfCustomer, w.customer.ID, w.sheet.ID), Base: base,
		Body: standard.Changed{
			Level: standard.OfCustomer, Of: w.customer.ID, Sheet: w.sheet.ID, Why: "house menu",
			Set: []standard.Value{{Ref: sheet.Ref{Key: key}, Value: v}},
		},
	}
}
