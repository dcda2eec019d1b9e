package intake

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/legible"
)

// The limits of a file.
const (
	RowLimit  = 500_000
	CellLimit = 64 << 10 // bytes
)

// Table is a file that was read, before it is judged against anything known.
type Table struct {
	File      string
	Kind      Kind
	Delimiter rune
	Columns   []string // the header in the names of Columns; empty where a header cell is empty
	Records   []Record
	Skipped   int           // records without anything in them
	Problems  []FileProblem // of the header
}

// Record is one row of a Table.
type Record struct {
	Line     int       // where it starts, counting physical lines from 1
	Cells    []string  // trimmed; nil where the record could not be taken apart
	Problems []Problem // what can be said without knowing anything else
}

// Read takes a file apart. Comma, semicolon and tab are told apart by the header; quotation marks are those of RFC 4180.
// A record that cannot be read is among the Records, with its problem. The error is an Invalid fault: the file as a
// whole cannot be used.
func Read(f File) (Table, error) {
	data, line, delimiter, err := prepare(f.Data)
	if err != nil {
		return Table{}, err
	}
	if delimiter == 0 {
		delimiter = sniff(data)
	}
	t := Table{File: f.Name, Delimiter: delimiter}
	s := scanner{comma: delimiter}
	s.start(data, line)
	if err := t.readHeader(&s); err != nil {
		return Table{}, err
	}
	return t, t.readRecords(&s)
}

// prepare takes away what may stand before the header, and refuses what is no CSV in UTF-8 at all.
func prepare(data []byte) (rest []byte, line int, delimiter rune, err error) {
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		return nil, 0, 0, fault.New(fault.Invalid, "The file is in UTF-16. Save it as “CSV UTF-8”.")
	}
	if bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("\xd0\xcf\x11\xe0")) {
		return nil, 0, 0, fault.New(fault.Invalid, "The file is a workbook, not CSV. Save the sheet as “CSV UTF-8”.")
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if !bytes.ContainsRune(data, '\n') {
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n")) // files with carriage returns alone
	}
	first, after, _ := bytes.Cut(data, []byte("\n"))
	if mark, ok := bytes.CutPrefix(bytes.ToLower(bytes.TrimSpace(first)), []byte("sep=")); ok && len(mark) == 1 && strings.ContainsAny(string(mark), delimiters) {
		return after, 1, rune(mark[0]), nil
	}
	return data, 0, 0, nil
}

const delimiters = ",;\t"

// sniff chooses the delimiter under which the header names the most columns that any kind of file has.
func sniff(data []byte) rune {
	best, most := ',', 0
	for _, d := range delimiters {
		s := scanner{comma: d}
		s.start(data, 0)
		cells, err := s.header()
		if err != nil {
			continue
		}
		names := headerNames(cells)
		for _, k := range Kinds() {
			if hits := knownNames(k, names); hits > most {
				best, most = d, hits
			}
		}
	}
	return best
}

func headerNames(cells []string) []string {
	names := make([]string, len(cells))
	for i, c := range cells {
		names[i] = columnName(c)
	}
	return names
}

// readHeader finds the kind and the columns. Columns that are not known are complaints; their cells are passed over.
func (t *Table) readHeader(s *scanner) error {
	cells, err := s.header()
	if err != nil {
		return err
	}
	if !utf8.ValidString(strings.Join(cells, "")) {
		return fault.New(fault.Invalid, "The first row is not in UTF-8. Save the file as “CSV UTF-8”.")
	}
	t.Columns = headerNames(cells)
	if t.Kind, err = kindOf(t.Columns); err != nil {
		return err
	}
	for i, n := range t.Columns {
		if n != "" && slices.Index(t.Columns, n) < i {
			return fault.New(fault.Invalid, "The column %s is there twice.", n)
		}
		if n != "" && !hasColumn(t.Kind, n) {
			t.Problems = append(t.Problems, FileProblem{t.File, s.line, n, fmt.Sprintf("A file of %s has no column “%s”. It may have: %s.",
				t.Kind, clip(clean(cells[i])), strings.Join(columnNames(t.Kind, anyColumn), ", "))})
		}
	}
	return nil
}

func (t *Table) readRecords(s *scanner) error {
	for {
		cells, problem, ok := s.next()
		switch {
		case !ok:
			return nil
		case problem == "" && blank(cells):
			t.Skipped++
			continue
		case len(t.Records) == RowLimit:
			return fault.New(fault.Invalid, "The file has more than %d rows. Split it into several.", RowLimit)
		}
		t.Records = append(t.Records, t.record(cells, s, problem))
	}
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.ContainsFunc(c, func(r rune) bool { return !isBlank(r) }) {
			return false
		}
	}
	return true
}

func (t *Table) record(cells []string, s *scanner, problem string) Record {
	r := Record{Line: s.line}
	if problem == "" && len(cells) != len(t.Columns) {
		problem = fmt.Sprintf("This row has %s, the first row has %s.", count(len(cells), "cell"), count(len(t.Columns), "cell"))
		if s.last > s.line {
			problem += fmt.Sprintf(" It runs on to line %d: perhaps a quotation mark is missing.", s.last)
		}
	}
	if problem != "" {
		r.Problems = append(r.Problems, Problem{Message: problem})
		return r
	}
	for i, c := range cells {
		cells[i] = t.cell(&r, t.Columns[i], c)
	}
	r.Cells = cells
	return r
}

// cell cleans one cell and notes what is wrong with it as text.
func (t *Table) cell(r *Record, column, cell string) string {
	before := len(r.Problems)
	bad := func(message string) { r.Problems = append(r.Problems, Problem{column, message}) }
	if len(cell) > CellLimit {
		bad(fmt.Sprintf("The cell is longer than %d characters.", CellLimit))
		cell = cell[:CellLimit]
	}
	if !utf8.ValidString(cell) {
		bad("The cell has characters that are not in UTF-8. Save the file as “CSV UTF-8”.")
		cell = strings.ToValidUTF8(cell, "\ufffd")
	}
	if strings.ContainsRune(cell, '\r') {
		cell = strings.ReplaceAll(cell, "\r", "\n") // the reader has made one of each pair already
	}
	cell = clean(cell)
	if problem := legible.Problem(cell, true); problem != "" && len(r.Problems) == before {
		bad(problem)
	}
	if column == "" && cell != "" {
		bad(fmt.Sprintf("“%s” stands in a column without a name.", clip(cell)))
	}
	if t.Kind != Sheets && t.Kind != Interlocks {
		cell = spaced(cell)
	}
	return cell
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// scanner reads records one by one, and goes on after one that cannot be read.
type scanner struct {
	comma      rune
	data       []byte // what the reader began with
	before     int    // lines before data
	reader     *csv.Reader
	line, last int // where the last record started and ended
}

func (s *scanner) start(data []byte, before int) {
	s.data, s.before = data, before
	s.reader = csv.NewReader(bytes.NewReader(data))
	s.reader.Comma, s.reader.FieldsPerRecord = s.comma, -1
}

// header gives the first record that has anything in it.
func (s *scanner) header() ([]string, error) {
	for {
		cells, problem, ok := s.next()
		if !ok {
			return nil, fault.New(fault.Invalid, "The file is empty.")
		}
		if problem != "" {
			return nil, fault.New(fault.Invalid, "The first row cannot be read. %s", problem)
		}
		if !blank(cells) {
			return cells, nil
		}
	}
}

// next gives the next record, or what is wrong with it; ok is false at the end.
func (s *scanner) next() (cells []string, problem string, ok bool) {
	cells, err := s.reader.Read()
	var wrong *csv.ParseError
	switch {
	case err == nil:
		line, _ := s.reader.FieldPos(0)
		last, _ := s.reader.FieldPos(len(cells) - 1)
		s.line, s.last = s.before+line, s.before+last+strings.Count(cells[len(cells)-1], "\n")
		return cells, "", true
	case errors.As(err, &wrong):
		s.line, s.last = s.before+wrong.StartLine, s.before+wrong.Line
		s.start(afterLine(s.data, wrong.StartLine), s.line)
		return nil, quoteProblem(wrong), true
	case errors.Is(err, io.EOF):
		return nil, "", false
	default:
		return nil, err.Error(), false // a reader over bytes gives no other error
	}
}

// afterLine gives what follows the first n lines. Reading goes on there after a record that is wrong, so that a missing
// quotation mark does not swallow the rows up to the next one.
func afterLine(data []byte, n int) []byte {
	for ; n > 0; n-- {
		_, data, _ = bytes.Cut(data, []byte("\n"))
	}
	return data
}

func quoteProblem(e *csv.ParseError) string {
	if errors.Is(e.Err, csv.ErrBareQuote) {
		return "A quotation mark stands inside a cell. Put the whole cell between quotation marks and double the one inside."
	}
	return "A cell that begins with a quotation mark does not end with one before the next delimiter. A quotation mark inside such a cell is doubled."
}
