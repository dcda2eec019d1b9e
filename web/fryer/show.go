package fryer

import (
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/snapshot"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/ui"

	"github.com/google/uuid"
)

const (
	readingsShown = 5
	historyShown  = 6
	historyRead   = 30 // so many are looked through for the last notes
	notesShown    = 3
)

// said is what was typed into the forms of the fryer's page.
type said struct {
	What, Happened, Note string
	Text                 string
	Event, Noting        bool // which of the forms it was
	Err                  error
}

// showView is what the fryer's page shows to those who service it.
type showView struct {
	Frame      ui.Frame
	Fryer      state.Fryer
	Assessment state.Assessment
	Accepted   []drift.Finding
	Readings   []state.Reading
	History    []state.Happening
	Notes      []state.Happening
	Said       said
	Reads      bool // may take readings
	Writes     bool // may leave notes
	Edits      bool // may edit the fryer's record
	// An entry id for each of the forms.
	EntryStep, EntryOther, EntryEvent, EntryNote uuid.UUID
}

// Show shows how a fryer stands and what is the next thing to do.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	f, err := p.Store.Fryer(r.Context(), id)
	if err != nil {
		return err
	}
	return p.show(w, r, f, said{Happened: localNow(p.Now(), f.Zone)})
}

// localNow gives a moment as the field for day and time wants it, in a zone.
func localNow(t time.Time, zone string) string {
	loc, err := fleet.Zone(zone)
	if err != nil {
		loc = time.UTC
	}
	return t.In(loc).Format("2006-01-02T15:04")
}

func (p *Pages) show(w http.ResponseWriter, r *http.Request, f state.Fryer, s said) error {
	if !may(r, access.SeeSettings, &f) {
		return p.showPlain(w, r, f)
	}
	v := showView{
		Frame: ui.FrameFor(r, f.Tag+", "+f.SiteName, "fryers"), Fryer: f, Said: s,
		Reads: may(r, access.TakeReading, &f), Writes: may(r, access.WriteNote, &f), Edits: may(r, access.EditFleet, &f),
		EntryStep: p.NewID(), EntryOther: p.NewID(), EntryEvent: p.NewID(), EntryNote: p.NewID(),
	}
	var err error
	if v.Assessment, err = p.Store.Assessment(r.Context(), f.ID); err != nil {
		return err
	}
	if v.Readings, err = p.Store.Readings(r.Context(), f.ID, readingsShown); err != nil {
		return err
	}
	if v.History, err = p.Store.FryerHistory(r.Context(), f.ID, 0, historyRead); err != nil {
		return err
	}
	v.Accepted = v.Assessment.Result.With(drift.Accepted)
	v.Notes = notes(v.History)
	v.History = v.History[:min(len(v.History), historyShown)]
	return form.Write(w, r, showPage(v), s.Err)
}

// notes gives the last notes of a history.
func notes(history []state.Happening) []state.Happening {
	var found []state.Happening
	for _, h := range history {
		if h.Kind == snapshot.KindNote && len(found) < notesShown {
			found = append(found, h)
		}
	}
	return found
}

// plainView is what the fryer's page shows to a restaurant manager.
type plainView struct {
	Frame   ui.Frame
	Fryer   state.Fryer
	History []state.Happening
}

func (p *Pages) showPlain(w http.ResponseWriter, r *http.Request, f state.Fryer) error {
	v := plainView{Frame: ui.FrameFor(r, f.Tag+", "+f.SiteName, "fryers"), Fryer: f}
	list, err := p.Store.FryerHistory(r.Context(), f.ID, 0, historyRead)
	if err != nil {
		return err
	}
	v.History = list[:min(len(list), historyShown)]
	return form.Show(w, r, http.StatusOK, plainPage(v))
}

// events are the choices of the form that notes one.
func (v *showView) events() []ui.Option {
	var options []ui.Option
	for _, k := range cause.EventKinds() {
		options = append(options, ui.Option{Value: string(k), Label: eventLabel(k), Selected: v.Said.What == string(k)})
	}
	return options
}

func (v *showView) complaint(field string) string {
	return ui.ErrorOf(fault.FieldsOf(v.Said.Err), field)
}
