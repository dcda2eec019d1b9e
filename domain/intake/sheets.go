package intake

import (
	"slices"
	"strings"

	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
)

// takeSheets judges sheets and interlocks together: a sheet is written whole or not at all.
func (p *planner) takeSheets(settings, interlocks []*line) {
	g := grouping{byCode: map[string]*sheetRows{}, strays: map[*Table]place{}}
	for _, l := range settings {
		if rows := g.of(l); rows != nil {
			rows.settings = append(rows.settings, l)
		}
	}
	for _, l := range interlocks {
		if rows := g.of(l); rows != nil {
			rows.interlocks = append(rows.interlocks, l)
		}
	}
	for _, rows := range g.list {
		p.takeSheet(rows)
	}
}

// sheetRows are the rows of one settings sheet.
type sheetRows struct {
	code       string
	settings   []*line
	interlocks []*line
	byKey      map[string]*line // "setting.KEY" and "interlock.KEY", as the sheet's own complaints name them
	stray      place            // a row that cannot be told to belong to another sheet
}

func (r *sheetRows) all() []*line { return slices.Concat(r.settings, r.interlocks) }

// grouping sorts rows by their sheet.
type grouping struct {
	list   []*sheetRows
	byCode map[string]*sheetRows
	strays map[*Table]place
}

// of gives the rows to which the row belongs; nil for a stray. A stray could belong to any sheet of its file, and a
// sheet without it would lose a setting, so that none of the file's sheets is written.
func (g *grouping) of(l *line) *sheetRows {
	code := l.text("sheet")
	if code == "" {
		l.out.What = "a row that cannot be read"
		if l.rec.Cells != nil {
			l.out.What = "a row of no sheet"
			l.bad("sheet", "Name the settings sheet.")
		}
		l.out.Outcome = Wrong
		if _, ok := g.strays[l.table.Table]; !ok {
			g.strays[l.table.Table] = l.place()
			g.spoil(l.table.Table, l.place())
		}
		return nil
	}
	rows, ok := g.byCode[fold(code)]
	if !ok {
		rows = &sheetRows{code: code, byKey: map[string]*line{}}
		g.byCode[fold(code)] = rows
		g.list = append(g.list, rows)
	}
	if stray, ok := g.strays[l.table.Table]; ok && rows.stray == (place{}) {
		rows.stray = stray
	}
	return rows
}

// spoil marks the sheets that earlier rows of the file belong to.
func (g *grouping) spoil(t *Table, stray place) {
	for _, rows := range g.list {
		if slices.ContainsFunc(rows.all(), func(l *line) bool { return l.table.Table == t }) {
			rows.stray = stray
		}
	}
}

// takeSheet judges all rows of one sheet and writes it if every one is right.
func (p *planner) takeSheet(rows *sheetRows) {
	t := p.sheets.get(rows.code)
	if t == nil && len(rows.settings) == 0 {
		for _, l := range rows.interlocks {
			l.out.What = "interlock " + l.text("key") + " of sheet " + rows.code
			l.bad("sheet", "There is no settings sheet %s, neither here nor in these files.", clip(rows.code))
			l.out.Outcome = Wrong
		}
		return
	}
	if t == nil {
		t = &thing[sheet.Sheet]{value: sheet.Sheet{ID: p.newID(), Code: rows.code}}
		p.sheets.made[fold(rows.code)] = t
	}
	next := t.value
	rows.readSettings(&next, &t.value)
	rows.readInterlocks(&next, &t.value)
	rows.blame(next.Validate())
	p.byID[next.ID] = next.Code
	if rows.hold(t) {
		return
	}
	changed := rows.settle(t, &next)
	t.value = next
	if changed {
		p.draft(journal.Draft{Subject: next.ID, Base: t.version, Body: sheet.Saved{Sheet: next, Why: importWhy}})
	}
}

// readSettings makes the settings of a sheet anew from its rows.
func (r *sheetRows) readSettings(next, before *sheet.Sheet) {
	if len(r.settings) == 0 {
		return
	}
	r.readName(next)
	known := indexBy(before.Settings, func(s *sheet.Setting) string { return s.Key })
	next.Settings = make([]sheet.Setting, 0, len(r.settings))
	for _, l := range r.settings {
		key := fold(l.text("key"))
		l.out.What = "setting " + key + " of sheet " + next.Code
		if !r.claim(l, "setting", key) {
			continue
		}
		set := sheet.Setting{Key: key, Scope: sheet.PerController, Class: sheet.Minor}
		if old := known[key]; old != nil {
			set = *old
		}
		take(l, settingFields, &set)
		next.Settings = append(next.Settings, set)
	}
}

// readName takes the sheet's name from the first row that gives one.
func (r *sheetRows) readName(next *sheet.Sheet) {
	var from *line
	for _, l := range r.settings {
		name := l.text("sheet_name")
		switch {
		case name == "":
		case from == nil:
			from, next.Name = l, name
		case name != next.Name:
			l.bad("sheet_name", "The sheet is named “%s” in %s.", clip(next.Name), from.place().in(l.table.File))
		}
	}
}

// readInterlocks makes the interlocks of a sheet anew, if any row speaks of them.
func (r *sheetRows) readInterlocks(next, before *sheet.Sheet) {
	if len(r.interlocks) == 0 {
		return
	}
	known := indexBy(before.Interlocks, func(i *sheet.Interlock) string { return i.Key })
	settings := indexBy(next.Settings, func(s *sheet.Setting) string { return s.Key })
	find := func(key string) (*sheet.Setting, bool) { set := settings[key]; return set, set != nil }
	next.Interlocks = make([]sheet.Interlock, 0, len(r.interlocks))
	for _, l := range r.interlocks {
		key := fold(l.text("key"))
		l.out.What = "interlock " + key + " of sheet " + next.Code
		if !r.claim(l, "interlock", key) {
			continue
		}
		lock := sheet.Interlock{Key: key}
		if old := known[key]; old != nil {
			lock = *old
		}
		take(l, interlockFields, &lock)
		lock.When, lock.Must = canonical(find, lock.When), canonical(find, lock.Must)
		next.Interlocks = append(next.Interlocks, lock)
	}
}

// claim keeps a key for a row, or complains that another row has it.
func (r *sheetRows) claim(l *line, noun, key string) bool {
	name := noun + "." + key
	if first, twice := r.byKey[name]; twice {
		l.bad("key", "The %s %s is there twice: first in %s.", noun, key, first.place().in(l.table.File))
		return false
	}
	r.byKey[name] = l
	return true
}

func indexBy[T any](list []T, key func(*T) string) map[string]*T {
	m := make(map[string]*T, len(list))
	for i := range list {
		m[key(&list[i])] = &list[i]
	}
	return m
}

// blame brings the complaints of the sheet itself to the rows that they are about.
func (r *sheetRows) blame(err error) {
	first := r.all()[0]
	for _, f := range fault.FieldsOf(err) {
		switch i := strings.LastIndex(f.Name, "."); {
		case f.Name == "code":
			first.bad("sheet", "%s", f.Message)
		case f.Name == "name":
			first.bad("sheet_name", "%s", f.Message)
		case i < 0:
			first.bad("", "%s", f.Message)
		case r.byKey[f.Name[:i]] != nil:
			r.byKey[f.Name[:i]].bad(f.Name[i+1:], "%s", f.Message)
		default: // a part of the sheet that no row speaks of, such as an interlock over a setting that goes
			first.bad("", "%s: %s", strings.Replace(f.Name[:i], ".", " ", 1), f.Message)
		}
	}
}

// hold says whether a row is wrong, so that the sheet is not written. The right rows then say so.
func (r *sheetRows) hold(t *thing[sheet.Sheet]) bool {
	wrong := r.stray
	for _, l := range r.all() {
		if l.wrong() && wrong == (place{}) {
			wrong = l.place()
		}
	}
	if wrong == (place{}) {
		return false
	}
	t.wrong = wrong
	for _, l := range r.all() {
		if l.out.Outcome = Wrong; !l.wrong() {
			l.out.Outcome = Held
			l.note("Its sheet is not written: %s is wrong.", wrong.in(l.table.File))
		}
	}
	return true
}

// settle says what becomes of every row, and gives whether the sheet changes.
func (r *sheetRows) settle(t *thing[sheet.Sheet], next *sheet.Sheet) bool {
	before := &t.value
	changed := settleParts(r, "setting", r.settings, t.known, settingFields, before.Settings, next.Settings, func(s *sheet.Setting) string { return s.Key })
	if settleParts(r, "interlock", r.interlocks, t.known, interlockFields, before.Interlocks, next.Interlocks, func(i *sheet.Interlock) string { return i.Key }) {
		changed = true
	}
	if t.known && before.Name != next.Name {
		r.settings[0].alsoChanges(changeText("sheet_name", before.Name, next.Name))
		changed = true
	}
	return changed || !t.known
}

// alsoChanges notes what a row changes besides its own setting.
func (l *line) alsoChanges(changes ...string) {
	l.change(changes...)
	if l.out.Outcome == Same {
		l.out.Outcome = Changed
	}
}

// settleParts settles the rows of the settings, or of the interlocks; what goes or changes places is said at the first.
func settleParts[T any](r *sheetRows, noun string, rows []*line, known bool, fields []field[T], before, after []T, key func(*T) string) bool {
	if len(rows) == 0 {
		return false
	}
	old, now := indexBy(before, key), indexBy(after, key)
	changed := false
	for i := range after {
		l, was := r.byKey[noun+"."+key(&after[i])], old[key(&after[i])]
		if was == nil {
			was = new(T)
		}
		if l.settle(old[key(&after[i])] == nil, differences(fields, was, &after[i])) {
			changed = true
		}
	}
	var stay, order []string
	for i := range before {
		k := key(&before[i])
		if now[k] == nil {
			rows[0].alsoChanges("the " + noun + " " + k + " goes")
			changed = true
			continue
		}
		stay = append(stay, k)
	}
	for i := range after {
		if k := key(&after[i]); old[k] != nil {
			order = append(order, k)
		}
	}
	if known && !slices.Equal(stay, order) {
		rows[0].alsoChanges("the order of the " + noun + "s")
		changed = true
	}
	return changed
}
