// Package person describes the people who use the program. It must not know of their sign-in secrets, which are never in
// the journal.
package person

import (
	"net/mail"
	"slices"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/legible"

	"github.com/google/uuid"
)

// KindSaved is the entry kind of Saved.
const KindSaved = "person.saved"

// Person is somebody who may sign in.
type Person struct {
	ID    uuid.UUID   `json:"id"`
	Name  string      `json:"name"`
	Email string      `json:"email"` // lower case, unique
	Role  access.Role `json:"role"`
	Areas []string    `json:"areas,omitempty"` // technician: the service areas
	Sites []uuid.UUID `json:"sites,omitempty"` // technician: sites besides; manager: own sites
	Gone  bool        `json:"gone,omitempty"`  // may no longer sign in
}

// Saved is the entry that a person was added or changed.
type Saved struct {
	Person Person `json:"person"`
}

// Kind implements journal.Body.
func (Saved) Kind() string { return KindSaved }

// Validate implements journal.Body.
func (b Saved) Validate() error {
	var f fault.Fields
	f.Need("name", b.Person.Name, "Give the person's name.")
	legible.Line(&f, "name", b.Person.Name, legible.Name)
	if !ValidEmail(b.Person.Email) {
		f.Add("email", "Give an e-mail address, for example sam@example.com.")
	}
	if !slices.Contains(access.Roles(), b.Person.Role) {
		f.Add("role", "Say what the person does.")
	}
	if b.Person.Role == access.Manager && len(b.Person.Sites) == 0 && !b.Person.Gone {
		f.Add("sites", "A restaurant manager needs at least one restaurant.")
	}
	b.validateReach(&f)
	return f.Err()
}

// The largest numbers of areas and restaurants of one person.
const (
	areaLimit = 200
	siteLimit = 20_000
)

func (b Saved) validateReach(f *fault.Fields) {
	if len(b.Person.Areas) > areaLimit || len(b.Person.Sites) > siteLimit {
		f.Add("areas", "At most %d areas and %d restaurants.", areaLimit, siteLimit)
		return
	}
	for _, area := range b.Person.Areas {
		legible.Line(f, "areas", area, 2*legible.Name)
	}
}

// ValidEmail says whether the text is one plain address.
func ValidEmail(text string) bool {
	a, err := mail.ParseAddress(text)
	return err == nil && a.Address == text && a.Name == "" && len(text) <= 254 && CleanEmail(text) == text && legible.Problem(text, false) == ""
}

// CleanEmail gives the address as it is stored and looked up.
func CleanEmail(text string) string { return strings.ToLower(strings.TrimSpace(text)) }

// Account is what signing in needs to know of a person. It is never in the journal.
type Account struct {
	Person       uuid.UUID
	Name         string
	Email        string
	PasswordHash string // argon2id, in the usual encoded form
	Generation   int64  // raised to end every session
}
