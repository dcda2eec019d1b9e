// Package scenario is the invented world of the demonstration: a service company, three restaurant companies, their
// restaurants, fryers and controllers, the people, and a year of history. Nothing in it exists. It gives drafts for the
// journal and must not know how anything is stored or shown.
package scenario

import (
	"embed"
	"io/fs"
	"time"

	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

//go:embed *.csv
var files embed.FS

// Files gives the fleet as files to import: sheets, interlocks, models, sites, fryers and standards as they stand today.
func Files() ([]intake.File, error) {
	names, err := fs.Glob(files, "*.csv")
	if err != nil {
		return nil, err
	}
	list := make([]intake.File, len(names))
	for i, name := range names {
		data, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		list[i] = intake.File{Name: name, Data: data}
	}
	return list, nil
}

// The invented service company, and the password of every sign-in.
const (
	Company  = "Kettlefold Fryer Care"
	Password = "cool heads over hot oil"
)

// FridaySite is the restaurant whose power went on Friday night.
const FridaySite = "BRK-20"

// FridayTags lists the fryers there that lost their settings: gas, electric, and gas with a split pot, each with another
// controller type.
func FridayTags() []string { return []string{"KF-2001", "KF-2002", "KF-2003"} }

// Story is everything that the demonstration records.
type Story struct {
	Drafts []journal.Draft      // in the order of their times; each finds what it refers to
	People map[string]uuid.UUID // by e-mail address
	Friday []Fryer              // the three that wait to be read
}

// Fryer is one of the Friday night's fryers.
type Fryer struct {
	ID    uuid.UUID
	Tag   string
	Shows map[sheet.Ref]sheet.Value // what its controller shows now, not read yet
}

// Tell makes the fleet, a year of its history up to now, and the open present. It is the same for the same now and seed.
func Tell(now time.Time, seed uint64) (*Story, error) {
	t := newTeller(now, seed)
	if err := t.found(); err != nil {
		return nil, err
	}
	t.planPresent()
	t.planPast()
	t.planFleet()
	friday := t.planFriday()
	t.planVisits()
	t.run()
	return &Story{Drafts: t.drafts, People: t.people, Friday: friday()}, nil
}
