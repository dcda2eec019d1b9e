// Package sheet is the pages of the settings sheets of controller types: the list, one sheet in the controller's order,
// the forms of one setting and one interlock, every version, and files to take away. It must not know of readings.
package sheet

import (
	"context"
	"net/http"
	"slices"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// Store is what the pages ask of the store.
type Store interface {
	Record(ctx context.Context, drafts ...journal.Draft) ([]journal.Entry, error)
	Sheets(ctx context.Context) ([]*sheet.Sheet, error)
	Sheet(ctx context.Context, id uuid.UUID) (*sheet.Sheet, uuid.UUID, error)
	SheetHistory(ctx context.Context, id uuid.UUID) ([]state.SheetChange, error)
}

// Pages are the pages of the settings sheets.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time
}

// freshKey stands in an address for what is not made yet: no key can look like it.
const freshKey = "-"

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	const edit = access.EditSheet
	return []form.Route{
		{Method: "GET", Pattern: "/sheets", Handler: p.List, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sheets/new", Handler: p.New, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sheets/{id}", Handler: p.Show, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/sheets/{id}", Handler: p.SaveHead, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sheets/{id}/settings/{key}", Handler: p.EditSetting, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/sheets/{id}/settings/{key}", Handler: p.SaveSetting, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sheets/{id}/interlocks/{key}", Handler: p.EditInterlock, Action: edit, Site: form.NoSite},
		{Method: "POST", Pattern: "/sheets/{id}/interlocks/{key}", Handler: p.SaveInterlock, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sheets/{id}/history", Handler: p.History, Action: edit, Site: form.NoSite},
		{Method: "GET", Pattern: "/sheets/{id}/files/{kind}.csv", Handler: p.File, Action: edit, Site: form.NoSite},
	}
}

type listView struct {
	Frame  ui.Frame
	Sheets []*sheet.Sheet
}

// List shows every settings sheet.
func (p *Pages) List(w http.ResponseWriter, r *http.Request) error {
	list, err := p.Store.Sheets(r.Context())
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, listPage(listView{ui.FrameFor(r, "Settings sheets", "sheets"), list}))
}

type headView struct {
	Frame ui.Frame
	Sheet sheet.Sheet
	Base  uuid.UUID
	Entry uuid.UUID
	Err   error
}

// New shows the form that begins a sheet.
func (p *Pages) New(w http.ResponseWriter, r *http.Request) error {
	v := headView{Frame: ui.FrameFor(r, "New settings sheet", "sheets"), Sheet: sheet.Sheet{ID: p.NewID()}, Entry: p.NewID()}
	return form.Show(w, r, http.StatusOK, newPage(v))
}

// SaveHead saves the code, the name and the note of a sheet, which it begins where it is new.
func (p *Pages) SaveHead(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	sh, err := p.copyOf(r, id)
	if fault.KindOf(err) == fault.NotFound && form.UUID(r, "base") == uuid.Nil {
		sh, err = sheet.Sheet{ID: id}, nil
	}
	if err != nil {
		return err
	}
	sh.Code, sh.Name, sh.Note = form.Text(r, "code"), form.Text(r, "name"), form.Text(r, "note")
	err = p.record(r, sh, "name and code")
	if shown(err) {
		v := headView{ui.FrameFor(r, "Settings sheet", "sheets"), sh, form.UUID(r, "base"), p.NewID(), err}
		return form.Write(w, r, newPage(v), err)
	}
	if err != nil {
		return err
	}
	return form.See(w, r, path.Sheet(id), "saved")
}

// copyOf gives a sheet that may be changed: the stored one is shared.
func (p *Pages) copyOf(r *http.Request, id uuid.UUID) (sheet.Sheet, error) {
	shared, _, err := p.Store.Sheet(r.Context(), id)
	if err != nil {
		return sheet.Sheet{}, err
	}
	sh := *shared
	sh.Settings, sh.Interlocks = slices.Clone(sh.Settings), slices.Clone(sh.Interlocks)
	return sh, nil
}

func (p *Pages) record(r *http.Request, sh sheet.Sheet, why string) error {
	if said := form.Text(r, "why"); said != "" {
		why = said
	}
	_, err := p.Store.Record(r.Context(), journal.Draft{
		ID: form.EntryID(r), Subject: sh.ID, Base: form.UUID(r, "base"), Body: sheet.Saved{Sheet: sh, Why: why},
	})
	return err
}

// shown says whether an error is shown on the form again; other errors are for the error page.
func shown(err error) bool {
	kind := fault.KindOf(err)
	return err != nil && (kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable)
}

type showView struct {
	Frame ui.Frame
	Sheet *sheet.Sheet
	Base  uuid.UUID
	Entry uuid.UUID
}

// Show shows one sheet in the controller's own order.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	sh, base, err := p.Store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	v := showView{ui.FrameFor(r, sh.Name, "sheets"), sh, base, p.NewID()}
	v.Frame.Wide = true
	return form.Show(w, r, http.StatusOK, showPage(v))
}

type historyView struct {
	Frame   ui.Frame
	ID      uuid.UUID
	Changes []state.SheetChange
}

// History shows every version of a sheet.
func (p *Pages) History(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	changes, err := p.Store.SheetHistory(r.Context(), id)
	if err != nil {
		return err
	}
	if len(changes) == 0 {
		return fault.New(fault.NotFound, "There is nothing at this address.")
	}
	return form.Show(w, r, http.StatusOK, historyPage(historyView{ui.FrameFor(r, "Every version", "sheets"), id, changes}))
}

// File gives a sheet as a file that can be edited and imported again.
func (p *Pages) File(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	sh, _, err := p.Store.Sheet(r.Context(), id)
	if err != nil {
		return err
	}
	var data []byte
	switch kind := intake.Kind(chi.URLParam(r, "kind")); kind {
	case intake.Sheets:
		data = intake.WriteSheets(*sh)
	case intake.Interlocks:
		data = intake.WriteInterlocks(*sh)
	default:
		return fault.New(fault.NotFound, "There is nothing at this address.")
	}
	w.Header().Set("Content-Type", "text/csv; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="`+sh.Code+"-"+chi.URLParam(r, "kind")+`.csv"`)
	_, _ = w.Write(data) // an error here means that the reader went away
	return nil
}
