package intake

import (
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"frywright/domain/sheet"
)

// isBlank says whether a character only takes up room: spaces of every width, the non-breaking ones, and the marks of
// no width that spreadsheets and web pages leave behind.
func isBlank(r rune) bool { return unicode.IsSpace(r) || r == '\u200b' || r == '\ufeff' }

// clean trims a cell and takes away the apostrophe that keeps it from being run as a formula.
func clean(cell string) string {
	cell = strings.TrimFunc(cell, isBlank)
	if guarded(cell) {
		return cell[1:]
	}
	return cell
}

// formulaStart are the characters with which a spreadsheet's formula begins, those of full width as East Asian keyboards
// write them among them (OWASP, CSV Injection). Tab and carriage return, the others of OWASP's list, are trimmed from cells.
const formulaStart = "=+-@＝＋－＠"

// startsFormula says whether a text begins as a formula, blanks before it passed over as spreadsheets may do.
func startsFormula(text string) bool {
	first, _ := utf8.DecodeRuneInString(strings.TrimLeftFunc(text, isBlank))
	return strings.ContainsRune(formulaStart, first)
}

// guarded says whether a cell is apostrophes and then the beginning of a formula.
func guarded(cell string) bool {
	rest := strings.TrimLeft(cell, "'")
	return len(rest) < len(cell) && startsFormula(rest)
}

var plainNumber = regexp.MustCompile(`^-?[0-9]+(\.[0-9]+)?$`)

// guard makes a text safe to stand in a spreadsheet's cell; numbers stay numbers.
func guard(text string) string {
	if text == "" || plainNumber.MatchString(text) {
		return text
	}
	if guarded(text) || startsFormula(text) {
		return "'" + text
	}
	return text
}

// spaced turns non-breaking spaces into plain ones: names are searched for as people type them.
func spaced(text string) string {
	if !strings.ContainsAny(text, "\u00a0\u202f") {
		return text
	}
	return strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(text)
}

// splitList reads a list that | separates; a backslash makes the next |, = or backslash an ordinary character, and
// stays in the parts for unescape to take away.
func splitList(cell string) []string {
	var parts []string
	for rest := cell; strings.TrimSpace(rest) != ""; {
		i := indexBare(rest, '|')
		if i < 0 {
			return append(parts, strings.TrimSpace(rest))
		}
		if part := strings.TrimSpace(rest[:i]); part != "" {
			parts = append(parts, part)
		}
		rest = rest[i+1:]
	}
	return parts
}

// indexBare gives the index of the first mark without a backslash before it; -1 for none.
func indexBare(text string, mark byte) int {
	for i := 0; i < len(text); i++ {
		switch {
		case text[i] == '\\':
			i++
		case text[i] == mark:
			return i
		}
	}
	return -1
}

var (
	unescaper = strings.NewReplacer(`\\`, `\`, `\|`, `|`, `\=`, `=`)
	escaper   = strings.NewReplacer(`\`, `\\`, `|`, `\|`, `=`, `\=`)
)

func unescape(part string) string { return strings.TrimSpace(unescaper.Replace(part)) }

// Formats in which the digits before and after a mark of three digits can be read in two ways.
var (
	commaGroups = regexp.MustCompile(`^[1-9][0-9]{0,2}(,[0-9]{3})+$`)
	pointGroups = regexp.MustCompile(`^[1-9][0-9]{0,2}(\.[0-9]{3})+$`)
)

// unclearNumber says whether the number could be thousands as well as a fraction: 14,000 in a file with commas, 14.000
// in a file with semicolons, where the comma marks the fraction.
func unclearNumber(cell string, delimiter rune) bool {
	digits := strings.TrimLeft(cell, "+-−– ")
	if delimiter == ';' {
		return pointGroups.MatchString(digits)
	}
	return commaGroups.MatchString(digits)
}

// unitOf gives what stands behind the last digit of a number.
func unitOf(cell string) string {
	i := strings.LastIndexAny(cell, "0123456789")
	return strings.Trim(strings.TrimFunc(cell[i+1:], isBlank), ".,")
}

// parseFlag reads yes or no as people and spreadsheets write it.
func parseFlag(cell string) (value, ok bool) {
	switch strings.ToLower(cell) {
	case "yes", "y", "true", "1", "on":
		return true, true
	case "", "no", "n", "false", "0", "off":
		return false, true
	}
	return false, false
}

func flagText(v bool) string {
	if v {
		return "yes"
	}
	return "no"
}

func numberText(n float64) string { return string(sheet.Num(n)) }

func wholeText(n int) string { return strconv.Itoa(n) }

// clip shortens a text for a message.
func clip(s string) string {
	const limit = 80
	if utf8.RuneCountInString(s) <= limit {
		return s
	}
	return string([]rune(s)[:limit]) + "…"
}
