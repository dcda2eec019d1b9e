package desk

import (
	"fmt"
	"strings"
	"time"

	"frywright/domain/entry"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/state"
	"frywright/domain/working"
	"frywright/web/ui"

	"github.com/google/uuid"
)

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return grouped(n) + " " + many
}

// grouped writes a whole number with a thin space between thousands: 12 000.
func grouped(n int) string {
	text := fmt.Sprint(n)
	for i := len(text) - 3; i > 0; i -= 3 {
		text = text[:i] + "\u202f" + text[i:]
	}
	return text
}

// wrong counts the fryers whose worst matter is at least of a class.
func wrong(t *state.Totals, class sheet.Class) int {
	n := 0
	for c := class; c <= sheet.Safety; c++ {
		n += t.ByWorst[c]
	}
	return n
}

// fleetSentence says how the fleet stands.
func fleetSentence(t *state.Totals) string {
	off := wrong(t, sheet.Minor)
	switch {
	case t.Fryers == 0:
		return "There is no fryer in the fleet yet."
	case off == 0 && t.Stale == 0 && t.Never == t.Fryers:
		return fmt.Sprintf("%s, and none has been read yet.", counted(t.Fryers, "fryer", "fryers"))
	case off == 0 && t.Stale == 0:
		return fmt.Sprintf("Nothing is known to be wrong in %s.", counted(t.Fryers, "fryer", "fryers"))
	case off == 0:
		return fmt.Sprintf("Nothing is known to be wrong, but %s to be read again.", counted(t.Stale, "fryer has", "fryers have"))
	}
	text := fmt.Sprintf("%s of %s not as they should be", grouped(off), counted(t.Fryers, "fryer is", "fryers are"))
	if off == 1 {
		text = fmt.Sprintf("One fryer of %s is not as it should be", grouped(t.Fryers))
	}
	if n := t.ByWorst[sheet.Safety]; n > 0 {
		text += ", " + counted(n, "of them with a safety matter", "of them with a safety matter")
	}
	return text + "."
}

// totalsWorking explains how the head of the desk and the column of the ages came about.
func totalsWorking(t *state.Totals) working.Working {
	w := working.Working{
		Title: "How these are counted", Formula: "A fryer is counted once, by the worst that is known of it.",
		Steps: []string{
			"Food or worse is food and safety; anything off is all four classes.",
			"To be read again: something that can erase settings happened after the last reading.",
			"Since: when the worst was first known, by the reading that showed it or the standard that it misses; else since what happened, or since the reading was begun.",
		},
		Source:      "The last value read of each setting, against the house standards of today.",
		Uncertainty: "What was not read since is not known: a fryer that is counted as right can have changed since its last reading.",
	}
	add := func(label string, n int) {
		w.Inputs = append(w.Inputs, working.Line{Label: label, Value: grouped(n), From: "by the worst that is known of each"})
	}
	w.Inputs = append(w.Inputs, working.Line{Label: "Fryers in use", Value: grouped(t.Fryers), From: "every restaurant"})
	for _, c := range sheet.Classes() {
		add("Worst is "+c.Matter(), t.ByWorst[c])
	}
	add("Nothing known to be wrong", t.ByWorst[0])
	return w
}

// fleetTone gives the shape before the sentence.
func fleetTone(t *state.Totals) string {
	switch {
	case wrong(t, sheet.Minor) > 0:
		return ui.ToneBad
	case t.Stale > 0 || t.Never == t.Fryers:
		return ui.ToneUnknown
	default:
		return ui.ToneGood
	}
}

// since gives since when a fryer needs hands: since the worst is known, since what it was to be read after, or since
// its reading was begun.
func since(f *state.Fryer) time.Time {
	switch {
	case f.Wrong() > 0 && !f.Since.IsZero():
		return f.Since
	case !f.StaleSince.IsZero():
		return f.StaleSince
	default:
		return f.OpenBegun
	}
}

// ago says how long before now a moment was, as one would say it.
func ago(now, t time.Time) string {
	d := now.Sub(t)
	switch {
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return counted(int(d.Minutes()), "minute", "minutes") + " ago"
	case d < 48*time.Hour:
		return counted(int(d.Hours()), "hour", "hours") + " ago"
	case d < 60*24*time.Hour:
		return counted(int(d.Hours()/24), "day", "days") + " ago"
	default:
		return counted(int(d.Hours()/24/30), "month", "months") + " ago"
	}
}

// stands names the place of a fryer in its restaurant; its model where nobody said.
func stands(f *state.Fryer) string {
	if f.Name == "" {
		return f.ModelName
	}
	return f.Name
}

// inTown is the name of a restaurant with its town, where the name does not say it.
func inTown(f *state.Fryer) string {
	if f.Town == "" || strings.Contains(f.SiteName, f.Town) {
		return f.SiteName
	}
	return f.SiteName + ", " + f.Town
}

// listTitle heads the list.
func listTitle(v *deskView) string {
	switch v.Wanted.Show {
	case showStale:
		return "To be read again"
	case showOpen:
		return "Being read"
	case showNever:
		return "Never read"
	default:
		return "What needs hands"
	}
}

// skewLimit is how far off a device's clock may be before it is mentioned.
const skewLimit = 5 * time.Minute

// skewWords says how far off the clock of a device was; empty where it does not matter.
func skewWords(skew time.Duration) string {
	switch {
	case skew > skewLimit:
		return "The clock of the device was " + length(skew) + " behind."
	case skew < -skewLimit:
		return "The clock of the device was " + length(-skew) + " ahead."
	default:
		return ""
	}
}

// lateWords says how long an entry waited on its device; empty where it came at once.
func lateWords(h *state.Happening) string {
	if d := h.Received.Sub(h.At); d > time.Hour {
		return "Came in " + length(d) + " later."
	}
	return ""
}

// length writes a duration as one would say it.
func length(d time.Duration) string {
	switch {
	case d < 2*time.Hour:
		return counted(int(d.Minutes()), "minute", "minutes")
	case d < 48*time.Hour:
		return counted(int(d.Hours()), "hour", "hours")
	default:
		return counted(int(d.Hours()/24), "day", "days")
	}
}

// told puts an entry that was set aside into plain words, as far as this program can read it.
func told(a *state.Aside) state.Told {
	spec, ok := entry.Find(a.Kind)
	if !ok {
		return state.Told{Title: "An entry that this version of the program cannot read"}
	}
	body, err := entry.Decode(journal.Entry{Kind: a.Kind, V: spec.Version(), Body: []byte(a.Body)})
	if err != nil {
		return state.Told{Title: "An entry that this version of the program cannot read"}
	}
	if _, ok := body.(snapshot.Read); ok {
		return state.Told{Title: "Settings read off a controller"}
	}
	return state.Tell(body, snapshot.Routine, 0)
}

func idText(id uuid.UUID) string {
	if id == uuid.Nil {
		return ""
	}
	return id.String()
}

// countWords says how long a list is.
func countWords(c state.Count) string {
	if c.More {
		return "more than " + grouped(c.Total)
	}
	return grouped(c.Total)
}
