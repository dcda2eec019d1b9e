// Package fleet describes what is looked after: customers, sites, fryer models and fryers, and the entries that change
// them. It must not know of settings' values, readings or people.
package fleet

import (
	"regexp"
	"time"

	"frywright/domain/fault"
	"frywright/domain/legible"

	"github.com/google/uuid"
)

// The entry kinds of this package.
const (
	KindCustomerSaved = "customer.saved"
	KindSiteSaved     = "site.saved"
	KindModelSaved    = "model.saved"
	KindFryerSaved    = "fryer.saved"
	KindFryerMoved    = "fryer.moved"
	KindFryerRetired  = "fryer.retired"
	KindFryerReturned = "fryer.returned"
)

var codePattern = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._/-]{0,39}$`)

// checkCode notes a complaint about a code that files and URLs cannot use.
func checkCode(f *fault.Fields, code string) {
	if !codePattern.MatchString(code) {
		f.Add("code", "Give a short code of letters, digits, points and hyphens.")
	}
}

// Limits of texts, in characters.
const (
	nameLimit = legible.Name
	noteLimit = 2000
)

func checkName(f *fault.Fields, field, name, message string) {
	f.Need(field, name, "%s", message)
	legible.Line(f, field, name, nameLimit)
}

// Customer is a restaurant company.
type Customer struct {
	ID   uuid.UUID `json:"id"`
	Code string    `json:"code"` // short, unique, for files
	Name string    `json:"name"`
	Note string    `json:"note,omitempty"`
}

// CustomerSaved is the entry that a customer was made or changed.
type CustomerSaved struct {
	Customer Customer `json:"customer"`
}

// Kind implements journal.Body.
func (CustomerSaved) Kind() string { return KindCustomerSaved }

// Validate implements journal.Body.
func (b CustomerSaved) Validate() error {
	var f fault.Fields
	checkCode(&f, b.Customer.Code)
	checkName(&f, "name", b.Customer.Name, "Give the restaurant company's name.")
	legible.Text(&f, "note", b.Customer.Note, noteLimit)
	return f.Err()
}

// isDate says whether the text is a calendar date, YYYY-MM-DD.
func isDate(text string) bool {
	_, err := time.Parse(time.DateOnly, text)
	return err == nil
}
