// Package legible holds the one rule for texts that people write: what stands in a record is what is seen on the screen,
// and nothing else. Every entry body checks its texts with it, so that texts from forms, from files and from other machines
// meet the same rule. It must not know of any noun, of forms or of the journal.
//
// The rule: valid UTF-8 with nothing lost on the way (U+FFFD); no control characters but the line break where a text may have
// lines; none of the characters that take no room and yet change what is read (Unicode's default ignorable code points and
// format controls, the bidirectional controls of UAX #9 and the tags among them); no more than four marks on one letter
// (UTS #39, 5.4); and something that can be seen. Letters of every script are welcome, those written from right to left too.
//
// Two of the format controls are needed to write: ZERO WIDTH JOINER and NON-JOINER. They are taken where UAX #31 and UTS #39
// (3.1.1) see a use for them, that is between letters of the scripts that join or stack, and the joiner within an emoji. The
// contexts are those of the scripts, without the joining types of single letters: a joiner that does nothing in a Persian
// name is no way to show something that is not there.
package legible

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"frywright/domain/fault"
)

// Limits of texts, in characters, for whoever has no reason for another.
const (
	Name = 120
	Note = 4000
)

// Line notes a complaint about a text of one line of at most limit characters. Empty is legible.
func Line(f *fault.Fields, field, text string, limit int) { check(f, field, text, limit, false) }

// Text notes a complaint about a text of several lines of at most limit characters. Empty is legible.
func Text(f *fault.Fields, field, text string, limit int) { check(f, field, text, limit, true) }

func check(f *fault.Fields, field, text string, limit int, lines bool) {
	if utf8.RuneCountInString(text) > limit {
		f.Add(field, "At most %d characters.", limit)
		return
	}
	if problem := Problem(text, lines); problem != "" {
		f.Add(field, "%s", problem)
	}
}

// Problem says in plain words why a text is not legible; empty where it is. With lines it may have line breaks and tabs.
func Problem(text string, lines bool) string {
	if plain(text) {
		return ""
	}
	if !utf8.ValidString(text) {
		return damaged
	}
	runes := []rune(text)
	seen, marks := false, 0
	for i, r := range runes {
		if problem := wrong(runes, i, lines); problem != "" {
			return problem
		}
		if marks = marksAt(r, marks); marks > mostMarks {
			return fmt.Sprintf("More than %d marks stand on one letter, after “%s”.", mostMarks, before(runes, i))
		}
		seen = seen || visible(r)
	}
	if !seen && strings.TrimSpace(text) != "" {
		return "There is nothing in it that can be seen."
	}
	return ""
}

const (
	damaged   = "Some of its characters arrived damaged. Type the text again."
	mostMarks = 4
)

// plain says whether a text is printable ASCII, as nearly all are.
func plain(text string) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] > '~' {
			return false
		}
	}
	return true
}

// wrong says why the character at i may not stand there.
func wrong(runes []rune, i int, lines bool) string {
	switch r := runes[i]; {
	case r == utf8.RuneError:
		return damaged
	case r == '\n' || r == '\t':
		if !lines {
			return "Write it in one line, without line breaks."
		}
	case unicode.IsControl(r):
		return fmt.Sprintf("A character that cannot be shown stands in it, %U. Type the text again.", r)
	case hidden(r) && !joins(runes, i):
		where := "at its beginning"
		if i > 0 {
			where = "after “" + before(runes, i) + "”"
		}
		return fmt.Sprintf("A character that cannot be seen stands in it %s, %U. Type the text again rather than pasting it.", where, r)
	}
	return ""
}

// mostBefore is how many characters a message quotes.
const mostBefore = 12

// before gives what stands before a character, for a message.
func before(runes []rune, at int) string { return string(runes[max(0, at-mostBefore):at]) }

const (
	nonJoiner = '\u200c'
	joiner    = '\u200d'
)

// hidden says whether a character takes no room of its own: Unicode's Default_Ignorable_Code_Point with the other format
// controls, line and paragraph separators and noncharacters, without variation selectors, which choose the shape of what is
// before them, and without the format characters that are seen (Prepended_Concatenation_Mark).
func hidden(r rune) bool {
	if unicode.Is(unicode.Variation_Selector, r) || unicode.Is(unicode.Prepended_Concatenation_Mark, r) {
		return false
	}
	return unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Other_Default_Ignorable_Code_Point, unicode.Noncharacter_Code_Point)
}

// joining are the scripts that write with joiners: those whose letters join and those of the Brahmic family.
var joining = []*unicode.RangeTable{
	unicode.Arabic, unicode.Syriac, unicode.Mandaic, unicode.Nko, unicode.Mongolian, unicode.Phags_Pa, unicode.Adlam, unicode.Hanifi_Rohingya,
	unicode.Devanagari, unicode.Bengali, unicode.Gurmukhi, unicode.Gujarati, unicode.Oriya, unicode.Tamil, unicode.Telugu, unicode.Kannada,
	unicode.Malayalam, unicode.Sinhala, unicode.Khmer, unicode.Myanmar, unicode.Tibetan, unicode.Balinese, unicode.Javanese, unicode.Chakma,
	unicode.Brahmi, unicode.Grantha, unicode.Newa, unicode.Tirhuta, unicode.Meetei_Mayek,
}

// joins says whether the character at i is a joiner in a place where writing needs one.
func joins(runes []rune, i int) bool {
	if i == 0 || runes[i] != nonJoiner && runes[i] != joiner {
		return false
	}
	if unicode.In(runes[i-1], joining...) {
		// A joiner at the end of a word shows a letter in its joined shape.
		return i+1 == len(runes) || !hidden(runes[i+1])
	}
	return runes[i] == joiner && i+1 < len(runes) && emoji(runes[i-1]) && emoji(runes[i+1])
}

// emoji says whether a character can be part of a sequence that a joiner makes one picture of: a symbol, a skin tone, or the
// selector that asks for the coloured shape.
func emoji(r rune) bool { return unicode.In(r, unicode.So, unicode.Sk) || r == '\ufe0f' }

// marksAt counts the marks on one letter.
func marksAt(r rune, marks int) int {
	switch {
	case unicode.Is(unicode.Variation_Selector, r):
		return marks
	case unicode.In(r, unicode.Mn, unicode.Me):
		return marks + 1
	default:
		return 0
	}
}

// visible says whether a character leaves ink.
func visible(r rune) bool {
	const brailleBlank = '\u2800'
	return r != brailleBlank && unicode.In(r, unicode.L, unicode.N, unicode.P, unicode.S)
}
