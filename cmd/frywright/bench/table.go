package bench

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
)

// Table writes the rows of a file as the tables of the documentation: the pages over the largest fleet, how their times grow
// with the fleet, and everything else.
func Table(out io.Writer, file string) error {
	rows, err := Load(file)
	if err != nil {
		return err
	}
	_, err = io.WriteString(out, tables(rows))
	return err
}

func tables(rows []Row) string {
	t := &tabled{rows: rows, sizes: fleets(rows)}
	if len(t.sizes) == 0 {
		return ""
	}
	return strings.Join(slices.DeleteFunc([]string{t.pages(), t.growth(), t.rest()}, func(s string) bool { return s == "" }), "\n")
}

// fleets lists the sizes of the fleets that were measured.
func fleets(rows []Row) []int {
	var sizes []int
	for _, r := range rows {
		if !slices.Contains(sizes, r.Fryers) {
			sizes = append(sizes, r.Fryers)
		}
	}
	slices.Sort(sizes)
	return sizes
}

// tabled is the rows being laid out.
type tabled struct {
	rows  []Row
	sizes []int
}

// find gives a row; the zero Row where it was not measured.
func (t *tabled) find(like Row) Row {
	i := slices.IndexFunc(t.rows, func(r Row) bool { return r.key() == like.key() })
	if i < 0 {
		return Row{}
	}
	return t.rows[i]
}

// names lists what a part measured, in its order.
func (t *tabled) names(part string) []string {
	var names []string
	for _, r := range t.rows {
		if r.Part == part && !slices.Contains(names, r.What) {
			names = append(names, r.What)
		}
	}
	return names
}

// markdown lays out a table whose first column is words and whose others are numbers.
func markdown(head []string, lines [][]string) string {
	if len(lines) == 0 {
		return ""
	}
	var b strings.Builder
	row := func(cells []string) { fmt.Fprintf(&b, "| %s |\n", strings.Join(cells, " | ")) }
	row(head)
	rule := slices.Repeat([]string{"--:"}, len(head))
	rule[0] = "---"
	fmt.Fprintf(&b, "|%s|\n", strings.Join(rule, "|"))
	for _, l := range lines {
		row(l)
	}
	return b.String()
}

// pages is every page over the largest fleet.
func (t *tabled) pages() string {
	largest := t.sizes[len(t.sizes)-1]
	head := []string{fmt.Sprintf("page, %s fryers", thousands(int64(largest))), "kB"}
	for _, users := range []string{"1 user", strconv.Itoa(manyUsers) + " users"} {
		head = append(head, users+": p50 ms", "floor", "ratio", "p99 ms", "floor", "requests/s")
	}
	var lines [][]string
	for _, name := range t.names("pages") {
		find := func(users int, measure string) Row {
			return t.find(Row{Part: "pages", What: name, Users: users, Measure: measure, Fryers: largest})
		}
		line := []string{name, short(cmp.Or(find(1, "size").Figure, find(manyUsers, "size").Figure))}
		for _, users := range []int{1, manyUsers} {
			p50, p99 := find(users, "p50"), find(users, "p99")
			line = append(line, short(p50.Figure), short(p50.Floor), short(p50.Ratio()), short(p99.Figure), short(p99.Floor), short(find(users, "rate").Figure))
		}
		lines = append(lines, line)
	}
	return markdown(head, lines)
}

// growth is the times of the pages beside each other for every size of fleet.
func (t *tabled) growth() string {
	if len(t.sizes) < 2 {
		return ""
	}
	head := []string{"ms by fryers"}
	for _, measure := range []string{"p50, 1 user", fmt.Sprintf("p99, %d users", manyUsers)} {
		for _, size := range t.sizes {
			head = append(head, measure+": "+thousands(int64(size)))
		}
	}
	var lines [][]string
	for _, name := range t.names("pages") {
		line := []string{name}
		for _, like := range []Row{{Users: 1, Measure: "p50"}, {Users: manyUsers, Measure: "p99"}} {
			for _, size := range t.sizes {
				like.Part, like.What, like.Fryers = "pages", name, size
				line = append(line, short(t.find(like).Figure))
			}
		}
		lines = append(lines, line)
	}
	return markdown(head, lines)
}

// rest is everything but the pages: each figure for every size, and for the largest one its floor.
func (t *tabled) rest() string {
	head := []string{"measured", "unit"}
	for _, size := range t.sizes {
		head = append(head, thousands(int64(size))+" fryers")
	}
	head = append(head, "floor", "ratio", "n")
	var lines [][]string
	done := map[string]bool{}
	for _, r := range t.rows {
		r.Fryers = 0
		if r.Part == "pages" || done[r.key()] {
			continue
		}
		done[r.key()] = true
		line := []string{described(r), r.Unit}
		var last Row
		for _, size := range t.sizes {
			r.Fryers = size
			found := t.find(r)
			line = append(line, short(found.Figure))
			if found.N > 0 {
				last = found
			}
		}
		lines = append(lines, append(line, short(last.Floor), short(last.Ratio()), thousands(int64(last.N))))
	}
	return markdown(head, lines)
}

// described says what a row is of, in one cell.
func described(r Row) string {
	text := r.What
	if r.Part == "soak" {
		text = "soak: " + text
	}
	if r.Users > 0 {
		text += fmt.Sprintf(", %d at once", r.Users)
	}
	if r.Measure != "rate" && r.Measure != "size" {
		text += ", " + r.Measure
	}
	if r.How != "" {
		text += " (" + r.How + ")"
	}
	return text
}
