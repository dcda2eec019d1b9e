package intake

import (
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"

	"github.com/google/uuid"
)

// Make says what importing the files would do. Kinds are taken in the order of Kinds, files of a kind in the order given,
// so that a file may refer to what another one makes. Importing the same files again changes nothing.
func Make(files []File, known Known) Plan {
	p := newPlanner(known)
	tables := p.read(files)
	for _, k := range Kinds() {
		p.take(k, tables)
	}
	p.count()
	return p.plan
}

// planner holds what is known while the rows are judged.
type planner struct {
	known     Known
	plan      Plan
	customers *shelf[fleet.Customer]
	sites     *shelf[fleet.Site]
	models    *shelf[fleet.Model]
	sheets    *shelf[sheet.Sheet]
	fryers    *shelf[fleet.Fryer]
	byID      codes
	rows      map[*Table][]*line
	settings  map[uuid.UUID]map[string]*sheet.Setting // by sheet and key, for standards
	layers    layers
}

// codes gives the code of a thing by its id, for saying what changes.
type codes map[uuid.UUID]string

func newPlanner(known Known) *planner {
	p := &planner{
		known:     known,
		customers: newShelf("customer", known.Customers),
		sites:     newShelf("site", known.Sites),
		models:    newShelf("model", known.Models),
		sheets:    newShelf("settings sheet", known.Sheets),
		fryers:    newShelf("fryer", known.Fryers),
		byID:      codes{},
		rows:      map[*Table][]*line{},
		settings:  map[uuid.UUID]map[string]*sheet.Setting{},
	}
	for _, c := range known.Customers {
		p.byID[c.Value.ID] = c.Value.Code
	}
	for _, s := range known.Sites {
		p.byID[s.Value.ID] = s.Value.Code
	}
	for _, m := range known.Models {
		p.byID[m.Value.ID] = m.Value.Code
	}
	for _, s := range known.Sheets {
		p.byID[s.Value.ID] = s.Value.Code
	}
	return p
}

// read takes every file apart and gives each of its records a row of the plan.
func (p *planner) read(files []File) []*grid {
	var tables []*grid
	total := 0
	for _, f := range files {
		t, err := Read(f)
		if err != nil {
			p.plan.FileProblems = append(p.plan.FileProblems, FileProblem{File: f.Name, Message: fault.MessageOf(err)})
			continue
		}
		p.plan.FileProblems = append(p.plan.FileProblems, t.Problems...)
		p.plan.Skipped += t.Skipped
		total += len(t.Records)
		tables = append(tables, gridOf(&t))
	}
	p.plan.Rows = make([]Row, 0, total) // rows are pointed at: the slice must not grow
	for _, t := range tables {
		p.addRows(t)
	}
	return tables
}

func (p *planner) addRows(t *grid) {
	lines := make([]line, len(t.Records))
	for i := range t.Records {
		r := &t.Records[i]
		p.plan.Rows = append(p.plan.Rows, Row{File: t.File, Kind: t.Kind, Line: r.Line, Problems: r.Problems})
		lines[i] = line{t, r, &p.plan.Rows[len(p.plan.Rows)-1]}
		p.rows[t.Table] = append(p.rows[t.Table], &lines[i])
	}
}

// take judges every row of one kind.
func (p *planner) take(k Kind, tables []*grid) {
	rows := p.linesOf(k, tables)
	switch k {
	case Sheets:
		p.takeSheets(rows, p.linesOf(Interlocks, tables))
	case Models:
		p.each(rows, p.takeModel)
	case Sites:
		p.takeSites(rows)
	case Fryers:
		p.each(rows, p.takeFryer)
	case Standards:
		p.takeStandards(rows)
	}
}

func (p *planner) linesOf(k Kind, tables []*grid) []*line {
	var rows []*line
	for _, t := range tables {
		if t.Kind == k {
			rows = append(rows, p.rows[t.Table]...)
		}
	}
	return rows
}

// each judges the rows that could be taken apart; the others are wrong already.
func (p *planner) each(rows []*line, judge func(*line)) {
	for _, l := range rows {
		if l.rec.Cells == nil {
			l.out.What = "a row that cannot be read"
		} else {
			judge(l)
		}
		if l.wrong() {
			l.out.Outcome, l.out.Changes = Wrong, nil
		}
	}
}

func (p *planner) draft(d journal.Draft) { p.plan.Drafts = append(p.plan.Drafts, d) }

func (p *planner) newID() uuid.UUID { return p.known.NewID() }

func (p *planner) count() {
	p.plan.Counts = map[Outcome]int{}
	p.plan.Problems = len(p.plan.FileProblems)
	for i := range p.plan.Rows {
		p.plan.Counts[p.plan.Rows[i].Outcome]++
		p.plan.Problems += len(p.plan.Rows[i].Problems)
	}
}

// settle says what becomes of a row, and gives whether there is something to write.
func (l *line) settle(fresh bool, changes []string) bool {
	switch {
	case l.wrong():
		l.out.Outcome = Wrong
		return false
	case fresh:
		l.out.Outcome = New
	case len(changes) > 0:
		l.out.Outcome = Changed
		l.change(changes...)
	default:
		l.out.Outcome = Same
		return false
	}
	return true
}
