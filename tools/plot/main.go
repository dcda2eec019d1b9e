// Command plot draws how the times of the pages grow with the fleet: for one user and for many, both axes logarithmic. It
// reads what `frywright bench --out` saved and must not know how anything was measured.
package main

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "plot: "+err.Error())
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) != 2 {
		return errors.New("say which file to read and which to write: plot ROWS.tsv OUT.svg")
	}
	in, err := os.Open(args[0])
	if err != nil {
		return err
	}
	defer in.Close() //nolint:errcheck // it was only read
	all, err := read(in)
	if err != nil {
		return fmt.Errorf("%s: %w", args[0], err)
	}
	svg, err := drawAll(all)
	if err != nil {
		return err
	}
	return os.WriteFile(args[1], svg, 0o644)
}

// point is one time over one size of fleet.
type point struct {
	fryers, millis float64
}

// series is the times of one page.
type series struct {
	page   string
	points []point
}

// panel is one picture: what is measured for so many users.
type panel struct {
	title   string
	users   string
	measure string
	series  []series
}

// panels are what is drawn, side by side.
func panels() []panel {
	return []panel{
		{title: "p50, 1 user", users: "1", measure: "p50"},
		{title: "p99, 32 users at once; dotted: the aim, 50 ms", users: "32", measure: "p99"},
	}
}

// drawn are the pages that are drawn, in this order.
var drawn = []string{
	"desk", "fleet", "search", "fryer", "expected settings", "history", "put-back list", "reading, one setting", "restaurants", "restaurant",
}

// The columns of a row.
const (
	part = iota
	what
	users
	measure
	unit
	fryers
	figure
	columns = 10
)

// read takes the times of the pages out of rows; of those of the same page and size the last one counts.
func read(in io.Reader) ([]panel, error) {
	r := csv.NewReader(in)
	r.Comma, r.LazyQuotes, r.FieldsPerRecord = '\t', true, columns
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	all := panels()
	for i := range all {
		for _, name := range drawn {
			s := series{page: name}
			for _, row := range rows {
				if row[part] != "pages" || row[what] != name || row[users] != all[i].users || row[measure] != all[i].measure {
					continue
				}
				if err := s.add(row); err != nil {
					return nil, err
				}
			}
			if len(s.points) > 0 {
				all[i].series = append(all[i].series, s)
			}
		}
		if len(all[i].series) == 0 {
			return nil, fmt.Errorf("no %s of pages for %s users", all[i].measure, all[i].users)
		}
	}
	return all, nil
}

func (s *series) add(row []string) error {
	size, err := strconv.ParseFloat(row[fryers], 64)
	if err != nil {
		return err
	}
	millis, err := strconv.ParseFloat(row[figure], 64)
	if err != nil {
		return err
	}
	if !(size > 0 && millis > 0) {
		return fmt.Errorf("%s: a logarithmic axis has no place for %g fryers and %g ms", s.page, size, millis)
	}
	s.points = slices.DeleteFunc(s.points, func(p point) bool { return p.fryers == size })
	s.points = append(s.points, point{size, millis})
	slices.SortFunc(s.points, func(a, b point) int { return int(a.fryers - b.fryers) })
	return nil
}
