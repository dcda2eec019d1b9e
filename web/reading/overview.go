package reading

import (
	"net/http"

	"frywright/domain/access"
	"frywright/domain/drift"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// finishing is what was typed into the forms that close a reading.
type finishing struct {
	Note     string
	Why      string
	Dropping bool
	Err      error
}

// overview is what the page of an open reading shows.
type overview struct {
	Frame    ui.Frame
	Fryer    state.Fryer
	Snapshot snapshot.Snapshot
	Groups   []group
	Total    int
	Done     int // with a reading, or marked as not readable
	Known    int
	Off      int // drifted so far
	Broken   int // rules broken so far
	Result   *drift.Result
	Expected *standard.Expected
	Proof    int // how many settings have to be proved; 0: nothing special
	Proved   int // of them gone through
	Next     int // the next position to read; 0: what the reading is for is done
	NextName string
	Rest     int // the first position without a reading; 0: none
	Was      weighView
	May      bool // the actor may go on with it
	Closing  finishing
	// An entry id for each of the forms.
	EntryFinish, EntryDrop uuid.UUID
}

// group is the settings of one group with how far it has been read.
type group struct {
	Name  string
	Lines []line
	Done  int
	Off   int
}

// line is one setting of the overview.
type line struct {
	Pos     int
	Label   string
	Finding *drift.Finding
	Reading snapshot.Reading
	Has     bool
}

// proving says whether the reading still goes through what was off before.
func (v *overview) proving() bool { return v.Proof > 0 && v.Proved < v.Proof }

// Show shows an open reading: how far it is and what is off so far. A closed one is shown as its result.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error {
	res, err := p.load(r)
	if err != nil {
		return err
	}
	if !res.Snapshot.Finished.IsZero() {
		return form.See(w, r, path.ReadingResult(res.Snapshot.ID), "")
	}
	return p.showOverview(w, r, res, finishing{})
}

func (p *Pages) showOverview(w http.ResponseWriter, r *http.Request, res state.ReadingResult, closing finishing) error {
	actor := access.FromContext(r.Context())
	o, err := p.order(r, res.Fryer.ID, res.Snapshot.Purpose)
	if err != nil {
		return err
	}
	v := overview{
		Frame: ui.FrameFor(r, "Reading of "+res.Fryer.Tag+", "+res.Snapshot.Purpose.Word(), "fryers"), Fryer: res.Fryer, Snapshot: res.Snapshot,
		Groups: groups(&res), Total: len(res.Result.Findings), Known: len(res.Snapshot.Values()), Proof: len(o.proof), Next: o.next(&res, 0), Rest: o.rest(&res),
		Was: saved(r, &res), May: access.Can(actor, access.TakeReading, res.Fryer.SiteID) == access.Allowed,
		Closing: closing, EntryFinish: p.NewID(), EntryDrop: p.NewID(),
	}
	for _, g := range v.Groups {
		v.Done += g.Done
		v.Off += g.Off
	}
	v.Result, v.Expected, v.Broken = &res.Result, res.Expected, res.Result.Counts().Broken
	v.Proved = o.proved(&res)
	if v.Next > 0 {
		v.NextName = ui.PlaceIn(res.Expected, res.Result.Findings[v.Next-1].Place)
	}
	return form.Write(w, r, overviewPage(v), closing.Err)
}

// groups lays the settings out by group, in the controller's order.
func groups(res *state.ReadingResult) []group {
	var list []group
	for i := range res.Result.Findings {
		f := &res.Result.Findings[i]
		if len(list) == 0 || list[len(list)-1].Name != f.Setting.Group {
			list = append(list, group{Name: f.Setting.Group})
		}
		g := &list[len(list)-1]
		l := line{Pos: i + 1, Label: ui.PlaceName(res.Expected.Appliance, f.Place), Finding: f}
		if l.Reading, l.Has = res.Snapshot.Readings[f.Ref]; l.Has {
			g.Done++
		}
		if f.Status == drift.Drifted {
			g.Off++
		}
		g.Lines = append(g.Lines, l)
	}
	return list
}
