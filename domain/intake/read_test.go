package intake_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"

	"frywright/domain/fault"
	"frywright/domain/intake"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func read(t testing.TB, text string) intake.Table {
	t.Helper()
	table, err := intake.Read(intake.File{Name: "a.csv", Data: []byte(text)})
	require.NoError(t, err)
	return table
}

func cellsOf(table intake.Table) [][]string {
	rows := make([][]string, len(table.Records))
	for i, r := range table.Records {
		rows[i] = r.Cells
	}
	return rows
}

// The rules of RFC 4180, section 2, from memory. Its examples have three fields a record, and so has a file of fryers.
func TestRFC4180(t *testing.T) {
	const header = "tag,site,model"
	plain := [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}
	for name, c := range map[string]struct {
		text string
		want [][]string
	}{
		"2.1 records end with CRLF":              {header + "\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", plain},
		"2.2 the last may lack it":               {header + "\r\naaa,bbb,ccc\r\nzzz,yyy,xxx", plain},
		"2.5 fields may be quoted":               {header + "\r\n\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx", plain},
		"2.5 a header may be quoted (2.3)":       {"\"tag\",\"site\",\"model\"\r\naaa,bbb,ccc\r\nzzz,yyy,xxx", plain},
		"2.6 quoted line breaks":                 {header + "\r\n\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", [][]string{{"aaa", "b\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		"2.6 quoted commas":                      {header + "\r\n\"a,aa\",bbb,ccc\r\n", [][]string{{"a,aa", "bbb", "ccc"}}},
		"2.7 a quotation mark inside is doubled": {header + "\r\n\"aaa\",\"b\"\"bb\",\"ccc\"", [][]string{{"aaa", `b"bb`, "ccc"}}},
		"2.7 several":                            {header + "\r\naaa,\"b \"\"x\"\" c\",ccc", [][]string{{"aaa", `b "x" c`, "ccc"}}},
	} {
		t.Run(name, func(t *testing.T) {
			table := read(t, c.text)
			assert.Equal(t, c.want, cellsOf(table))
			assert.Equal(t, intake.Fryers, table.Kind)
		})
	}
}

// RFC 4180, section 2.4, from memory: each line has the same number of fields throughout the file.
func TestRecordsOfAnotherLength(t *testing.T) {
	table := read(t, "tag,site,model\na,b,c\nd,e\nf,g,h,i\nj,k,l\n")
	require.Len(t, table.Records, 4)
	assert.Nil(t, table.Records[1].Cells)
	assert.Equal(t, []intake.Problem{{Message: "This row has 2 cells, the first row has 3 cells."}}, table.Records[1].Problems)
	assert.Equal(t, []intake.Problem{{Message: "This row has 4 cells, the first row has 3 cells."}}, table.Records[2].Problems)
	assert.Equal(t, 3, table.Records[1].Line)
	assert.Equal(t, []string{"j", "k", "l"}, table.Records[3].Cells)
}

func TestWhatSpreadsheetsWrite(t *testing.T) {
	want := [][]string{{"OT-1", "VXH", "FM, 2"}}
	for name, text := range map[string]string{
		"comma":                          "tag,site,model\nOT-1,VXH,\"FM, 2\"\n",
		"semicolon":                      "tag;site;model\nOT-1;VXH;FM, 2\n",
		"tab":                            "tag\tsite\tmodel\nOT-1\tVXH\tFM, 2\n",
		"byte order mark":                "\ufefftag;site;model\nOT-1;VXH;FM, 2\n",
		"byte order mark, quoted header": "\ufeff\"tag\";\"site\";\"model\"\nOT-1;VXH;FM, 2\n",
		"carriage returns alone":         "tag;site;model\rOT-1;VXH;FM, 2\r",
		"a line that names the mark":     "sep=;\r\ntag;site;model\r\nOT-1;VXH;FM, 2\r\n",
		"header in other words":          " Tag ;SITE;\u00a0Model\nOT-1;VXH;FM, 2\n",
		"blanks around cells":            "tag;site;model\n OT-1\u00a0;\u200bVXH ;\tFM, 2 \n",
		"non-breaking space inside":      "tag;site;model\nOT-1;VXH;FM,\u00a02\n",
		"empty lines and empty rows":     "\n\ntag;site;model\n\n;;\nOT-1;VXH;FM, 2\n;;;;;\n\n",
	} {
		t.Run(name, func(t *testing.T) { assert.Equal(t, want, cellsOf(read(t, text))) })
	}
}

func TestEmptyRowsAreCounted(t *testing.T) {
	table := read(t, "tag,site,model\n,,\n\na,b,c\n , ,\u00a0\n,\n")
	assert.Equal(t, 3, table.Skipped)
	assert.Len(t, table.Records, 1)
}

func TestNamelessColumns(t *testing.T) {
	table := read(t, "tag,site,model,,\na,b,c,,\nd,e,f,,left over\n")
	assert.Empty(t, table.Records[0].Problems)
	assert.Equal(t, []intake.Problem{{Message: "“left over” stands in a column without a name."}}, table.Records[1].Problems)
}

func TestKindByHeader(t *testing.T) {
	for _, k := range intake.Kinds() {
		table, err := intake.Read(intake.File{Data: intake.Template(k)})
		require.NoError(t, err)
		assert.Equal(t, k, table.Kind)
		var required []string
		for _, c := range intake.Columns(k) {
			if c.Required {
				required = append([]string{strings.ToUpper(c.Name)}, required...)
			}
		}
		for _, d := range []rune{',', ';', '\t'} {
			table = read(t, strings.Join(required, string(d))+"\n")
			assert.Equal(t, k, table.Kind)
			assert.Equal(t, d, table.Delimiter)
		}
	}
}

func TestSpacesStandForUnderscores(t *testing.T) {
	table := read(t, "code;name;sheet;energy;pot;Rated Watts;recovery-from_F;Oil  kg\n")
	assert.Equal(t, []string{"rated_watts", "recovery_from_f", "oil_kg"}, table.Columns[5:])
	assert.Empty(t, table.Problems)
}

func TestUnknownColumnsAreNamed(t *testing.T) {
	table := read(t, "\ntag,site,model,Asset Tag\na,b,c,d\n")
	assert.Equal(t, []intake.FileProblem{{File: "a.csv", Line: 2, Column: "asset_tag",
		Message: "A file of fryers has no column “Asset Tag”. It may have: tag, site, model, name, serial, installed, note."}}, table.Problems)
	assert.Equal(t, [][]string{{"a", "b", "c", "d"}}, cellsOf(table))
}

func TestFilesThatCannotBeUsed(t *testing.T) {
	for name, c := range map[string]struct{ text, message string }{
		"empty":               {"", "The file is empty."},
		"byte order mark":     {"\ufeff", "The file is empty."},
		"blank lines":         {"\n \n,,\n", "The file is empty."},
		"utf-16":              {"\xff\xfet\x00a\x00g\x00", "The file is in UTF-16. Save it as “CSV UTF-8”."},
		"workbook":            {"PK\x03\x04\x14\x00", "The file is a workbook, not CSV. Save the sheet as “CSV UTF-8”."},
		"lacks a column":      {"tag,site,name\n", "This looks like a file of fryers, but it lacks a column: model."},
		"says nothing":        {"foo,bar\n", "The first row does not say what the file is about. It must name the columns: "},
		"twice":               {"tag,site,model,Tag\n", "The column tag is there twice."},
		"open quotation mark": {"tag,site,\"model\n1,2,3\n", "The first row cannot be read. "},
		"not utf-8":           {"tag,site,model,gr\xf6\xdfe\n", "The first row is not in UTF-8. Save the file as “CSV UTF-8”."},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := intake.Read(intake.File{Name: "a.csv", Data: []byte(c.text)})
			require.Error(t, err)
			assert.Equal(t, fault.Invalid, fault.KindOf(err))
			assert.Contains(t, fault.MessageOf(err), c.message)
		})
	}
}

func TestWrongCharactersAreNamedByLine(t *testing.T) {
	table := read(t, "tag,site,model,name\na,b,c,d\ne,f,g,K\xfcche\nh,i,j,\x01\nk,l,m,n\n")
	require.Len(t, table.Records, 4)
	assert.Equal(t, []intake.Problem{{Column: "name", Message: "The cell has characters that are not in UTF-8. Save the file as “CSV UTF-8”."}}, table.Records[1].Problems)
	assert.Equal(t, "K\ufffdche", table.Records[1].Cells[3])
	assert.Equal(t, []intake.Problem{{Column: "name", Message: "A character that cannot be shown stands in it, U+0001. Type the text again."}}, table.Records[2].Problems)
	assert.Equal(t, []int{2, 3, 4, 5}, linesOf(table))
}

func TestLineBreaksInCellsAreOne(t *testing.T) {
	table := read(t, "tag,site,model,note\na,b,c,\"one\r\ntwo\rthree\"\n")
	assert.Equal(t, "one\ntwo\nthree", table.Records[0].Cells[3])
}

func linesOf(table intake.Table) []int {
	var lines []int
	for _, r := range table.Records {
		lines = append(lines, r.Line)
	}
	return lines
}

func TestQuotationMarks(t *testing.T) {
	t.Run("a missing one swallows no row", func(t *testing.T) {
		table := read(t, "tag,site,model\na,b,c\nd,\"e,f\ng,h,i\nj,k,l\n")
		assert.Equal(t, []int{2, 3, 4, 5}, linesOf(table))
		assert.Contains(t, table.Records[1].Problems[0].Message, "does not end with one")
		assert.Equal(t, []string{"g", "h", "i"}, table.Records[2].Cells)
	})
	t.Run("one inside", func(t *testing.T) {
		table := read(t, "tag,site,model\na,5\" pipe,c\nd,e,f\n")
		assert.Contains(t, table.Records[0].Problems[0].Message, "stands inside a cell")
		assert.Equal(t, []string{"d", "e", "f"}, table.Records[1].Cells)
	})
	t.Run("closed by a later row's", func(t *testing.T) {
		table := read(t, "tag,site,model\na,\"b,c\nd,\"e\",f\ng,h,i\n")
		assert.Equal(t, []int{2, 3, 4}, linesOf(table))
		assert.NotEmpty(t, table.Records[0].Problems)
		assert.Equal(t, []string{"d", "e", "f"}, table.Records[1].Cells)
	})
	t.Run("a row of several lines with another length says so", func(t *testing.T) {
		table := read(t, "tag,site,model\na,\"b,c\nd\",e,f\ng,h,i\n")
		assert.Equal(t, "This row has 4 cells, the first row has 3 cells. It runs on to line 3: perhaps a quotation mark is missing.", table.Records[0].Problems[0].Message)
		assert.Equal(t, 4, table.Records[1].Line)
	})
	t.Run("lines are physical", func(t *testing.T) {
		table := read(t, "sep=,\ntag,site,model,note\n\na,b,c,\"one\ntwo\n\nthree\"\n\nd,e,f,\"\"\ng,\"h,i,j\nk,l,m,n\n")
		assert.Equal(t, []int{4, 9, 10, 11}, linesOf(table))
	})
}

func TestLimits(t *testing.T) {
	t.Run("a long cell", func(t *testing.T) {
		table := read(t, "tag,site,model,note\na,b,c,"+strings.Repeat("x", intake.CellLimit)+"\na,b,c,"+strings.Repeat("x", intake.CellLimit+1)+"\n")
		assert.Empty(t, table.Records[0].Problems)
		assert.Equal(t, []intake.Problem{{Column: "note", Message: "The cell is longer than 65536 characters."}}, table.Records[1].Problems)
	})
	t.Run("many rows", func(t *testing.T) {
		text := "tag,site,model\n" + strings.Repeat("a,b,c\n", intake.RowLimit)
		assert.Len(t, read(t, text).Records, intake.RowLimit)
		_, err := intake.Read(intake.File{Data: []byte(text + "\n,,\na,b,c\n")})
		assert.Equal(t, "The file has more than 500000 rows. Split it into several.", fault.MessageOf(err))
	})
}

// plainRecords reads with encoding/csv alone; the error is that of the first wrong record.
func plainRecords(text string, comma rune) ([][]string, error) {
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord = comma, -1
	return r.ReadAll()
}

// Wherever encoding/csv reads a file, Read takes the same cells from it; and where encoding/csv refuses it, a record is
// wrong.
func TestReadAgreesWithEncodingCSV(t *testing.T) {
	header := "tag,site,model"
	rapid.Check(t, func(t *rapid.T) {
		comma := rapid.SampledFrom([]rune(",;\t")).Draw(t, "comma")
		text := strings.ReplaceAll(header, ",", string(comma)) + "\n" +
			rapid.StringOfN(rapid.SampledFrom([]rune("ab1.'\"\"\",;\t\n\r ")), 0, 60, -1).Draw(t, "text")
		table, err := intake.Read(intake.File{Data: []byte(text)})
		require.NoError(t, err)
		require.Equal(t, comma, table.Delimiter)
		compareWithPlain(t, table, text, comma)
	})
}

func compareWithPlain(t require.TestingT, table intake.Table, text string, comma rune) {
	plain, err := plainRecords(text, comma)
	wrong := slices.ContainsFunc(table.Records, func(r intake.Record) bool {
		return r.Cells == nil && !strings.HasPrefix(r.Problems[0].Message, "This row has ")
	})
	require.Equal(t, err != nil, wrong, "%v", err)
	if err != nil {
		return
	}
	require.Equal(t, len(plain)-1, len(table.Records)+table.Skipped)
	i := 0
	for _, record := range plain[1:] {
		if strings.TrimSpace(strings.Join(record, "")) == "" {
			continue
		}
		r := table.Records[i]
		i++
		if len(record) != 3 {
			require.Nil(t, r.Cells)
			continue
		}
		for j, cell := range record {
			want := strings.TrimSpace(strings.ReplaceAll(cell, "\r", "\n"))
			require.Equal(t, want, r.Cells[j])
		}
	}
}

func TestManyWrongRowsAreReadInOneGo(t *testing.T) {
	var text bytes.Buffer
	text.WriteString("tag,site,model\n")
	for i := range 50_000 {
		fmt.Fprintf(&text, "OT-%d,\"x\"y,z\n", i)
	}
	assert.Len(t, read(t, text.String()).Records, 50_000)
}

func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"tag,site,model\na,b,c\n", "sep=;\ntag;site;model\n\"a\nb\";c;d", "\ufefflevel\tof\tsheet\tkey\tvalue\n1\t2\t3\t4\t'=5\r\n",
		"tag,site,model\n\"a,b,c\nd,e,f\n\"\"\",", "tag,site,model\n\xff,b,c\n", "tag,site,model\r\r\r", "sep=,", "code,customer,name,zone\n\"\"\n",
	} {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		table, err := intake.Read(intake.File{Name: "f.csv", Data: data})
		if err != nil {
			require.Equal(t, fault.Invalid, fault.KindOf(err))
			require.NotEmpty(t, fault.MessageOf(err))
			return
		}
		last := 0
		for _, r := range table.Records {
			require.Greater(t, r.Line, last, "lines go up")
			last = r.Line
			if r.Cells == nil {
				require.Len(t, r.Problems, 1)
			} else {
				require.Len(t, r.Cells, len(table.Columns))
			}
		}
		requireCount(t, table, data)
	})
}

// requireCount checks that no record got lost, against encoding/csv where it can read the file.
func requireCount(t *testing.T, table intake.Table, data []byte) {
	text := strings.TrimPrefix(string(data), "\ufeff")
	if !strings.Contains(text, "\n") {
		text = strings.ReplaceAll(text, "\r", "\n")
	}
	if first, rest, _ := strings.Cut(text, "\n"); len(strings.TrimSpace(first)) == 5 && strings.HasPrefix(strings.ToLower(strings.TrimSpace(first)), "sep=") {
		text = rest
	}
	r := csv.NewReader(strings.NewReader(text))
	r.Comma, r.FieldsPerRecord = table.Delimiter, -1
	n, started := 0, false
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return
		}
		if started {
			n++
		}
		started = started || strings.Trim(strings.Join(cells, ""), " \t\r\n\v\f\u0085\u00a0\u200b\ufeff\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u2028\u2029\u202f\u205f\u3000") != ""
	}
	require.Equal(t, n, len(table.Records)+table.Skipped)
}
