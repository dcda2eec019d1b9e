package reading

import (
	"fmt"
	"net/http"
	"strings"

	"frywright/domain/access"
	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// resultView is what the result of a finished reading shows.
type resultView struct {
	Frame   ui.Frame
	State   state.ReadingResult
	Verdict string
	Tone    state.Tone
	Counts  drift.Counts
	Unread  []drift.Finding // expected, but not read
	Latest  bool            // nothing was read since
	Step    state.Step
	May     bool
	Entry   uuid.UUID
}

// Result shows what a finished reading says.
func (p *Pages) Result(w http.ResponseWriter, r *http.Request) error {
	res, err := p.load(r)
	if err != nil {
		return err
	}
	if res.Snapshot.Open() {
		return form.See(w, r, path.Reading(res.Snapshot.ID), "reading-unfinished")
	}
	if res.Snapshot.Dropped {
		return fault.New(fault.NotFound, "This reading was given up, so it has no result. Begin a new one at the fryer.")
	}
	v := resultView{
		Frame: ui.FrameFor(r, "Reading of "+res.Fryer.Tag+", "+res.Snapshot.Purpose.Word(), "fryers"), State: res,
		Counts: res.Result.Counts(), Latest: latest(&res), Step: res.Fryer.Next(), Entry: p.NewID(),
		May: access.Can(access.FromContext(r.Context()), access.TakeReading, res.Fryer.SiteID) == access.Allowed,
	}
	v.Verdict, v.Tone = verdict(&res, v.Counts), tone(&res, v.Counts)
	for _, f := range res.Result.With(drift.Unknown) {
		if f.Value.Known() && !f.Read.Known() {
			v.Unread = append(v.Unread, f)
		}
	}
	return form.Show(w, r, http.StatusOK, resultPage(v))
}

// latest says whether nothing was read since, so that the fryer stands as this reading left it.
func latest(res *state.ReadingResult) bool {
	return !res.Snapshot.Finished.Before(res.Fryer.LastRead)
}

// tone gives how bad it is, for the look of the verdict.
func tone(res *state.ReadingResult, c drift.Counts) state.Tone {
	unknown := c.Unknown
	if res.Snapshot.Purpose == snapshot.AsLeft && latest(res) {
		unknown = res.Fryer.Unknown + res.Fryer.Wrong() // a reading as left need not read everything again
	}
	switch worst := c.Worst(); {
	case worst >= sheet.Food:
		return state.Trouble
	case worst > 0:
		return state.Mind
	case unknown > 0:
		return state.Ask
	default:
		return state.Calm
	}
}

// verdict says in a sentence what the reading found.
func verdict(res *state.ReadingResult, c drift.Counts) string {
	switch {
	case c.Drifted == 0 && c.Broken == 0:
		return allRight(res, c)
	case res.Snapshot.Purpose == snapshot.AsLeft:
		return stillOff(res, c)
	case c.Drifted == 0:
		return "Every value read is as expected, but " + counted(c.Broken, "rule is broken.", "rules are broken.")
	case res.Cause.Sentence != "":
		return res.Cause.Sentence
	default:
		return counted(c.Drifted, "setting is off.", "settings are off.")
	}
}

func allRight(res *state.ReadingResult, c drift.Counts) string {
	switch {
	case res.Snapshot.Purpose == snapshot.AsLeft && latest(res):
		return proved(&res.Fryer, c)
	case c.Unknown > 0:
		return "What was read is as it should be; " + counted(c.Unknown, "setting was not read.", "settings were not read.")
	case c.Accepted > 0:
		return "All settings are as they should be, with " + counted(c.Accepted, "accepted difference.", "accepted differences.")
	default:
		return "All settings are as they should be."
	}
}

// proved says how the fryer is left by a reading as left that found nothing off: it need not have read everything again.
func proved(f *state.Fryer, c drift.Counts) string {
	switch {
	case f.Wrong() > 0:
		return "What was read is put right. Not read again yet: " + f.Sentence()
	case f.Unknown > 0:
		return "What was read is put right; " + counted(f.Unknown, "setting is not known.", "settings are not known.")
	case c.Unknown > 0:
		return "All settings are as they should be: what was off is put right and read again."
	default:
		return "All settings are as they should be: everything was read again."
	}
}

// stillOff names what a reading as left found off; at most three by name.
func stillOff(res *state.ReadingResult, c drift.Counts) string {
	const most = 3
	var names []string
	drifted := res.Result.Drifted()
	for i := range min(most, len(drifted)) {
		names = append(names, ui.PlaceIn(res.Expected, drifted[i].Place))
	}
	if more := len(drifted) - len(names); more > 0 {
		names = append(names, fmt.Sprintf("%d more", more))
	}
	if c.Broken > 0 {
		names = append(names, counted(c.Broken, "broken rule", "broken rules"))
	}
	return "Still off: " + strings.Join(names, "; ") + "."
}
