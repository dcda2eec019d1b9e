package fleet

import (
	"frywright/domain/fault"
	"frywright/domain/legible"

	"github.com/google/uuid"
)

// Fryer is one appliance at a site.
type Fryer struct {
	ID        uuid.UUID `json:"id"`
	Tag       string    `json:"tag"` // asset tag, unique
	Site      uuid.UUID `json:"site"`
	Model     uuid.UUID `json:"model"`
	Name      string    `json:"name,omitempty"` // where it stands: "line 1, left"
	Serial    string    `json:"serial,omitempty"`
	Installed string    `json:"installed,omitempty"` // YYYY-MM-DD
	Note      string    `json:"note,omitempty"`
}

// FryerSaved is the entry that a fryer was made or changed. A change of site is FryerMoved, never this.
type FryerSaved struct {
	Fryer Fryer `json:"fryer"`
}

// Kind implements journal.Body.
func (FryerSaved) Kind() string { return KindFryerSaved }

// Validate implements journal.Body.
func (b FryerSaved) Validate() error {
	var f fault.Fields
	if !codePattern.MatchString(b.Fryer.Tag) {
		f.Add("tag", "Give the asset tag: letters, digits, points and hyphens, at most 40.")
	}
	if b.Fryer.Site == uuid.Nil {
		f.Add("site", "Say at which restaurant it stands.")
	}
	if b.Fryer.Model == uuid.Nil {
		f.Add("model", "Say which model it is.")
	}
	legible.Line(&f, "name", b.Fryer.Name, nameLimit)
	legible.Line(&f, "serial", b.Fryer.Serial, nameLimit)
	legible.Text(&f, "note", b.Fryer.Note, noteLimit)
	if b.Fryer.Installed != "" && !isDate(b.Fryer.Installed) {
		f.Add("installed", "Give the date as year-month-day, for example 2026-05-14.")
	}
	return f.Err()
}

// FryerMoved is the entry that a fryer went to another site. Its envelope's site is the new one.
type FryerMoved struct {
	From uuid.UUID `json:"from"`
	To   uuid.UUID `json:"to"`
	Why  string    `json:"why"`
}

// Kind implements journal.Body.
func (FryerMoved) Kind() string { return KindFryerMoved }

// Validate implements journal.Body.
func (b FryerMoved) Validate() error {
	var f fault.Fields
	if b.To == uuid.Nil {
		f.Add("to", "Say where it goes.")
	}
	if b.To == b.From {
		f.Add("to", "It stands there already.")
	}
	f.Need("why", b.Why, "Say why it moves.")
	legible.Text(&f, "why", b.Why, noteLimit)
	return f.Err()
}

// FryerRetired is the entry that a fryer was taken out for good; its history stays.
type FryerRetired struct {
	Why string `json:"why"`
}

// Kind implements journal.Body.
func (FryerRetired) Kind() string { return KindFryerRetired }

// Validate implements journal.Body.
func (b FryerRetired) Validate() error {
	var f fault.Fields
	f.Need("why", b.Why, "Say why it is retired.")
	legible.Text(&f, "why", b.Why, noteLimit)
	return f.Err()
}

// FryerReturned is the entry that a retired fryer is in use again.
type FryerReturned struct {
	Why string `json:"why"`
}

// Kind implements journal.Body.
func (FryerReturned) Kind() string { return KindFryerReturned }

// Validate implements journal.Body.
func (b FryerReturned) Validate() error {
	var f fault.Fields
	f.Need("why", b.Why, "Say why it is back in use.")
	legible.Text(&f, "why", b.Why, noteLimit)
	return f.Err()
}
