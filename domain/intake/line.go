package intake

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"frywright/domain/fault"
	"frywright/domain/sheet"
)

// line is one record while it is judged.
type line struct {
	table *grid
	rec   *Record
	out   *Row
}

// grid is a table with its columns by name.
type grid struct {
	*Table
	at map[string]int
}

func gridOf(t *Table) *grid {
	s := &grid{Table: t, at: make(map[string]int, len(t.Columns))}
	for i, n := range t.Columns {
		if n != "" {
			s.at[n] = i
		}
	}
	return s
}

func (l *line) place() place { return place{l.table.File, l.rec.Line} }

// has says whether the file has the column.
func (l *line) has(column string) bool {
	_, ok := l.table.at[column]
	return ok
}

// text gives the cell; empty where the file has no such column.
func (l *line) text(column string) string {
	i, ok := l.table.at[column]
	if !ok || i >= len(l.rec.Cells) {
		return ""
	}
	return l.rec.Cells[i]
}

// bad notes a complaint; the first about a column stands.
func (l *line) bad(column, format string, args ...any) {
	if !slices.ContainsFunc(l.out.Problems, func(p Problem) bool { return p.Column == column }) {
		l.out.Problems = append(l.out.Problems, Problem{column, fmt.Sprintf(format, args...)})
	}
}

func (l *line) note(format string, args ...any) {
	l.out.Notes = append(l.out.Notes, fmt.Sprintf(format, args...))
}

func (l *line) wrong() bool { return len(l.out.Problems) > 0 }

// blame notes what a body's own Validate says; columns gives the column of a field where the names differ.
func (l *line) blame(err error, columns map[string]string) {
	if err == nil {
		return
	}
	fields := fault.FieldsOf(err)
	if len(fields) == 0 {
		l.bad("", "%s", fault.MessageOf(err))
	}
	for _, f := range fields {
		column, renamed := columns[f.Name]
		if !renamed {
			column = f.Name
		}
		l.bad(column, "%s", f.Message)
	}
}

// number reads the number in a cell; 0 for an empty one.
func (l *line) number(column string) float64 {
	cell := l.text(column)
	if cell == "" {
		return 0
	}
	if l.unclear(column, cell) {
		return 0
	}
	n, ok := sheet.ParseNumber(cell)
	switch {
	case !ok:
		l.bad(column, "“%s” is not a number.", clip(cell))
		return 0
	case unitOf(cell) != "":
		l.bad(column, "“%s”: write the number alone, without a unit.", clip(cell))
		return 0
	}
	return n
}

// unclear notes a number that could be read in two ways.
func (l *line) unclear(column, cell string) bool {
	if !unclearNumber(cell, l.table.Delimiter) {
		return false
	}
	bare := strings.NewReplacer(",", "", ".", "").Replace(cell)
	l.bad(column, "“%s” can be read in two ways. Write %s without marks between the digits, or the fraction without its last zero.", cell, bare)
	return true
}

func (l *line) whole(column string) int {
	n := l.number(column)
	if n != math.Trunc(n) || math.Abs(n) > 1e6 {
		l.bad(column, "“%s” is not a whole number.", clip(l.text(column)))
		return 0
	}
	return int(n)
}

func (l *line) flag(column string) bool {
	v, ok := parseFlag(l.text(column))
	if !ok {
		l.bad(column, "“%s” is neither yes nor no.", clip(l.text(column)))
	}
	return v
}

// change notes what a row changes.
func (l *line) change(changes ...string) {
	for i, c := range changes {
		changes[i] = clip(c)
	}
	l.out.Changes = append(l.out.Changes, changes...)
}

// field is one column that goes straight into a part of a T.
type field[T any] struct {
	column string
	get    func(*T) string
	set    func(*line, *T)
}

func textField[T any](column string, at func(*T) *string) field[T] {
	return field[T]{column, func(v *T) string { return *at(v) }, func(l *line, v *T) { *at(v) = l.text(column) }}
}

// wordField is a word of a fixed list, in small letters; empty stands for fallback.
func wordField[T any, S ~string](column string, fallback S, at func(*T) *S) field[T] {
	return field[T]{column, func(v *T) string { return string(*at(v)) }, func(l *line, v *T) {
		if *at(v) = S(fold(l.text(column))); *at(v) == "" {
			*at(v) = fallback
		}
	}}
}

func numberField[T any](column string, at func(*T) *float64) field[T] {
	return field[T]{column, func(v *T) string { return zeroEmpty(numberText(*at(v))) }, func(l *line, v *T) { *at(v) = l.number(column) }}
}

// optionalField is a number for which none differs from 0.
func optionalField[T any](column string, at func(*T) **float64) field[T] {
	get := func(v *T) string {
		if n := *at(v); n != nil {
			return numberText(*n)
		}
		return ""
	}
	return field[T]{column, get, func(l *line, v *T) {
		*at(v) = nil
		if l.text(column) != "" {
			n := l.number(column)
			*at(v) = &n
		}
	}}
}

func wholeField[T any](column string, at func(*T) *int) field[T] {
	return field[T]{column, func(v *T) string { return zeroEmpty(wholeText(*at(v))) }, func(l *line, v *T) { *at(v) = l.whole(column) }}
}

func flagField[T any](column string, at func(*T) *bool) field[T] {
	return field[T]{column, func(v *T) string { return flagText(*at(v)) }, func(l *line, v *T) { *at(v) = l.flag(column) }}
}

// listField is a list of words in small letters.
func listField[T any, S ~string](column string, at func(*T) *[]S) field[T] {
	get := func(v *T) string {
		words := make([]string, len(*at(v)))
		for i, w := range *at(v) {
			words[i] = escaper.Replace(string(w))
		}
		return strings.Join(words, "|")
	}
	return field[T]{column, get, func(l *line, v *T) {
		*at(v) = nil
		for _, w := range splitList(l.text(column)) {
			*at(v) = append(*at(v), S(fold(unescape(w))))
		}
	}}
}

func zeroEmpty(number string) string {
	if number == "0" {
		return ""
	}
	return number
}

// take puts the cells of a row into v. Columns that the file does not have leave v alone.
func take[T any](l *line, fields []field[T], v *T) {
	for _, f := range fields {
		if l.has(f.column) {
			f.set(l, v)
		}
	}
}

// differences says what differs between two, a column at a time.
func differences[T any](fields []field[T], before, after *T) []string {
	var list []string
	for _, f := range fields {
		if a, b := f.get(before), f.get(after); a != b {
			list = append(list, changeText(f.column, a, b))
		}
	}
	return list
}

func changeText(column, before, after string) string {
	return column + ": " + shown(before) + " → " + shown(after)
}

func shown(text string) string {
	if text == "" {
		return "–"
	}
	return clip(text)
}
