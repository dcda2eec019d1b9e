package bench

import (
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
)

// Row is one measured figure with the floor from the same run.
type Row struct {
	Part    string  // pages, import …
	What    string  // the page or the work
	Users   int     // how many at once; 0 where it means nothing
	Measure string  // p50, p99, rate, size …
	Unit    string  // ms, /s, kB, MB …
	Fryers  int     // size of the fleet
	Figure  float64 // what was measured
	Floor   float64 // what the bare work takes; 0 where there is none
	N       int     // how many were measured
	How     string  // what the floor is, and what else is worth knowing
}

// Ratio gives how many times dearer the figure is than its floor: of rates the floor over the figure. 0: there is no floor.
func (r Row) Ratio() float64 {
	switch {
	case r.Floor == 0 || r.Figure == 0:
		return 0
	case strings.HasSuffix(r.Unit, "/s"):
		return r.Floor / r.Figure
	default:
		return r.Figure / r.Floor
	}
}

// key tells measurements apart: a later one of the same key takes the place of an earlier one.
func (r Row) key() string {
	return strings.Join([]string{r.Part, r.What, strconv.Itoa(r.Users), r.Measure, strconv.Itoa(r.Fryers)}, "\t")
}

// short writes a number with three digits that count, and thousands apart.
func short(x float64) string {
	switch {
	case x == 0:
		return "–"
	case math.Abs(x) >= 999.5:
		return thousands(int64(math.Round(x)))
	case math.Abs(x) >= 100:
		return strconv.FormatFloat(x, 'f', 0, 64)
	case math.Abs(x) >= 10:
		return strconv.FormatFloat(x, 'f', 1, 64)
	default:
		return strconv.FormatFloat(x, 'f', 2, 64)
	}
}

func thousands(n int64) string {
	text := strconv.FormatInt(n, 10)
	for i := len(text) - 3; i > 0 && text[i-1] != '-'; i -= 3 {
		text = text[:i] + "," + text[i:]
	}
	return text
}

// list writes rows as an aligned table.
func list(out io.Writer, rows []Row) error {
	var text strings.Builder
	text.WriteString("part\twhat\tusers\tmeasure\tfigure\tfloor\tratio\tn\tunit\t  how\n")
	for _, r := range rows {
		users := ""
		if r.Users > 0 {
			users = strconv.Itoa(r.Users)
		}
		text.WriteString(strings.Join([]string{
			r.Part, r.What, users, r.Measure, short(r.Figure), short(r.Floor), short(r.Ratio()), thousands(int64(r.N)), r.Unit, "  " + r.How,
		}, "\t") + "\n")
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	if _, err := io.WriteString(w, text.String()); err != nil {
		return err
	}
	return w.Flush()
}

const columns = 10

// line writes a row as tab-separated values.
func (r Row) line() string {
	float := func(x float64) string { return strconv.FormatFloat(x, 'g', 8, 64) }
	return strings.Join([]string{
		r.Part, r.What, strconv.Itoa(r.Users), r.Measure, r.Unit, strconv.Itoa(r.Fryers), float(r.Figure), float(r.Floor), strconv.Itoa(r.N), r.How,
	}, "\t") + "\n"
}

// parse reads what line wrote.
func parse(line string) (Row, error) {
	f := strings.Split(line, "\t")
	if len(f) != columns {
		return Row{}, fmt.Errorf("%d columns, not %d: %q", len(f), columns, line)
	}
	r := Row{Part: f[0], What: f[1], Measure: f[3], Unit: f[4], How: f[9]}
	var err error
	for i, to := range map[int]*int{2: &r.Users, 5: &r.Fryers, 8: &r.N} {
		if *to, err = strconv.Atoi(f[i]); err != nil {
			return r, err
		}
	}
	for i, to := range map[int]*float64{6: &r.Figure, 7: &r.Floor} {
		if *to, err = strconv.ParseFloat(f[i], 64); err != nil {
			return r, err
		}
	}
	return r, nil
}

// save adds rows to a file, so that runs over fleets of several sizes can be put together.
func save(name string, rows []Row) error {
	f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	var text strings.Builder
	for _, r := range rows {
		text.WriteString(r.line())
	}
	_, err = f.WriteString(text.String())
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

// Load reads the rows of a file; of those of the same key the last one counts, at the place of the first.
func Load(name string) ([]Row, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	var rows []Row
	for i, line := range strings.Split(strings.TrimRight(string(text), "\n"), "\n") {
		r, err := parse(line)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, i+1, err)
		}
		if at := slices.IndexFunc(rows, func(old Row) bool { return old.key() == r.key() }); at >= 0 {
			rows[at] = r
			continue
		}
		rows = append(rows, r)
	}
	return rows, nil
}
