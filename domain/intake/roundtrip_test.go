package intake_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"frywright/domain/fleet"
	"frywright/domain/intake"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// awkward are the characters that delimiters, lists, conditions, numbers and formulas use.
var awkward = []rune(`ab1,;|="'\+-@. :/#°é` + "\n")

// text makes texts that a cell can hold: without blanks around them.
func text(t *rapid.T, label string, most int) string {
	return strings.TrimFunc(rapid.StringOfN(rapid.SampledFrom(awkward), 0, most, -1).Draw(t, label), unicode.IsSpace)
}

// line makes texts without line breaks.
func line(t *rapid.T, label string, most int) string {
	return strings.TrimSpace(strings.ReplaceAll(text(t, label, most), "\n", ""))
}

// name makes texts of one line that are not empty.
func name(t *rapid.T, label string) string {
	return "n" + line(t, label, 8) + rapid.SampledFrom([]string{"", "=1", "z"}).Draw(t, label)
}

func lead(t *rapid.T, label string) string {
	return rapid.SampledFrom([]string{"", "=", "+", "-", "@", "'", "'=", "''-", "＝", "'＠", "-5", "'-5"}).Draw(t, label) + name(t, label)
}

// settingsSheet makes a valid sheet.
func settingsSheet(t *rapid.T, id uuid.UUID, code string) sheet.Sheet {
	s := sheet.Sheet{ID: id, Code: code, Name: lead(t, "sheet name")}
	for i := range rapid.IntRange(1, 5).Draw(t, "settings") {
		s.Settings = append(s.Settings, setting(t, i, s.Settings))
	}
	if rapid.Bool().Draw(t, "shuffled") {
		s.Settings = rapid.Permutation(s.Settings).Draw(t, "order")
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "interlocks") {
		s.Interlocks = append(s.Interlocks, sheet.Interlock{
			Key: fmt.Sprintf("lock.%d", i), Label: lead(t, "rule"), When: conditions(t, &s, 0), Must: conditions(t, &s, 1),
			Class: sheet.Class(rapid.IntRange(1, 4).Draw(t, "class")), Why: text(t, "why", 6),
		})
	}
	return s
}

func setting(t *rapid.T, i int, before []sheet.Setting) sheet.Setting {
	s := sheet.Setting{
		Key: fmt.Sprintf("k-%d.x", i), Label: lead(t, "label"), Group: lead(t, "group"), Unit: line(t, "unit", 2),
		Kind:     rapid.SampledFrom([]sheet.Kind{sheet.Number, sheet.Choice, sheet.Switch, sheet.Text}).Draw(t, "kind"),
		Scope:    rapid.SampledFrom([]sheet.Scope{sheet.PerController, sheet.PerVat}).Draw(t, "scope"),
		ReadOnly: rapid.Bool().Draw(t, "read only"), Kept: rapid.Bool().Draw(t, "kept"),
		Class: sheet.Class(rapid.IntRange(1, 4).Draw(t, "class")), Note: text(t, "note", 10),
		Role: rapid.SampledFrom(sheet.Roles()).Draw(t, "role"), Menu: rapid.IntRange(0, 2).Draw(t, "menu"),
		Tolerance: float64(rapid.IntRange(0, 40).Draw(t, "tolerance")) / 8,
		Energies:  rapid.SampledFrom([][]sheet.Energy{nil, {sheet.Gas}, {sheet.Electric, sheet.Gas}}).Draw(t, "energies"),
		Pots:      rapid.SampledFrom([][]sheet.Pot{nil, {sheet.SplitPot}, {sheet.SinglePot, sheet.SplitPot}}).Draw(t, "pots"),
	}
	for _, b := range before {
		if rapid.Bool().Draw(t, "after") {
			s.After = append(s.After, b.Key)
		}
	}
	if s.Role == sheet.RoleSetpoint || s.Role == sheet.RoleTopTemp {
		s.Kind, s.Unit = sheet.Number, "°F"
	}
	limits(t, &s)
	return s
}

// limits gives a number its range and a choice its options, and perhaps a factory value.
func limits(t *rapid.T, s *sheet.Setting) {
	switch s.Kind {
	case sheet.Number:
		s.Step = rapid.SampledFrom([]float64{0, 0.125, 1, 2.5}).Draw(t, "step")
		if rapid.Bool().Draw(t, "range") {
			low := float64(rapid.IntRange(-8000, 8000).Draw(t, "min")) / 8
			high := low + 5*float64(rapid.IntRange(1, 20).Draw(t, "max"))
			s.Min, s.Max = &low, &high
		}
	case sheet.Choice:
		for i := range rapid.IntRange(1, 4).Draw(t, "options") {
			s.Options = append(s.Options, sheet.Option{Key: fmt.Sprintf("%s%d", lead(t, "option"), i), Label: line(t, "option", 5)})
		}
	}
	if rapid.Bool().Draw(t, "factory") {
		s.Factory = value(t, s)
	}
}

// value makes a value that the setting allows.
func value(t *rapid.T, s *sheet.Setting) sheet.Value {
	switch s.Kind {
	case sheet.Number:
		low := 0.0
		if s.Min != nil {
			low = *s.Min
		}
		return sheet.Num(low + float64(rapid.IntRange(0, 1).Draw(t, "steps"))*s.Step)
	case sheet.Choice:
		return sheet.Value(rapid.SampledFrom(s.Options).Draw(t, "chosen").Key)
	case sheet.Switch:
		return rapid.SampledFrom([]sheet.Value{"on", "off"}).Draw(t, "switched")
	default:
		return sheet.Value(lead(t, "text"))
	}
}

func conditions(t *rapid.T, s *sheet.Sheet, least int) []sheet.Condition {
	var list []sheet.Condition
	for range rapid.IntRange(least, 3).Draw(t, "conditions") {
		set := &s.Settings[rapid.IntRange(0, len(s.Settings)-1).Draw(t, "setting")]
		c := sheet.Condition{Setting: set.Key, Op: rapid.SampledFrom([]sheet.Op{sheet.Is, sheet.IsNot, sheet.OneOf}).Draw(t, "op"), Values: []sheet.Value{value(t, set)}}
		switch {
		case c.Op == sheet.OneOf:
			c.Values = append(c.Values, value(t, set))
		case set.Kind == sheet.Number:
			c.Op = sheet.AtMost
			if rapid.Bool().Draw(t, "than") {
				c.Values, c.Than, c.Plus = nil, set.Key, float64(rapid.IntRange(-9, 9).Draw(t, "plus"))/4
			}
		case rapid.Bool().Draw(t, "fact"):
			c = sheet.Condition{Setting: sheet.FactPot, Op: c.Op, Values: []sheet.Value{"split"}}
		}
		list = append(list, c)
	}
	return list
}

func some[T any](t *rapid.T, label string, items map[string]intake.Item[T]) T {
	keys := make([]string, 0, len(items))
	for k := range items {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return items[rapid.SampledFrom(keys).Draw(t, label)].Value
}

// anyWorld makes an instance with codes from a small stock, so that two of them have some in common.
func anyWorld(t *rapid.T, w *world) *world {
	for _, code := range codes(t, "sheet") {
		w.Sheets[strings.ToLower(code)] = intake.Item[sheet.Sheet]{Value: settingsSheet(t, w.newID(), code), Version: w.newID()}
	}
	for _, code := range codes(t, "model") {
		s := some(t, "its sheet", w.Sheets)
		w.Models[strings.ToLower(code)] = intake.Item[fleet.Model]{Version: w.newID(), Value: fleet.Model{
			ID: w.newID(), Code: code, Name: lead(t, "model"), Sheet: s.ID, Energy: rapid.SampledFrom([]sheet.Energy{sheet.Gas, sheet.Electric}).Draw(t, "energy"),
			Pot: rapid.SampledFrom([]sheet.Pot{sheet.SinglePot, sheet.SplitPot}).Draw(t, "pot"), RatedWatts: float64(rapid.IntRange(0, 1_600_000).Draw(t, "watts")) / 8,
			BasketLifts: rapid.IntRange(0, 2).Draw(t, "lifts"), Recovery: fleet.RecoverySpec{FromF: 250, ToF: 325, LimitSeconds: 130.5},
		}}
	}
	for _, code := range codes(t, "site") {
		w.addSite(t, code)
	}
	for _, tag := range codes(t, "fryer") {
		w.Fryers[strings.ToLower(tag)] = intake.Item[fleet.Fryer]{Version: w.newID(), Value: fleet.Fryer{
			ID: w.newID(), Tag: tag, Site: some(t, "its site", w.Sites).ID, Model: some(t, "its model", w.Models).ID,
			Name: rapid.SampledFrom([]string{"", "line 1", "=line"}).Draw(t, "name"), Installed: rapid.SampledFrom([]string{"", "2024-02-29"}).Draw(t, "installed"), Note: text(t, "note", 9),
		}}
	}
	w.addStandards(t)
	return w
}

func codes(t *rapid.T, label string) []string {
	return rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"A1", "b-2", "C.3", "d4"}), 1, 3, rapid.ID).Draw(t, label)
}

func (w *world) addSite(t *rapid.T, code string) {
	customer := rapid.SampledFrom([]string{"BRIM", "Oat"}).Draw(t, "customer")
	if _, ok := w.Customers[strings.ToLower(customer)]; !ok {
		w.Customers[strings.ToLower(customer)] = intake.Item[fleet.Customer]{Version: w.newID(), Value: fleet.Customer{ID: w.newID(), Code: customer, Name: lead(t, "customer")}}
	}
	s := fleet.Site{
		ID: w.newID(), Code: code, Customer: w.Customers[strings.ToLower(customer)].Value.ID, Name: lead(t, "site"), Address: text(t, "address", 9),
		Country: rapid.SampledFrom([]string{"", "IE"}).Draw(t, "country"), ElevationM: float64(rapid.IntRange(-400, 4000).Draw(t, "elevation")) / 8,
		Zone: rapid.SampledFrom([]string{"Europe/Dublin", "UTC"}).Draw(t, "zone"), Gas: rapid.SampledFrom(fleet.GasSupplies()).Draw(t, "gas"), Access: text(t, "access", 9),
	}
	if rapid.Bool().Draw(t, "placed") {
		lat, lon := float64(rapid.IntRange(-90000, 90000).Draw(t, "lat"))/1000, float64(rapid.IntRange(-180000, 180000).Draw(t, "lon"))/1000
		s.Lat, s.Lon = &lat, &lon
	}
	w.Sites[strings.ToLower(code)] = intake.Item[fleet.Site]{Value: s, Version: w.newID()}
}

func (w *world) addStandards(t *rapid.T) {
	for range rapid.IntRange(0, 4).Draw(t, "standards") {
		s := some(t, "sheet", w.Sheets)
		level := rapid.SampledFrom(standard.Levels()[1:]).Draw(t, "level")
		of, model := w.anyOwner(t, level)
		if model != nil {
			s = w.sheetOf(model.Sheet)
		}
		set := &s.Settings[rapid.IntRange(0, len(s.Settings)-1).Draw(t, "setting")]
		vats := 2
		if model != nil {
			vats = model.Appliance().Vats()
			if !set.Applies(model.Appliance()) {
				continue
			}
		}
		ref := sheet.Ref{Key: set.Key}
		if set.Scope == sheet.PerVat {
			ref.Vat = rapid.IntRange(0, vats).Draw(t, "vat")
		}
		id := standard.LayerID(level, of, s.ID)
		item, ok := w.layers[id]
		if !ok {
			item = intake.Item[map[sheet.Ref]sheet.Value]{Value: map[sheet.Ref]sheet.Value{}, Version: w.newID()}
			w.layers[id] = item
		}
		item.Value[ref] = value(t, set)
	}
}

func (w *world) anyOwner(t *rapid.T, level standard.Level) (uuid.UUID, *fleet.Model) {
	switch level {
	case standard.OfModel:
		m := some(t, "model", w.Models)
		return m.ID, &m
	case standard.OfCustomer:
		return some(t, "customer", w.Customers).ID, nil
	case standard.OfSite:
		return some(t, "site", w.Sites).ID, nil
	default:
		f := some(t, "fryer", w.Fryers)
		for _, m := range w.Models {
			if m.Value.ID == f.Model {
				return f.ID, &m.Value
			}
		}
		return f.ID, nil
	}
}

func (w *world) sheetOf(id uuid.UUID) sheet.Sheet {
	for _, s := range w.Sheets {
		if s.Value.ID == id {
			return s.Value
		}
	}
	return sheet.Sheet{}
}

func TestWhatIsWrittenChangesNothingWhenRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWorld(t, newWorld())
		plan := intake.Make(w.files(), w.Known)
		requireNothing(t, plan)
	})
}

func requireNothing(t *rapid.T, plan intake.Plan) {
	require.Empty(t, plan.FileProblems)
	for _, r := range plan.Rows {
		require.Equal(t, intake.Same, r.Outcome, "%+v", r)
	}
	require.Empty(t, plan.Drafts)
}

// delimiterOf rewrites a file with another delimiter, as a spreadsheet in another country does: with decimal commas.
func delimiterOf(t require.TestingT, f intake.File, comma rune) intake.File {
	records, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(f.Data, []byte("\ufeff")))).ReadAll()
	require.NoError(t, err)
	texts := []string{"note", "unit", "why", "address", "access"}
	number := regexp.MustCompile(`^-?[0-9]+\.[0-9]+$`)
	for _, r := range records[1:] {
		for i := range r {
			if comma == ';' && number.MatchString(r[i]) && !slices.Contains(texts, records[0][i]) {
				r[i] = strings.ReplaceAll(r[i], ".", ",")
			}
		}
	}
	var out bytes.Buffer
	w := csv.NewWriter(&out)
	w.Comma = comma
	require.NoError(t, w.WriteAll(records))
	return intake.File{Name: f.Name, Data: out.Bytes()}
}

func TestAnEmptyInstanceTakesEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWorld(t, newWorld())
		files := rapid.Permutation(w.files()).Draw(t, "order")
		comma := rapid.SampledFrom([]rune(",;	")).Draw(t, "delimiter")
		for i := range files {
			files[i] = delimiterOf(t, files[i], comma)
		}
		fresh := newWorld()
		plan := intake.Make(files, fresh.Known)
		require.Zero(t, plan.Problems, "%+v", plan)
		fresh.apply(t, plan.Drafts)
		for _, k := range intake.Kinds() {
			require.Equal(t, string(intake.Write(k, w.Known)), string(intake.Write(k, fresh.Known)))
		}
		requireNothing(t, intake.Make(files, fresh.Known))
	})
}

// One instance's files are read into another that has some codes in common: sheets change, fryers move, standards are
// set anew. Where rows are wrong, the good ones are written.
func TestASecondRunWritesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		files := anyWorld(t, newWorld()).files()
		w := anyWorld(t, newWorld())
		for i := range files {
			files[i] = spoil(t, files[i])
		}
		first := intake.Make(files, w.Known)
		w.apply(t, first.Drafts)
		second := intake.Make(files, w.Known)
		require.Empty(t, second.Drafts)
		require.Equal(t, first.Problems, second.Problems)
		require.Len(t, second.Rows, len(first.Rows))
		for i, r := range second.Rows {
			require.Equal(t, first.Rows[i].Problems, r.Problems)
			require.Contains(t, []intake.Outcome{intake.Same, intake.Wrong, intake.Held}, r.Outcome)
		}
	})
}

// spoil perhaps changes one cell of a file.
func spoil(t *rapid.T, f intake.File) intake.File {
	records, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(f.Data, []byte("\ufeff")))).ReadAll()
	require.NoError(t, err)
	if len(records) < 2 || rapid.Bool().Draw(t, "leave") {
		return f
	}
	row := records[rapid.IntRange(1, len(records)-1).Draw(t, "row")]
	row[rapid.IntRange(0, len(row)-1).Draw(t, "column")] = rapid.SampledFrom([]string{"", "A1", "b-2", "1", "x", "on", "gas", "ÿ"}).Draw(t, "cell")
	var out bytes.Buffer
	require.NoError(t, csv.NewWriter(&out).WriteAll(records))
	return intake.File{Name: f.Name, Data: out.Bytes()}
}

func TestCellsAreSafeInSpreadsheets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWorld(t, newWorld())
		for _, f := range w.files() {
			records, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(f.Data, []byte("\ufeff")))).ReadAll()
			require.NoError(t, err)
			for _, cell := range slices.Concat(records...) {
				if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
					require.Regexp(t, `^-[0-9.]+$`, cell)
				}
			}
		}
	})
}

func TestNegativeNumbersStayNumbers(t *testing.T) {
	low := -15.0
	s := sheet.Sheet{Code: "X", Name: "X", Settings: []sheet.Setting{{Key: "offset", Label: "-offset", Group: "=1+1", Kind: sheet.Number, Min: &low, Factory: "-2.5"}},
		Interlocks: []sheet.Interlock{{Key: "a", Label: "A", When: []sheet.Condition{{Setting: "@energy", Op: sheet.Is, Values: []sheet.Value{"gas"}}}}}}
	assert.True(t, bytes.HasPrefix(intake.WriteSheets(s), []byte("\xef\xbb\xbfsheet,")))
	assert.Contains(t, string(intake.WriteSheets(s)), "X,X,offset,'-offset,'=1+1,number,,-15,,,,-2.5,")
	assert.Contains(t, string(intake.WriteInterlocks(s)), "X,a,A,'@energy is gas,")
}

func FuzzMake(f *testing.F) {
	for _, file := range everyFile() {
		f.Add(file.Data, []byte(fryersFile))
		f.Add([]byte(strings.ReplaceAll(string(file.Data), "VXH", "ORD")), []byte(sheetsFile))
	}
	f.Add([]byte("sheet,key,label,group,kind\nTL-4,,,,\n,,,,\nTL-4,x"), []byte(interlocksFile+"tl-4,\"a"))
	f.Fuzz(func(t *testing.T, a, b []byte) {
		w := filled(t)
		files := []intake.File{{Name: "a", Data: a}, {Name: "b", Data: b}}
		records, skipped := 0, 0
		for _, f := range files {
			if table, err := intake.Read(f); err == nil {
				records += len(table.Records)
				skipped += table.Skipped
			}
		}
		plan := intake.Make(files, w.Known)
		require.Len(t, plan.Rows, records)
		require.Equal(t, skipped, plan.Skipped)
		counted := 0
		for _, o := range intake.Outcomes() {
			counted += plan.Counts[o]
		}
		require.Equal(t, records, counted)
		for _, r := range plan.Rows {
			require.Equal(t, r.Outcome == intake.Wrong, len(r.Problems) > 0, "%+v", r)
			require.NotEmpty(t, r.What)
		}
		w.apply(t, plan.Drafts)
		require.Empty(t, intake.Make(files, w.Known).Drafts)
	})
}
