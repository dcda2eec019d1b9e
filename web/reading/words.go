package reading

import (
	"fmt"
	"slices"

	"frywright/domain/drift"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/path"
	"frywright/web/ui"
)

// outcome says in a sentence what was recorded: for the head of the next setting's page.
func outcome(x *standard.Expected, f *drift.Finding) string {
	if !f.Read.Known() {
		return ui.PlaceIn(x, f.Place) + ": left open, it could not be read."
	}
	text := fmt.Sprintf("%s: %s, %s.", ui.PlaceIn(x, f.Place), f.Setting.Show(f.Read), ui.Judged(f))
	if f.OffSheet != "" {
		text += " The settings sheet does not allow this value; it is recorded as read."
	}
	return text
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// soFar says what is recorded of the setting already.
func (v *atView) soFar() string {
	if v.Reading.Skipped {
		return "Left open: it could not be read."
	}
	text := "Recorded: " + v.Finding.Setting.Show(v.Reading.Value)
	if v.Reading.AsExpected {
		text += ", by “as expected”"
	}
	return text + ". What you save now takes its place."
}

// sentence says how far the reading is and what it found so far.
func (v *overview) sentence() string {
	if v.Snapshot.Dropped {
		return "Given up. What was read in it does not count."
	}
	text := fmt.Sprintf("%d of %d values read", v.Known, v.Total)
	if v.proving() && v.Known > 0 {
		verb := "are"
		if v.Proved == 1 {
			verb = "is"
		}
		text = fmt.Sprintf("%d of the %d that were off before %s read again", v.Proved, v.Proof, verb)
	}
	switch {
	case v.Known == 0 && v.Proof > 0:
		return text + ". First what was off before, then the others if you like."
	case v.Known == 0:
		return text + ". Take them in the controller's own order, and stop whenever you have to: nothing is lost."
	case v.Off == 0 && v.Broken == 0:
		return text + ", none off so far."
	case v.Off == 0:
		return text + ", none off, but " + counted(v.Broken, "rule is broken.", "rules are broken.")
	default:
		return text + ", " + counted(v.Off, "is off so far.", "are off so far.")
	}
}

func (v *overview) goOn() string {
	if v.Done == 0 {
		return "Begin"
	}
	return "Go on reading"
}

// doneWords says what was gone through.
func (v *overview) doneWords() string {
	if v.Rest > 0 {
		return "what was off before was gone through"
	}
	return "every setting was gone through"
}

// leftOpen says what finishing now leaves unknown.
func (v *overview) leftOpen() string {
	return counted(v.Total-v.Known, "value stays unknown.", "values stay unknown.") + " Unknown is never taken for right."
}

// progress says how far a group is.
func (g *group) progress() string {
	text := fmt.Sprintf("%d of %d", g.Done, len(g.Lines))
	if g.Off > 0 {
		text += ", " + counted(g.Off, "is off", "are off")
	}
	return text
}

// text says what is known of a line.
func (l *line) text() string {
	expected := "expected " + l.Finding.Setting.Show(l.Finding.Value)
	if !l.Finding.Value.Known() {
		expected = "nothing expected"
	}
	if !l.Finding.Read.Known() {
		return expected
	}
	return "reads " + l.Finding.Setting.Show(l.Finding.Read) + ", " + ui.Judged(l.Finding)
}

// read says what kind of reading it was and how much was read.
func (v *resultView) read() string {
	known := len(v.State.Snapshot.Values())
	return fmt.Sprintf("Read %s, %s,", v.State.Snapshot.Purpose.Word(), counted(known, "value", "values"))
}

// tone gives the shape that stands before the verdict.
func (v *resultView) tone() string {
	switch v.Tone {
	case state.Trouble, state.Mind:
		return ui.ToneBad
	case state.Ask:
		return ui.ToneUnknown
	default:
		return ui.ToneGood
	}
}

// link leads from a setting to every layer's say on it.
func (v *resultView) link(ref sheet.Ref) string { return path.FryerExpectedOne(v.State.Fryer.ID, ref) }

// shares lists the explanations with their odds.
func (v *resultView) shares() []ui.Share {
	var list []ui.Share
	for _, o := range v.State.Cause.Odds {
		list = append(list, ui.Share{Label: o.Label(), Percent: o.Probability * 100, Note: o.Against()})
	}
	return list
}

// nextIn says whether the next setting to read is in the group.
func (v *overview) nextIn(g group) bool {
	return slices.ContainsFunc(g.Lines, func(l line) bool { return l.Pos == v.Next })
}
