package store

import (
	"database/sql"
	"encoding/json"
	"errors"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

func (t *tx) saveCustomer(e journal.Entry, c fleet.Customer) error {
	err := t.exec(`INSERT INTO customer (id, code, name, note, version) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET code = excluded.code, name = excluded.name, note = excluded.note, version = excluded.version`,
		idText(c.ID), c.Code, c.Name, c.Note, e.ID.String())
	if err != nil || t.replaying {
		return err
	}
	sites, err := collect(t, `SELECT id FROM site WHERE customer_id = ?`, scanID, idText(c.ID))
	if err != nil {
		return err
	}
	for _, id := range sites {
		if err := t.wordSite(id); err != nil {
			return err
		}
	}
	return nil
}

func (t *tx) saveSite(e journal.Entry, s fleet.Site) error {
	var customer, area, name string
	err := t.row(`SELECT customer_id, area, name FROM site WHERE id = ?`, idText(s.ID)).Scan(&customer, &area, &name)
	fresh := errors.Is(err, sql.ErrNoRows)
	if err != nil && !fresh {
		return err
	}
	err = t.exec(`INSERT INTO site (id, code, customer_id, name, address, town, country, area, lat, lon, elevation_m, zone, supply_volts, gas, access, version)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET code = excluded.code, customer_id = excluded.customer_id, name = excluded.name, address = excluded.address,
		town = excluded.town, country = excluded.country, area = excluded.area, lat = excluded.lat, lon = excluded.lon, elevation_m = excluded.elevation_m,
		zone = excluded.zone, supply_volts = excluded.supply_volts, gas = excluded.gas, access = excluded.access, version = excluded.version`,
		idText(s.ID), s.Code, idText(s.Customer), s.Name, s.Address, s.Town, s.Country, s.Area, s.Lat, s.Lon, s.ElevationM, s.Zone,
		s.SupplyVolts, string(s.Gas), s.Access, e.ID.String())
	if err != nil {
		return err
	}
	if !t.replaying { // a replay notes the words at its end
		if err := t.wordSite(s.ID); err != nil {
			return err
		}
	}
	if !fresh && (customer != idText(s.Customer) || name != s.Name) {
		if err := t.touch(`SELECT id FROM fryer WHERE site_id = ?`, idText(s.ID)); err != nil {
			return err
		}
	}
	if fresh || area != s.Area {
		return t.placeSite(s)
	}
	return nil
}

func (t *tx) saveModel(e journal.Entry, m fleet.Model) error {
	body, err := json.Marshal(m)
	if err != nil {
		return err
	}
	err = t.exec(`INSERT INTO model (id, code, name, sheet_id, energy, pot, body, version) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET code = excluded.code, name = excluded.name, sheet_id = excluded.sheet_id, energy = excluded.energy,
		pot = excluded.pot, body = excluded.body, version = excluded.version`,
		idText(m.ID), m.Code, m.Name, idText(m.Sheet), string(m.Energy), string(m.Pot), string(body), e.ID.String())
	if err != nil {
		return err
	}
	return t.touch(`SELECT id FROM fryer WHERE model_id = ?`, idText(m.ID))
}

func (t *tx) saveSheet(e journal.Entry, s sheet.Sheet) error {
	body, err := json.Marshal(s)
	if err != nil {
		return err
	}
	err = t.exec(`INSERT INTO sheet (id, code, name, body, version, changed_at, changed_by) VALUES (?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET code = excluded.code, name = excluded.name, body = excluded.body, version = excluded.version,
		changed_at = excluded.changed_at, changed_by = excluded.changed_by`,
		idText(s.ID), s.Code, s.Name, string(body), e.ID.String(), journal.FormatTime(e.At), idText(e.Author))
	if err != nil {
		return err
	}
	return t.touch(`SELECT f.id FROM fryer f JOIN model m ON m.id = f.model_id WHERE m.sheet_id = ?`, idText(s.ID))
}

func decodeSheet(body string) (*sheet.Sheet, error) {
	var s sheet.Sheet
	if err := json.Unmarshal([]byte(body), &s); err != nil {
		return nil, err
	}
	return &s, nil
}

func (t *tx) saveFryer(e journal.Entry, f fleet.Fryer) error {
	t.dirty[f.ID] = true
	err := t.exec(`INSERT INTO fryer (id, tag, site_id, model_id, name, serial, installed, note, retired_at, version) VALUES (?, ?, ?, ?, ?, ?, ?, ?, '', ?)
		ON CONFLICT (id) DO UPDATE SET tag = excluded.tag, model_id = excluded.model_id, name = excluded.name, serial = excluded.serial,
		installed = excluded.installed, note = excluded.note, version = excluded.version`,
		idText(f.ID), f.Tag, idText(f.Site), idText(f.Model), f.Name, f.Serial, f.Installed, f.Note, e.ID.String())
	if err != nil || t.replaying {
		return err
	}
	return t.setWords("fryer", f.ID, fryerWords(f))
}

func (t *tx) moveFryer(e journal.Entry, b fleet.FryerMoved) error {
	t.dirty[e.Subject] = true
	if err := t.exec(`UPDATE fryer SET site_id = ?, version = ? WHERE id = ?`, idText(b.To), e.ID.String(), idText(e.Subject)); err != nil {
		return err
	}
	return t.fold(e.Subject).move(t, b.To)
}

func (t *tx) retireFryer(e journal.Entry, at string) error {
	t.dirty[e.Subject] = true
	return t.exec(`UPDATE fryer SET retired_at = ?, version = ? WHERE id = ?`, at, e.ID.String(), idText(e.Subject))
}

func (t *tx) checkFryer(f fleet.Fryer) error {
	var site uuid.UUID
	err := t.row(`SELECT site_id FROM fryer WHERE id = ?`, idText(f.ID)).Scan(&site)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if err == nil && site != f.Site {
		var fields fault.Fields
		fields.Add("site", "To bring a fryer to another restaurant, move it.")
		return fields.Err()
	}
	return firstOf(t.exists("site", "site", f.Site), t.exists("model", "model", f.Model), t.free("tag", "fryer", "tag", f.Tag, f.ID))
}

func (t *tx) checkMove(e journal.Entry, b fleet.FryerMoved) error {
	site, err := t.id(`SELECT site_id FROM fryer WHERE id = ?`, e.Subject)
	if err != nil {
		return err
	}
	if site != b.From {
		return fault.New(fault.Conflict, "The fryer stands elsewhere by now. Look again, then move it.")
	}
	return t.exists("to", "site", b.To)
}

// firstOf gives the first error.
func firstOf(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// touch marks the fryers of a query, so that their standing is worked out again.
func (t *tx) touch(query string, args ...any) error {
	if t.replaying {
		return nil
	}
	rows, err := t.query(query, args...)
	return each(rows, err, func(r *sql.Rows) error {
		var id uuid.UUID
		if err := r.Scan(&id); err != nil {
			return err
		}
		t.dirty[id] = true
		return nil
	})
}

// zoneOf gives the time zone of a site; "UTC" for the company's entries and for a site that is just being made.
func (t *tx) zoneOf(site uuid.UUID) (string, error) {
	zone := "UTC"
	err := t.row(`SELECT zone FROM site WHERE id = ?`, idText(site)).Scan(&zone)
	if errors.Is(err, sql.ErrNoRows) {
		return "UTC", nil
	}
	return zone, err
}
