package fleet_test

import (
	"math"
	"strings"
	"testing"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/sheet"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func id(last byte) uuid.UUID {
	u := uuid.MustParse("0190f5a0-0000-7000-8000-000000000000")
	u[15] = last
	return u
}

func num(n float64) *float64 { return &n }

func customer(spoil func(*fleet.Customer)) fleet.CustomerSaved {
	c := fleet.Customer{ID: id(1), Code: "OTT", Name: "Otterly Battered", Note: "two\nlines"}
	spoil(&c)
	return fleet.CustomerSaved{Customer: c}
}

func site(spoil func(*fleet.Site)) fleet.SiteSaved {
	s := fleet.Site{
		ID: id(2), Code: "OTT-1", Customer: id(1), Name: "Vexley Quay", Address: "1 Harl Street", Town: "Vexley", Country: "IE", Area: "north",
		Lat: num(53.35), Lon: num(-6.26), ElevationM: 20, Zone: "Europe/Dublin", SupplyVolts: 230, Gas: fleet.NaturalGas, Access: "ask the manager",
	}
	spoil(&s)
	return fleet.SiteSaved{Site: s}
}

func model(spoil func(*fleet.Model)) fleet.ModelSaved {
	m := fleet.Model{
		ID: id(3), Code: "HV-35", Name: "Halver 35", Sheet: id(9), Energy: sheet.Electric, Pot: sheet.SplitPot, RatedWatts: 17000, OilKg: 11.3,
		RatedVolts: 400, Phases: 3, Elements: 6, BasketLifts: 2, Recovery: fleet.RecoverySpec{FromF: 250, ToF: 325, LimitSeconds: 130},
	}
	spoil(&m)
	return fleet.ModelSaved{Model: m}
}

func fryer(spoil func(*fleet.Fryer)) fleet.FryerSaved {
	f := fleet.Fryer{ID: id(4), Tag: "T-001", Site: id(2), Model: id(3), Name: "line 1, left", Serial: "S1", Installed: "2026-05-14"}
	spoil(&f)
	return fleet.FryerSaved{Fryer: f}
}

func TestWhatIsRightIsTaken(t *testing.T) {
	for name, b := range map[string]interface{ Validate() error }{
		"customer": customer(func(*fleet.Customer) {}),
		"site":     site(func(*fleet.Site) {}),
		"site, the least": site(func(s *fleet.Site) {
			*s = fleet.Site{Code: "x", Name: "X", Customer: id(1), Zone: "UTC", Gas: fleet.NoGas}
		}),
		"site, at the limits": site(func(s *fleet.Site) { s.Lat, s.Lon, s.ElevationM, s.SupplyVolts = num(-90), num(180), -430, 90 }),
		"site, at the others": site(func(s *fleet.Site) { s.Lat, s.Lon, s.ElevationM, s.SupplyVolts = num(90), num(-180), 5500, 700 }),
		"model":               model(func(*fleet.Model) {}),
		"model, the least": model(func(m *fleet.Model) {
			*m = fleet.Model{Code: "x", Name: "X", Sheet: id(9), Energy: sheet.Gas, Pot: sheet.SinglePot}
		}),
		"model of one phase":       model(func(m *fleet.Model) { m.Phases = 1 }),
		"fryer":                    fryer(func(*fleet.Fryer) {}),
		"fryer, the least":         fryer(func(f *fleet.Fryer) { *f = fleet.Fryer{Tag: "1", Site: id(2), Model: id(3)} }),
		"moved":                    fleet.FryerMoved{From: id(2), To: id(5), Why: "kitchen rebuilt"},
		"moved from nobody knows":  fleet.FryerMoved{To: id(5), Why: "found"},
		"retired":                  fleet.FryerRetired{Why: "pot cracked"},
		"returned":                 fleet.FryerReturned{Why: "pot changed"},
		"a name of 120 characters": customer(func(c *fleet.Customer) { c.Name = strings.Repeat("x", 120) }),
	} {
		assert.NoError(t, b.Validate(), name)
	}
}

// TestEachProblemIsFound has one row a problem; the entry has no other.
func TestEachProblemIsFound(t *testing.T) {
	long := func(n int) string { return strings.Repeat("x", n) }
	for name, tt := range map[string]struct {
		body    interface{ Validate() error }
		field   string
		message string // contained
	}{
		"customer: no code":         {customer(func(c *fleet.Customer) { c.Code = "" }), "code", "short code"},
		"customer: a blank":         {customer(func(c *fleet.Customer) { c.Code = "O T" }), "code", "short code"},
		"customer: a long code":     {customer(func(c *fleet.Customer) { c.Code = long(41) }), "code", "short code"},
		"customer: a line feed":     {customer(func(c *fleet.Customer) { c.Code = "OTT\n" }), "code", "short code"},
		"customer: no name":         {customer(func(c *fleet.Customer) { c.Name = "" }), "name", "restaurant company's name"},
		"customer: a long name":     {customer(func(c *fleet.Customer) { c.Name = long(121) }), "name", "120"},
		"customer: a broken name":   {customer(func(c *fleet.Customer) { c.Name = "a\nb" }), "name", "one line"},
		"customer: a long note":     {customer(func(c *fleet.Customer) { c.Note = long(2001) }), "note", "2000"},
		"site: no code":             {site(func(s *fleet.Site) { s.Code = "" }), "code", "short code"},
		"site: no name":             {site(func(s *fleet.Site) { s.Name = "" }), "name", "restaurant's name"},
		"site: nobody's":            {site(func(s *fleet.Site) { s.Customer = uuid.Nil }), "customer", "which restaurant company"},
		"site: a country's name":    {site(func(s *fleet.Site) { s.Country = "Ireland" }), "country", "two capital letters"},
		"site: no zone":             {site(func(s *fleet.Site) { s.Zone = "" }), "zone", "region and city"},
		"site: the machine's zone":  {site(func(s *fleet.Site) { s.Zone = "Local" }), "zone", "region and city"},
		"site: an invented zone":    {site(func(s *fleet.Site) { s.Zone = "Europe/Vexley" }), "zone", "region and city"},
		"site: a zone that climbs":  {site(func(s *fleet.Site) { s.Zone = "../Dublin" }), "zone", "region and city"},
		"site: no gas":              {site(func(s *fleet.Site) { s.Gas = "" }), "gas", "natural, propane or none"},
		"site: too low":             {site(func(s *fleet.Site) { s.ElevationM = -431 }), "elevation_m", "−430 to 5500"},
		"site: too high":            {site(func(s *fleet.Site) { s.ElevationM = 5501 }), "elevation_m", "−430 to 5500"},
		"site: no elevation":        {site(func(s *fleet.Site) { s.ElevationM = math.NaN() }), "elevation_m", "−430 to 5500"},
		"site: too few volts":       {site(func(s *fleet.Site) { s.SupplyVolts = 24 }), "supply_volts", "90 to 700"},
		"site: volts that are NaN":  {site(func(s *fleet.Site) { s.SupplyVolts = math.NaN() }), "supply_volts", "90 to 700"},
		"site: half a place":        {site(func(s *fleet.Site) { s.Lon = nil }), "lat", "both coordinates"},
		"site: beyond the pole":     {site(func(s *fleet.Site) { s.Lat = num(90.1) }), "lat", "−90 to 90"},
		"site: no latitude":         {site(func(s *fleet.Site) { s.Lat = num(math.NaN()) }), "lat", "−90 to 90"},
		"site: round the world":     {site(func(s *fleet.Site) { s.Lon = num(-180.1) }), "lon", "−180 to 180"},
		"site: a long address":      {site(func(s *fleet.Site) { s.Address = long(241) }), "address", "240"},
		"site: a long town":         {site(func(s *fleet.Site) { s.Town = long(241) }), "town", "240"},
		"site: a long area":         {site(func(s *fleet.Site) { s.Area = long(241) }), "area", "240"},
		"site: a long way in":       {site(func(s *fleet.Site) { s.Access = long(2001) }), "access", "2000"},
		"model: no code":            {model(func(m *fleet.Model) { m.Code = "-" }), "code", "short code"},
		"model: no name":            {model(func(m *fleet.Model) { m.Name = "" }), "name", "model's name"},
		"model: no controller":      {model(func(m *fleet.Model) { m.Sheet = uuid.Nil }), "sheet", "controller type"},
		"model: no energy":          {model(func(m *fleet.Model) { m.Energy = "" }), "energy", "gas or electric"},
		"model: no pot":             {model(func(m *fleet.Model) { m.Pot = "triple" }), "pot", "single or split"},
		"model: less than nothing":  {model(func(m *fleet.Model) { m.RatedWatts = -1 }), "rated_watts", "200 000"},
		"model: a power station":    {model(func(m *fleet.Model) { m.RatedWatts = 200_001 }), "rated_watts", "200 000"},
		"model: watts that are NaN": {model(func(m *fleet.Model) { m.RatedWatts = math.NaN() }), "rated_watts", "200 000"},
		"model: a lake of oil":      {model(func(m *fleet.Model) { m.OilKg = 501 }), "oil_kg", "500"},
		"model: too many volts":     {model(func(m *fleet.Model) { m.RatedVolts = 701 }), "rated_volts", "700"},
		"model: two phases":         {model(func(m *fleet.Model) { m.Phases = 2 }), "phases", "1 or 3"},
		"model: minus one phase":    {model(func(m *fleet.Model) { m.Phases = -1 }), "phases", "1 or 3"},
		"model: many burners":       {model(func(m *fleet.Model) { m.Burners = 51 }), "burners", "50"},
		"model: many elements":      {model(func(m *fleet.Model) { m.Elements = 51 }), "elements", "50"},
		"model: three lifts":        {model(func(m *fleet.Model) { m.BasketLifts = 3 }), "basket_lifts", "0, 1 or 2"},
		"model: a cold window":      {model(func(m *fleet.Model) { m.Recovery.FromF = -1 }), "recovery_from", "500"},
		"model: an empty window":    {model(func(m *fleet.Model) { m.Recovery.ToF = 250 }), "recovery_to", "above where it begins"},
		"model: a window down":      {model(func(m *fleet.Model) { m.Recovery.ToF = 200 }), "recovery_to", "above where it begins"},
		"model: half a window":      {model(func(m *fleet.Model) { m.Recovery.ToF = 0 }), "recovery_to", "above where it begins"},
		"model: a window on fire":   {model(func(m *fleet.Model) { m.Recovery.ToF = 501 }), "recovery_to", "500"},
		"model: a slow window":      {model(func(m *fleet.Model) { m.Recovery.LimitSeconds = 7201 }), "recovery_limit", "7200"},
		"fryer: no tag":             {fryer(func(f *fleet.Fryer) { f.Tag = "" }), "tag", "asset tag"},
		"fryer: a long tag":         {fryer(func(f *fleet.Fryer) { f.Tag = long(41) }), "tag", "asset tag"},
		"fryer: nowhere":            {fryer(func(f *fleet.Fryer) { f.Site = uuid.Nil }), "site", "at which restaurant"},
		"fryer: no model":           {fryer(func(f *fleet.Fryer) { f.Model = uuid.Nil }), "model", "which model"},
		"fryer: a long name":        {fryer(func(f *fleet.Fryer) { f.Name = long(121) }), "name", "120"},
		"fryer: a long serial":      {fryer(func(f *fleet.Fryer) { f.Serial = long(121) }), "serial", "120"},
		"fryer: a long note":        {fryer(func(f *fleet.Fryer) { f.Note = long(2001) }), "note", "2000"},
		"fryer: no date":            {fryer(func(f *fleet.Fryer) { f.Installed = "14.5.2026" }), "installed", "year-month-day"},
		"fryer: no such day":        {fryer(func(f *fleet.Fryer) { f.Installed = "2026-02-30" }), "installed", "year-month-day"},
		"moved: nowhere":            {fleet.FryerMoved{From: id(2), Why: "x"}, "to", "where it goes"},
		"moved: to where it stands": {fleet.FryerMoved{From: id(2), To: id(2), Why: "x"}, "to", "already"},
		"moved: no reason":          {fleet.FryerMoved{From: id(2), To: id(5)}, "why", "why it moves"},
		"moved: a long reason":      {fleet.FryerMoved{From: id(2), To: id(5), Why: long(2001)}, "why", "2000"},
		"retired: no reason":        {fleet.FryerRetired{}, "why", "retired"},
		"retired: a long reason":    {fleet.FryerRetired{Why: long(2001)}, "why", "2000"},
		"returned: no reason":       {fleet.FryerReturned{}, "why", "back in use"},
		"returned: a long reason":   {fleet.FryerReturned{Why: long(2001)}, "why", "2000"},
	} {
		t.Run(name, func(t *testing.T) {
			err := tt.body.Validate()
			require.Error(t, err)
			fields := fault.FieldsOf(err)
			require.Len(t, fields, 1, "%v", fields)
			assert.Equal(t, tt.field, fields[0].Name)
			assert.Contains(t, fields[0].Message, tt.message)
		})
	}
}

// TestComplaintsComeInTheOrderOfTheForm: the page lists them so, every time.
func TestComplaintsComeInTheOrderOfTheForm(t *testing.T) {
	x := strings.Repeat("x", 2001)
	for range 20 {
		var names []string
		for _, f := range fault.FieldsOf(site(func(s *fleet.Site) { s.Name, s.Address, s.Town, s.Area, s.Access = "", x, x, x, x }).Validate()) {
			names = append(names, f.Name)
		}
		require.Equal(t, []string{"name", "address", "town", "area", "access"}, names)
	}
}

func TestKinds(t *testing.T) {
	kinds := []string{
		fleet.CustomerSaved{}.Kind(), fleet.SiteSaved{}.Kind(), fleet.ModelSaved{}.Kind(), fleet.FryerSaved{}.Kind(), fleet.FryerMoved{}.Kind(),
		fleet.FryerRetired{}.Kind(), fleet.FryerReturned{}.Kind(),
	}
	assert.Equal(t, []string{"customer.saved", "site.saved", "model.saved", "fryer.saved", "fryer.moved", "fryer.retired", "fryer.returned"}, kinds)
	assert.Equal(t, sheet.Appliance{Energy: sheet.Electric, Pot: sheet.SplitPot}, model(func(*fleet.Model) {}).Model.Appliance())
}
