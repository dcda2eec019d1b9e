// Package putback makes the put-back list: the settings to re-enter, group by group in the controller's own order, and
// within that by what must be set before what. It must not know how lines are ticked off or shown.
package putback

import (
	"fmt"
	"slices"

	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// Line is one setting to re-enter.
type Line struct {
	Finding drift.Finding
	Number  int         // from 1, over the whole list
	Vat     string      // the vat's name; empty where there is but one, or the setting is the whole controller's
	First   []sheet.Ref // lines of this list that must be entered before it
	Ticked  bool        // entered already, as somebody noted
}

// Group is lines that stand together on the controller.
type Group struct {
	Name  string
	Again bool // the list was in this group before, and comes back because something had to be set elsewhere first
	Lines []Line
}

// List is the put-back list of one fryer.
type List struct {
	Groups  []Group
	NotHere []drift.Finding // read-only settings that differ: recorded, never put back
	Blocked []string        // interlocks that no order avoids breaking on the way, each in one sentence
	Total   int
	Done    int
}

// Make makes the list of what drifted. At no step of it is an interlock broken that was not broken before, where any
// order avoids that; where none does, Blocked says which. It is deterministic.
func Make(x *standard.Expected, r drift.Result) List {
	w := newWork(x, r)
	order := w.order()
	list := List{Total: len(order), NotHere: w.notHere, Blocked: w.blocked(order)}
	seen := map[string]bool{}
	for n, i := range order {
		f := w.todo[i]
		name := f.Setting.Group
		if len(list.Groups) == 0 || list.Groups[len(list.Groups)-1].Name != name {
			list.Groups = append(list.Groups, Group{Name: name, Again: seen[name]})
			seen[name] = true
		}
		g := &list.Groups[len(list.Groups)-1]
		g.Lines = append(g.Lines, Line{Finding: f, Number: n + 1, Vat: sheet.VatName(x.Appliance, f.Ref.Vat), First: w.first(i, order[:n])})
	}
	return list
}

// Tick marks the lines that were ticked off with the value that is expected.
func (l *List) Tick(ticks map[sheet.Ref]sheet.Value) {
	l.Done = 0
	for g := range l.Groups {
		for i := range l.Groups[g].Lines {
			line := &l.Groups[g].Lines[i]
			line.Ticked = ticks[line.Finding.Ref].Known() && ticks[line.Finding.Ref] == line.Finding.Value
			if line.Ticked {
				l.Done++
			}
		}
	}
}

// Lines lists all lines in the order of the work.
func (l *List) Lines() []Line {
	var all []Line
	for _, g := range l.Groups {
		all = append(all, g.Lines...)
	}
	return all
}

// Sentence says how much there is to do.
func (l *List) Sentence() string {
	left := l.Total - l.Done
	switch {
	case l.Total == 0:
		return "Nothing has to be put back."
	case left == 0 && l.Total == 1:
		return "The one setting is ticked off. Read it again as left."
	case left == 0:
		return fmt.Sprintf("All %d settings are ticked off. Read them again as left.", l.Total)
	case left == 1:
		return "Put back 1 setting."
	default:
		return fmt.Sprintf("Put back %d settings, in this order.", left)
	}
}

// work is what the order is found from.
type work struct {
	x       *standard.Expected
	todo    []drift.Finding // what is put back, in the controller's order
	notHere []drift.Finding
	start   map[sheet.Ref]sheet.Value // as read
	broken  map[breach]bool           // broken at the start
	coupled []bool                    // whether an interlock names the line's setting
}

type breach struct {
	key string
	vat int
}

func newWork(x *standard.Expected, r drift.Result) *work {
	w := &work{x: x, start: map[sheet.Ref]sheet.Value{}}
	for i := range r.Findings {
		f := r.Findings[i]
		if f.Read.Known() {
			w.start[f.Ref] = f.Read
		}
		switch {
		case f.Status != drift.Drifted:
		case f.Setting.ReadOnly:
			w.notHere = append(w.notHere, f)
		default:
			w.todo = append(w.todo, f)
		}
	}
	w.broken = w.breaches(w.start)
	named := map[string]bool{}
	for i := range x.Sheet.Interlocks {
		for _, k := range x.Sheet.Interlocks[i].Keys() {
			named[k] = true
		}
	}
	for _, f := range w.todo {
		w.coupled = append(w.coupled, named[f.Ref.Key])
	}
	return w
}

// breaches gives the interlocks that values break.
func (w *work) breaches(values map[sheet.Ref]sheet.Value) map[breach]bool {
	found := map[breach]bool{}
	for _, b := range w.x.Sheet.Breaches(w.x.Appliance, func(r sheet.Ref) sheet.Value { return values[r] }) {
		found[breach{b.Interlock.Key, b.Vat}] = true
	}
	return found
}

// searchLimit bounds the search for an order that breaks nothing on the way; sheets' interlocks couple few settings, so
// that it is hardly ever reached.
const searchLimit = 20_000

// order gives the indexes of todo in the order of the work.
func (w *work) order() []int {
	s := &search{work: w, values: map[sheet.Ref]sheet.Value{}, done: make([]bool, len(w.todo)), left: searchLimit}
	for r, v := range w.start {
		s.values[r] = v
	}
	if s.run() {
		return s.path
	}
	return w.plain()
}

// plain is the order by After alone, for when no order avoids every breach. Sheets have no loop of After, so that some
// line is always ready.
func (w *work) plain() []int {
	done := make([]bool, len(w.todo))
	var path []int
	for range w.todo {
		for i := range w.todo {
			if !done[i] && w.ready(i, done) {
				done[i] = true
				path = append(path, i)
				break
			}
		}
	}
	return path
}

// search looks for an order, depth first, always trying the controller's own order first.
type search struct {
	*work
	values map[sheet.Ref]sheet.Value
	done   []bool
	path   []int
	left   int
}

func (s *search) run() bool {
	if len(s.path) == len(s.todo) {
		return true
	}
	for i := range s.todo {
		if s.done[i] || !s.ready(i, s.done) {
			continue
		}
		if s.left--; s.left < 0 {
			return false
		}
		ref := s.todo[i].Ref
		before := s.values[ref]
		s.values[ref] = s.todo[i].Value
		if !s.coupled[i] || s.quiet() {
			s.done[i] = true
			s.path = append(s.path, i)
			if s.run() {
				return true
			}
			s.path = s.path[:len(s.path)-1]
			s.done[i] = false
			// A line that no interlock names can come at any time: if it leads nowhere, so does leaving it for later.
			if !s.coupled[i] {
				s.values[ref] = before
				return false
			}
		}
		s.values[ref] = before
	}
	return false
}

// quiet says whether nothing is broken but what was broken at the start.
func (s *search) quiet() bool {
	for b := range s.breaches(s.values) {
		if !s.broken[b] {
			return false
		}
	}
	return true
}

// ready says whether everything of the list that must be entered before a line is done.
func (w *work) ready(i int, done []bool) bool {
	for j := range w.todo {
		if !done[j] && j != i && w.before(j, i) {
			return false
		}
	}
	return true
}

// before says whether line j must be entered before line i, by After: directly, or through settings that are right.
func (w *work) before(j, i int) bool {
	return w.reaches(w.todo[i].Setting, w.todo[j].Ref, w.todo[i].Ref.Vat, 0)
}

func (w *work) reaches(from *sheet.Setting, to sheet.Ref, vat, depth int) bool {
	if depth > len(w.x.Sheet.Settings) {
		return false
	}
	for _, k := range from.After {
		if k == to.Key && (to.Vat == vat || to.Vat == 0 || vat == 0) {
			return true
		}
		if set, ok := w.x.Sheet.Setting(k); ok && w.reaches(set, to, vat, depth+1) {
			return true
		}
	}
	return false
}

// first gives the lines already in the list that must come before a line: by After, or because an interlock names both.
func (w *work) first(i int, earlier []int) []sheet.Ref {
	var refs []sheet.Ref
	for _, j := range earlier {
		if w.before(j, i) || w.gated(j, i) {
			refs = append(refs, w.todo[j].Ref)
		}
	}
	return refs
}

// gated says whether entering line i before line j would break an interlock that is whole at the start.
func (w *work) gated(j, i int) bool {
	if !w.coupled[i] || !w.coupled[j] {
		return false
	}
	values := map[sheet.Ref]sheet.Value{}
	for _, f := range w.x.List {
		values[f.Ref] = f.Value
	}
	for r, v := range w.start {
		if !values[r].Known() {
			values[r] = v
		}
	}
	values[w.todo[j].Ref] = w.start[w.todo[j].Ref]
	finally := w.breaches(w.finally())
	for b := range w.breaches(values) {
		if !w.broken[b] && !finally[b] {
			return true
		}
	}
	return false
}

// finally gives the values once everything is put back.
func (w *work) finally() map[sheet.Ref]sheet.Value {
	values := map[sheet.Ref]sheet.Value{}
	for r, v := range w.start {
		values[r] = v
	}
	for _, f := range w.todo {
		values[f.Ref] = f.Value
	}
	return values
}

// blocked names the interlocks that the order breaks on the way, or that the standard itself breaks.
func (w *work) blocked(order []int) []string {
	values := map[sheet.Ref]sheet.Value{}
	for r, v := range w.start {
		values[r] = v
	}
	var labels []string
	for _, i := range order {
		values[w.todo[i].Ref] = w.todo[i].Value
		for b := range w.breaches(values) {
			if w.broken[b] {
				continue
			}
			at := slices.IndexFunc(w.x.Sheet.Interlocks, func(l sheet.Interlock) bool { return l.Key == b.key })
			if label := w.x.Sheet.Interlocks[at].Label; !slices.Contains(labels, label) {
				labels = append(labels, label)
			}
		}
	}
	slices.Sort(labels)
	return labels
}
