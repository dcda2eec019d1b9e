package putback

import (
	"slices"

	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// work is a put-back list in the making: the controller as it stands after the lines entered so far.
type work struct {
	lines  []drift.Finding           // what is put back, by group and within it in the controller's order
	before [][]int                   // for each line, those that the controller asks for before it
	values map[sheet.Ref]sheet.Value // as it stands
	locks  []lock                    // every interlock that binds the controller
	ties   [][]int                   // for each line, the locks that tie it to other lines
	parts  []*part                   // for each line, the part of the work that it belongs to
	done   []bool
}

// lock is an interlock with what it says before the work and after it.
type lock struct {
	sheet.Bound
	start, final sheet.Outcome
	blocks       bool // some line breaks it
	here         bool // it names a setting of the list
}

func newWork(x *standard.Expected, r drift.Result) (w *work, notHere []drift.Finding) {
	w = &work{values: make(map[sheet.Ref]sheet.Value, len(r.Findings))}
	for i := range r.Findings {
		f := r.Findings[i]
		w.values[f.Ref] = f.Read
		switch {
		case f.Status != drift.Drifted:
		case f.Setting.ReadOnly:
			notHere = append(notHere, f)
		default:
			w.lines = append(w.lines, f)
		}
	}
	groups := x.Sheet.Groups()
	slices.SortStableFunc(w.lines, func(a, b drift.Finding) int {
		return slices.Index(groups, a.Setting.Group) - slices.Index(groups, b.Setting.Group)
	})
	w.done = make([]bool, len(w.lines))
	w.before = order(x, w.lines)
	w.bind(x)
	w.divide()
	return w, notHere
}

// order gives for each line those that After asks for before it: directly, or through settings that are right. A loop,
// which no valid sheet has, is cut where it begins.
func order(x *standard.Expected, lines []drift.Finding) [][]int {
	index := make(map[sheet.Ref]int, len(lines))
	for i := range lines {
		index[lines[i].Ref] = i
	}
	before := make([][]int, len(lines))
	for i := range lines {
		for ref := range earlier(x, lines[i].Ref) {
			if j, ok := index[ref]; ok && j != i {
				before[i] = append(before[i], j)
			}
		}
		slices.Sort(before[i])
	}
	placed := make([]bool, len(lines))
	for range lines {
		next := slices.IndexFunc(placed, func(p bool) bool { return !p })
		for i := range lines {
			if !placed[i] && !slices.ContainsFunc(before[i], func(j int) bool { return !placed[j] }) {
				next = i
				break
			}
		}
		before[next] = slices.DeleteFunc(before[next], func(j int) bool { return !placed[j] })
		placed[next] = true
	}
	return before
}

// earlier gives everything that After asks for before a place, however indirectly.
func earlier(x *standard.Expected, from sheet.Ref) map[sheet.Ref]bool {
	found := map[sheet.Ref]bool{}
	open := []sheet.Ref{from}
	for len(open) > 0 {
		ref := open[len(open)-1]
		open = open[:len(open)-1]
		e, _ := x.At(ref)
		for _, key := range e.Setting.After {
			for vat := range 3 {
				// What is set once waits for both vats; what is set for one vat, for that vat or for what is set once.
				next := sheet.Ref{Key: key, Vat: vat}
				if _, ok := x.At(next); ok && !found[next] && (vat == 0 || ref.Vat == 0 || ref.Vat == vat) {
					found[next] = true
					open = append(open, next)
				}
			}
		}
	}
	return found
}

// bind finds the interlocks and which lines they tie together.
func (w *work) bind(x *standard.Expected) {
	final := make(map[sheet.Ref]sheet.Value, len(w.lines))
	index := make(map[sheet.Ref]int, len(w.lines))
	for i := range w.lines {
		final[w.lines[i].Ref] = w.lines[i].Value
		index[w.lines[i].Ref] = i
	}
	w.ties = make([][]int, len(w.lines))
	for _, b := range x.Interlocks() {
		l := lock{Bound: b, start: b.Judge(w.value)}
		l.final = b.Judge(func(r sheet.Ref) sheet.Value {
			if v, ok := final[r]; ok {
				return v
			}
			return w.values[r]
		})
		var tied []int
		for _, ref := range b.Refs {
			if i, ok := index[ref]; ok {
				tied = append(tied, i)
			}
		}
		l.here = len(tied) > 0
		// One that is broken at the end cannot be kept whole by any order.
		if len(tied) > 1 && l.final != sheet.Broken {
			for _, i := range tied {
				w.ties[i] = append(w.ties[i], len(w.locks))
			}
		}
		w.locks = append(w.locks, l)
	}
}

func (w *work) value(r sheet.Ref) sheet.Value { return w.values[r] }

// ready says whether what the controller asks for before a line is entered.
func (w *work) ready(i int) bool {
	return !w.done[i] && !slices.ContainsFunc(w.before[i], func(j int) bool { return !w.done[j] })
}

// next chooses the line to enter: one that breaks nothing, of the group where the work is, or else the first in the
// controller's order; when nothing of the kind is left, the first that leads to the least harm.
func (w *work) next(group string) int {
	first := -1
	for i := range w.lines {
		here := w.lines[i].Setting.Group == group
		if !here && first >= 0 || !w.parts[i].leads(i, true) {
			continue
		}
		if here {
			return i
		}
		first = i
	}
	if first >= 0 {
		return first
	}
	for i := range w.lines {
		if w.parts[i].leads(i, false) {
			return i
		}
	}
	return w.cheapest()
}

// cheapest gives the line that costs least as things stand, for when the search gave up.
func (w *work) cheapest() int {
	best := -1
	var least price
	for i := range w.lines {
		if !w.ready(i) {
			continue
		}
		if cost := w.parts[i].cost(i); best < 0 || cost.less(least) {
			best, least = i, cost
		}
	}
	return best
}

// enter enters a line.
func (w *work) enter(i int) Line {
	line := Line{Finding: w.lines[i]}
	w.first(i, &line)
	before := make([]sheet.Outcome, len(w.locks))
	for n := range w.locks {
		before[n] = w.locks[n].Judge(w.value)
	}
	w.parts[i].pay(i)
	w.set(i, true)
	for n := range w.locks {
		l := &w.locks[n]
		if before[n] != sheet.Broken && l.Judge(w.value) == sheet.Broken {
			line.Breaks = append(line.Breaks, sheet.Breach{Interlock: l.Interlock, Vat: l.Vat})
			l.blocks = l.blocks || l.start != sheet.Broken
		}
	}
	return line
}

// set enters a line, or takes it back.
func (w *work) set(i int, done bool) {
	w.done[i] = done
	f := &w.lines[i]
	if done {
		w.values[f.Ref] = f.Value
	} else {
		w.values[f.Ref] = f.Read
	}
}

// first finds which of the lines entered so far had to come before a line: by After, or because an interlock would
// otherwise be broken now.
func (w *work) first(i int, line *Line) {
	least := w.levels(i)
	for j := range w.lines {
		if !w.done[j] {
			continue
		}
		asked := slices.Contains(w.before[i], j)
		if n := w.gate(i, j, least); n >= 0 {
			asked = true
			if label := w.locks[n].Interlock.Label; !slices.Contains(line.Because, label) {
				line.Because = append(line.Because, label)
			}
		}
		if asked {
			line.First = append(line.First, w.lines[j].Ref)
		}
	}
}

// gate gives a lock that would stand worse, had line j not been entered before line i; -1 where none would.
func (w *work) gate(i, j int, least []level) int {
	if !slices.ContainsFunc(w.ties[i], func(n int) bool { return slices.Contains(w.ties[j], n) }) {
		return -1
	}
	w.set(j, false)
	defer w.set(j, true)
	was := make([]level, len(w.ties[i]))
	for k, n := range w.ties[i] {
		was[k] = levelOf(w.locks[n].Judge(w.value))
	}
	for k, now := range w.levels(i) {
		if now > was[k] && now > least[k] {
			return w.ties[i][k]
		}
	}
	return -1
}

// levels gives how the locks of a line stand once it is entered.
func (w *work) levels(i int) []level {
	found := make([]level, len(w.ties[i]))
	ref := w.lines[i].Ref
	before := w.values[ref]
	w.values[ref] = w.lines[i].Value
	for k, n := range w.ties[i] {
		found[k] = levelOf(w.locks[n].Judge(w.value))
	}
	w.values[ref] = before
	return found
}

// broken gives what the lines break and no order avoids, and what is still broken at the end.
func (w *work) broken() (blocked []string, left []sheet.Breach) {
	for i := range w.locks {
		l := &w.locks[i]
		if l.final == sheet.Broken {
			left = append(left, sheet.Breach{Interlock: l.Interlock, Vat: l.Vat})
			l.blocks = l.blocks || l.here
		}
		if l.blocks && !slices.Contains(blocked, l.Interlock.Label) {
			blocked = append(blocked, l.Interlock.Label)
		}
	}
	return blocked, left
}
