package sheet

import (
	"net/http"
	"slices"

	"frywright/domain/fault"
	"frywright/domain/intake"
	"frywright/domain/sheet"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// interlockForm is an interlock as its form holds it: texts as typed.
type interlockForm struct {
	Key, Label, When, Must, Class, Why string
}

type interlockView struct {
	Frame ui.Frame
	Sheet *sheet.Sheet
	Key   string // freshKey for a new one
	Form  interlockForm
	Base  uuid.UUID
	Entry uuid.UUID
	Err   error
	At    map[string]string
}

func (p *Pages) interlockView(r *http.Request) (v interlockView, err error) {
	id, err := form.ID(r, "id")
	if err != nil {
		return v, err
	}
	v.Key, v.Entry = chi.URLParam(r, "key"), p.NewID()
	v.Frame = ui.FrameFor(r, "Interlock", "sheets")
	v.Sheet, v.Base, err = p.Store.Sheet(r.Context(), id)
	return v, err
}

// EditInterlock shows the form of one interlock.
func (p *Pages) EditInterlock(w http.ResponseWriter, r *http.Request) error {
	v, err := p.interlockView(r)
	if err != nil {
		return err
	}
	v.Form.Class = sheet.Minor.String()
	if v.Key != freshKey {
		at := slices.IndexFunc(v.Sheet.Interlocks, func(l sheet.Interlock) bool { return l.Key == v.Key })
		if at < 0 {
			return fault.New(fault.NotFound, "There is no such interlock.")
		}
		l := v.Sheet.Interlocks[at]
		v.Form = interlockForm{l.Key, l.Label, intake.FormatConditions(l.When), intake.FormatConditions(l.Must), l.Class.String(), l.Why}
	}
	return form.Show(w, r, http.StatusOK, interlockPage(v))
}

// SaveInterlock saves an interlock or takes it off the sheet.
func (p *Pages) SaveInterlock(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.interlockView(r)
	if err != nil {
		return err
	}
	sh, err := p.copyOf(r, v.Sheet.ID)
	if err != nil {
		return err
	}
	v.Form = interlockForm{form.Text(r, "key"), form.Text(r, "label"), form.Text(r, "when"), form.Text(r, "must"), form.Text(r, "class"), form.Text(r, "why")}
	v.Base = form.UUID(r, "base")
	var f fault.Fields
	v.change(r, &sh, &f)
	if err = f.Err(); err == nil {
		err = p.record(r, sh, "interlock "+v.Form.Key)
	}
	if shown(err) {
		v.Err, v.At = err, beside(err, "interlock."+v.Form.Key+".")
		return form.Write(w, r, interlockPage(v), err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Sheet(sh.ID), "saved")
}

func (v *interlockView) change(r *http.Request, sh *sheet.Sheet, f *fault.Fields) {
	at := slices.IndexFunc(sh.Interlocks, func(l sheet.Interlock) bool { return l.Key == v.Key })
	if r.Form.Get("do") == "remove" && at >= 0 {
		sh.Interlocks = slices.Delete(sh.Interlocks, at, at+1)
		return
	}
	conditions := func(field, text string) []sheet.Condition {
		list, err := intake.ParseConditions(text)
		if err != nil {
			f.Add(field, "%s", fault.MessageOf(err))
		}
		return intake.Canonical(sh, list)
	}
	l := sheet.Interlock{Key: v.Form.Key, Label: v.Form.Label, When: conditions("when", v.Form.When), Must: conditions("must", v.Form.Must), Why: v.Form.Why}
	l.Class, _ = sheet.ParseClass(v.Form.Class) // the sheet's own check complains about another word
	if at >= 0 {
		sh.Interlocks[at] = l
		return
	}
	sh.Interlocks = append(sh.Interlocks, l)
}
