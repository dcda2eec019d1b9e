package store

import (
	"database/sql"
	"maps"
	"slices"
	"strings"
	"unicode"

	"frywright/domain/fleet"

	"github.com/google/uuid"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"
)

// Limits of a search: what goes beyond them is passed over.
const (
	mostWords   = 8
	longestWord = 100
)

// plain gives a text in small letters and without accents.
func plain(text string) string {
	if !strings.ContainsFunc(text, func(r rune) bool { return r > unicode.MaxASCII }) {
		return strings.ToLower(text)
	}
	bare, _, err := transform.String(transform.Chain(norm.NFKD, runes.Remove(runes.In(unicode.Mn))), text)
	if err != nil {
		bare = text // what cannot be taken apart is looked for as it is
	}
	return strings.ToLower(bare)
}

// wordsOf gives the words of a text: what letters and digits make.
func wordsOf(text string) []string {
	return strings.FieldsFunc(plain(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
}

// sought gives the words that a search looks for. What was typed in one piece is cut as what is found was cut: “KF-20” are
// the words “kf” and “20”.
func sought(query string) []string {
	words := wordsOf(query)
	for i, word := range words {
		if letters := []rune(word); len(letters) > longestWord {
			words[i] = string(letters[:longestWord])
		}
	}
	return words[:min(len(words), mostWords)]
}

// until gives the text before which all texts stand that begin with a word.
func until(word string) string { return word + "\U0010ffff" }

// fryerWords gives the words by which a fryer is found. A tag or a serial number is found by its parts, in one piece, and by
// its last characters, for that is what is read out over a telephone: three of a tag, four of a serial number.
func fryerWords(f fleet.Fryer) []string {
	words := wordsOf(f.Name)
	for _, mark := range []struct {
		text string
		last int
	}{{f.Tag, 3}, {f.Serial, 4}} {
		parts := wordsOf(mark.text)
		whole := strings.Join(parts, "")
		words = append(append(words, parts...), whole)
		if letters := []rune(whole); len(letters) > mark.last {
			words = append(words, string(letters[len(letters)-mark.last:]))
		}
	}
	return words
}

// wordSite notes the words by which a restaurant is found; its company's name is among them.
func (t *tx) wordSite(id uuid.UUID) error {
	var text string
	err := t.row(`SELECT s.code || ' ' || s.name || ' ' || s.town || ' ' || coalesce(c.name, '') FROM site s LEFT JOIN customer c ON c.id = s.customer_id
		WHERE s.id = ?`, idText(id)).Scan(&text)
	if err != nil {
		return err
	}
	return t.setWords("site", id, wordsOf(text))
}

// wordSites notes the words of every restaurant, in the order in which they are stored.
func (t *tx) wordSites() error {
	sites, err := collect(t, `SELECT id FROM site ORDER BY id`, scanID)
	if err != nil {
		return err
	}
	for _, id := range sites {
		if err := t.wordSite(id); err != nil {
			return err
		}
	}
	return nil
}

// wordFryers notes the words of fryers that have none yet; ids is their JSON list.
func (t *tx) wordFryers(ids string) error {
	fryers, err := collect(t, `SELECT f.id, f.tag, f.serial, f.name`+many+`fryer f ON f.id = k.value`, func(r *sql.Rows) (fleet.Fryer, error) {
		var f fleet.Fryer
		err := r.Scan(&f.ID, &f.Tag, &f.Serial, &f.Name)
		return f, err
	}, ids)
	if err != nil {
		return err
	}
	for i := range fryers {
		if err := t.addWords("fryer", fryers[i].ID, fryerWords(fryers[i])); err != nil {
			return err
		}
	}
	return nil
}

// setWords makes the words of a fryer or a restaurant those of the list. The name of the table is our own.
func (t *tx) setWords(of string, id uuid.UUID, words []string) error {
	fresh := make(map[string]bool, len(words))
	for _, w := range words {
		if w != "" {
			fresh[w] = true
		}
	}
	var gone []string
	rows, err := t.query(`SELECT word FROM `+of+`_word WHERE `+of+`_id = ?`, idText(id))
	err = each(rows, err, func(r *sql.Rows) error {
		var w string
		err := r.Scan(&w)
		if !fresh[w] {
			gone = append(gone, w)
		}
		delete(fresh, w)
		return err
	})
	if err != nil {
		return err
	}
	for _, w := range gone {
		if err := t.exec(`DELETE FROM `+of+`_word WHERE `+of+`_id = ? AND word = ?`, idText(id), w); err != nil {
			return err
		}
	}
	return t.addWords(of, id, slices.Sorted(maps.Keys(fresh)))
}

func (t *tx) addWords(of string, id uuid.UUID, words []string) error {
	slices.Sort(words)
	for _, w := range slices.Compact(words) {
		if w == "" {
			continue
		}
		if err := t.exec(`INSERT INTO `+of+`_word (`+of+`_id, word) VALUES (?, ?)`, idText(id), w); err != nil {
			return err
		}
	}
	return nil
}
