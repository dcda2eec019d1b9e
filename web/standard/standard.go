// Package standard is the pages of the house standards: the list, the editor of one layer, the preview of what a change
// would do before it is saved, and the history of versions. It must not know how a standard is laid or stored.
package standard

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	Layers(ctx context.Context) ([]state.LayerSummary, error)
	Layer(ctx context.Context, level standard.Level, of, sheetID uuid.UUID) (standard.Layer, uuid.UUID, error)
	Beneath(ctx context.Context, level standard.Level, of, sheetID uuid.UUID) ([]standard.Layer, error)
	LayerHistory(ctx context.Context, level standard.Level, of, sheetID uuid.UUID) ([]state.LayerChange, error)
	PreviewStandard(ctx context.Context, b standard.Changed) (state.Preview, error)
	Sheet(ctx context.Context, id uuid.UUID) (*sheet.Sheet, uuid.UUID, error)
	Sheets(ctx context.Context) ([]*sheet.Sheet, error)
	Customers(ctx context.Context) ([]fleet.Customer, error)
	Models(ctx context.Context) ([]fleet.Model, error)
}

// Pages are the pages of the standards.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const one = "/standards/{level}/{of}/{sheet}"
	return []form.Route{
		{Method: "GET", Pattern: "/standards", Handler: p.List, Action: access.SetStandard, Site: form.NoSite},
		{Method: "GET", Pattern: "/standards/new", Handler: p.Choose, Action: access.SetStandard, Site: form.NoSite},
		{Method: "GET", Pattern: one, Handler: p.Edit, Action: access.SetStandard, Site: form.NoSite},
		{Method: "POST", Pattern: one, Handler: p.Save, Action: access.SetStandard, Site: form.NoSite},
		{Method: "GET", Pattern: one + "/history", Handler: p.History, Action: access.SetStandard, Site: form.NoSite},
	}
}

// listView is what the list shows.
type listView struct {
	Frame     ui.Frame
	Layers    []state.LayerSummary
	Sheets    []*sheet.Sheet
	Customers []fleet.Customer
	Models    []fleet.Model
}

// shortDay is a day where the hour does not matter.
const shortDay = "2 Jan 2006"

// openUpTo is how many standards of one level are listed without being folded away.
const openUpTo = 20

// levelGroup is the standards of one level.
type levelGroup struct {
	Title  string
	Layers []state.LayerSummary
}

// cut says whether the group is only those that were changed last.
func (g *levelGroup) cut() bool {
	level := g.Layers[0].Level
	return len(g.Layers) >= state.LayersListed && (level == standard.OfSite || level == standard.OfFryer)
}

// levels lays the standards out by level.
func (v *listView) levels() []levelGroup {
	titles := map[standard.Level]string{
		standard.OfCustomer: "Of restaurant companies", standard.OfModel: "Of fryer models", standard.OfSite: "Of single restaurants", standard.OfFryer: "Of single fryers",
	}
	var list []levelGroup
	for _, l := range v.Layers {
		if n := len(list); n == 0 || list[n-1].Layers[0].Level != l.Level {
			list = append(list, levelGroup{Title: titles[l.Level]})
		}
		last := &list[len(list)-1]
		last.Layers = append(last.Layers, l)
	}
	return list
}

// List shows every standard and the way to begin one.
func (p *Pages) List(w http.ResponseWriter, r *http.Request) error {
	v := listView{Frame: ui.FrameFor(r, "House standards", "standards")}
	var err error
	if v.Layers, err = p.Store.Layers(r.Context()); err != nil {
		return err
	}
	if v.Sheets, err = p.Store.Sheets(r.Context()); err != nil {
		return err
	}
	if v.Customers, err = p.Store.Customers(r.Context()); err != nil {
		return err
	}
	if v.Models, err = p.Store.Models(r.Context()); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, listPage(v))
}

// Choose sends on to the editor of the chosen owner and sheet: a form of the list leads here.
func (p *Pages) Choose(w http.ResponseWriter, r *http.Request) error {
	q := r.URL.Query()
	level, of, _ := strings.Cut(q.Get("of"), ":")
	owner, errOwner := uuid.Parse(of)
	sheetID, errSheet := uuid.Parse(q.Get("sheet"))
	if errOwner != nil || errSheet != nil {
		return form.See(w, r, path.Standards(), "")
	}
	return form.See(w, r, path.Standard(level, owner, sheetID), "")
}

// subject is the layer that an address names.
type subject struct {
	Level standard.Level
	Of    uuid.UUID
	Sheet uuid.UUID
}

func subjectOf(r *http.Request) (s subject, err error) {
	s.Level = standard.Level(chi.URLParam(r, "level"))
	if !slices.Contains(standard.Levels()[1:], s.Level) {
		return s, fault.New(fault.NotFound, "There is nothing at this address.")
	}
	if s.Of, err = form.ID(r, "of"); err != nil {
		return s, err
	}
	s.Sheet, err = form.ID(r, "sheet")
	return s, err
}

func (s subject) path() string { return path.Standard(string(s.Level), s.Of, s.Sheet) }

// row is one field of the editor: a setting for every vat, or for one.
type row struct {
	Ref     sheet.Ref
	Setting *sheet.Setting
	Vat     string // empty: every vat, or the whole controller
	Value   string // as typed, or as it stands in this layer
	Beneath string // what holds where this layer says nothing, as shown
	From    string // where that comes from
	Set     standard.Set
	Said    string // who set it, when and why; the why only where it is another than before it
	Error   string
}

// group is the fields of one group of the sheet.
type group struct {
	Name string
	Rows []row
	Own  int // how many this layer sets
}

// apart gives the fields of the single vats that follow the one of every vat at i.
func (g *group) apart(i int) []row {
	end := i + 1
	for end < len(g.Rows) && g.Rows[end].Ref.Vat > 0 {
		end++
	}
	return g.Rows[i+1 : end]
}

// said puts into words who set each value of the group.
func (g *group) said() {
	var before standard.Set
	for i := range g.Rows {
		r := &g.Rows[i]
		if r.Set.By == "" {
			continue
		}
		r.Said = "Set by " + r.Set.By + ", " + r.Set.At.UTC().Format(shortDay)
		if r.Set.Why != "" && (r.Set.Why != before.Why || !r.Set.At.Equal(before.At)) {
			r.Said += ": " + r.Set.Why
		}
		before = r.Set
	}
}

// editView is what the editor shows.
type editView struct {
	Frame   ui.Frame
	Subject subject
	Layer   standard.Layer
	Sheet   *sheet.Sheet
	Base    uuid.UUID
	Entry   uuid.UUID
	Groups  []group
	Why     string
	WhyErr  string
	Err     error
}

// load reads what the editor and the preview both need.
func (p *Pages) load(r *http.Request) (v editView, err error) {
	if v.Subject, err = subjectOf(r); err != nil {
		return v, err
	}
	s := v.Subject
	if v.Sheet, _, err = p.Store.Sheet(r.Context(), s.Sheet); err != nil {
		return v, err
	}
	if v.Layer, v.Base, err = p.Store.Layer(r.Context(), s.Level, s.Of, s.Sheet); err != nil {
		return v, err
	}
	beneath, err := p.Store.Beneath(r.Context(), s.Level, s.Of, s.Sheet)
	if err != nil {
		return v, err
	}
	v.Entry = p.NewID()
	v.Frame = ui.FrameFor(r, v.Layer.Name+": "+s.Level.Word(), "standards")
	v.Frame.Wide = true
	v.Groups = groups(v.Sheet, v.Layer, beneath)
	return v, nil
}

// groups lays out the fields of the editor in the sheet's order.
func groups(sh *sheet.Sheet, layer standard.Layer, beneath []standard.Layer) []group {
	own := map[sheet.Ref]standard.Set{}
	for _, set := range layer.Sets {
		own[set.Ref] = set
	}
	var list []group
	for _, name := range sh.Groups() {
		g := group{Name: name}
		for i := range sh.Settings {
			if sh.Settings[i].Group == name {
				g.Rows = append(g.Rows, rows(&sh.Settings[i], own, beneath)...)
			}
		}
		for _, r := range g.Rows {
			if r.Value != "" {
				g.Own++
			}
		}
		g.said()
		list = append(list, g)
	}
	return list
}

// vats are the fields of a per-vat setting.
var vats = []string{"every vat", "left vat only", "right vat only"}

func rows(set *sheet.Setting, own map[sheet.Ref]standard.Set, beneath []standard.Layer) []row {
	count := 1
	if set.Scope == sheet.PerVat {
		count = len(vats)
	}
	list := make([]row, count)
	for vat := range list {
		ref := sheet.Ref{Key: set.Key, Vat: vat}
		r := row{Ref: ref, Setting: set, Set: own[ref]}
		if count > 1 {
			r.Vat = vats[vat]
		}
		r.Value = string(own[ref].Value)
		r.Beneath, r.From = under(set, ref, beneath)
		list[vat] = r
	}
	return list
}

// under says what holds where this layer says nothing.
func under(set *sheet.Setting, ref sheet.Ref, beneath []standard.Layer) (value, from string) {
	value, from = set.Show(set.Factory), "factory"
	for _, l := range beneath {
		for _, s := range l.Sets {
			if s.Ref == ref || (s.Ref.Key == ref.Key && s.Ref.Vat == 0) {
				value, from = set.Show(s.Value), l.Name
			}
		}
	}
	return value, from
}

// Edit shows the editor of one layer.
func (p *Pages) Edit(w http.ResponseWriter, r *http.Request) error {
	v, err := p.load(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, editPage(v))
}

// previewView is what the preview shows.
type previewView struct {
	Edit    editView
	Change  standard.Changed
	Lines   []changeLine
	Preview state.Preview
}

// changeLine is one value of the change in words.
type changeLine struct {
	Label  string
	Before string
	After  string
}

// Save shows what the change would do, or saves it once that was seen.
func (p *Pages) Save(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.load(r)
	if err != nil {
		return err
	}
	// What was seen counts, until a conflict has shown what stands now.
	now := v.Base
	v.Base = form.UUID(r, "base")
	change, lines, err := v.read(r)
	if err == nil {
		err = change.Validate()
	}
	var preview state.Preview
	if err == nil {
		preview, err = p.Store.PreviewStandard(r.Context(), change)
	}
	if r.Form.Get("step") == "edit" {
		return form.Show(w, r, http.StatusOK, editPage(v))
	}
	if err == nil && r.Form.Get("step") == "save" {
		_, err = p.Store.Record(r.Context(), journal.Draft{
			ID: form.EntryID(r), Subject: standard.LayerID(change.Level, change.Of, change.Sheet), Base: form.UUID(r, "base"), Body: change,
		})
		if err == nil {
			return form.See(w, r, v.Subject.path(), "standard-saved")
		}
	}
	kind := fault.KindOf(err)
	if err != nil && kind != fault.Invalid && kind != fault.Conflict && kind != fault.Unavailable {
		return err
	}
	if err != nil {
		if kind == fault.Conflict {
			v.Base = now
		}
		v.complain(err)
		return form.Write(w, r, editPage(v), err)
	}
	return form.Show(w, r, http.StatusOK, previewPage(previewView{Edit: v, Change: change, Lines: lines, Preview: preview}))
}

// read takes what was typed into the view and gives the change against what stands.
func (v *editView) read(r *http.Request) (standard.Changed, []changeLine, error) {
	c := standard.Changed{Level: v.Subject.Level, Of: v.Subject.Of, Sheet: v.Subject.Sheet, Why: form.Text(r, "why")}
	v.Why = c.Why
	var f fault.Fields
	var lines []changeLine
	for g := range v.Groups {
		for i := range v.Groups[g].Rows {
			row := &v.Groups[g].Rows[i]
			had := row.Set.Value
			name := "v." + row.Ref.String()
			if !r.Form.Has(name) {
				continue
			}
			row.Value = form.Text(r, name)
			if row.Value == "" {
				if had.Known() {
					c.Clear = append(c.Clear, row.Ref)
					lines = append(lines, row.line(had, ""))
				}
				continue
			}
			value, err := row.Setting.Parse(row.Value)
			if err != nil {
				f.Add(name, "%s", fault.MessageOf(err))
				continue
			}
			if value != had {
				c.Set = append(c.Set, standard.Value{Ref: row.Ref, Value: value})
				lines = append(lines, row.line(had, value))
			}
		}
	}
	return c, lines, f.Err()
}

func (r *row) line(before, after sheet.Value) changeLine {
	l := changeLine{Label: r.Setting.Label, Before: "nothing of its own", After: "nothing of its own: " + r.Beneath + " from " + r.From}
	if r.Vat != "" {
		l.Label += ", " + r.Vat
	}
	if before.Known() {
		l.Before = r.Setting.Show(before)
	}
	if after.Known() {
		l.After = r.Setting.Show(after)
	}
	return l
}

// complain puts the complaints of an error beside their fields.
func (v *editView) complain(err error) {
	v.Err = err
	for _, f := range fault.FieldsOf(err) {
		if f.Name == "why" {
			v.WhyErr = f.Message
		}
		for g := range v.Groups {
			for i := range v.Groups[g].Rows {
				row := &v.Groups[g].Rows[i]
				if text := row.Ref.String(); f.Name == "v."+text || f.Name == text {
					row.Error = f.Message
				}
			}
		}
	}
}

// historyView is what the history shows.
type historyView struct {
	Frame   ui.Frame
	Subject subject
	Layer   standard.Layer
	Changes []historyChange
}

type historyChange struct {
	state.LayerChange
	Lines []changeLine
}

// History shows every version of a standard.
func (p *Pages) History(w http.ResponseWriter, r *http.Request) error {
	v, err := p.load(r)
	if err != nil {
		return err
	}
	changes, err := p.Store.LayerHistory(r.Context(), v.Subject.Level, v.Subject.Of, v.Subject.Sheet)
	if err != nil {
		return err
	}
	h := historyView{Frame: ui.FrameFor(r, "History of the "+v.Subject.Level.Word(), "standards"), Subject: v.Subject, Layer: v.Layer}
	for _, c := range changes {
		h.Changes = append(h.Changes, historyChange{c, historyLines(v.Sheet, c.Change)})
	}
	return form.Show(w, r, http.StatusOK, historyPage(h))
}

func historyLines(sh *sheet.Sheet, c standard.Changed) []changeLine {
	var lines []changeLine
	for _, v := range c.Set {
		lines = append(lines, changeLine{Label: labelOf(sh, v.Ref), After: showIn(sh, v.Ref, v.Value)})
	}
	for _, ref := range c.Clear {
		lines = append(lines, changeLine{Label: labelOf(sh, ref), After: "cleared"})
	}
	return lines
}

func labelOf(sh *sheet.Sheet, ref sheet.Ref) string {
	set, ok := sh.Setting(ref.Key)
	if !ok {
		return ref.Key + " (no longer on the sheet)"
	}
	if set.Scope == sheet.PerVat {
		return set.Label + ", " + vats[ref.Vat]
	}
	return set.Label
}

func showIn(sh *sheet.Sheet, ref sheet.Ref, v sheet.Value) string {
	if set, ok := sh.Setting(ref.Key); ok {
		return set.Show(v)
	}
	return string(v)
}
