package account

import (
	_ "embed" // the list of common passwords
	"slices"
	"strings"
	"sync"
	"unicode"
)

// commonText is passwords of full length that are tried first, one a line: runs along a keyboard and phrases that are
// widely used. They were put together for this program (common practice, no source).
//
//go:embed passwords.txt
var commonText string

// wordText is what common passwords are made of, one a line.
//
//go:embed words.txt
var wordText string

var (
	common = sync.OnceValue(func() []string { return lines(commonText) })
	words  = sync.OnceValue(func() []string { return lines(wordText) })
)

// lines gives the lines of a list, squeezed, without remarks.
func lines(text string) []string {
	var list []string
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			list = append(list, squeeze(line))
		}
	}
	return list
}

// tooCommon says whether a password is common, is one short piece again and again, or is put together of a few common
// words and what is known of the person, in each case apart from the case of letters, what stands between them, and digits
// or signs around it.
func tooCommon(password string, about []string) bool {
	whole := squeeze(password)
	core := strings.TrimFunc(whole, unicode.IsDigit)
	known := slices.Clone(common())
	own := slices.Clone(words())
	for _, text := range about {
		name, _, _ := strings.Cut(text, "@")
		known = append(known, squeeze(text), squeeze(name))
		for _, part := range strings.FieldsFunc(text, notLetter) {
			own = append(own, squeeze(part))
		}
	}
	for _, k := range known {
		bare := strings.TrimFunc(k, unicode.IsDigit)
		if k != "" && (whole == k || core == k || repeats(core, k) || bare != "" && repeats(core, bare)) {
			return true
		}
	}
	return repeated(whole) || repeated(core) || putTogether(whole, own)
}

// fewWords is how many common words in a row are still among the first that are tried. More of them, chosen freely, are
// a sentence.
const fewWords = 3

// shortestWord keeps initials and the like from being taken for words.
const shortestWord = 2

// putTogether says whether a text is nothing but a few words and digits.
func putTogether(text string, words []string) bool {
	const never = fewWords + 1
	fewest := make([]int, len(text)+1) // words that cover the text from each place to its end
	for at := len(text) - 1; at >= 0; at-- {
		fewest[at] = never
		if text[at] >= '0' && text[at] <= '9' {
			fewest[at] = fewest[at+1]
		}
		for _, w := range words {
			if len(w) >= shortestWord && strings.HasPrefix(text[at:], w) {
				fewest[at] = min(fewest[at], fewest[at+len(w)]+1)
			}
		}
	}
	return fewest[0] <= fewWords
}

func notLetter(c rune) bool { return !unicode.IsLetter(c) }

// squeeze keeps letters and digits, in lower case.
func squeeze(text string) string {
	return strings.Map(func(c rune) rune {
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			return unicode.ToLower(c)
		}
		return -1
	}, text)
}

// longestPiece is how long a piece may be that fills a password again and again, twice at least.
const longestPiece = 12

func repeated(text string) bool {
	for n := 1; n <= longestPiece && 2*n <= len(text); n++ {
		if strings.HasPrefix(strings.Repeat(text[:n], len(text)/n+1), text) {
			return true
		}
	}
	return text == ""
}

func repeats(text, piece string) bool {
	return text != "" && strings.ReplaceAll(text, piece, "") == ""
}
