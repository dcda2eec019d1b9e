package store

import (
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// project brings the tables up to date with one entry. Adding a kind of entry means a case here.
func (t *tx) project(e journal.Entry, body journal.Body) error {
	err := t.projectBody(e, body)
	if err != nil {
		return fmt.Errorf("project %s %s: %w", e.Kind, e.ID, err)
	}
	return nil
}

func (t *tx) projectBody(e journal.Entry, body journal.Body) error {
	t.changes = t.changes || !(slices.Contains(ofOneFryer, e.Kind) || slices.Contains(silent, e.Kind))
	switch b := body.(type) {
	case fleet.CustomerSaved:
		return t.saveCustomer(e, b.Customer)
	case fleet.SiteSaved:
		return t.saveSite(e, b.Site)
	case fleet.ModelSaved:
		return t.saveModel(e, b.Model)
	case fleet.FryerSaved:
		return t.saveFryer(e, b.Fryer)
	case fleet.FryerMoved:
		return t.moveFryer(e, b)
	case fleet.FryerRetired:
		return t.retireFryer(e, timeText(e.At))
	case fleet.FryerReturned:
		return t.retireFryer(e, "")
	case sheet.Saved:
		return t.saveSheet(e, b.Sheet)
	case standard.Changed:
		return t.changeLayer(e, b)
	case standard.Accepted:
		return t.acceptDifference(e, b)
	case standard.Ended:
		return t.endDifference(e, b)
	case rule.Switched:
		return t.switchRule(e, b)
	case person.Saved:
		return t.savePerson(e, b.Person)
	case snapshot.Begun:
		return t.beginSnapshot(e, b)
	case snapshot.Read:
		return t.readSnapshot(e, b.Readings)
	case snapshot.Finished:
		return t.finishSnapshot(e, b)
	case snapshot.Dropped:
		return t.dropSnapshot(e)
	case snapshot.Event:
		return t.noteEvent(e, b)
	case snapshot.Ticked:
		return t.tickLine(e, b)
	case snapshot.Note:
		return nil // a note lives in the journal; timelines read it there
	default:
		return fmt.Errorf("no projection for %T", body)
	}
}

// siteOf gives the site that an entry belongs to; Nil for the company's.
func (t *tx) siteOf(subject uuid.UUID, body journal.Body) (uuid.UUID, error) {
	switch b := body.(type) {
	case fleet.SiteSaved:
		return b.Site.ID, nil
	case fleet.FryerSaved:
		return b.Fryer.Site, nil
	case fleet.FryerMoved:
		return b.To, nil
	case fleet.FryerRetired, fleet.FryerReturned, standard.Accepted, standard.Ended, snapshot.Event, snapshot.Note, snapshot.Ticked:
		return t.id(`SELECT site_id FROM fryer WHERE id = ?`, subject)
	case snapshot.Begun:
		return t.id(`SELECT site_id FROM fryer WHERE id = ?`, b.Fryer)
	case snapshot.Read, snapshot.Finished, snapshot.Dropped:
		fryer, err := t.fryerOf(subject, body)
		if err != nil {
			return uuid.Nil, err
		}
		return t.id(`SELECT site_id FROM fryer WHERE id = ?`, fryer)
	case rule.Switched:
		return subject, nil
	case standard.Changed:
		switch b.Level {
		case standard.OfSite:
			return b.Of, nil
		case standard.OfFryer:
			return t.id(`SELECT site_id FROM fryer WHERE id = ?`, b.Of)
		}
	}
	return uuid.Nil, nil
}

// fryerOf gives the fryer that an entry is about; Nil for none.
func (t *tx) fryerOf(subject uuid.UUID, body journal.Body) (uuid.UUID, error) {
	switch b := body.(type) {
	case fleet.FryerSaved, fleet.FryerMoved, fleet.FryerRetired, fleet.FryerReturned, standard.Accepted, standard.Ended,
		snapshot.Event, snapshot.Note, snapshot.Ticked:
		return subject, nil
	case snapshot.Begun:
		return b.Fryer, nil
	case snapshot.Read, snapshot.Finished, snapshot.Dropped:
		x, err := t.snap(subject)
		if err == nil && x == nil {
			err = notFound()
		}
		if err != nil {
			return uuid.Nil, err
		}
		return x.fryer, nil
	case standard.Changed:
		if b.Level == standard.OfFryer {
			return b.Of, nil
		}
	}
	return uuid.Nil, nil
}

// siteOfReading gives the site of a reading: where its fryer stands now, for a moved fryer keeps its history.
const siteOfReading = `SELECT f.site_id FROM snapshot x JOIN fryer f ON f.id = x.fryer_id WHERE x.id = ?`

// id reads one id; a missing row is a NotFound fault.
func (t *tx) id(query string, args ...any) (uuid.UUID, error) {
	var id uuid.UUID
	for i, a := range args {
		if u, ok := a.(uuid.UUID); ok {
			args[i] = idText(u)
		}
	}
	err := orNotFound(t.row(query, args...).Scan(&id))
	return id, err
}

// versionQueries give the version of a changing subject, by the kind of its entries.
var versionQueries = map[string]string{
	fleet.KindCustomerSaved: `SELECT version FROM customer WHERE id = ?`,
	fleet.KindSiteSaved:     `SELECT version FROM site WHERE id = ?`,
	fleet.KindModelSaved:    `SELECT version FROM model WHERE id = ?`,
	fleet.KindFryerSaved:    `SELECT version FROM fryer WHERE id = ?`,
	fleet.KindFryerMoved:    `SELECT version FROM fryer WHERE id = ?`,
	fleet.KindFryerRetired:  `SELECT version FROM fryer WHERE id = ?`,
	fleet.KindFryerReturned: `SELECT version FROM fryer WHERE id = ?`,
	sheet.KindSaved:         `SELECT version FROM sheet WHERE id = ?`,
	standard.KindChanged:    `SELECT version FROM layer WHERE id = ?`,
	person.KindSaved:        `SELECT version FROM person WHERE id = ?`,
}

// version gives the last entry that changed the subject; Nil where it is new.
func (t *tx) version(subject uuid.UUID, b journal.Body) (uuid.UUID, error) {
	v, err := t.id(versionQueries[b.Kind()], subject)
	if fault.KindOf(err) == fault.NotFound {
		return uuid.Nil, nil
	}
	return v, err
}

// check says in plain words what an entry refers to wrongly: what only the tables can tell.
func (t *tx) check(e journal.Entry, body journal.Body) error {
	switch b := body.(type) {
	case fleet.CustomerSaved:
		return t.free("code", "customer", "code", b.Customer.Code, b.Customer.ID)
	case fleet.SiteSaved:
		return firstOf(t.exists("customer", "customer", b.Site.Customer), t.free("code", "site", "code", b.Site.Code, b.Site.ID))
	case fleet.ModelSaved:
		return firstOf(t.exists("sheet", "sheet", b.Model.Sheet), t.free("code", "model", "code", b.Model.Code, b.Model.ID))
	case fleet.FryerSaved:
		return t.checkFryer(b.Fryer)
	case fleet.FryerMoved:
		return t.checkMove(e, b)
	case sheet.Saved:
		return t.free("code", "sheet", "code", b.Sheet.Code, b.Sheet.ID)
	case standard.Changed:
		return t.checkLayer(e, b)
	case standard.Accepted:
		return t.checkAccepted(e, b)
	case rule.Switched:
		return t.exists("site", "site", e.Subject)
	case person.Saved:
		return firstOf(t.free("email", "person", "email", b.Person.Email, b.Person.ID), t.keepsAdministrator(b.Person))
	case snapshot.Begun:
		return t.checkBegun(e, b)
	case snapshot.Read:
		return t.checkOpen(e.Subject)
	case snapshot.Finished:
		return t.checkOpen(e.Subject)
	case snapshot.Dropped:
		return t.checkOpen(e.Subject)
	case snapshot.Event:
		return checkEvent(e, b)
	default:
		return nil
	}
}

// free gives a field complaint where another row has the unique value. The names of table and column are our own.
func (t *tx) free(field, table, column, value string, own uuid.UUID) error {
	var other string
	err := t.row(`SELECT id FROM `+table+` WHERE `+column+` = ? AND id <> ?`, value, idText(own)).Scan(&other)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	var f fault.Fields
	f.Add(field, "“%s” is taken already.", value)
	return f.Err()
}

// exists gives a field complaint where there is no such row.
func (t *tx) exists(field, table string, id uuid.UUID) error {
	var n int
	if err := t.row(`SELECT count(*) FROM `+table+` WHERE id = ?`, idText(id)).Scan(&n); err != nil || n > 0 {
		return err
	}
	var f fault.Fields
	f.Add(field, "Choose one of those that exist.")
	return f.Err()
}
