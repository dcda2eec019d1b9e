package sheet

import (
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/legible"
)

// Parse reads what a person typed for the setting and gives the canonical Value. A value that the sheet does not allow
// is an Invalid fault whose message says what would be right.
func (s *Setting) Parse(typed string) (Value, error) {
	v, err := s.ParseLoose(typed)
	if err != nil {
		return "", err
	}
	return v, s.Check(v)
}

// ParseLoose reads a typed value but lets a number lie outside the range, or a choice or text be unlisted: a controller
// can show what the sheet does not allow, and that must be recorded.
func (s *Setting) ParseLoose(typed string) (Value, error) {
	typed = strings.TrimSpace(typed)
	problem := legible.Problem(typed, false)
	switch {
	case typed == "":
		return "", fault.New(fault.Invalid, "Enter a value for %s.", s.Label)
	case problem != "":
		return "", fault.New(fault.Invalid, "%s takes plain text. %s", s.Label, problem)
	case s.Kind == Number:
		return s.parseNumber(typed)
	case s.Kind == Switch:
		return s.parseSwitch(typed)
	case utf8.RuneCountInString(typed) > ValueLimit:
		return "", fault.New(fault.Invalid, "%s takes at most %d characters.", s.Label, ValueLimit)
	case s.Kind == Choice:
		return s.parseChoice(typed), nil
	default:
		return Value(typed), nil
	}
}

// parseNumber takes the setting's own unit behind the number and no other: 175 °C is not 175 °F.
func (s *Setting) parseNumber(typed string) (Value, error) {
	n, unit, ok := splitNumber(typed)
	switch {
	case ok && isUnit(unit, s.Unit):
		return Num(n), nil
	case !ok:
		return "", fault.New(fault.Invalid, "“%s” is not a number.%s", clip(typed), s.hint())
	case s.Unit == "":
		return "", fault.New(fault.Invalid, "“%s” is not a number alone, and %s has no unit.%s", clip(typed), s.Label, s.hint())
	default:
		return "", fault.New(fault.Invalid, "“%s” is not a number in %s.%s", clip(typed), s.Unit, s.hint())
	}
}

func (s *Setting) parseSwitch(typed string) (Value, error) {
	switch strings.ToLower(typed) {
	case "on", "yes", "1", "true":
		return "on", nil
	case "off", "no", "0", "false":
		return "off", nil
	}
	return "", fault.New(fault.Invalid, "%s is either on or off.", s.Label)
}

// parseChoice looks for the option as it is written, then for one that differs in case only, then among the labels, so
// that the label of one option cannot hide the key of another. What is unlisted stays as typed.
func (s *Setting) parseChoice(typed string) Value {
	matches := []func(Option) bool{
		func(o Option) bool { return o.Key == typed },
		func(o Option) bool { return strings.EqualFold(o.Key, typed) },
		func(o Option) bool { return strings.EqualFold(o.Label, typed) },
	}
	for _, match := range matches {
		if i := slices.IndexFunc(s.Options, match); i >= 0 {
			return Value(s.Options[i].Key)
		}
	}
	return Value(typed)
}

// Check says whether the sheet allows the value.
func (s *Setting) Check(v Value) error {
	switch s.Kind {
	case Number:
		n, ok := v.Number()
		switch {
		case !ok:
			return fault.New(fault.Invalid, "“%s” is not a number.", clip(string(v)))
		case !v.canonical(n):
			return fault.New(fault.Invalid, "“%s” is to be written %s.", clip(string(v)), Num(n))
		case s.Min != nil && n < *s.Min-1e-9, s.Max != nil && n > *s.Max+1e-9:
			return fault.New(fault.Invalid, "%s is outside the range.%s", s.Show(v), s.hint())
		case s.Step > 0 && !s.onStep(n):
			return fault.New(fault.Invalid, "%s is between two steps.%s", s.Show(v), s.hint())
		}
	case Switch:
		if v != "on" && v != "off" {
			return fault.New(fault.Invalid, "%s is either on or off.", s.Label)
		}
	case Choice:
		if !slices.ContainsFunc(s.Options, func(o Option) bool { return Value(o.Key) == v }) {
			return fault.New(fault.Invalid, "%s offers: %s.", s.Label, s.optionLabels())
		}
	case Text:
		if v == "" || utf8.RuneCountInString(string(v)) > ValueLimit || legible.Problem(string(v), false) != "" {
			return fault.New(fault.Invalid, "%s takes one line of at most %d characters.", s.Label, ValueLimit)
		}
	}
	return nil
}

func (s *Setting) onStep(n float64) bool {
	from := 0.0
	if s.Min != nil {
		from = *s.Min
	}
	steps := (n - from) / s.Step
	return math.Abs(steps-math.Round(steps)) < 1e-6
}

// hint says the range and the step, as the end of a message.
func (s *Setting) hint() string {
	if r := s.Range(); r != "" {
		return " It goes " + r + "."
	}
	return ""
}

// Range gives the range and step of a number in words, or the options of a choice; empty where anything goes.
func (s *Setting) Range() string {
	if s.Kind == Choice {
		return s.optionLabels()
	}
	if s.Kind != Number {
		return ""
	}
	var parts []string
	switch {
	case s.Min != nil && s.Max != nil:
		parts = append(parts, "from "+s.Show(Num(*s.Min))+" to "+s.Show(Num(*s.Max)))
	case s.Min != nil:
		parts = append(parts, "from "+s.Show(Num(*s.Min)))
	case s.Max != nil:
		parts = append(parts, "up to "+s.Show(Num(*s.Max)))
	}
	if s.Step > 0 {
		parts = append(parts, "in steps of "+string(Num(s.Step)))
	}
	return strings.Join(parts, " ")
}

// shown gives the label, or the key where there is none.
func (o Option) shown() string {
	if strings.TrimSpace(o.Label) == "" {
		return o.Key
	}
	return o.Label
}

func (s *Setting) optionLabels() string {
	labels := make([]string, len(s.Options))
	for i, o := range s.Options {
		labels[i] = o.shown()
	}
	return strings.Join(labels, ", ")
}

// Show gives the value as a screen shows it, with its unit or its label; an en dash where none is known.
func (s *Setting) Show(v Value) string {
	switch {
	case !v.Known():
		return "–"
	case s.Kind == Number && s.Unit != "":
		return strings.Replace(string(v), "-", "−", 1) + "\u00a0" + s.Unit
	case s.Kind == Number:
		return strings.Replace(string(v), "-", "−", 1)
	case s.Kind == Switch && v == "on":
		return "On"
	case s.Kind == Switch && v == "off":
		return "Off"
	case s.Kind == Choice:
		for _, o := range s.Options {
			if Value(o.Key) == v {
				return o.shown()
			}
		}
	}
	return string(v)
}

// Differ gives the size of the difference between two known values and whether it is more than the tolerance. For
// anything but numbers the size is 0 or 1.
func (s *Setting) Differ(a, b Value) (size float64, beyond bool) {
	if s.Kind == Number {
		x, okX := a.Number()
		y, okY := b.Number()
		if okX && okY {
			size = y - x
			// A binary fraction can miss the decimal one by the last digit; that must not make a drift.
			return size, math.Abs(size) > s.Tolerance+1e-9+1e-15*max(math.Abs(x), math.Abs(y))
		}
	}
	if a == b {
		return 0, false
	}
	return 1, true
}

func clip(s string) string {
	r := []rune(s)
	if len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
}
