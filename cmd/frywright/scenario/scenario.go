// Package scenario is the invented fleet of the demo: a service company, three restaurant companies, their restaurants,
// fryers, controllers and a year of history. Nothing in it exists. It must not know how anything is stored or shown.
package scenario

import (
	"embed"
	"io/fs"

	"frywright/domain/access"
	"frywright/domain/intake"
)

//go:embed *.csv
var files embed.FS

// Files gives the fleet as files to import.
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

// Company is the invented service company.
const Company = "Kettlefold Fryer Care"

// Password is that of every sign-in of the demo.
const Password = "the oil is warm tonight"

// Person is somebody of the demo.
type Person struct {
	Name  string
	Email string
	Role  access.Role
	Areas []string
	Sites []string // codes
	What  string   // what they do, for the sign-in page
}

// People lists the sign-ins of the demo.
func People() []Person {
	return []Person{
		{Name: "Ottoline Marsh", Email: "lead@kettlefold.example", Role: access.Administrator, What: "service lead: standards, sheets and people"},
		{Name: "Bram Tolliver", Email: "desk@kettlefold.example", Role: access.Dispatcher, What: "dispatcher: the whole fleet, worst first"},
		{Name: "Ines Quillon", Email: "ines@kettlefold.example", Role: access.Technician, Areas: []string{"north", "coast"}, What: "technician: Friday night waits for her at Vexley Cellars"},
		{Name: "Piotr Sand", Email: "piotr@kettlefold.example", Role: access.Technician, Areas: []string{"valley"}, What: "technician in the valley"},
		{Name: "Delphine Roe", Email: "delphine@kettlefold.example", Role: access.Technician, Areas: []string{"high plains", "delta"}, What: "technician overseas"},
		{Name: "Maeve Lantry", Email: "maeve@otterly.example", Role: access.Manager, Sites: []string{FridaySite}, What: "restaurant manager of Vexley Cellars"},
		{Name: "Tobin Hale", Email: "tobin@brindlewick.example", Role: access.Manager, Sites: []string{"BRW-01", "BRW-02"}, What: "manager of two wing restaurants"},
	}
}

// The restaurant of the Friday night, and its three fryers that lost their settings.
const (
	FridaySite   = "OTB-01"
	FridayFryers = 3 // the first three tags of the site; the fourth stands unplugged
	NorthEmail   = "ines@kettlefold.example"
	DeskEmail    = "desk@kettlefold.example"
)
