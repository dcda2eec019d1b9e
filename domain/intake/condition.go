package intake

import (
	"regexp"
	"strings"

	"frywright/domain/fault"
	"frywright/domain/sheet"
)

// ParseConditions reads conditions of an interlock as people write them, joined by semicolons or line breaks:
//
//	pilot is on ; @energy is gas ; profile one-of gas-standard|thermostat ; idle at-most than cook + -10
//
// A condition is a setting's key or a fact, an operation (is, is-not, one-of, at-least, at-most; a space may stand for
// the hyphen), and what to compare with: a value, several separated by |, or, after at-least and at-most, the word than
// and another setting's key, with + and a number where something is to be added. A value that holds one of ; | " or a
// line break stands between quotation marks, with those inside doubled. The word than may be left out. The error is an
// Invalid fault that says what would be right.
func ParseConditions(text string) ([]sheet.Condition, error) {
	p := conditionParser{rest: text}
	var list []sheet.Condition
	for p.skipSeparators(); p.rest != ""; p.skipSeparators() {
		c, err := p.condition()
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	return list, nil
}

// FormatConditions writes conditions as ParseConditions reads them.
func FormatConditions(list []sheet.Condition) string {
	parts := make([]string, len(list))
	for i, c := range list {
		parts[i] = formatCondition(c)
	}
	return strings.Join(parts, " ; ")
}

func formatCondition(c sheet.Condition) string {
	text := c.Setting + " " + string(c.Op) + " "
	if c.Than != "" {
		text += "than " + c.Than
		if c.Plus != 0 {
			text += " + " + numberText(c.Plus)
		}
		return text
	}
	values := c.Values
	if comparesNumbers(c.Op) && len(values) > 1 {
		values = values[:1] // the others mean nothing
	}
	words := make([]string, len(values))
	for i, v := range values {
		words[i] = formatValue(c.Op, string(v))
	}
	return text + strings.Join(words, "|")
}

func formatValue(op sheet.Op, v string) string {
	_, number := sheet.Value(v).Number()
	first := v[:strings.IndexFunc(v+" ", isBlank)]
	if v == "" || strings.ContainsAny(v, ";|\"\n") || strings.TrimFunc(v, isBlank) != v ||
		comparesNumbers(op) && !number || op == sheet.Is && strings.EqualFold(first, "not") {
		return `"` + strings.ReplaceAll(v, `"`, `""`) + `"`
	}
	return v
}

func comparesNumbers(op sheet.Op) bool { return op == sheet.AtLeast || op == sheet.AtMost }

// Canonical gives conditions with their values as the sheet's settings hold them: a choice by its key, a switch as on or
// off, a number in its shortest form. What cannot be read stays as it is.
func Canonical(s *sheet.Sheet, list []sheet.Condition) []sheet.Condition {
	return canonical(s.Setting, list)
}

func canonical(find func(string) (*sheet.Setting, bool), list []sheet.Condition) []sheet.Condition {
	if len(list) == 0 {
		return nil
	}
	done := make([]sheet.Condition, len(list))
	for i, c := range list {
		done[i] = c
		done[i].Values = nil
		for _, v := range c.Values {
			done[i].Values = append(done[i].Values, canonicalValue(find, c.Setting, v))
		}
	}
	return done
}

func canonicalValue(find func(string) (*sheet.Setting, bool), key string, v sheet.Value) sheet.Value {
	if key == sheet.FactEnergy || key == sheet.FactPot {
		return sheet.Value(strings.ToLower(string(v)))
	}
	set, ok := find(key)
	if !ok {
		return v
	}
	if read, err := set.ParseLoose(string(v)); err == nil {
		return read
	}
	return v
}

type conditionParser struct{ rest string }

var conditionKey = regexp.MustCompile(`^@?[a-z0-9][a-z0-9.-]{0,59}$`)

func (p *conditionParser) skipBlanks() {
	p.rest = strings.TrimLeftFunc(p.rest, func(r rune) bool { return r != '\n' && isBlank(r) })
}

func (p *conditionParser) skipSeparators() {
	p.rest = strings.TrimLeftFunc(p.rest, func(r rune) bool { return r == ';' || isBlank(r) })
}

// word takes the next word, up to a blank or the end of the condition.
func (p *conditionParser) word() string {
	p.skipBlanks()
	i := strings.IndexFunc(p.rest, func(r rune) bool { return r == ';' || isBlank(r) })
	if i < 0 {
		i = len(p.rest)
	}
	w := p.rest[:i]
	p.rest = p.rest[i:]
	return w
}

// take takes the word if it is the next one.
func (p *conditionParser) take(word string) bool {
	before := p.rest
	if strings.EqualFold(p.word(), word) {
		return true
	}
	p.rest = before
	return false
}

func (p *conditionParser) condition() (sheet.Condition, error) {
	var c sheet.Condition
	var err error
	if c.Setting, err = p.key(); err != nil {
		return c, err
	}
	if c.Op, err = p.op(c.Setting); err != nil {
		return c, err
	}
	if !comparesNumbers(c.Op) {
		c.Values, err = p.values(c)
		return c, err
	}
	if p.take("than") {
		err = p.than(&c)
		return c, err
	}
	return c, p.limit(&c)
}

func (p *conditionParser) key() (string, error) {
	key := strings.ToLower(p.word())
	if !conditionKey.MatchString(key) {
		return "", fault.New(fault.Invalid, "“%s” is not the key of a setting.", clip(key))
	}
	return key, nil
}

func (p *conditionParser) op(key string) (sheet.Op, error) {
	word := strings.ToLower(p.word())
	switch {
	case word == "is" && p.take("not"):
		return sheet.IsNot, nil
	case word == "one" && p.take("of"):
		return sheet.OneOf, nil
	case word == "at" && p.take("least"):
		return sheet.AtLeast, nil
	case word == "at" && p.take("most"):
		return sheet.AtMost, nil
	}
	switch op := sheet.Op(word); op {
	case sheet.Is, sheet.IsNot, sheet.OneOf, sheet.AtLeast, sheet.AtMost:
		return op, nil
	}
	return "", fault.New(fault.Invalid, "After %s comes is, is-not, one-of, at-least or at-most, not “%s”.", key, clip(word))
}

// values takes the values of a condition, to its end.
func (p *conditionParser) values(c sheet.Condition) ([]sheet.Value, error) {
	var list []sheet.Value
	for {
		v, _, err := p.value(c)
		if err != nil {
			return nil, err
		}
		list = append(list, v)
		if p.skipBlanks(); !strings.HasPrefix(p.rest, "|") {
			return list, nil
		}
		p.rest = p.rest[1:]
	}
}

// value takes one value, to the next mark.
func (p *conditionParser) value(c sheet.Condition) (v sheet.Value, quoted bool, err error) {
	p.skipBlanks()
	if strings.HasPrefix(p.rest, `"`) {
		v, err = p.quoted(c)
		return v, true, err
	}
	i := strings.IndexAny(p.rest, ";|\n")
	if i < 0 {
		i = len(p.rest)
	}
	text := strings.TrimFunc(p.rest[:i], isBlank)
	p.rest = p.rest[i:]
	switch {
	case text == "":
		return "", false, fault.New(fault.Invalid, "Say what %s is compared with.", c.Setting)
	case strings.Contains(text, `"`):
		return "", false, fault.New(fault.Invalid, "The quotation marks of “%s” stand around the whole value, or not at all.", clip(text))
	}
	return sheet.Value(text), false, nil
}

func (p *conditionParser) quoted(c sheet.Condition) (sheet.Value, error) {
	var text strings.Builder
	for rest := p.rest[1:]; ; {
		part, after, closed := strings.Cut(rest, `"`)
		if !closed {
			return "", fault.New(fault.Invalid, "The quotation mark after %s %s is not closed.", c.Setting, c.Op)
		}
		text.WriteString(part)
		if !strings.HasPrefix(after, `"`) {
			p.rest = after
			break
		}
		text.WriteByte('"')
		rest = after[1:]
	}
	if p.skipBlanks(); p.rest != "" && !strings.ContainsAny(p.rest[:1], ";|\n") {
		return "", fault.New(fault.Invalid, "After the quotation marks of %s %s comes | or ; and nothing else.", c.Setting, c.Op)
	}
	return sheet.Value(text.String()), nil
}

// than takes the other setting and what is added to it, to the end of the condition.
func (p *conditionParser) than(c *sheet.Condition) error {
	var err error
	if c.Than, err = p.key(); err != nil {
		return err
	}
	i := strings.IndexAny(p.rest, ";\n")
	if i < 0 {
		i = len(p.rest)
	}
	added := strings.TrimFunc(p.rest[:i], isBlank)
	p.rest = p.rest[i:]
	if added == "" {
		return nil
	}
	sign := 1.0
	switch added[0] {
	case '+':
	case '-':
		sign = -1
	default:
		return fault.New(fault.Invalid, "After %s comes + and a number, not “%s”.", c.Than, clip(added))
	}
	n, ok := parseNumber(added[1:])
	if !ok {
		return fault.New(fault.Invalid, "“%s” is not a number to add to %s.", clip(added[1:]), c.Than)
	}
	c.Plus = sign * n
	return nil
}

// limit takes the number that is compared with, or another setting without the word than before it.
func (p *conditionParser) limit(c *sheet.Condition) error {
	before := p.rest
	v, quoted, err := p.value(*c)
	if err != nil {
		return err
	}
	if strings.HasPrefix(p.rest, "|") {
		return fault.New(fault.Invalid, "%s %s compares with one number only.", c.Setting, c.Op)
	}
	if quoted {
		c.Values = []sheet.Value{v}
		return nil
	}
	if _, ok := v.Number(); ok {
		c.Values = []sheet.Value{v}
		return nil
	}
	if n, ok := sheet.ParseNumber(string(v)); ok {
		c.Values = []sheet.Value{sheet.Num(n)}
		return nil
	}
	p.rest = before
	return p.than(c)
}

// parseNumber reads a number as programs write it, or as people do.
func parseNumber(text string) (float64, bool) {
	text = strings.TrimFunc(text, isBlank)
	if n, ok := sheet.Value(text).Number(); ok {
		return n, true
	}
	return sheet.ParseNumber(text)
}
