// Package entry is the list of every kind of entry: its version, how its body is read, who may record it, and which
// stream it travels in. Adding a kind of entry begins with a row here. It must not know how entries are stored.
package entry

import (
	"encoding/json"
	"fmt"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// Upcaster lifts a body by one version. It is pure and never fails on what a released program wrote.
type Upcaster func(json.RawMessage) (json.RawMessage, error)

// Spec is what is known of one kind of entry.
type Spec struct {
	Kind   string
	Action access.Action // what its author must be allowed to do at the entry's site
	// Changes says that the entry changes its subject, so that it carries the base its author saw. Otherwise it is a
	// fact, and facts never conflict.
	Changes bool
	// Up lifts older versions: Up[0] from 1 to 2 and so on. The current version is len(Up)+1.
	Up     []Upcaster
	decode func(json.RawMessage) (journal.Body, error)
}

// Version gives the current schema version of the kind.
func (s Spec) Version() int { return len(s.Up) + 1 }

func spec[B journal.Body](action access.Action, changes bool, up ...Upcaster) Spec {
	var zero B
	return Spec{Kind: zero.Kind(), Action: action, Changes: changes, Up: up, decode: func(raw json.RawMessage) (journal.Body, error) {
		var b B
		if err := json.Unmarshal(raw, &b); err != nil {
			return nil, err
		}
		return b, nil
	}}
}

// specs is the whole list.
var specs = []Spec{
	spec[fleet.CustomerSaved](access.EditFleet, true),
	spec[fleet.SiteSaved](access.EditFleet, true),
	spec[fleet.ModelSaved](access.EditFleet, true),
	spec[fleet.FryerSaved](access.EditFleet, true),
	spec[fleet.FryerMoved](access.EditFleet, true),
	spec[fleet.FryerRetired](access.EditFleet, true),
	spec[fleet.FryerReturned](access.EditFleet, true),
	spec[sheet.Saved](access.EditSheet, true),
	spec[standard.Changed](access.SetStandard, true),
	spec[standard.Accepted](access.AcceptDrift, false),
	spec[standard.Ended](access.AcceptDrift, false),
	spec[rule.Switched](access.SetSiteStandard, false),
	spec[person.Saved](access.EditPeople, true),
	spec[snapshot.Begun](access.TakeReading, false),
	spec[snapshot.Read](access.TakeReading, false),
	spec[snapshot.Finished](access.TakeReading, false),
	spec[snapshot.Dropped](access.TakeReading, false),
	spec[snapshot.Event](access.TakeReading, false),
	spec[snapshot.Ticked](access.TakeReading, false),
	spec[snapshot.Note](access.WriteNote, false),
}

var byKind = func() map[string]Spec {
	m := make(map[string]Spec, len(specs))
	for _, s := range specs {
		m[s.Kind] = s
	}
	return m
}()

// Specs lists every kind.
func Specs() []Spec { return specs }

// Find gives the spec of a kind.
func Find(kind string) (Spec, bool) {
	s, ok := byKind[kind]
	return s, ok
}

// ErrUnknown says that an entry is of a kind or a version that this program does not know: it is kept as it is.
var ErrUnknown = fmt.Errorf("kind or version not known to this program")

// Decode reads the body of an entry, lifted to the current version.
func Decode(e journal.Entry) (journal.Body, error) {
	s, ok := Find(e.Kind)
	if !ok {
		return nil, fmt.Errorf("%s: %w", e.Kind, ErrUnknown)
	}
	return s.read(e.V, e.Body)
}

// read lifts a body of a version to the current one and decodes it.
func (s Spec) read(version int, raw json.RawMessage) (journal.Body, error) {
	if version > s.Version() || version < 1 {
		return nil, fmt.Errorf("%s version %d: %w", s.Kind, version, ErrUnknown)
	}
	for v := version; v < s.Version(); v++ {
		var err error
		if raw, err = s.Up[v-1](raw); err != nil {
			return nil, fmt.Errorf("lift %s from version %d: %w", s.Kind, v, err)
		}
	}
	return s.decode(raw)
}

// ActionFor gives what the author of a body must be allowed to do: standards of a site or a fryer are the site's
// matter, the others the company's.
func ActionFor(b journal.Body) access.Action {
	if c, ok := b.(standard.Changed); ok && (c.Level == standard.OfSite || c.Level == standard.OfFryer) {
		return access.SetSiteStandard
	}
	return byKind[b.Kind()].Action
}

// SubjectOf gives what a body says that it is about, where the body itself says it; Nil otherwise. An entry is filed under
// that and nothing else, or it would pass by what others have changed meanwhile.
func SubjectOf(b journal.Body) uuid.UUID {
	switch b := b.(type) {
	case fleet.CustomerSaved:
		return b.Customer.ID
	case fleet.SiteSaved:
		return b.Site.ID
	case fleet.ModelSaved:
		return b.Model.ID
	case fleet.FryerSaved:
		return b.Fryer.ID
	case sheet.Saved:
		return b.Sheet.ID
	case person.Saved:
		return b.Person.ID
	case standard.Changed:
		return standard.LayerID(b.Level, b.Of, b.Sheet)
	default:
		return uuid.Nil
	}
}

// Stream names the stream that an entry travels in: one for each site, one for each customer's standards, one for the
// company.
func Stream(site uuid.UUID, b journal.Body) string {
	if site != uuid.Nil {
		return "site:" + site.String()
	}
	if c, ok := b.(standard.Changed); ok && c.Level == standard.OfCustomer {
		return "customer:" + c.Of.String()
	}
	return "company"
}
