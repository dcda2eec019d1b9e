// Package intake is the page that imports CSV files: choose files, see every row's outcome, then import. Checked files are
// kept in memory for a while, so that they need not be chosen twice. It must not know how rows are judged or stored.
package intake

import (
	"context"
	"io"
	"mime/multipart"
	"net/http"
	"sync"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/intake"
	"frywright/web/form"
	"frywright/web/ui"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"
)

// Store is what the page asks of the store.
type Store interface {
	PlanImport(ctx context.Context, files []intake.File) (intake.Plan, error)
	Import(ctx context.Context, files []intake.File, goodRows bool) (intake.Plan, bool, error)
}

// Pages is the import page.
type Pages struct {
	Store Store
	NewID func() uuid.UUID
	Now   func() time.Time

	mu      sync.Mutex
	checked map[uuid.UUID]batch // by person: the files that they checked last
}

// batch is checked files that wait to be imported.
type batch struct {
	id    uuid.UUID
	files []intake.File
	at    time.Time
}

// Limits of what is taken and kept.
const (
	uploadLimit = 64 << 20 // bytes, all files together
	memoryLimit = 8 << 20  // bytes held in memory while a form is read
	keepFor     = 30 * time.Minute
	rowsShown   = 500
)

// Routes lists the routes of the feature.
func (p *Pages) Routes() []form.Route {
	return []form.Route{
		{Method: "GET", Pattern: "/import", Handler: p.Show, Action: access.Import, Site: form.NoSite},
		{Method: "POST", Pattern: "/import", Handler: p.Check, Action: access.Import, Site: form.NoSite, Body: uploadLimit},
		{Method: "POST", Pattern: "/import/write", Handler: p.Write, Action: access.Import, Site: form.NoSite},
		{Method: "GET", Pattern: "/import/templates/{kind}.csv", Handler: p.Template, Action: access.Import, Site: form.NoSite},
	}
}

type view struct {
	Frame   ui.Frame
	Err     error
	Batch   uuid.UUID
	Files   []string
	Plan    *intake.Plan
	Rows    []intake.Row // those shown
	Hidden  int          // rows not shown
	Written bool
}

// Show shows the page.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error {
	return form.Show(w, r, http.StatusOK, page(view{Frame: ui.FrameFor(r, "Import", "import")}))
}

// Check says what importing the chosen files would do, and writes nothing.
func (p *Pages) Check(w http.ResponseWriter, r *http.Request) error {
	v := view{Frame: ui.FrameFor(r, "Import", "import")}
	files, err := read(w, r)
	if err != nil {
		v.Err = err
		return form.Write(w, r, page(v), err)
	}
	plan, err := p.Store.PlanImport(r.Context(), files)
	if err != nil {
		return err
	}
	v.fill(plan, files)
	v.Batch = p.keep(access.FromContext(r.Context()).Person, files)
	return form.Show(w, r, http.StatusOK, page(v))
}

// Write imports the files that were checked.
func (p *Pages) Write(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v := view{Frame: ui.FrameFor(r, "Import", "import")}
	files, ok := p.kept(access.FromContext(r.Context()).Person, form.UUID(r, "batch"))
	if !ok {
		v.Err = fault.New(fault.Invalid, "The checked files are no longer at hand. Choose them again.")
		return form.Write(w, r, page(v), v.Err)
	}
	plan, written, err := p.Store.Import(r.Context(), files, r.Form.Get("good_rows") != "")
	if fault.KindOf(err) == fault.Conflict {
		v.Err = fault.New(fault.Conflict, "Something was changed while you looked at the rows. Choose the files again to see what would happen now.")
		return form.Write(w, r, page(v), v.Err)
	}
	if err != nil {
		return err
	}
	v.fill(plan, files)
	v.Written = written
	if !written {
		v.Batch = form.UUID(r, "batch")
	}
	return form.Show(w, r, http.StatusOK, page(v))
}

// Template gives an empty file of a kind, with its columns.
func (p *Pages) Template(w http.ResponseWriter, r *http.Request) error {
	kind := intake.Kind(chi.URLParam(r, "kind"))
	for _, k := range intake.Kinds() {
		if k == kind {
			w.Header().Set("Content-Type", "text/csv; charset=utf-8")
			w.Header().Set("Content-Disposition", `attachment; filename="`+string(k)+`.csv"`)
			_, _ = w.Write(intake.Template(k)) // an error here means that the reader went away
			return nil
		}
	}
	return fault.New(fault.NotFound, "There is nothing at this address.")
}

// fill takes the rows to show: what is wrong first, unchanged rows not at all.
func (v *view) fill(plan intake.Plan, files []intake.File) {
	v.Plan = &plan
	for _, f := range files {
		v.Files = append(v.Files, f.Name)
	}
	for _, wrong := range []bool{true, false} {
		for _, row := range plan.Rows {
			isWrong := row.Outcome == intake.Wrong || row.Outcome == intake.Held
			if isWrong != wrong || row.Outcome == intake.Same {
				continue
			}
			if len(v.Rows) < rowsShown {
				v.Rows = append(v.Rows, row)
			} else {
				v.Hidden++
			}
		}
	}
}

// read takes the files of the form.
func read(w http.ResponseWriter, r *http.Request) ([]intake.File, error) {
	r.Body = http.MaxBytesReader(w, r.Body, uploadLimit)
	if err := r.ParseMultipartForm(memoryLimit); err != nil {
		return nil, fault.Wrap(err, fault.Invalid, "The files could not be read: together they may have 64 MB at most.")
	}
	defer r.MultipartForm.RemoveAll() //nolint:errcheck // temporary files; the system clears them too
	var files []intake.File
	for _, head := range r.MultipartForm.File["files"] {
		data, err := readOne(head)
		if err != nil {
			return nil, fault.Wrap(err, fault.Invalid, "The file %s could not be read.", form.Clean(head.Filename))
		}
		files = append(files, intake.File{Name: form.Clean(head.Filename), Data: data})
	}
	if len(files) == 0 {
		var f fault.Fields
		f.Add("files", "Choose one or more CSV files.")
		return nil, f.Err()
	}
	return files, nil
}

func readOne(head *multipart.FileHeader) ([]byte, error) {
	f, err := head.Open()
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // it was only read
	return io.ReadAll(f)
}

// keep holds a person's files until they are imported or half an hour has gone.
func (p *Pages) keep(person uuid.UUID, files []intake.File) uuid.UUID {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.Now()
	for who, b := range p.checked {
		if now.Sub(b.at) > keepFor {
			delete(p.checked, who)
		}
	}
	if p.checked == nil {
		p.checked = map[uuid.UUID]batch{}
	}
	b := batch{p.NewID(), files, now}
	p.checked[person] = b
	return b.id
}

// kept gives the files that a person checked, if they are still held.
func (p *Pages) kept(person, id uuid.UUID) ([]intake.File, bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	b, ok := p.checked[person]
	if !ok || b.id != id || p.Now().Sub(b.at) > keepFor {
		return nil, false
	}
	return b.files, true
}
