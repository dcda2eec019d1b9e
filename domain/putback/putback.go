// Package putback makes the put-back list: the settings to re-enter, group by group in the controller's own order, and
// within that by what must be set before what. It must not know who ticks lines off, when, or how they are shown.
package putback

import (
	"fmt"

	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
)

// Line is one setting to re-enter.
type Line struct {
	Finding drift.Finding
	Number  int            // from 1, over the whole list
	Vat     string         // the vat's name; empty where there is but one, or the setting is the whole controller's
	First   []sheet.Ref    // lines of this list that must be entered before it
	Because []string       // interlocks that ask for that, each in one sentence; empty where only the controller's order does
	Breaks  []sheet.Breach // interlocks that are broken from this line on, at least until a later one
	Ticked  bool           // entered already, as somebody noted
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
	Blocked []string        // interlocks that its lines break and no order avoids, each in one sentence
	Left    []sheet.Breach  // interlocks that are still broken once everything is put back
	Total   int
	Done    int
}

// Make makes the list of what drifted: not of what stands accepted or is not known. It goes through the groups in the
// controller's order and stays in a group while something in it can be entered. At no step is an interlock broken that
// was whole before and is whole at the end, where any order avoids that; where none does, the least is broken, by
// consequence class, and Blocked says what. It is deterministic.
func Make(x *standard.Expected, r drift.Result) List {
	w, notHere := newWork(x, r)
	list := List{Total: len(w.lines), NotHere: notHere}
	seen := map[string]bool{}
	group := ""
	for n := range w.lines {
		i := w.next(group)
		line := w.enter(i)
		line.Number, line.Vat = n+1, sheet.VatName(x.Appliance, line.Finding.Ref.Vat)
		if group = line.Finding.Setting.Group; n == 0 || group != list.Groups[len(list.Groups)-1].Name {
			list.Groups = append(list.Groups, Group{Name: group, Again: seen[group]})
			seen[group] = true
		}
		g := &list.Groups[len(list.Groups)-1]
		g.Lines = append(g.Lines, line)
	}
	list.Blocked, list.Left = w.broken()
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
