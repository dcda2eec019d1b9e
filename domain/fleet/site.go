package fleet

import (
	"regexp"
	"slices"
	"time"

	"frywright/domain/fault"
	"frywright/domain/legible"

	"github.com/google/uuid"
)

// GasSupply is the gas of a site.
type GasSupply string

// The gas supplies.
const (
	NoGas      GasSupply = "none"
	NaturalGas GasSupply = "natural"
	Propane    GasSupply = "propane"
)

// GasSupplies lists the gas supplies as forms offer them.
func GasSupplies() []GasSupply { return []GasSupply{NaturalGas, Propane, NoGas} }

// Site is one restaurant.
type Site struct {
	ID          uuid.UUID `json:"id"`
	Code        string    `json:"code"` // short, unique, for files
	Customer    uuid.UUID `json:"customer"`
	Name        string    `json:"name"`
	Address     string    `json:"address,omitempty"`
	Town        string    `json:"town,omitempty"`
	Country     string    `json:"country,omitempty"` // ISO 3166-1 alpha-2
	Area        string    `json:"area,omitempty"`    // the service area, as people's areas name it
	Lat         *float64  `json:"lat,omitempty"`     // degrees north
	Lon         *float64  `json:"lon,omitempty"`     // degrees east
	ElevationM  float64   `json:"elevation_m"`       // metres above sea level
	Zone        string    `json:"zone"`              // IANA time zone
	SupplyVolts float64   `json:"supply_volts,omitempty"`
	Gas         GasSupply `json:"gas"`
	Access      string    `json:"access,omitempty"` // how to get in, whom to ask
}

// SiteSaved is the entry that a site was made or changed.
type SiteSaved struct {
	Site Site `json:"site"`
}

// Kind implements journal.Body.
func (SiteSaved) Kind() string { return KindSiteSaved }

var countryPattern = regexp.MustCompile(`^[A-Z]{2}$`)

// Validate implements journal.Body.
func (b SiteSaved) Validate() error {
	var f fault.Fields
	s := b.Site
	checkCode(&f, s.Code)
	checkName(&f, "name", s.Name, "Give the restaurant's name.")
	if s.Customer == uuid.Nil {
		f.Add("customer", "Say which restaurant company it belongs to.")
	}
	if s.Country != "" && !countryPattern.MatchString(s.Country) {
		f.Add("country", "Give the country as two capital letters, for example IE.")
	}
	if _, err := time.LoadLocation(s.Zone); err != nil || s.Zone == "" || s.Zone == "Local" {
		f.Add("zone", "Give the time zone as region and city, for example Europe/Dublin.")
	}
	if !slices.Contains(GasSupplies(), s.Gas) {
		f.Add("gas", "The gas is natural, propane or none.")
	}
	b.validateNumbers(&f)
	legible.Text(&f, "address", s.Address, nameLimit*2)
	legible.Line(&f, "town", s.Town, nameLimit*2)
	legible.Line(&f, "area", s.Area, nameLimit*2)
	legible.Text(&f, "access", s.Access, noteLimit)
	return f.Err()
}

func (b SiteSaved) validateNumbers(f *fault.Fields) {
	s := b.Site
	if !(s.ElevationM >= -430 && s.ElevationM <= 5500) {
		f.Add("elevation_m", "Give the elevation in metres, from −430 to 5500.")
	}
	if s.SupplyVolts != 0 && !(s.SupplyVolts >= 90 && s.SupplyVolts <= 700) {
		f.Add("supply_volts", "Give the supply voltage in volts, from 90 to 700, or leave it empty.")
	}
	if (s.Lat == nil) != (s.Lon == nil) {
		f.Add("lat", "Give both coordinates or neither.")
	}
	if s.Lat != nil && !(*s.Lat >= -90 && *s.Lat <= 90) {
		f.Add("lat", "The latitude goes from −90 to 90 degrees.")
	}
	if s.Lon != nil && !(*s.Lon >= -180 && *s.Lon <= 180) {
		f.Add("lon", "The longitude goes from −180 to 180 degrees.")
	}
}
