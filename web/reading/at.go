package reading

import (
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// atView is what the page of one setting shows.
type atView struct {
	Frame    ui.Frame
	Fryer    state.Fryer
	Snapshot snapshot.Snapshot
	Finding  *drift.Finding
	Label    string
	Vat      string
	Pos      int       // in the controller's order, from 1
	Place    int       // among the settings that are asked for one after another, from 1
	Total    int       // of them
	Back     int       // the position before; 0: none
	From     string    // where the expected value comes from
	Was      weighView // what was saved a moment ago
	Reading  snapshot.Reading
	Has      bool   // this setting has a reading already
	Typed    string // as it stands in the field
	Other    string // typed for a choice that the sheet does not list
	Err      error
	// An entry id for each of the forms.
	EntryExpected, EntryTyped, EntrySkip uuid.UUID
}

// typedError gives what is wrong with what was typed; empty where the complaint is about something else.
func (v *atView) typedError() string {
	if fault.KindOf(v.Err) == fault.Invalid {
		return fault.MessageOf(v.Err)
	}
	return ""
}

// long says whether what is expected is words too long for the largest letters.
func (v *atView) long() bool {
	const fits = 12
	return utf8.RuneCountInString(v.Finding.Setting.Show(v.Finding.Value)) > fits
}

// field is the field that takes what the controller shows.
func (v *atView) field() ui.Field {
	s := v.Finding.Setting
	f := ui.Field{Name: "typed", Label: "What does it read?", Value: v.Typed, Error: v.typedError(), Unit: s.Unit, Big: true, MaxLength: 200}
	if s.Kind == sheet.Number {
		f.InputMode = "decimal"
		f.Sign = s.Min == nil || *s.Min < 0
		f.Hint = rangeHint(s)
	}
	if v.Finding.Value.Known() {
		f.Label = "Or: what does it read?"
	}
	return f
}

func rangeHint(s *sheet.Setting) string {
	if span := s.Range(); span != "" {
		return strings.ToUpper(span[:1]) + span[1:] + "."
	}
	return ""
}

// options are the choices of the setting, and the place of what was recorded before.
func (v *atView) options() []ui.Option {
	var list []ui.Option
	for _, o := range v.Finding.Setting.Options {
		list = append(list, ui.Option{Value: o.Key, Label: o.Label, Selected: v.Typed == o.Key || v.Typed == o.Label})
	}
	return list
}

// ShowAt shows one setting to be read.
func (p *Pages) ShowAt(w http.ResponseWriter, r *http.Request) error {
	res, o, err := p.loadOpen(r)
	if err != nil {
		return err
	}
	if !res.Snapshot.Open() {
		return form.See(w, r, path.ReadingResult(res.Snapshot.ID), "")
	}
	pos, err := position(r, res.Result.Findings)
	if err != nil {
		return err
	}
	v := p.at(r, &res, o, pos)
	return form.Show(w, r, http.StatusOK, atPage(v))
}

// Next leads to the setting that is to be read next, or to the overview where every one was gone through.
func (p *Pages) Next(w http.ResponseWriter, r *http.Request) error {
	res, o, err := p.loadOpen(r)
	if err != nil {
		return err
	}
	next := 0
	if res.Snapshot.Open() {
		next = o.next(&res, 0)
	}
	if next == 0 {
		return form.See(w, r, path.Reading(res.Snapshot.ID), "")
	}
	return form.See(w, r, path.ReadingAt(res.Snapshot.ID, next), "")
}

// position reads the position of the address, from 1.
func position(r *http.Request, findings []drift.Finding) (int, error) {
	pos, err := strconv.Atoi(chi.URLParam(r, "pos"))
	if err != nil || pos < 1 || pos > len(findings) {
		return 0, fault.New(fault.NotFound, "The controller has no setting at this place. Go back to the reading and choose one.")
	}
	return pos, nil
}

func (p *Pages) at(r *http.Request, res *state.ReadingResult, o order, pos int) atView {
	f := &res.Result.Findings[pos-1]
	a := res.Expected.Appliance
	v := atView{
		Fryer: res.Fryer, Snapshot: res.Snapshot, Finding: f, Label: f.Setting.Label, Vat: sheet.VatName(a, f.Ref.Vat),
		Pos: pos, Back: o.back(pos),
		EntryExpected: p.NewID(), EntryTyped: p.NewID(), EntrySkip: p.NewID(),
	}
	v.Frame = ui.FrameFor(r, ui.PlaceIn(res.Expected, f.Place), "fryers")
	v.Place, v.Total = o.count(res, pos)
	if step, ok := f.From(); ok {
		v.From = step.Level.Word()
		if step.Level != standard.OfFactory {
			v.From += ", " + step.Name
		}
	}
	if v.Reading, v.Has = res.Snapshot.Readings[f.Ref]; v.Has {
		v.Typed, v.Other = typedText(f.Setting, v.Reading)
	}
	v.Was = saved(r, res)
	return v
}

// typedText gives a reading as its field shows it again; other is for the field beside the choices of the sheet.
func typedText(s *sheet.Setting, r snapshot.Reading) (typed, other string) {
	typed = string(r.Value)
	if r.Typed != "" {
		typed = r.Typed
	}
	if s.Kind == sheet.Choice && s.Check(r.Value) != nil {
		return "", typed
	}
	return typed, ""
}

// saved gives the outcome of the setting that was saved a moment ago, which the address names.
func saved(r *http.Request, res *state.ReadingResult) weighView {
	ref, ok := sheet.ParseRef(r.URL.Query().Get("after"))
	if !ok {
		return weighView{}
	}
	i := res.Expected.Position(ref)
	if _, has := res.Snapshot.Readings[ref]; i < 0 || !has {
		return weighView{}
	}
	f := &res.Result.Findings[i]
	return weighView{Finding: f, Text: outcome(res.Expected, f), Broken: broken(&res.Result, ref)}
}

// SaveAt records what one setting reads.
func (p *Pages) SaveAt(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	res, o, err := p.loadOpen(r)
	if err != nil {
		return err
	}
	pos, err := answered(r, &res)
	if err != nil {
		return err
	}
	read, err := readingOf(r, &res.Result.Findings[pos-1])
	if err == nil {
		_, err = p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: res.Snapshot.ID, Body: snapshot.Read{Readings: []snapshot.Reading{read}}})
	}
	if shown(err) {
		v := p.at(r, &res, o, pos)
		v.Err, v.Typed, v.Other = err, form.Text(r, "typed"), form.Text(r, "other")
		return form.Write(w, r, atPage(v), err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, following(&res, o, pos), "")
}

// answered gives the position that the form speaks of. The form names its setting: should the sheet have changed since
// it was shown, the value still goes where it belongs.
func answered(r *http.Request, res *state.ReadingResult) (int, error) {
	if ref, ok := sheet.ParseRef(form.Text(r, "ref")); ok {
		if i := res.Expected.Position(ref); i >= 0 {
			return i + 1, nil
		}
		return 0, fault.New(fault.Conflict, "The settings sheet was changed meanwhile, and this setting is no longer on it. Go back to the reading and go on there.")
	}
	return position(r, res.Result.Findings)
}

// readingOf gives the reading that the form sent: as expected, not readable, or what was typed.
func readingOf(r *http.Request, f *drift.Finding) (snapshot.Reading, error) {
	read := snapshot.Reading{Ref: f.Ref}
	switch {
	case form.Text(r, "skip") != "":
		read.Skipped = true
		return read, nil
	case form.Text(r, "as_expected") != "":
		// What was on the screen counts, not what the standard says by now.
		read.Value, read.AsExpected = sheet.Value(form.Text(r, "expected")), true
		if !read.Value.Known() || read.Value != f.Value {
			return read, fault.New(fault.Conflict, "What is expected here was changed meanwhile: look again.")
		}
		return read, nil
	}
	typed := form.Text(r, "typed")
	if f.Setting.Kind == sheet.Choice && typed == "" {
		typed = form.Text(r, "other")
	}
	value, err := f.Setting.ParseLoose(typed)
	if err != nil {
		return read, err
	}
	read.Value = value
	if typed != string(value) {
		read.Typed = typed
	}
	return read, nil
}

// here is the place on the page where the next setting begins: from there on, all of it fits a phone's screen.
const here = "here"

// following gives where to go after a setting was saved: the next one to read, else the overview.
func following(res *state.ReadingResult, o order, pos int) string {
	if next := o.next(res, pos); next > 0 {
		return path.ReadingAt(res.Snapshot.ID, next) + after(refAt(res, pos)) + "#" + here
	}
	return path.Reading(res.Snapshot.ID) + after(refAt(res, pos))
}
