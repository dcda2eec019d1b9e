package sheet

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"frywright/domain/fault"
	"frywright/domain/legible"

	"github.com/google/uuid"
)

// KindSaved is the entry kind of Saved.
const KindSaved = "sheet.saved"

// Saved is the entry that a sheet was made or changed: the whole of it, and why.
type Saved struct {
	Sheet Sheet  `json:"sheet"`
	Why   string `json:"why,omitempty"`
}

// Kind implements journal.Body.
func (Saved) Kind() string { return KindSaved }

// Validate implements journal.Body.
func (b Saved) Validate() error {
	var f fault.Fields
	legible.Text(&f, "why", b.Why, legible.Note)
	f = append(f, fault.FieldsOf(b.Sheet.Validate())...)
	return f.Err()
}

var (
	keyPattern  = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{0,59}$`)
	codePattern = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$`)
)

// sizeLimit is the largest number of settings, and of interlocks, of a sheet.
const sizeLimit = 500

// Validate says what is wrong with the sheet. Field names are "code", "name", "setting.KEY.field" and
// "interlock.KEY.field".
func (s *Sheet) Validate() error {
	var f fault.Fields
	if s.ID == uuid.Nil {
		f.Add("id", "The sheet has no id.")
	}
	if !codePattern.MatchString(s.Code) {
		f.Add("code", "Give a short code of letters, digits, points and hyphens.")
	}
	f.Need("name", s.Name, "Give the controller type a name.")
	legible.Line(&f, "name", s.Name, legible.Name)
	legible.Text(&f, "note", s.Note, legible.Note)
	if len(s.Settings) > sizeLimit || len(s.Interlocks) > sizeLimit {
		f.Add("settings", "A sheet holds at most %d settings and %d interlocks.", sizeLimit, sizeLimit)
		return f.Err()
	}
	seen := map[string]int{}
	for i := range s.Settings {
		set := &s.Settings[i]
		if _, twice := seen[set.Key]; twice {
			f.Add("setting."+set.Key+".key", "The key %s is there twice.", set.Key)
		}
		seen[set.Key] = i
		set.validate(&f)
	}
	s.validateOrder(&f, seen)
	s.validateInterlocks(&f)
	return f.Err()
}

func (s *Setting) validate(f *fault.Fields) {
	at := func(field string) string { return "setting." + s.Key + "." + field }
	if !keyPattern.MatchString(s.Key) {
		f.Add(at("key"), "A key is made of small letters, digits, points and hyphens.")
	}
	f.Need(at("label"), s.Label, "Give the setting a label.")
	f.Need(at("group"), s.Group, "Name the group it stands in.")
	s.validateTexts(f, at)
	if !slices.Contains([]Kind{Number, Choice, Switch, Text}, s.Kind) {
		f.Add(at("kind"), "The kind is number, choice, switch or text.")
	}
	if s.Scope != PerController && s.Scope != PerVat {
		f.Add(at("scope"), "The scope is controller or vat.")
	}
	if s.Class < Minor || s.Class > Safety {
		f.Add(at("class"), "The class is safety, food, output or minor.")
	}
	s.validateNumbers(f, at)
	if s.Kind == Choice && len(s.Options) == 0 {
		f.Add(at("options"), "A choice needs options.")
	}
	s.validateWords(f, at)
	if s.Factory.Known() {
		if err := s.Check(s.Factory); err != nil {
			f.Add(at("factory"), "Factory value: %s", fault.MessageOf(err))
		}
	}
}

// The largest numbers of things in one setting.
const (
	optionLimit = 500
	unitLimit   = 20 // characters
)

func (s *Setting) validateTexts(f *fault.Fields, at func(string) string) {
	legible.Line(f, at("label"), s.Label, legible.Name)
	legible.Line(f, at("group"), s.Group, legible.Name)
	legible.Line(f, at("unit"), s.Unit, unitLimit)
	legible.Text(f, at("note"), s.Note, legible.Note)
	if len(s.Options) > optionLimit || len(s.After) > sizeLimit {
		f.Add(at("options"), "At most %d options, and at most %d settings to come after.", optionLimit, sizeLimit)
		return
	}
	for _, o := range s.Options {
		Value(o.Key).Validate(f, at("options"))
		legible.Line(f, at("options"), o.Label, ValueLimit)
	}
}

// validateNumbers holds the numbers of the setting to what can be typed.
func (s *Setting) validateNumbers(f *fault.Fields, at func(string) string) {
	if !(s.Tolerance >= 0 && s.Tolerance <= largest) || !(s.Step >= 0 && s.Step <= largest) {
		f.Add(at("tolerance"), "Tolerance and step are not negative, and not too large to be typed.")
	}
	for field, n := range map[string]*float64{"min": s.Min, "max": s.Max} {
		if n != nil && !(*n >= -largest && *n <= largest) {
			f.Add(at(field), "A limit is a number that can be typed.")
		}
	}
	if s.Min != nil && s.Max != nil && *s.Min > *s.Max {
		f.Add(at("min"), "The lowest value is above the highest.")
	}
	if s.Menu < 0 || s.Menu > sizeLimit {
		f.Add(at("menu"), "Menu slots are counted from 1.")
	}
}

// validateWords checks what comes from fixed lists. An energy or a pot that does not exist would take the setting from
// every fryer without a word.
func (s *Setting) validateWords(f *fault.Fields, at func(string) string) {
	if slices.ContainsFunc(s.Energies, func(e Energy) bool { return e != Gas && e != Electric }) {
		f.Add(at("energies"), "The energies are gas and electric.")
	}
	if slices.ContainsFunc(s.Pots, func(p Pot) bool { return p != SinglePot && p != SplitPot }) {
		f.Add(at("pots"), "The pots are single and split.")
	}
	if !slices.Contains(Roles(), s.Role) {
		f.Add(at("role"), "There is no role %s.", clip(string(s.Role)))
	}
	if (s.Role == RoleSetpoint || s.Role == RoleTopTemp) && (s.Kind != Number || s.Unit != "°F" && s.Unit != "°C") {
		f.Add(at("role"), "A setting with the role %s is a number in °F or °C, or no rule could judge it.", s.Role)
	}
	keys := map[string]bool{}
	for _, o := range s.Options {
		if o.Key == "" || keys[o.Key] {
			f.Add(at("options"), "Every option has a key of its own; “%s” has not.", clip(o.Label))
			return
		}
		keys[o.Key] = true
	}
}

func (s *Sheet) validateOrder(f *fault.Fields, seen map[string]int) {
	for i := range s.Settings {
		for _, k := range s.Settings[i].After {
			if _, ok := seen[k]; !ok {
				f.Add("setting."+s.Settings[i].Key+".after", "There is no setting %s to come after.", k)
			}
		}
	}
	switch loop := s.afterLoop(); {
	case len(loop) == 2:
		f.Add("setting."+loop[0]+".after", "It waits for itself.")
	case len(loop) > 2:
		f.Add("setting."+loop[0]+".after", "These wait for each other: %s.", strings.Join(loop[:len(loop)-1], ", "))
	}
}

// afterLoop gives the keys of a cycle of After, if there is one; the first is there again at the end.
func (s *Sheet) afterLoop() []string {
	const open, done = 1, 2
	mark := map[string]int{}
	var path []string
	var visit func(key string) []string
	visit = func(key string) []string {
		if mark[key] == done {
			return nil
		}
		path = append(path, key)
		if mark[key] == open {
			return slices.Clone(path[slices.Index(path, key):])
		}
		mark[key] = open
		if set, ok := s.Setting(key); ok {
			for _, k := range set.After {
				if loop := visit(k); loop != nil {
					return loop
				}
			}
		}
		mark[key] = done
		path = path[:len(path)-1]
		return nil
	}
	for i := range s.Settings {
		if loop := visit(s.Settings[i].Key); loop != nil {
			return loop
		}
	}
	return nil
}

func (s *Sheet) validateInterlocks(f *fault.Fields) {
	keys := map[string]bool{}
	for i := range s.Interlocks {
		l := &s.Interlocks[i]
		at := func(field string) string { return "interlock." + l.Key + "." + field }
		if !keyPattern.MatchString(l.Key) || keys[l.Key] {
			f.Add(at("key"), "Give the interlock a key of its own, of small letters, digits, points and hyphens.")
		}
		keys[l.Key] = true
		f.Need(at("label"), l.Label, "Say the rule in one sentence.")
		legible.Text(f, at("label"), l.Label, 2*legible.Name)
		legible.Text(f, at("why"), l.Why, legible.Note)
		if l.Class < Minor || l.Class > Safety {
			f.Add(at("class"), "The class is safety, food, output or minor.")
		}
		if len(l.Must) == 0 {
			f.Add(at("must"), "Say what must hold.")
		}
		if len(l.When)+len(l.Must) > sizeLimit {
			f.Add(at("must"), "An interlock has at most %d conditions.", sizeLimit)
			continue
		}
		for _, c := range slices.Concat(l.When, l.Must) {
			if problem := s.problem(c); problem != "" {
				f.Add(at("must"), "%s", problem)
			}
		}
	}
}

// problem says what is wrong with a condition.
func (s *Sheet) problem(c Condition) string {
	set, ok := s.Setting(c.Setting)
	switch {
	case len(c.Values) > optionLimit:
		return fmt.Sprintf("%s is compared with more than %d values.", clip(c.Setting), optionLimit)
	case !(c.Plus >= -largest && c.Plus <= largest):
		return fmt.Sprintf("What is added to %s is a number that can be typed.", clip(c.Than))
	case !ok && c.Setting != FactEnergy && c.Setting != FactPot:
		return fmt.Sprintf("There is no setting %s.", clip(c.Setting))
	case c.Op == AtLeast || c.Op == AtMost:
		return s.limitProblem(c, set)
	case !slices.Contains([]Op{Is, IsNot, OneOf}, c.Op):
		return fmt.Sprintf("“%s” is not a comparison.", clip(string(c.Op)))
	case c.Than != "" || c.Plus != 0:
		return fmt.Sprintf("%s %s compares with a value, not with another setting.", c.Setting, c.Op)
	case len(c.Values) == 0:
		return fmt.Sprintf("Say what %s is compared with.", c.Setting)
	case c.Op == Is && len(c.Values) > 1:
		return fmt.Sprintf("%s is compared with several values: that is one-of.", c.Setting)
	}
	for _, v := range c.Values {
		if problem := legible.Problem(string(v), false); problem != "" || utf8.RuneCountInString(string(v)) > ValueLimit {
			return fmt.Sprintf("“%s” is no value. %s", clip(string(v)), problem)
		}
		if problem := s.neverHolds(c, set, v); problem != "" {
			return problem
		}
	}
	return ""
}

// limitProblem says what is wrong with a condition that compares numbers.
func (s *Sheet) limitProblem(c Condition, set *Setting) string {
	// A kind that does not exist is complained of where it stands.
	notNumber := func(set *Setting) bool { return slices.Contains([]Kind{Choice, Switch, Text}, set.Kind) }
	if set == nil || notNumber(set) {
		return fmt.Sprintf("%s is not a number, so that nothing is %s it.", c.Setting, c.Op)
	}
	if c.Than != "" {
		than, ok := s.Setting(c.Than)
		switch {
		case !ok:
			return fmt.Sprintf("There is no setting %s to compare with.", clip(c.Than))
		case notNumber(than):
			return fmt.Sprintf("%s is not a number to compare with.", c.Than)
		case len(c.Values) > 0:
			return fmt.Sprintf("%s compares with %s or with a number, not with both.", c.Setting, c.Than)
		}
		return ""
	}
	if len(c.Values) != 1 || c.Plus != 0 {
		return fmt.Sprintf("%s %s compares with one number or with another setting.", c.Setting, c.Op)
	}
	if _, ok := c.Values[0].Number(); !ok {
		return fmt.Sprintf("%s %s compares with a number or another setting.", c.Setting, c.Op)
	}
	return ""
}

// neverHolds says why a value of a condition can never be the setting's; set is nil where the condition is about a fact.
func (s *Sheet) neverHolds(c Condition, set *Setting, v Value) string {
	switch {
	case c.Setting == FactEnergy && Energy(v) != Gas && Energy(v) != Electric:
		return "The energies are gas and electric."
	case c.Setting == FactPot && Pot(v) != SinglePot && Pot(v) != SplitPot:
		return "The pots are single and split."
	case set == nil:
		return ""
	case set.Kind == Number: // a controller can show a number that the sheet does not allow, and a rule may forbid it
		if n, ok := v.Number(); !ok || !v.canonical(n) {
			return fmt.Sprintf("%s is a number; “%s” is not, or is not written as one.", c.Setting, clip(string(v)))
		}
	default:
		if err := set.Check(v); err != nil {
			return fmt.Sprintf("%s is never “%s”. %s", c.Setting, clip(string(v)), fault.MessageOf(err))
		}
	}
	return ""
}
