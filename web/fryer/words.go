package fryer

import (
	"fmt"
	"strings"
	"time"

	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/domain/working"
	"frywright/web/path"
	"frywright/web/ui"
)

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// eventLabel names an event as a form offers it.
func eventLabel(k cause.EventKind) string {
	words := strings.TrimPrefix(cause.Words(k), "a ")
	return strings.ToUpper(words[:1]) + words[1:]
}

// toneWord gives the shape that stands before a sentence, by how bad it is.
func toneWord(t state.Tone) string {
	switch t {
	case state.Trouble, state.Mind:
		return ui.ToneBad
	case state.Ask:
		return ui.ToneUnknown
	default:
		return ui.ToneGood
	}
}

// standsAt names the place of a fryer in its restaurant; its model where nobody said.
func standsAt(f *state.Fryer) string {
	if f.Name == "" {
		return f.ModelName
	}
	return f.Name
}

// town is the end of a line that names a restaurant.
func town(f *state.Fryer) string {
	if f.Town == "" {
		return ""
	}
	return ", " + f.Town
}

// where says where a fryer stands.
func where(f *state.Fryer) string {
	if f.Name == "" {
		return f.SiteName + town(f)
	}
	return f.Name + ", " + f.SiteName + town(f)
}

// appliance says in a line what the fryer is.
func appliance(f *state.Fryer) string {
	vats := "one vat"
	if f.Pot == sheet.SplitPot {
		vats = "two vats"
	}
	return fmt.Sprintf("%s, %s, %s", f.ModelName, f.Energy, vats)
}

// siteWords says why a restaurant needs hands.
func siteWords(s *state.Site) string {
	var parts []string
	if s.Wrong > 0 {
		parts = append(parts, counted(s.Wrong, "fryer is not as it should be", "fryers are not as they should be"))
	}
	if s.Stale > 0 {
		parts = append(parts, counted(s.Stale, "has to be read again", "have to be read again"))
	}
	return strings.Join(parts, ", ")
}

// searchLabel says what can be looked for.
func (v *findView) searchLabel() string {
	if v.Plain {
		return "Number on its plate, where it stands, or restaurant"
	}
	return "Asset tag, name, serial number, restaurant or town"
}

// installed gives the day on which a fryer was installed as people write it; as it stands where it is no day.
func installed(text string) string {
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return text
	}
	return day.Format("2 Jan 2006")
}

// found says how many fryers the list has.
func (v *findView) found() string {
	what := counted(v.Page.Total, "fryer", "fryers")
	if v.Page.More {
		what = "More than " + what
	}
	if v.Search {
		return what + " found"
	}
	return what
}

// sentence says how many values are known to be right.
func (v *expectedView) sentence() string {
	c := v.Counts
	text := fmt.Sprintf("%d of %d are known to be right", c.Right, c.Places)
	if c.Drifted > 0 {
		text += ", " + counted(c.Drifted, "is off", "are off")
	}
	if c.Unknown > 0 {
		text += ", " + counted(c.Unknown, "is not known", "are not known")
	}
	return text + "."
}

// from says which layer an expected value comes from.
func from(f *drift.Finding) string {
	step, ok := f.From()
	if !ok {
		return "no standard speaks of it"
	}
	if step.Level == standard.OfFactory {
		return step.Level.Word()
	}
	return step.Level.Word() + ", " + step.Name
}

// counts explains how the settings of the fryer are counted.
func (v *showView) counts() working.Working {
	return ui.CountsWorking(v.Assessment.Result.Counts(), "the last value read of each setting, unless something happened since that can erase it")
}

// working explains how an expected value came about.
func (v *oneView) working() working.Working {
	f := &v.Finding
	w := working.Working{
		Title: "Expected value", Result: f.Setting.Show(f.Value), Formula: "The later layer wins: factory, fryer model, customer, restaurant, fryer.",
		Source: "The settings sheet " + v.Fryer.SheetName + " and the house standards.", Uncertainty: "It is as sure as whoever set it.",
	}
	for _, s := range f.Steps {
		w.Inputs = append(w.Inputs, working.Line{Label: ui.UpperFirst(s.Level.Word()), Value: f.Setting.Show(s.Set.Value), From: v.setBy(&s)})
	}
	if f.Read.Known() {
		w.Inputs = append(w.Inputs, working.Line{Label: "Read", Value: f.Setting.Show(f.Read), From: "reading of " + ui.FormatTime(v.ReadAt, v.Fryer.Zone)})
		w.Steps = v.compared()
	}
	return w
}

// setBy says where the value of a layer comes from.
func (v *oneView) setBy(s *standard.Step) string {
	text := s.Name
	if s.Set.By != "" {
		text += ", set by " + s.Set.By
	}
	if !s.Set.At.IsZero() {
		text += ", " + ui.FormatDay(s.Set.At, v.Fryer.Zone)
	}
	return text
}

// compared says how the reading was held against what is expected.
func (v *oneView) compared() []string {
	f := &v.Finding
	if apart := ui.Apart(f); apart != "" {
		passes := "No difference is let pass: "
		if f.Setting.Tolerance > 0 {
			passes = "A difference of up to " + f.Setting.Show(sheet.Num(f.Setting.Tolerance)) + " is let pass: "
		}
		return []string{fmt.Sprintf("%s − %s: %s.", f.Setting.Show(f.Read), f.Setting.Show(f.Value), apart), passes + ui.Judged(f) + "."}
	}
	return []string{ui.UpperFirst(ui.Judged(f)) + "."}
}

// judged says how the value stands, beside a badge that says it in a word.
func (v *oneView) judged() string {
	if apart := ui.Apart(&v.Finding); apart != "" && v.Finding.Size != 0 {
		return apart + " what is expected"
	}
	if v.Finding.Status == drift.Drifted {
		return "Not what is expected"
	}
	return ui.Judged(&v.Finding)
}

// consequence says what a wrong value of a class can lead to.
func consequence(c sheet.Class) string {
	switch c {
	case sheet.Safety:
		return "A wrong value can burn somebody, ignite, or hide a fault."
	case sheet.Food:
		return "A wrong value can leave food undercooked or overcooked, or break a food rule."
	case sheet.Output:
		return "A wrong value makes the fryer slow or wasteful."
	default:
		return "A wrong value is a nuisance, no more."
	}
}

// kept says what a factory reset does to a setting.
func kept(s *sheet.Setting) string {
	switch {
	case s.ReadOnly:
		return "It can only be read, not set."
	case s.Kept:
		return "A factory reset leaves it alone."
	case s.Factory.Known():
		return "A factory reset brings it back to " + s.Show(s.Factory) + "."
	default:
		return "A factory reset erases it."
	}
}

func linkTo(f *state.Fryer) func(sheet.Ref) string {
	return func(ref sheet.Ref) string { return path.FryerExpectedOne(f.ID, ref) }
}

// byline is the end of a line that says who it was.
func byline(name string) string {
	if name == "" {
		return ""
	}
	return ", " + name
}
