package sheet

import (
	"cmp"
	"net/http"
	"slices"
	"strings"

	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// settingForm is a setting as its form holds it: texts as typed.
type settingForm struct {
	Key, Label, Group, Kind, Unit, Min, Max, Step, Options, Factory, Scope, Class, Tolerance, After, Note, Role, Menu string
	ReadOnly, Kept, Gas, Electric, Single, Split                                                                      bool
}

type settingView struct {
	Frame ui.Frame
	Sheet *sheet.Sheet
	Key   string // freshKey for a new one
	Form  settingForm
	Base  uuid.UUID
	Entry uuid.UUID
	Why   string
	Err   error
	At    map[string]string
	First bool
	Last  bool
}

// rare says whether one of the fields is used, or wrong, that are folded away because few settings need them.
func (v *settingView) rare() bool {
	f := &v.Form
	return f.After != "" || f.Role != "" || f.Menu != "" || f.Gas || f.Electric || f.Single || f.Split ||
		v.At["after"] != "" || v.At["role"] != "" || v.At["menu"] != ""
}

// EditSetting shows the form of one setting.
func (p *Pages) EditSetting(w http.ResponseWriter, r *http.Request) error {
	v, err := p.settingView(r)
	if err != nil {
		return err
	}
	v.Form = settingForm{Kind: string(sheet.Number), Scope: string(sheet.PerController), Class: sheet.Minor.String(), Group: r.URL.Query().Get("group")}
	if v.Key != freshKey {
		set, ok := v.Sheet.Setting(v.Key)
		if !ok {
			return fault.New(fault.NotFound, "There is no such setting.")
		}
		v.Form = formOf(set)
	}
	return form.Show(w, r, http.StatusOK, settingPage(v))
}

func (p *Pages) settingView(r *http.Request) (v settingView, err error) {
	id, err := form.ID(r, "id")
	if err != nil {
		return v, err
	}
	v.Key, v.Entry = chi.URLParam(r, "key"), p.NewID()
	if v.Sheet, v.Base, err = p.Store.Sheet(r.Context(), id); err != nil {
		return v, err
	}
	at := slices.IndexFunc(v.Sheet.Settings, func(s sheet.Setting) bool { return s.Key == v.Key })
	v.First, v.Last = at <= 0, at < 0 || at == len(v.Sheet.Settings)-1
	v.Frame = ui.FrameFor(r, "New setting", "sheets")
	if at >= 0 {
		v.Frame.Title = v.Sheet.Settings[at].Label
	}
	return v, nil
}

func formOf(s *sheet.Setting) settingForm {
	f := settingForm{
		Key: s.Key, Label: s.Label, Group: s.Group, Kind: string(s.Kind), Unit: s.Unit, Factory: string(s.Factory), Scope: string(s.Scope),
		Class: s.Class.String(), After: strings.Join(s.After, ", "), Note: s.Note, Role: string(s.Role), ReadOnly: s.ReadOnly, Kept: s.Kept,
		Gas: slices.Contains(s.Energies, sheet.Gas), Electric: slices.Contains(s.Energies, sheet.Electric),
		Single: slices.Contains(s.Pots, sheet.SinglePot), Split: slices.Contains(s.Pots, sheet.SplitPot),
	}
	number := func(n float64) string {
		if n == 0 {
			return ""
		}
		return string(sheet.Num(n))
	}
	f.Step, f.Tolerance, f.Menu = number(s.Step), number(s.Tolerance), number(float64(s.Menu))
	if s.Min != nil {
		f.Min = string(sheet.Num(*s.Min))
	}
	if s.Max != nil {
		f.Max = string(sheet.Num(*s.Max))
	}
	lines := make([]string, len(s.Options))
	for i, o := range s.Options {
		lines[i] = o.Key + " = " + o.Label
	}
	f.Options = strings.Join(lines, "\n")
	return f
}

// readForm takes what was typed.
func readForm(r *http.Request) settingForm {
	t := func(name string) string { return form.Text(r, name) }
	on := func(name string) bool { return r.Form.Get(name) != "" }
	return settingForm{
		Key: t("key"), Label: t("label"), Group: t("group"), Kind: t("kind"), Unit: t("unit"), Min: t("min"), Max: t("max"), Step: t("step"),
		Options: t("options"), Factory: t("factory"), Scope: t("scope"), Class: t("class"), Tolerance: t("tolerance"), After: t("after"),
		Note: t("note"), Role: t("role"), Menu: t("menu"), ReadOnly: on("read_only"), Kept: on("kept"), Gas: on("gas"), Electric: on("electric"),
		Single: on("single"), Split: on("split"),
	}
}

// setting makes a setting of the form. Complaints go to f under "setting.KEY.field", as the sheet's own check names them.
func (x settingForm) setting(r *http.Request, f *fault.Fields) sheet.Setting {
	s := sheet.Setting{
		Key: x.Key, Label: x.Label, Group: x.Group, Kind: sheet.Kind(x.Kind), Unit: x.Unit, Scope: sheet.Scope(x.Scope), Note: x.Note,
		Role: sheet.Role(x.Role), ReadOnly: x.ReadOnly, Kept: x.Kept,
		Min: form.OptionalNumber(r, f, "min", "The lowest value"), Max: form.OptionalNumber(r, f, "max", "The highest value"),
		Step: form.Number(r, f, "step", "The step"), Tolerance: form.Number(r, f, "tolerance", "The tolerance"),
		Menu: form.Whole(r, f, "menu", "The menu slot"),
	}
	s.Class, _ = sheet.ParseClass(x.Class) // the sheet's own check complains about another word
	s.After = strings.FieldsFunc(x.After, func(c rune) bool { return c == ',' || c == ' ' || c == '\n' })
	for _, line := range strings.Split(x.Options, "\n") {
		key, label, _ := strings.Cut(line, "=")
		if key = strings.TrimSpace(key); key != "" {
			s.Options = append(s.Options, sheet.Option{Key: key, Label: cmp.Or(strings.TrimSpace(label), key)})
		}
	}
	for energy, on := range map[sheet.Energy]bool{sheet.Gas: x.Gas && !x.Electric, sheet.Electric: x.Electric && !x.Gas} {
		if on {
			s.Energies = []sheet.Energy{energy}
		}
	}
	for pot, on := range map[sheet.Pot]bool{sheet.SinglePot: x.Single && !x.Split, sheet.SplitPot: x.Split && !x.Single} {
		if on {
			s.Pots = []sheet.Pot{pot}
		}
	}
	if x.Factory != "" {
		v, err := s.ParseLoose(x.Factory)
		if err != nil {
			f.Add("factory", "%s", fault.MessageOf(err))
		}
		s.Factory = v
	}
	return s
}

// SaveSetting saves a setting, moves it in the order, or takes it off the sheet.
func (p *Pages) SaveSetting(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.settingView(r)
	if err != nil {
		return err
	}
	sh, err := p.copyOf(r, v.Sheet.ID)
	if err != nil {
		return err
	}
	v.Form, v.Why, v.Base = readForm(r), form.Text(r, "why"), form.UUID(r, "base")
	var f fault.Fields
	key := v.change(r, &sh, &f)
	if err = f.Err(); err == nil {
		err = p.record(r, sh, "setting "+key)
	}
	if shown(err) {
		v.Err, v.At = err, beside(err, "setting."+key+".")
		return form.Write(w, r, settingPage(v), err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Sheet(sh.ID), "saved")
}

// change makes the change that was asked for and gives the key of the setting.
func (v *settingView) change(r *http.Request, sh *sheet.Sheet, f *fault.Fields) string {
	at := slices.IndexFunc(sh.Settings, func(s sheet.Setting) bool { return s.Key == v.Key })
	switch step := r.Form.Get("do"); {
	case step == "remove" && at >= 0:
		sh.Settings = slices.Delete(sh.Settings, at, at+1)
		return v.Key
	case step == "up" && at > 0:
		sh.Settings[at-1], sh.Settings[at] = sh.Settings[at], sh.Settings[at-1]
		return v.Key
	case step == "down" && at >= 0 && at < len(sh.Settings)-1:
		sh.Settings[at+1], sh.Settings[at] = sh.Settings[at], sh.Settings[at+1]
		return v.Key
	}
	set := v.Form.setting(r, f)
	if at >= 0 {
		sh.Settings[at] = set
		return set.Key
	}
	// A new setting goes behind the last one of its group.
	last := len(sh.Settings)
	for i := range sh.Settings {
		if sh.Settings[i].Group == set.Group {
			last = i + 1
		}
	}
	sh.Settings = slices.Insert(sh.Settings, last, set)
	return set.Key
}

// beside gives the complaints by the field's own name, the prefix taken off.
func beside(err error, prefix string) map[string]string {
	at := map[string]string{}
	for _, f := range fault.FieldsOf(err) {
		name := strings.TrimPrefix(f.Name, prefix)
		if at[name] == "" {
			at[name] = f.Message
		}
	}
	return at
}
