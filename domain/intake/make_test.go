package intake_test

import (
	"slices"
	"strings"
	"testing"

	"frywright/domain/fleet"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// An invented service company's files.
const (
	sheetsFile = "sheet,sheet_name,key,label,group,kind,unit,min,max,step,options,factory,scope,read_only,kept,class,tolerance,energies,after\n" +
		"TL-4,Tallow Four,cook,Fry temperature,Frying,number,°F,200,375,1,,350,vat,no,no,food,1,,\n" +
		"TL-4,,idle,Idle temperature,Frying,number,°F,150,350,,,250,vat,,,output,2,,cook\n" +
		"TL-4,,profile,Heat profile,Heat,choice,,,,,steady=Steady|brisk=Brisk,steady,,,,output,,gas,\n" +
		"TL-4,,pilot,Standing pilot,Heat,switch,,,,,,off,,,,safety,,gas,profile\n" +
		"TL-4,,sum,Program checksum,Program,text,,,,,,,,yes,yes,minor,,,\n"
	interlocksFile = "sheet,key,label,when,must,class,why\n" +
		"TL-4,pilot,The pilot needs gas and brisk heat.,pilot is on,@energy is gas; profile is brisk,safety,\n" +
		"TL-4,idle,Idle is below the fry temperature.,,idle at-most than cook + -10,output,\n"
	modelsFile = "code,name,sheet,energy,pot,rated_watts,oil_kg\nFM-G,Quill gas,TL-4,gas,split,35000,12\nFM-E,Quill electric,TL-4,electric,single,14000,22\n"
	sitesFile  = "code;customer;customer_name;name;town;country;lat;lon;elevation_m;zone;gas\n" +
		"VXH;BRIM;Brimble Bites;Vexley Harbour;Vexley;ie;51,85;-8,3;12,5;Europe/Dublin;natural\n" +
		"ORD;BRIM;;Orrin Dale;Orrin;ie;;;;Europe/Dublin;\n"
	fryersFile    = "tag,site,model,name,installed\nOT-014,VXH,FM-G,line 1,2024-03-01\nOT-015,VXH,FM-E,line 2,2024/3/2\n"
	standardsFile = "level,of,sheet,key,vat,value,why\n" +
		"customer,BRIM,TL-4,cook,,340,crisper\nsite,VXH,TL-4,idle,,220,\nmodel,FM-G,TL-4,profile,,Brisk,\nfryer,OT-014,TL-4,cook,right,345 °F,fish\n"
)

func file(name, text string) intake.File { return intake.File{Name: name, Data: []byte(text)} }

func everyFile() []intake.File {
	return []intake.File{
		file("standards.csv", standardsFile), file("fryers.csv", fryersFile), file("sites.csv", sitesFile),
		file("models.csv", modelsFile), file("interlocks.csv", interlocksFile), file("sheets.csv", sheetsFile),
	}
}

// filled is a world that has taken all the files.
func filled(t testing.TB) *world {
	w := newWorld()
	plan := intake.Make(everyFile(), w.Known)
	require.Zero(t, plan.Problems, "%+v %+v", plan.FileProblems, plan.Rows)
	w.apply(t, plan.Drafts)
	return w
}

func kinds(drafts []journal.Draft) []string {
	var list []string
	for _, d := range drafts {
		list = append(list, d.Body.Kind())
	}
	return list
}

func TestFilesInAnyOrder(t *testing.T) {
	w := newWorld()
	plan := intake.Make(everyFile(), w.Known)
	assert.Empty(t, plan.FileProblems)
	assert.Equal(t, map[intake.Outcome]int{intake.New: 17}, plan.Counts)
	assert.Equal(t, []string{
		"sheet.saved", "model.saved", "model.saved", "customer.saved", "site.saved", "site.saved", "fryer.saved", "fryer.saved",
		"standard.changed", "standard.changed", "standard.changed", "standard.changed",
	}, kinds(plan.Drafts))
	w.apply(t, plan.Drafts)

	s := w.Sheets["tl-4"].Value
	assert.Equal(t, "Tallow Four", s.Name)
	cook, _ := s.Setting("cook")
	low, high := 200.0, 375.0
	assert.Equal(t, &sheet.Setting{Key: "cook", Label: "Fry temperature", Group: "Frying", Kind: sheet.Number, Unit: "°F", Min: &low,
		Max: &high, Step: 1, Factory: "350", Scope: sheet.PerVat, Class: sheet.Food, Tolerance: 1}, cook)
	profile, _ := s.Setting("profile")
	assert.Equal(t, []sheet.Option{{Key: "steady", Label: "Steady"}, {Key: "brisk", Label: "Brisk"}}, profile.Options)
	assert.Equal(t, []sheet.Energy{sheet.Gas}, profile.Energies)
	assert.Equal(t, -10.0, s.Interlocks[1].Must[0].Plus)

	vxh := w.Sites["vxh"].Value
	assert.Equal(t, 51.85, *vxh.Lat)
	assert.Equal(t, -8.3, *vxh.Lon)
	assert.Equal(t, 12.5, vxh.ElevationM)
	assert.Equal(t, "IE", vxh.Country)
	assert.Equal(t, fleet.NoGas, w.Sites["ord"].Value.Gas)
	assert.Equal(t, "Brimble Bites", w.Customers["brim"].Value.Name)
	assert.Equal(t, "2024-03-02", w.Fryers["ot-015"].Value.Installed)

	own := w.Layer(standard.OfFryer, w.Fryers["ot-014"].Value.ID, s.ID).Value
	assert.Equal(t, map[sheet.Ref]sheet.Value{{Key: "cook", Vat: 2}: "345"}, own)
	model := w.Layer(standard.OfModel, w.Models["fm-g"].Value.ID, s.ID).Value
	assert.Equal(t, map[sheet.Ref]sheet.Value{{Key: "profile"}: "brisk"}, model)
}

func TestRowsSayWhatTheyAreAbout(t *testing.T) {
	plan := intake.Make(everyFile(), newWorld().Known)
	var whats []string
	for _, r := range plan.Rows {
		whats = append(whats, r.File+" "+r.What)
	}
	for _, want := range []string{
		"standards.csv standard of fryer OT-014: Fry temperature, vat 2", "fryers.csv fryer OT-014 at Vexley Harbour",
		"sites.csv site VXH, Vexley Harbour", "models.csv model FM-G, Quill gas", "interlocks.csv interlock pilot of sheet TL-4",
		"sheets.csv setting cook of sheet TL-4",
	} {
		assert.Contains(t, whats, want)
	}
	i := slices.IndexFunc(plan.Rows, func(r intake.Row) bool { return r.What == "site VXH, Vexley Harbour" })
	assert.Equal(t, []string{"The customer BRIM, Brimble Bites is new."}, plan.Rows[i].Notes)
}

func TestASecondRunChangesNothing(t *testing.T) {
	w := filled(t)
	plan := intake.Make(everyFile(), w.Known)
	assert.Empty(t, plan.Drafts)
	assert.Equal(t, map[intake.Outcome]int{intake.Same: 17}, plan.Counts)
}

func TestReasonsOfStandards(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("s.csv", "level,of,sheet,key,value,why\nsite,VXH,TL-4,cook,341,crisper\nsite,vxh,tl-4,idle,221,crisper\nsite,VXH,TL-4,sum,F00D,asked\nsite,ORD,TL-4,cook,342,\n")}, w.Known)
	require.Len(t, plan.Drafts, 2)
	assert.Equal(t, "crisper; asked", bodyOf[standard.Changed](t, plan.Drafts[0]).Why)
	assert.Len(t, bodyOf[standard.Changed](t, plan.Drafts[0]).Set, 3)
	assert.Equal(t, "imported", bodyOf[standard.Changed](t, plan.Drafts[1]).Why)
	assert.Equal(t, []string{"value: 220 °F → 221 °F"}, noNBSP(plan.Rows[1].Changes))
}

func noNBSP(list []string) []string {
	for i := range list {
		list[i] = strings.ReplaceAll(list[i], "\u00a0", " ")
	}
	return list
}

func TestClearingStandards(t *testing.T) {
	w := filled(t)
	files := []intake.File{file("s.csv", "level,of,sheet,key,vat,value\nfryer,OT-014,TL-4,cook,2,\nfryer,OT-014,TL-4,cook,1,\n")}
	plan := intake.Make(files, w.Known)
	assert.Equal(t, []intake.Outcome{intake.Cleared, intake.Same}, outcomes(plan))
	require.Len(t, plan.Drafts, 1)
	assert.Equal(t, []sheet.Ref{{Key: "cook", Vat: 2}}, bodyOf[standard.Changed](t, plan.Drafts[0]).Clear)
	w.apply(t, plan.Drafts)
	assert.Equal(t, []intake.Outcome{intake.Same, intake.Same}, outcomes(intake.Make(files, w.Known)))
}

func outcomes(p intake.Plan) []intake.Outcome {
	var list []intake.Outcome
	for _, r := range p.Rows {
		list = append(list, r.Outcome)
	}
	return list
}

func TestAColumnThatIsNotThereLeavesWhatIsKnown(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("f.csv", "tag,site,model\nOT-014,VXH,FM-G\nOT-015,VXH,FM-E\n")}, w.Known)
	assert.Equal(t, []intake.Outcome{intake.Same, intake.Same}, outcomes(plan))
	plan = intake.Make([]intake.File{file("f.csv", "tag,site,model,name\nOT-014,VXH,FM-G,\nOT-015,VXH,FM-E,line 3\n")}, w.Known)
	assert.Equal(t, []string{"name: line 1 → –"}, plan.Rows[0].Changes)
	assert.Equal(t, []string{"name: line 2 → line 3"}, plan.Rows[1].Changes)
	w.apply(t, plan.Drafts)
	assert.Equal(t, "2024-03-01", w.Fryers["ot-014"].Value.Installed)
	assert.Equal(t, "OT-014", w.Fryers["ot-014"].Value.Tag)
}

func TestMovingFryers(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("f.csv", "tag,site,model,name\not-014,ORD,FM-G,line 1\nOT-015,ord,FM-G,line 9\n")}, w.Known)
	assert.Equal(t, []intake.Outcome{intake.Moved, intake.Moved}, outcomes(plan))
	assert.Equal(t, []string{"fryer.moved", "fryer.saved", "fryer.moved"}, kinds(plan.Drafts))
	assert.Equal(t, []string{"model: FM-E → FM-G", "name: line 2 → line 9", "site: VXH → ORD"}, plan.Rows[1].Changes)
	assert.Equal(t, fleet.FryerMoved{From: w.Sites["vxh"].Value.ID, To: w.Sites["ord"].Value.ID, Why: "import"}, plan.Drafts[0].Body)
	assert.Equal(t, plan.Drafts[1].ID, plan.Drafts[2].Base, "the move builds on the change")
	w.apply(t, plan.Drafts)
	assert.Equal(t, w.Sites["ord"].Value.ID, w.Fryers["ot-015"].Value.Site)
	assert.Equal(t, "line 9", w.Fryers["ot-015"].Value.Name)
}

func TestTheStandardOfAMovedFryerBelongsToItsNewSite(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{
		file("f.csv", "tag,site,model\nOT-014,ORD,FM-G\n"),
		file("s.csv", "level,of,sheet,key,value\nfryer,OT-014,TL-4,idle,200\n"),
	}, w.Known)
	require.Zero(t, plan.Problems)
	assert.Equal(t, w.Sites["ord"].Value.ID, plan.Drafts[1].Site)
	w.apply(t, plan.Drafts)
}

func TestKnownCustomersKeepTheirName(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("s.csv", "code,customer,customer_name,name,zone\nNEW,brim,Other Name,New Ford,Europe/Dublin\n")}, w.Known)
	assert.Zero(t, plan.Problems)
	assert.Equal(t, []string{"site.saved"}, kinds(plan.Drafts))
	assert.Equal(t, []string{"The customer BRIM keeps its name, Brimble Bites. Change it on its own page."}, plan.Rows[0].Notes)
}

func TestCustomersWithoutANameAreNamedByTheirCode(t *testing.T) {
	w := newWorld()
	plan := intake.Make([]intake.File{file("s.csv", "code,customer,name,zone\nNEW,ZED,New Ford,Europe/Dublin\nOLD,zed,Old Ford,Europe/Dublin\n")}, w.Known)
	w.apply(t, plan.Drafts)
	assert.Equal(t, "ZED", w.Customers["zed"].Value.Name)
	assert.Len(t, w.Customers, 1)
}

func TestRowsOfASheetMakeTheWholeOfIt(t *testing.T) {
	w := filled(t)
	lines := strings.Split(strings.TrimSpace(sheetsFile), "\n")
	t.Run("one goes", func(t *testing.T) {
		plan := intake.Make([]intake.File{file("s.csv", strings.Join(slices.Delete(slices.Clone(lines), 5, 6), "\n"))}, w.Known)
		assert.Equal(t, []string{"the setting sum goes"}, plan.Rows[0].Changes)
		assert.Equal(t, []intake.Outcome{intake.Changed, intake.Same, intake.Same, intake.Same}, outcomes(plan))
		require.Len(t, plan.Drafts, 1)
		assert.Len(t, bodyOf[sheet.Saved](t, plan.Drafts[0]).Sheet.Interlocks, 2, "interlocks stay")
	})
	t.Run("one goes that an interlock needs", func(t *testing.T) {
		plan := intake.Make([]intake.File{file("s.csv", strings.Join(slices.Delete(slices.Clone(lines), 2, 3), "\n"))}, w.Known)
		assert.Equal(t, []intake.Problem{{Message: "interlock idle: There is no setting idle."}}, plan.Rows[0].Problems)
		assert.Empty(t, plan.Drafts)
	})
	t.Run("two change places and the name changes", func(t *testing.T) {
		swapped := slices.Clone(lines)
		swapped[3], swapped[4] = swapped[4], swapped[3]
		plan := intake.Make([]intake.File{file("s.csv", strings.Replace(strings.Join(swapped, "\n"), "Tallow Four", "Tallow 4", 1))}, w.Known)
		assert.Equal(t, []string{"the order of the settings", "sheet_name: Tallow Four → Tallow 4"}, plan.Rows[0].Changes)
		w.clone().apply(t, plan.Drafts)
	})
	t.Run("interlocks are replaced", func(t *testing.T) {
		plan := intake.Make([]intake.File{file("i.csv", strings.Join(strings.Split(interlocksFile, "\n")[:2], "\n"))}, w.Known)
		assert.Equal(t, []string{"the interlock idle goes"}, plan.Rows[0].Changes)
		require.Len(t, plan.Drafts, 1)
		assert.Len(t, bodyOf[sheet.Saved](t, plan.Drafts[0]).Sheet.Settings, 5)
	})
}

func TestASheetIsWrittenWholeOrNotAtAll(t *testing.T) {
	wrong := strings.Replace(sheetsFile, "Idle temperature,Frying,number", "Idle temperature,Frying,nmber", 1)
	other := "UL-1,Umber One,on,On,All,switch,,,,,,off,,,,minor,,,\n"
	t.Run("a wrong row", func(t *testing.T) {
		plan := intake.Make([]intake.File{file("s.csv", wrong+other), file("m.csv", modelsFile)}, newWorld().Known)
		assert.Equal(t, []intake.Outcome{intake.Held, intake.Wrong, intake.Held, intake.Held, intake.Held, intake.New, intake.Wrong, intake.Wrong}, outcomes(plan))
		assert.Equal(t, []intake.Problem{{"kind", "The kind is number, choice, switch or text."}}, plan.Rows[1].Problems)
		assert.Equal(t, []string{"Its sheet is not written: line 3 is wrong."}, plan.Rows[0].Notes)
		assert.Equal(t, []intake.Problem{{"sheet", "The settings sheet TL-4 is itself wrong: see line 3 of s.csv."}}, plan.Rows[6].Problems)
		assert.Equal(t, []string{"sheet.saved"}, kinds(plan.Drafts))
		assert.Equal(t, 3, plan.Problems)
	})
	t.Run("a known sheet stays as it is", func(t *testing.T) {
		w := filled(t)
		plan := intake.Make([]intake.File{file("s.csv", wrong), file("m.csv", modelsFile),
			file("st.csv", "level,of,sheet,key,value\nsite,VXH,TL-4,cook,344\nsite,VXH,TL-4,fresh,1\n")}, w.Known)
		assert.Equal(t, []intake.Outcome{intake.Same, intake.Same, intake.New, intake.Wrong}, outcomes(plan)[5:])
		assert.Equal(t, "The settings sheet TL-4 has no setting fresh. What these files change of the sheet is not taken: line 3 of s.csv is wrong.", plan.Rows[8].Problems[0].Message)
	})
	for name, stray := range map[string]string{
		"a row that cannot be read": "TL-4,,x\n",
		"a row of no sheet":         ",,x,X,All,switch,,,,,,off,,,,minor,,,\n",
	} {
		for at, text := range map[string]string{"last": sheetsFile + other + stray, "amid": sheetsFile + stray + other} {
			t.Run(name+" "+at, func(t *testing.T) {
				plan := intake.Make([]intake.File{file("s.csv", text)}, newWorld().Known)
				assert.Equal(t, map[intake.Outcome]int{intake.Held: 6, intake.Wrong: 1}, plan.Counts)
				assert.Empty(t, plan.Drafts)
				i := slices.IndexFunc(plan.Rows, func(r intake.Row) bool { return r.Outcome == intake.Wrong })
				assert.Equal(t, name, plan.Rows[i].What)
			})
		}
	}
}

// Every complaint stands with its row and its column, and no row hides another.
func TestComplaints(t *testing.T) {
	const (
		sheets     = "sheet,sheet_name,key,label,group,kind,min,max,step,options,factory,scope,read_only,class,tolerance,energies,after,role,menu\n"
		models     = "code,name,sheet,energy,pot,rated_watts,phases,recovery_from_f,recovery_to_f,recovery_limit_s\n"
		sites      = "code,customer,customer_name,name,zone,lat,lon,gas,country,elevation_m\n"
		fryers     = "tag,site,model,installed,name\n"
		standards  = "level,of,sheet,key,vat,value\n"
		interlocks = "sheet,key,label,when,must,class\n"
	)
	for name, c := range map[string]struct{ text, column, message string }{
		"no site":            {fryers + "OT-1,NOPE,FM-G,,\n", "site", "There is no site NOPE, neither here nor in these files."},
		"site not named":     {fryers + "OT-1,,FM-G,,\n", "site", "Say at which restaurant it stands."},
		"no model":           {fryers + "OT-1,VXH,NOPE,,\n", "model", "There is no model NOPE, neither here nor in these files."},
		"no tag":             {fryers + ",VXH,FM-G,,\n", "tag", "Give the asset tag: letters, digits, points and hyphens, at most 40."},
		"date":               {fryers + "OT-1,VXH,FM-G,01/02/2024,\n", "installed", "Give the date as year-month-day, for example 2026-05-14."},
		"tag twice":          {fryers + "OT-1,VXH,FM-G,,\not-1,VXH,FM-G,,\n", "tag", "The fryer ot-1 is there twice: first in line 2."},
		"long name":          {fryers + "OT-1,VXH,FM-G,," + strings.Repeat("n", 121) + "\n", "name", "At most 120 characters."},
		"no sheet":           {models + "M,N,NOPE,gas,single,1,,,,\n", "sheet", "There is no settings sheet NOPE, neither here nor in these files."},
		"sheet not named":    {models + "M,N,,gas,single,1,,,,\n", "sheet", "Say which controller type it has."},
		"energy":             {models + "M,N,TL-4,coal,single,1,,,,\n", "energy", "The energy is gas or electric."},
		"no number":          {models + "M,N,TL-4,gas,single,much,,,,\n", "rated_watts", "“much” is not a number."},
		"a unit":             {models + "M,N,TL-4,gas,single,14 kW,,,,\n", "rated_watts", "“14 kW”: write the number alone, without a unit."},
		"thousands, comma":   {models + "M,N,TL-4,gas,single,\"14,000\",,,,\n", "rated_watts", "“14,000” can be read in two ways. Write 14000 without marks between the digits, or the fraction without its last zero."},
		"thousands, point":   {strings.ReplaceAll(models+"M,N,TL-4,gas,single,14.000,,,,\n", ",", ";"), "rated_watts", "“14.000” can be read in two ways. Write 14000 without marks between the digits, or the fraction without its last zero."},
		"too much":           {models + "M,N,TL-4,gas,single,900000,,,,\n", "rated_watts", "Give the rated input in watts, up to 200 000."},
		"not whole":          {models + "M,N,TL-4,gas,single,1,1.5,,,\n", "phases", "“1.5” is not a whole number."},
		"window":             {models + "M,N,TL-4,gas,single,1,,300,200,\n", "recovery_to_f", "The window ends above where it begins, at most at 500 °F."},
		"window's limit":     {models + "M,N,TL-4,gas,single,1,,,,9999\n", "recovery_limit_s", "Give the limit in seconds, up to 7200."},
		"zone":               {sites + "S,BRIM,,N,Nowhere/At All,,,,,\n", "zone", "Give the time zone as region and city, for example Europe/Dublin."},
		"one coordinate":     {sites + "S,BRIM,,N,Europe/Dublin,51,,,,\n", "lat", "Give both coordinates or neither."},
		"gas":                {sites + "S,BRIM,,N,Europe/Dublin,,,coal,,\n", "gas", "The gas is natural, propane or none."},
		"customer not named": {sites + "S,,,N,Europe/Dublin,,,,,\n", "customer", "Say which restaurant company it belongs to."},
		"customer's code":    {sites + "S,B R,,N,Europe/Dublin,,,,,\n", "customer", "Give a short code of letters, digits, points and hyphens."},
		"customer's name":    {sites + "S,BR," + strings.Repeat("n", 121) + ",N,Europe/Dublin,,,,,\n", "customer_name", "At most 120 characters."},
		"level":              {standards + "shop,VXH,TL-4,cook,,340\n", "level", "The level is model, customer, site or fryer."},
		"of":                 {standards + "site,,TL-4,cook,,340\n", "of", "Say whose standard it is: the code or the tag."},
		"of nobody":          {standards + "fryer,OT-99,TL-4,cook,,340\n", "of", "There is no fryer OT-99, neither here nor in these files."},
		"standard's sheet":   {standards + "site,VXH,,cook,,340\n", "sheet", "Name the settings sheet."},
		"key":                {standards + "site,VXH,TL-4,cock,,340\n", "key", "The settings sheet TL-4 has no setting cock."},
		"key, cleared":       {standards + "site,VXH,TL-4,cock,,\n", "key", "The settings sheet TL-4 has no setting cock."},
		"vat":                {standards + "site,VXH,TL-4,cook,3,340\n", "vat", "The vat is 1 or left, 2 or right, or empty for all."},
		"no vats":            {standards + "site,VXH,TL-4,pilot,1,on\n", "vat", "Standing pilot is set once for the whole controller. Leave the vat empty."},
		"one vat":            {standards + "fryer,OT-015,TL-4,cook,right,340\n", "vat", "The model FM-E has one vat only."},
		"gas only":           {standards + "model,FM-E,TL-4,pilot,,on\n", "key", "The model FM-E, electric with a single pot, has no Standing pilot."},
		"out of range":       {standards + "site,VXH,TL-4,cook,,400\n", "value", "400 °F is outside the range. It goes from 200 °F to 375 °F in steps of 1."},
		"another unit":       {standards + "site,VXH,TL-4,cook,,\"205 °C\"\n", "value", "“205 °C” is not a number in °F."},
		"no option":          {standards + "site,VXH,TL-4,profile,,wild\n", "value", "Heat profile offers: Steady, Brisk."},
		"on or off":          {standards + "site,VXH,TL-4,pilot,,maybe\n", "value", "Standing pilot is either on or off."},
		"standard twice":     {standards + "site,VXH,TL-4,cook,,340\nsite,vxh,tl-4,COOK,,341\n", "key", "The standard of cook is there twice: first in line 2."},
		"label":              {sheets + "X,X,a,,G,switch,,,,,,,,,,,,,\n", "label", "Give the setting a label."},
		"key letters":        {sheets + "X,X,a b,A,G,switch,,,,,,,,,,,,,\n", "key", "A key is made of small letters, digits, points and hyphens."},
		"key twice":          {sheets + "X,X,a,A,G,switch,,,,,,,,,,,,,\nX,,A,A,G,switch,,,,,,,,,,,,,\n", "key", "The setting a is there twice: first in line 2."},
		"sheet's name":       {sheets + "X,,a,A,G,switch,,,,,,,,,,,,,\n", "sheet_name", "Give the controller type a name."},
		"two names":          {sheets + "X,X,a,A,G,switch,,,,,,,,,,,,,\nX,Y,b,B,G,switch,,,,,,,,,,,,,\n", "sheet_name", "The sheet is named “X” in line 2."},
		"sheet's code":       {sheets + "X Y,X,a,A,G,switch,,,,,,,,,,,,,\n", "sheet", "Give a short code of letters, digits, points and hyphens."},
		"class":              {sheets + "X,X,a,A,G,switch,,,,,,,,dire,,,,,\n", "class", "The class is safety, food, output or minor."},
		"yes or no":          {sheets + "X,X,a,A,G,switch,,,,,,,perhaps,,,,,,\n", "read_only", "“perhaps” is neither yes nor no."},
		"factory":            {sheets + "X,X,a,A,G,number,1,2,,,3,,,,,,,,\n", "factory", "Factory value: 3 is outside the range. It goes from 1 to 2."},
		"no options":         {sheets + "X,X,a,A,G,choice,,,,,,,,,,,,,\n", "options", "A choice needs options."},
		"option twice":       {sheets + "X,X,a,A,G,choice,,,,b=B|b=C,,,,,,,,,\n", "options", "Every option has a key of its own; “C” has not."},
		"option without key": {sheets + "X,X,a,A,G,choice,,,,b=B|=C,,,,,,,,,\n", "options", "“=C” has no key before the =."},
		"energies":           {sheets + "X,X,a,A,G,switch,,,,,,,,,,gas|coal,,,\n", "energies", "The energies are gas and electric."},
		"after":              {sheets + "X,X,a,A,G,switch,,,,,,,,,,,b,,\n", "after", "There is no setting b to come after."},
		"role":               {sheets + "X,X,a,A,G,switch,,,,,,,,,,,,king,\n", "role", "There is no role king."},
		"conditions":         {interlocks + "TL-4,x,L,pilot was on,pilot is on,minor\n", "when", "After pilot comes is, is-not, one-of, at-least or at-most, not “was”."},
		"unknown setting":    {interlocks + "TL-4,x,L,,nope is on,minor\n", "must", "There is no setting nope."},
		"never":              {interlocks + "TL-4,x,L,,profile is wild,minor\n", "must", "profile is never “wild”. Heat profile offers: Steady, Brisk."},
		"nothing must":       {interlocks + "TL-4,x,L,,,minor\n", "must", "Say what must hold."},
		"interlock's class":  {interlocks + "TL-4,x,L,,pilot is on,\n", "class", "The class is safety, food, output or minor."},
		"interlock of none":  {interlocks + "NOPE,x,L,,pilot is on,minor\n", "sheet", "There is no settings sheet NOPE, neither here nor in these files."},
	} {
		t.Run(name, func(t *testing.T) {
			w := filled(t)
			plan := intake.Make([]intake.File{file("a.csv", c.text)}, w.Known)
			require.Empty(t, plan.FileProblems)
			last := plan.Rows[len(plan.Rows)-1]
			assert.Equal(t, intake.Wrong, last.Outcome)
			require.Len(t, last.Problems, 1, "%+v", last.Problems)
			assert.Equal(t, c.column, last.Problems[0].Column)
			assert.Contains(t, strings.ReplaceAll(last.Problems[0].Message, "\u00a0", " "), c.message)
			assert.Equal(t, 1, plan.Problems)
			w.apply(t, plan.Drafts)
		})
	}
}

func TestEveryComplaintOfARowIsGiven(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("f.csv", "tag,site,model,installed\n?,NOPE,NOPE,soon\nOT-20,VXH,FM-G,2024-05-06\n")}, w.Known)
	assert.Len(t, plan.Rows[0].Problems, 4)
	assert.Equal(t, []intake.Outcome{intake.Wrong, intake.New}, outcomes(plan))
	assert.Len(t, plan.Drafts, 1, "the good row can be written")
}

func TestRowsThatReferToAWrongRowSaySo(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{
		file("st.csv", "level,of,sheet,key,value\nfryer,OT-1,TL-4,cook,340\ncustomer,ZED,TL-4,cook,340\n"),
		file("f.csv", "tag,site,model\nOT-1,NEW,FM-G\nOT-014,NEW,FM-G\n"),
		file("s.csv", "code,customer,name,zone\nNEW,ZED,New Ford,Mars/Dust\n"),
	}, w.Known)
	assert.Empty(t, plan.Drafts)
	var messages []string
	for _, r := range plan.Rows[:4] {
		require.Len(t, r.Problems, 1)
		messages = append(messages, r.Problems[0].Message)
	}
	assert.Equal(t, []string{
		"The fryer OT-1 is itself wrong: see line 2 of f.csv.",
		"The customer ZED is itself wrong: see line 2 of s.csv.",
		"The site NEW is itself wrong: see line 2 of s.csv.",
		"The site NEW is itself wrong: see line 2 of s.csv.",
	}, messages)
}

func TestStandardsOfAnotherSheet(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{
		file("sh.csv", "sheet,sheet_name,key,label,group,kind\nUL-1,Umber,on,On,All,switch\n"),
		file("st.csv", "level,of,sheet,key,value\nfryer,OT-014,UL-1,on,yes\nmodel,FM-E,UL-1,on,yes\nsite,VXH,UL-1,on,yes\n"),
	}, w.Known)
	assert.Equal(t, []intake.Outcome{intake.New, intake.Wrong, intake.Wrong, intake.New}, outcomes(plan))
	assert.Equal(t, []intake.Problem{{"sheet", "The controller of model FM-G has the settings sheet TL-4, not UL-1."}}, plan.Rows[1].Problems)
	assert.Equal(t, []intake.Problem{{"sheet", "The controller of model FM-E has the settings sheet TL-4, not UL-1."}}, plan.Rows[2].Problems)
	assert.Equal(t, []standard.Value{{Ref: sheet.Ref{Key: "on"}, Value: "on"}}, bodyOf[standard.Changed](t, plan.Drafts[1]).Set)
}

func TestTheSameFileTwiceIsWrong(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("a.csv", fryersFile), file("b.csv", fryersFile)}, w.Known)
	assert.Equal(t, []intake.Outcome{intake.Same, intake.Same, intake.Wrong, intake.Wrong}, outcomes(plan))
	assert.Equal(t, "The fryer OT-014 is there twice: first in line 2 of a.csv.", plan.Rows[2].Problems[0].Message)
}

func TestFileProblemsCount(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("a.csv", ""), file("b.csv", "tag,site,model,colour\nOT-1,VXH,FM-G,red\n,,,\n")}, w.Known)
	assert.Equal(t, 2, plan.Problems)
	assert.Equal(t, 1, plan.Skipped)
	assert.Equal(t, intake.FileProblem{File: "a.csv", Message: "The file is empty."}, plan.FileProblems[0])
	assert.Equal(t, "colour", plan.FileProblems[1].Column)
	assert.Equal(t, []intake.Outcome{intake.New}, outcomes(plan), "its rows are judged all the same")
}

func TestNothingKnown(t *testing.T) {
	ids := newWorld()
	plan := intake.Make(everyFile(), intake.Known{NewID: ids.NewID})
	assert.Zero(t, plan.Problems)
	assert.NotEqual(t, uuid.Nil, plan.Drafts[0].Subject)
}

func TestASettingThatHasLeftItsSheetCanBeCleared(t *testing.T) {
	w := filled(t)
	lines := strings.Split(strings.TrimSpace(sheetsFile), "\n")
	w.apply(t, intake.Make([]intake.File{file("st.csv", "level,of,sheet,key,value\nsite,VXH,TL-4,sum,F00D\n")}, w.Known).Drafts)
	w.apply(t, intake.Make([]intake.File{file("sh.csv", strings.Join(lines[:5], "\n"))}, w.Known).Drafts)
	plan := intake.Make([]intake.File{file("st.csv", "level,of,sheet,key,value\nsite,VXH,TL-4,sum,\n")}, w.Known)
	assert.Equal(t, []intake.Outcome{intake.Cleared}, outcomes(plan))
	w.apply(t, plan.Drafts)
}

func TestRowsThatCannotBeReadAreAccountedFor(t *testing.T) {
	w := filled(t)
	plan := intake.Make([]intake.File{file("f.csv", "tag,site,model\nOT-1,VXH\nOT-2,\"VXH,FM-G\nOT-3,VXH,FM-G\n")}, w.Known)
	assert.Equal(t, []intake.Outcome{intake.Wrong, intake.Wrong, intake.New}, outcomes(plan))
	assert.Equal(t, "a row that cannot be read", plan.Rows[1].What)
	assert.Equal(t, 2, plan.Problems)
}

func TestNumbersOfSettings(t *testing.T) {
	w := filled(t)
	const header = "sheet,sheet_name,key,label,group,kind,factory\n"
	plan := intake.Make([]intake.File{file("s.csv", header+"X,X,b,B,G,number,much\nX,X,c,C,G,number,\"1,000\"\n")}, w.Known)
	var messages []string
	for _, r := range plan.Rows {
		require.Len(t, r.Problems, 1)
		assert.Equal(t, "factory", r.Problems[0].Column)
		messages = append(messages, r.Problems[0].Message)
	}
	assert.Equal(t, []string{
		"“much” is not a number.",
		"“1,000” can be read in two ways. Write 1000 without marks between the digits, or the fraction without its last zero.",
	}, messages)
}

func bodyOf[T journal.Body](t testing.TB, d journal.Draft) T {
	t.Helper()
	b, ok := d.Body.(T)
	require.True(t, ok, "%T", d.Body)
	return b
}
