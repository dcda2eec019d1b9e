package store

import (
	"cmp"
	"context"
	"strings"

	"frywright/domain/access"
	"frywright/domain/state"

	"github.com/google/uuid"
)

// mostFound is how much of a search is shown: who finds more types another word.
const mostFound = 100

// find gives the ids of the fryers that all the words find, on a page of the list, in an order.
func (s *Store) find(ctx context.Context, q querier, f state.Filter, words []string, order string, c *state.Count) ([]uuid.UUID, error) {
	terms, err := termsOf(q, words)
	if err != nil {
		return nil, err
	}
	hits := search{filter: s.filter(ctx, f)}
	if a := access.FromContext(ctx); terms[0].found() > mostFound && !a.SeesAllSites() {
		hits.among(a.Person, terms)
	} else {
		hits.from(terms[0], terms[1:])
	}
	if len(hits.branches) == 0 {
		return nil, nil
	}
	// A fryer may be found twice, by its own word and by its restaurant's.
	ids, err := collect(q, `SELECT id FROM (SELECT DISTINCT id, place, rank FROM (`+strings.Join(hits.branches, " UNION ALL ")+`) d LIMIT ?) hit
		ORDER BY `+strings.NewReplacer("t.fryer_id", "hit.id", "t.", "hit.").Replace(order), scanID, append(hits.args, mostFound+1)...)
	if err != nil {
		return nil, err
	}
	if c.Total = len(ids); c.Total > mostFound {
		c.Total, c.More = mostFound, true
	}
	c.Cut(mostFound, f.Page, f.PerPage)
	at := c.Number * f.PerPage
	return ids[at:min(at+f.PerPage, c.Total)], nil
}

// term is a word that is sought, and how often it is there, as far as is worth counting.
type term struct {
	word          string
	fryers, sites int
}

// found says about how many fryers a term finds.
func (t term) found() int {
	const fryersAtSite = 10 // about
	return t.fryers + t.sites*fryersAtSite
}

// mostWeighed is how far the words of a search are counted, to tell which is the rarest.
const mostWeighed = 1500

// termsOf counts words. The rarest comes first; of those that are too many to count, the longest.
func termsOf(q querier, words []string) ([]term, error) {
	terms := make([]term, 0, len(words))
	for _, word := range words {
		t := term{word: word}
		err := q.row(`SELECT (SELECT count(*) FROM (SELECT 1 FROM fryer_word WHERE word >= ?1 AND word < ?2 LIMIT ?3)),
			(SELECT count(*) FROM (SELECT 1 FROM site_word WHERE word >= ?1 AND word < ?2 LIMIT ?3))`, word, until(word), mostWeighed).Scan(&t.fryers, &t.sites)
		if err != nil {
			return nil, err
		}
		terms = append(terms, t)
		if last := len(terms) - 1; cmp.Or(cmp.Compare(t.found(), terms[0].found()), cmp.Compare(len(terms[0].word), len(word))) < 0 {
			terms[0], terms[last] = terms[last], terms[0]
		}
	}
	return terms, nil
}

// search is a query for fryers made of branches; each gives id, place and rank.
type search struct {
	filter   where
	branches []string
	args     []any
}

// from begins with what a term finds, among fryers and among restaurants, and asks for the others there.
func (x *search) from(rarest term, others []term) {
	if rarest.fryers > 0 {
		x.branch(`fryer_word w CROSS JOIN standing t ON t.fryer_id = w.fryer_id`, "w.fryer_id", "t.site_id", others, rarest)
	}
	if rarest.sites > 0 {
		x.branch(`site_word w CROSS JOIN standing y ON y.site_id = w.site_id CROSS JOIN standing t ON t.fryer_id = y.fryer_id`, "y.fryer_id", "w.site_id", others, rarest)
	}
}

// among begins with the restaurants of a person.
func (x *search) among(person uuid.UUID, terms []term) {
	x.filter.add("z.person_id = ?", idText(person))
	x.branch(`person_site z CROSS JOIN standing t ON t.site_id = z.site_id`, "t.fryer_id", "z.site_id", terms)
}

// branch adds a branch over tables in which a fryer and its restaurant are named so; begin are the terms that w is walked by.
// A term that no fryer has is asked of the restaurant alone, and the other way round.
func (x *search) branch(tables, fryer, site string, others []term, begin ...term) {
	var w where
	for _, b := range begin {
		w.add("w.word >= ? AND w.word < ?", b.word, until(b.word))
	}
	for _, o := range others {
		var ways []string
		var args []any
		if o.sites > 0 {
			ways = append(ways, `EXISTS (SELECT 1 FROM site_word n WHERE n.site_id = `+site+` AND n.word >= ? AND n.word < ?)`)
			args = append(args, o.word, until(o.word))
		}
		if o.fryers > 0 {
			ways = append(ways, `EXISTS (SELECT 1 FROM fryer_word n WHERE n.fryer_id = `+fryer+` AND n.word >= ? AND n.word < ?)`)
			args = append(args, o.word, until(o.word))
		}
		if len(ways) == 0 {
			return // nothing has the word
		}
		w.add("("+strings.Join(ways, " OR ")+")", args...)
	}
	w.conditions, w.args = append(w.conditions, x.filter.conditions...), append(w.args, x.filter.args...)
	x.branches = append(x.branches, `SELECT t.fryer_id AS id, t.place, t.rank FROM `+tables+w.String())
	x.args = append(x.args, w.args...)
}
