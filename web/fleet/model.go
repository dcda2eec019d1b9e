package fleet

import (
	"net/http"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

type modelsView struct {
	Frame  ui.Frame
	Models []fleet.Model
	Sheets map[uuid.UUID]string
}

// Models lists the fryer models.
func (p *Pages) Models(w http.ResponseWriter, r *http.Request) error {
	list, err := p.Store.Models(r.Context())
	if err != nil {
		return err
	}
	sheets, err := p.Store.Sheets(r.Context())
	if err != nil {
		return err
	}
	v := modelsView{ui.FrameFor(r, "Fryer models", "sheets"), list, map[uuid.UUID]string{}}
	for _, s := range sheets {
		v.Sheets[s.ID] = s.Name
	}
	return form.Show(w, r, http.StatusOK, modelsPage(v))
}

type modelView struct {
	Frame  ui.Frame
	Model  fleet.Model
	Typed  func(name, stands string) string
	Sheets []*sheet.Sheet
	Base   uuid.UUID
	Entry  uuid.UUID
	New    bool
	Err    error
	At     complaints
}

// EditModel shows the form of a fryer model.
func (p *Pages) EditModel(w http.ResponseWriter, r *http.Request) error {
	id, fresh, err := p.subject(r)
	if err != nil {
		return err
	}
	v := modelView{
		Frame: ui.FrameFor(r, "New fryer model", "sheets"), Model: fleet.Model{ID: id, Energy: sheet.Gas, Pot: sheet.SinglePot},
		Typed: asStands, Entry: p.NewID(), New: fresh,
	}
	if !fresh {
		if v.Model, v.Base, err = p.Store.Model(r.Context(), id); err != nil {
			return err
		}
		v.Frame.Title = v.Model.Name
	}
	if v.Sheets, err = p.Store.Sheets(r.Context()); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, modelPage(v))
}

// SaveModel saves a fryer model.
func (p *Pages) SaveModel(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	var f fault.Fields
	m := readModel(r, &f, id)
	err = p.record(r, f, id, fleet.ModelSaved{Model: m})
	if !shown(err) {
		if err != nil {
			return err
		}
		return form.See(w, r, path.Models(), "saved")
	}
	base := form.UUID(r, "base")
	v := modelView{
		Frame: ui.FrameFor(r, "Fryer model", "sheets"), Model: m, Typed: typedIn(r), Base: base, Entry: p.NewID(), New: base == uuid.Nil,
		Err: err, At: complaintsOf(err),
	}
	var lists error
	if v.Sheets, lists = p.Store.Sheets(r.Context()); lists != nil {
		return lists
	}
	return form.Write(w, r, modelPage(v), err)
}

func readModel(r *http.Request, f *fault.Fields, id uuid.UUID) fleet.Model {
	return fleet.Model{
		ID: id, Code: form.Text(r, "code"), Name: form.Text(r, "name"), Sheet: form.UUID(r, "sheet"),
		Energy: sheet.Energy(form.Text(r, "energy")), Pot: sheet.Pot(form.Text(r, "pot")),
		RatedWatts: form.Number(r, f, "rated_watts", "The rated input"), OilKg: form.Number(r, f, "oil_kg", "The oil"),
		RatedVolts: form.Number(r, f, "rated_volts", "The rated voltage"), Phases: form.Whole(r, f, "phases", "The number of phases"),
		Burners: form.Whole(r, f, "burners", "The number of burners"), Elements: form.Whole(r, f, "elements", "The number of elements"),
		BasketLifts: form.Whole(r, f, "basket_lifts", "The number of basket lifts"),
		Recovery: fleet.RecoverySpec{
			FromF: form.Number(r, f, "recovery_from", "The start of the window"), ToF: form.Number(r, f, "recovery_to", "The end of the window"),
			LimitSeconds: form.Number(r, f, "recovery_limit", "The limit"),
		},
	}
}
