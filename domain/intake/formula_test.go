package intake_test

import (
	"encoding/csv"
	"regexp"
	"strings"
	"testing"

	"frywright/domain/intake"
	"frywright/domain/sheet"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// dangerous are the beginnings of cells that spreadsheets run as formulas: OWASP, CSV Injection, which names = + - @, tab,
// carriage return and line feed, and the full-width = + - @; blanks before them do not help.
var dangerous = regexp.MustCompile("^[\\s\u200b\ufeff]*[=+\\-@\t\r\n＝＋－＠]")

var plainNumber = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)

// spreadsheet reads a written file with encoding/csv, as a spreadsheet would.
func spreadsheet(t require.TestingT, data []byte) [][]string {
	records, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(data), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	return records
}

// TestNoCellIsRunAsAFormula writes sheets whose texts begin as formulas do: no cell of the file does, numbers apart, and
// reading the file gives the texts back as they were.
func TestNoCellIsRunAsAFormula(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		begin := rapid.SampledFrom([]string{"=", "+", "-", "@", "＝", "＋", "－", "＠", "'=", "''@", "'", "-5", "'-5", "=-5", "0"})
		word := func(label string) string {
			return begin.Draw(t, label) + rapid.SampledFrom([]string{"", "1+1", "HYPERLINK(\"http://x.example\")", "cmd|' /C calc'!A0", ", \"a\"", ";=1"}).Draw(t, label)
		}
		low := -15.0
		s := sheet.Sheet{ID: uuid.MustParse("0190f5a0-0000-7000-8000-000000000009"), Code: "Q", Name: word("name"), Settings: []sheet.Setting{{
			Key: "offset", Label: word("label"), Group: word("group"), Kind: sheet.Number, Min: &low, Factory: "-2.5", Scope: sheet.PerController,
			Class: sheet.Minor, Note: word("note"),
		}}}
		data := intake.WriteSheets(s)
		for _, record := range spreadsheet(t, data) {
			for _, cell := range record {
				require.False(t, dangerous.MatchString(cell) && !plainNumber.MatchString(cell), "%q", cell)
			}
		}
		table, err := intake.Read(intake.File{Name: "sheets.csv", Data: data})
		require.NoError(t, err)
		read := map[string]string{}
		for i, column := range table.Columns {
			read[column] = table.Records[0].Cells[i]
		}
		assert.Equal(t, []string{s.Name, s.Settings[0].Label, s.Settings[0].Group, s.Settings[0].Note, "-15", "-2.5"},
			[]string{read["sheet_name"], read["label"], read["group"], read["note"], read["min"], read["factory"]})
	})
}
