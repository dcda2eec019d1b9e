package ui

import (
	"strconv"
	"strings"

	"frywright/domain/fault"

	"github.com/a-h/templ"
)

// Field is one field of a form.
type Field struct {
	Name         string // of the form value; also makes the ids
	Label        string
	Hint         string // what to enter, beneath the label
	Value        string // as typed
	Error        string // what is wrong with it
	Unit         string // behind the field
	InputMode    string // "decimal" for numbers: never a type of number
	Autocomplete string
	Type         string // "text" where empty
	Required     bool
	ReadOnly     bool
	Autofocus    bool
	Sign         bool // may be negative: scripts add a key for the sign, which number pads lack
	Big          bool // the one value that the page is about
	MaxLength    int  // 0: none
	Rows         int  // of a text area; 3 where 0
}

// Option is one choice of a Select or of Radios.
type Option struct {
	Value    string
	Label    string
	Note     string // a second line beneath the label; Radios only
	Selected bool
}

// FieldID gives the id of the field of a name, for links to it.
func FieldID(name string) string {
	return "f-" + strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
			return r
		case r == '@':
			return '_'
		default:
			return '-'
		}
	}, name)
}

// ErrorOf gives the complaint about a field, for Field.Error.
func ErrorOf(fields []fault.Field, name string) string {
	for _, f := range fields {
		if f.Name == name {
			return f.Message
		}
	}
	return ""
}

func (f Field) id() string { return FieldID(f.Name) }

// describedBy lists the ids of the hint and the error that belong to the field.
func (f Field) describedBy() string {
	var ids []string
	if f.Hint != "" {
		ids = append(ids, f.id()+"-hint")
	}
	if f.Error != "" {
		ids = append(ids, f.id()+"-error")
	}
	return strings.Join(ids, " ")
}

func (f Field) kind() string {
	if f.Type == "" {
		return "text"
	}
	return f.Type
}

func (f Field) rows() int {
	if f.Rows == 0 {
		return 3
	}
	return f.Rows
}

// common gives the attributes that every kind of field has.
func common(f Field) templ.Attributes {
	a := templ.Attributes{"required": f.Required, "autofocus": f.Autofocus}
	if f.ReadOnly {
		a["readonly"] = true
	}
	if f.MaxLength > 0 {
		a["maxlength"] = strconv.Itoa(f.MaxLength)
	}
	if f.Error != "" {
		a["aria-invalid"] = "true"
	}
	if by := f.describedBy(); by != "" {
		a["aria-describedby"] = by
	}
	return a
}

// chosen says whether an option is the one: marked so, or equal to the field's value where the field has one.
func chosen(f Field, o Option) bool {
	return o.Selected || (f.Value != "" && f.Value == o.Value)
}

func orElse(text, other string) string {
	if text == "" {
		return other
	}
	return text
}
