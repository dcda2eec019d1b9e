package store

import (
	"context"
	"database/sql"
	"encoding/json"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

const siteColumns = `id, code, customer_id, name, address, town, country, area, lat, lon, elevation_m, zone, supply_volts, gas, access, version`

func scanSite(r interface{ Scan(...any) error }) (fleet.Site, uuid.UUID, error) {
	var s fleet.Site
	var version uuid.UUID
	err := r.Scan(&s.ID, &s.Code, &s.Customer, &s.Name, &s.Address, &s.Town, &s.Country, &s.Area, &s.Lat, &s.Lon, &s.ElevationM, &s.Zone,
		&s.SupplyVolts, &s.Gas, &s.Access, &version)
	return s, version, err
}

// Site gives a restaurant and its version.
func (s *Store) Site(ctx context.Context, id uuid.UUID) (fleet.Site, uuid.UUID, error) {
	if err := need(ctx, access.SeeSite, id); err != nil {
		return fleet.Site{}, uuid.Nil, err
	}
	site, version, err := scanSite(s.reader(ctx).row(`SELECT `+siteColumns+` FROM site WHERE id = ?`, idText(id)))
	return site, version, orNotFound(err)
}

// SiteRules gives the keys of the rules switched on for a restaurant.
func (s *Store) SiteRules(ctx context.Context, id uuid.UUID) ([]string, error) {
	if err := need(ctx, access.SeeSettings, id); err != nil {
		return nil, err
	}
	keys, _, err := loadRules(s.reader(ctx), id)
	return keys, err
}

func scanCustomer(r interface{ Scan(...any) error }) (fleet.Customer, uuid.UUID, error) {
	var c fleet.Customer
	var version uuid.UUID
	err := r.Scan(&c.ID, &c.Code, &c.Name, &c.Note, &version)
	return c, version, err
}

// Customer gives a restaurant company and its version.
func (s *Store) Customer(ctx context.Context, id uuid.UUID) (fleet.Customer, uuid.UUID, error) {
	if err := need(ctx, access.EditFleet, uuid.Nil); err != nil {
		return fleet.Customer{}, uuid.Nil, err
	}
	c, v, err := scanCustomer(s.reader(ctx).row(`SELECT id, code, name, note, version FROM customer WHERE id = ?`, idText(id)))
	return c, v, orNotFound(err)
}

// Customers lists the restaurant companies by name.
func (s *Store) Customers(ctx context.Context) ([]fleet.Customer, error) {
	if err := need(ctx, access.SeeDesk, uuid.Nil); err != nil {
		return nil, err
	}
	return collect(s.reader(ctx), `SELECT id, code, name, note, version FROM customer ORDER BY name, id`, func(r *sql.Rows) (fleet.Customer, error) {
		c, _, err := scanCustomer(r)
		return c, err
	})
}

func scanModel(r interface{ Scan(...any) error }) (fleet.Model, uuid.UUID, error) {
	var m fleet.Model
	var body string
	var version uuid.UUID
	if err := r.Scan(&body, &version); err != nil {
		return m, version, err
	}
	return m, version, json.Unmarshal([]byte(body), &m)
}

// Model gives a fryer model and its version.
func (s *Store) Model(ctx context.Context, id uuid.UUID) (fleet.Model, uuid.UUID, error) {
	if err := need(ctx, access.EditFleet, uuid.Nil); err != nil {
		return fleet.Model{}, uuid.Nil, err
	}
	m, v, err := scanModel(s.reader(ctx).row(`SELECT body, version FROM model WHERE id = ?`, idText(id)))
	return m, v, orNotFound(err)
}

// Models lists the fryer models by name.
func (s *Store) Models(ctx context.Context) ([]fleet.Model, error) {
	if err := need(ctx, access.EditFleet, uuid.Nil); err != nil {
		return nil, err
	}
	return collect(s.reader(ctx), `SELECT body, version FROM model ORDER BY name, id`, func(r *sql.Rows) (fleet.Model, error) {
		m, _, err := scanModel(r)
		return m, err
	})
}

// Sheet gives a settings sheet and its version. It is shared: callers must not change it.
func (s *Store) Sheet(ctx context.Context, id uuid.UUID) (*sheet.Sheet, uuid.UUID, error) {
	if err := need(ctx, access.EditSheet, uuid.Nil); err != nil {
		return nil, uuid.Nil, err
	}
	var version, body string
	if err := s.reader(ctx).row(`SELECT version, body FROM sheet WHERE id = ?`, idText(id)).Scan(&version, &body); err != nil {
		return nil, uuid.Nil, orNotFound(err)
	}
	sh, err := s.sheetOf(body)
	if err != nil {
		return nil, uuid.Nil, err
	}
	v, err := uuid.Parse(version)
	return sh, v, err
}

// Sheets lists the settings sheets by name. They are shared: callers must not change them.
func (s *Store) Sheets(ctx context.Context) ([]*sheet.Sheet, error) {
	if err := need(ctx, access.EditSheet, uuid.Nil); err != nil {
		return nil, err
	}
	return collect(s.reader(ctx), `SELECT body FROM sheet ORDER BY name, id`, func(r *sql.Rows) (*sheet.Sheet, error) {
		var body string
		if err := r.Scan(&body); err != nil {
			return nil, err
		}
		return s.sheetOf(body)
	})
}

// FryerRecord gives the stored record of a fryer and its version, for its form.
func (s *Store) FryerRecord(ctx context.Context, id uuid.UUID) (fleet.Fryer, uuid.UUID, error) {
	if err := need(ctx, access.EditFleet, uuid.Nil); err != nil {
		return fleet.Fryer{}, uuid.Nil, err
	}
	f, version, err := scanFryerRecord(s.reader(ctx).row(`SELECT `+fryerRecordColumns+` FROM fryer WHERE id = ?`, idText(id)))
	return f, version, orNotFound(err)
}

const fryerRecordColumns = `id, tag, site_id, model_id, name, serial, installed, note, version`

func scanFryerRecord(r interface{ Scan(...any) error }) (fleet.Fryer, uuid.UUID, error) {
	var f fleet.Fryer
	var version uuid.UUID
	err := r.Scan(&f.ID, &f.Tag, &f.Site, &f.Model, &f.Name, &f.Serial, &f.Installed, &f.Note, &version)
	return f, version, err
}

// SiteOfFryer gives the site of a fryer, for the route table's guard; a NotFound fault where there is none.
func (s *Store) SiteOfFryer(ctx context.Context, id uuid.UUID) (uuid.UUID, error) {
	site, err := remember(&s.sites, s.changes.Load(), id, func() (site uuid.UUID, err error) {
		err = s.reader(ctx).row(`SELECT site_id FROM fryer WHERE id = ?`, idText(id)).Scan(&site)
		return site, err
	})
	return site, orNotFound(err)
}

// SiteOfReading gives the site of a reading, for the route table's guard; a NotFound fault where there is none.
func (s *Store) SiteOfReading(ctx context.Context, id uuid.UUID) (uuid.UUID, error) {
	var site uuid.UUID
	err := s.reader(ctx).row(siteOfReading, idText(id)).Scan(&site)
	return site, orNotFound(err)
}

// collect runs a query and gives what scan makes of each row.
func collect[T any](q querier, query string, scan func(*sql.Rows) (T, error), args ...any) ([]T, error) {
	var list []T
	rows, err := q.query(query, args...)
	err = each(rows, err, func(r *sql.Rows) error {
		x, err := scan(r)
		list = append(list, x)
		return err
	})
	return list, err
}

// SiteByCode gives the id of the restaurant with a code.
func (s *Store) SiteByCode(ctx context.Context, code string) (uuid.UUID, error) {
	var id uuid.UUID
	if err := s.reader(ctx).row(`SELECT id FROM site WHERE code = ?`, code).Scan(&id); err != nil {
		return id, orNotFound(err)
	}
	return id, need(ctx, access.SeeSite, id)
}
