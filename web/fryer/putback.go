package fryer

import (
	"net/http"
	"strings"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/putback"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// putBackView is what the put-back list shows.
type putBackView struct {
	Frame    ui.Frame
	Fryer    state.Fryer
	Expected *standard.Expected
	Groups   []putBackGroup
	List     putback.List
	Doubt    string // why nothing should be put back before something was checked; empty: nothing speaks against it
	May      bool   // the actor may tick
	Entry    uuid.UUID
}

// putBackGroup is the lines that stand together on the controller.
type putBackGroup struct {
	Name  string
	Again bool
	Lines []putBackLine
}

// putBackLine is one setting to re-enter.
type putBackLine struct {
	putback.Line
	Label string
	Name  string    // the label, with its group where that is needed
	First string    // what has to be entered before it and is not yet
	Entry uuid.UUID // of the form that ticks it
}

// PutBack shows the settings to put back, in the order in which the controller takes them.
func (p *Pages) PutBack(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	a, err := p.Store.Assessment(r.Context(), id)
	if err != nil {
		return err
	}
	v := putBackView{
		Frame: ui.FrameFor(r, "Put back, "+a.Fryer.Tag, "fryers"), Fryer: a.Fryer, Expected: a.Expected,
		List: listOf(&a), May: may(r, access.TakeReading, &a.Fryer), Entry: p.NewID(),
	}
	v.Frame.Print = true
	if a.Cause.Verdict == cause.WrongSheet {
		v.Doubt = a.Cause.Sentence
	}
	v.Groups = p.putBackGroups(&v.List, v.Expected)
	return form.Show(w, r, http.StatusOK, putBackPage(v))
}

// sentence says how much there is to do. Where nothing was read since something happened, that nothing differs says
// nothing.
func (v *putBackView) sentence() string {
	if v.List.Total == 0 && (v.Fryer.LastRead.IsZero() || !v.Fryer.StaleSince.IsZero()) {
		return "What has to be put back is not known yet. Read the settings first."
	}
	return v.List.Sentence()
}

// listOf gives the put-back list of a fryer, with what was ticked off.
func listOf(a *state.Assessment) putback.List {
	list := putback.Make(a.Expected, a.Result)
	list.Tick(a.Ticks)
	return list
}

func (p *Pages) putBackGroups(list *putback.List, x *standard.Expected) []putBackGroup {
	open := map[sheet.Ref]string{} // what is not ticked off, by name
	for _, l := range list.Lines() {
		if !l.Ticked {
			open[l.Finding.Ref] = ui.PlaceIn(x, l.Finding.Place)
		}
	}
	groups := make([]putBackGroup, len(list.Groups))
	for i, g := range list.Groups {
		groups[i] = putBackGroup{Name: g.Name, Again: g.Again}
		for _, l := range g.Lines {
			var first []string
			for _, ref := range l.First {
				if name := open[ref]; name != "" {
					first = append(first, name)
				}
			}
			groups[i].Lines = append(groups[i].Lines, putBackLine{
				Line: l, Label: ui.PlaceName(x.Appliance, l.Finding.Place), Name: ui.PlaceIn(x, l.Finding.Place), First: strings.Join(first, "; "), Entry: p.NewID(),
			})
		}
	}
	return groups
}

// Tick takes in that a line of the list was put back, or was not after all.
func (p *Pages) Tick(w http.ResponseWriter, r *http.Request) error {
	f, err := p.begin(w, r)
	if err != nil {
		return err
	}
	ref, err := refOf(r)
	if err != nil {
		return err
	}
	a, err := p.Store.Assessment(r.Context(), f.ID)
	if err != nil {
		return err
	}
	if a.Expected.Position(ref) < 0 {
		return fault.New(fault.Invalid, "The controller of %s has no such setting. Go back to the list.", f.Tag)
	}
	// The value that stood on the screen is the one that was put back, whatever the standard says by now.
	body := snapshot.Ticked{Ref: ref, Value: sheet.Value(form.Text(r, "value")), Done: form.Text(r, "done") == "1"}
	if err := p.record(r, f.ID, nil, body); err != nil {
		return err
	}
	list := listOf(&a)
	return form.See(w, r, path.FryerPutBack(f.ID)+"#"+tickedAt(&list, body), "")
}

// nextID is the id of what follows the list.
const nextID = "next"

// tickedAt gives where on the page to go on: at the line that was ticked, or behind the list after its last one.
func tickedAt(before *putback.List, b snapshot.Ticked) string {
	for _, l := range before.Lines() {
		if b.Done && !l.Ticked && l.Finding.Ref != b.Ref {
			return lineID(b.Ref)
		}
	}
	if !b.Done {
		return lineID(b.Ref)
	}
	return nextID
}

// lineID gives the id of a line on the page.
func lineID(ref sheet.Ref) string { return ui.FieldID("line-" + ref.String()) }
