package sheet

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"frywright/domain/fault"

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
func (b Saved) Validate() error { return b.Sheet.Validate() }

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
	s.validateInterlocks(&f, seen)
	return f.Err()
}

func (s *Setting) validate(f *fault.Fields) {
	at := func(field string) string { return "setting." + s.Key + "." + field }
	if !keyPattern.MatchString(s.Key) {
		f.Add(at("key"), "A key is made of small letters, digits, points and hyphens.")
	}
	f.Need(at("label"), s.Label, "Give the setting a label.")
	f.Need(at("group"), s.Group, "Name the group it stands in.")
	if !slices.Contains([]Kind{Number, Choice, Switch, Text}, s.Kind) {
		f.Add(at("kind"), "The kind is number, choice, switch or text.")
	}
	if s.Scope != PerController && s.Scope != PerVat {
		f.Add(at("scope"), "The scope is controller or vat.")
	}
	if s.Class < Minor || s.Class > Safety {
		f.Add(at("class"), "The class is safety, food, output or minor.")
	}
	if s.Tolerance < 0 || s.Step < 0 {
		f.Add(at("tolerance"), "Tolerance and step are not negative.")
	}
	if s.Min != nil && s.Max != nil && *s.Min > *s.Max {
		f.Add(at("min"), "The lowest value is above the highest.")
	}
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
	if s.Menu < 0 {
		f.Add(at("menu"), "Menu slots are counted from 1.")
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
	if loop := s.afterLoop(); len(loop) > 0 {
		f.Add("setting."+loop[0]+".after", "These wait for each other: %s.", strings.Join(loop, ", "))
	}
}

// afterLoop gives the keys of a cycle of After, if there is one.
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

func (s *Sheet) validateInterlocks(f *fault.Fields, seen map[string]int) {
	keys := map[string]bool{}
	for i := range s.Interlocks {
		l := &s.Interlocks[i]
		at := func(field string) string { return "interlock." + l.Key + "." + field }
		if !keyPattern.MatchString(l.Key) || keys[l.Key] {
			f.Add(at("key"), "Give the interlock a key of its own, of small letters, digits, points and hyphens.")
		}
		keys[l.Key] = true
		f.Need(at("label"), l.Label, "Say the rule in one sentence.")
		if l.Class < Minor || l.Class > Safety {
			f.Add(at("class"), "The class is safety, food, output or minor.")
		}
		if len(l.Must) == 0 {
			f.Add(at("must"), "Say what must hold.")
		}
		for _, c := range slices.Concat(l.When, l.Must) {
			problem := c.problem(seen)
			if problem == "" {
				problem = s.neverHolds(c)
			}
			if problem != "" {
				f.Add(at("must"), "%s", problem)
			}
		}
	}
}

func (c Condition) problem(seen map[string]int) string {
	known := func(k string) bool {
		_, ok := seen[k]
		return ok || k == FactEnergy || k == FactPot
	}
	switch {
	case !known(c.Setting):
		return fmt.Sprintf("There is no setting %s.", c.Setting)
	case c.Than != "" && !known(c.Than):
		return fmt.Sprintf("There is no setting %s to compare with.", c.Than)
	case !slices.Contains([]Op{Is, IsNot, OneOf, AtLeast, AtMost}, c.Op):
		return fmt.Sprintf("%q is not a comparison.", c.Op)
	case c.Than == "" && len(c.Values) == 0:
		return fmt.Sprintf("Say what %s is compared with.", c.Setting)
	default:
		return ""
	}
}

// neverHolds says why a condition can never be true: it names a value that cannot be.
func (s *Sheet) neverHolds(c Condition) string {
	for _, v := range c.Values {
		switch {
		case c.Op == AtLeast || c.Op == AtMost:
			if _, ok := v.Number(); c.Than == "" && !ok {
				return fmt.Sprintf("%s %s compares with a number or another setting.", c.Setting, c.Op)
			}
		case c.Setting == FactEnergy && Energy(v) != Gas && Energy(v) != Electric:
			return "The energies are gas and electric."
		case c.Setting == FactPot && Pot(v) != SinglePot && Pot(v) != SplitPot:
			return "The pots are single and split."
		default:
			if set, ok := s.Setting(c.Setting); ok && (set.Kind == Choice || set.Kind == Switch) && set.Check(v) != nil {
				return fmt.Sprintf("%s is never “%s”. %s", c.Setting, clip(string(v)), fault.MessageOf(set.Check(v)))
			}
		}
	}
	return ""
}
