package intake

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"maps"
	"slices"

	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// WriteSheets writes settings sheets as a file of sheets.
func WriteSheets(list ...sheet.Sheet) []byte {
	w := newWriter(Sheets)
	for _, s := range list {
		for i := range s.Settings {
			row := cells(settingFields, &s.Settings[i])
			row["sheet"], row["sheet_name"], row["key"] = s.Code, s.Name, s.Settings[i].Key
			w.row(row)
		}
	}
	return w.bytes()
}

// WriteInterlocks writes the interlocks of settings sheets as a file of interlocks.
func WriteInterlocks(list ...sheet.Sheet) []byte {
	w := newWriter(Interlocks)
	for _, s := range list {
		for i := range s.Interlocks {
			row := cells(interlockFields, &s.Interlocks[i])
			row["sheet"], row["key"] = s.Code, s.Interlocks[i].Key
			w.row(row)
		}
	}
	return w.bytes()
}

// Write writes everything known of a kind as a file that Make takes without a change. Its rows are sorted by code or tag.
// A customer without a site stands in no file, and neither do the notes of customers and sheets.
func Write(k Kind, known Known) []byte {
	switch k {
	case Sheets:
		return WriteSheets(values(known.Sheets)...)
	case Interlocks:
		return WriteInterlocks(values(known.Sheets)...)
	case Models:
		return writeModels(known)
	case Sites:
		return writeSites(known)
	case Fryers:
		return writeFryers(known)
	case Standards:
		return writeStandards(known)
	default:
		return nil
	}
}

// Template writes the header of a kind of file alone.
func Template(k Kind) []byte { return newWriter(k).bytes() }

func writeModels(known Known) []byte {
	w, p := newWriter(Models), newPlanner(known)
	for _, m := range values(known.Models) {
		row := cells(modelFields, &m)
		row["code"], row["sheet"] = m.Code, p.byID[m.Sheet]
		w.row(row)
	}
	return w.bytes()
}

func writeSites(known Known) []byte {
	w, p := newWriter(Sites), newPlanner(known)
	names := map[uuid.UUID]string{}
	for _, c := range known.Customers {
		names[c.Value.ID] = c.Value.Name
	}
	for _, s := range values(known.Sites) {
		row := cells(siteFields, &s)
		row["code"], row["customer"], row["customer_name"] = s.Code, p.byID[s.Customer], names[s.Customer]
		w.row(row)
	}
	return w.bytes()
}

func writeFryers(known Known) []byte {
	w, p := newWriter(Fryers), newPlanner(known)
	for _, f := range values(known.Fryers) {
		row := cells(fryerFields, &f)
		row["tag"], row["site"], row["model"] = f.Tag, p.byID[f.Site], p.byID[f.Model]
		w.row(row)
	}
	return w.bytes()
}

func writeStandards(known Known) []byte {
	w := newWriter(Standards)
	if known.Layer == nil {
		return w.bytes()
	}
	sheets := values(known.Sheets)
	byID := indexBy(sheets, func(s *sheet.Sheet) string { return s.ID.String() })
	models := map[uuid.UUID]fleet.Model{}
	for _, m := range values(known.Models) {
		models[m.ID] = m
		w.layer(known, standard.OfModel, m.ID, m.Code, byID[m.Sheet.String()])
	}
	for i := range sheets {
		for _, c := range values(known.Customers) {
			w.layer(known, standard.OfCustomer, c.ID, c.Code, &sheets[i])
		}
		for _, s := range values(known.Sites) {
			w.layer(known, standard.OfSite, s.ID, s.Code, &sheets[i])
		}
	}
	for _, f := range values(known.Fryers) {
		w.layer(known, standard.OfFryer, f.ID, f.Tag, byID[models[f.Model].Sheet.String()])
	}
	return w.bytes()
}

// layer writes the values of a layer in the order of the sheet. Values of settings that have left the sheet are left out.
func (w *writer) layer(known Known, level standard.Level, of uuid.UUID, code string, s *sheet.Sheet) {
	if s == nil {
		return
	}
	holds := known.Layer(level, of, s.ID).Value
	for i := range s.Settings {
		for vat := 0; vat <= 2; vat++ {
			v, ok := holds[sheet.Ref{Key: s.Settings[i].Key, Vat: vat}]
			if !ok {
				continue
			}
			row := map[string]string{"level": string(level), "of": code, "sheet": s.Code, "key": s.Settings[i].Key, "value": string(v)}
			if vat > 0 {
				row["vat"] = wholeText(vat)
			}
			w.row(row)
		}
	}
}

// values gives what a map of items holds, sorted by code.
func values[T any](items map[string]Item[T]) []T {
	list := make([]T, 0, len(items))
	for _, key := range slices.SortedFunc(maps.Keys(items), cmp.Compare[string]) {
		list = append(list, items[key].Value)
	}
	return list
}

// cells gives the fields of a thing by column.
func cells[T any](fields []field[T], v *T) map[string]string {
	row := make(map[string]string, len(fields)+3)
	for _, f := range fields {
		row[f.column] = f.get(v)
	}
	return row
}

// writer writes a file of a kind: RFC 4180 with a byte order mark, without which spreadsheets misread °F.
type writer struct {
	out     bytes.Buffer
	csv     *csv.Writer
	columns []string
}

func newWriter(k Kind) *writer {
	w := &writer{columns: columnNames(k, anyColumn)}
	w.out.WriteString("\ufeff")
	w.csv = csv.NewWriter(&w.out)
	w.csv.UseCRLF = true
	w.put(w.columns)
	return w
}

func (w *writer) row(cells map[string]string) {
	record := make([]string, len(w.columns))
	for i, c := range w.columns {
		record[i] = guard(cells[c])
	}
	w.put(record)
}

// put writes a record; a buffer in memory takes everything.
func (w *writer) put(record []string) { _ = w.csv.Write(record) }

func (w *writer) bytes() []byte {
	w.csv.Flush()
	return w.out.Bytes()
}
