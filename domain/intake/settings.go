package intake

import (
	"strings"

	"frywright/domain/fault"
	"frywright/domain/sheet"
)

// settingFields are in the order of the columns. The factory value is read last: it depends on all the others.
var settingFields = []field[sheet.Setting]{
	textField("label", func(s *sheet.Setting) *string { return &s.Label }),
	textField("group", func(s *sheet.Setting) *string { return &s.Group }),
	wordField("kind", "", func(s *sheet.Setting) *sheet.Kind { return &s.Kind }),
	textField("unit", func(s *sheet.Setting) *string { return &s.Unit }),
	optionalField("min", func(s *sheet.Setting) **float64 { return &s.Min }),
	optionalField("max", func(s *sheet.Setting) **float64 { return &s.Max }),
	numberField("step", func(s *sheet.Setting) *float64 { return &s.Step }),
	{"options", optionsText, readOptions},
	wordField("scope", sheet.PerController, func(s *sheet.Setting) *sheet.Scope { return &s.Scope }),
	flagField("read_only", func(s *sheet.Setting) *bool { return &s.ReadOnly }),
	flagField("kept", func(s *sheet.Setting) *bool { return &s.Kept }),
	{"class", func(s *sheet.Setting) string { return s.Class.String() }, func(l *line, s *sheet.Setting) { s.Class = l.class(sheet.Minor) }},
	numberField("tolerance", func(s *sheet.Setting) *float64 { return &s.Tolerance }),
	listField("energies", func(s *sheet.Setting) *[]sheet.Energy { return &s.Energies }),
	listField("pots", func(s *sheet.Setting) *[]sheet.Pot { return &s.Pots }),
	listField("after", func(s *sheet.Setting) *[]string { return &s.After }),
	textField("note", func(s *sheet.Setting) *string { return &s.Note }),
	wordField("role", sheet.RoleNone, func(s *sheet.Setting) *sheet.Role { return &s.Role }),
	wholeField("menu", func(s *sheet.Setting) *int { return &s.Menu }),
	{"factory", func(s *sheet.Setting) string { return string(s.Factory) }, readFactory},
}

// class reads a consequence class; an unknown word gives 0, which the sheet refuses.
func (l *line) class(fallback sheet.Class) sheet.Class {
	cell := fold(l.text("class"))
	if cell == "" {
		return fallback
	}
	c, _ := sheet.ParseClass(cell)
	return c
}

func optionsText(s *sheet.Setting) string {
	parts := make([]string, len(s.Options))
	for i, o := range s.Options {
		parts[i] = escaper.Replace(o.Key) + "=" + escaper.Replace(o.Label)
	}
	return strings.Join(parts, "|")
}

func readOptions(l *line, s *sheet.Setting) {
	s.Options = nil
	for _, part := range splitList(l.text("options")) {
		key, label := part, part
		if i := indexBare(part, '='); i >= 0 {
			key, label = part[:i], part[i+1:]
		}
		o := sheet.Option{Key: unescape(key), Label: unescape(label)}
		if o.Key == "" {
			l.bad("options", "“%s” has no key before the =.", clip(part))
		}
		s.Options = append(s.Options, o)
	}
}

func readFactory(l *line, s *sheet.Setting) {
	s.Factory = ""
	if cell := l.text("factory"); cell != "" {
		s.Factory = l.value("factory", s)
	}
}

// value reads a setting's value from a cell, whether the sheet allows it or not.
func (l *line) value(column string, set *sheet.Setting) sheet.Value {
	cell := l.text(column)
	if set.Kind == sheet.Number && l.unclear(column, cell) {
		return ""
	}
	v, err := set.ParseLoose(cell)
	if err != nil {
		l.bad(column, "%s", fault.MessageOf(err))
	}
	return v
}

var interlockFields = []field[sheet.Interlock]{
	textField("label", func(i *sheet.Interlock) *string { return &i.Label }),
	conditionField("when", func(i *sheet.Interlock) *[]sheet.Condition { return &i.When }),
	conditionField("must", func(i *sheet.Interlock) *[]sheet.Condition { return &i.Must }),
	{"class", func(i *sheet.Interlock) string { return i.Class.String() }, func(l *line, i *sheet.Interlock) { i.Class = l.class(0) }},
	textField("why", func(i *sheet.Interlock) *string { return &i.Why }),
}

func conditionField(column string, at func(*sheet.Interlock) *[]sheet.Condition) field[sheet.Interlock] {
	return field[sheet.Interlock]{column, func(i *sheet.Interlock) string { return FormatConditions(*at(i)) }, func(l *line, i *sheet.Interlock) {
		list, err := ParseConditions(l.text(column))
		if err != nil {
			l.bad(column, "%s", fault.MessageOf(err))
		}
		*at(i) = list
	}}
}
