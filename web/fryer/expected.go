package fryer

import (
	"net/http"
	"time"

	"frywright/domain/access"
	"frywright/domain/drift"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// expectedView is what the whole sheet of a fryer shows.
type expectedView struct {
	Frame      ui.Frame
	Fryer      state.Fryer
	Assessment state.Assessment
	Groups     []group
	Counts     drift.Counts
	Breaches   []sheet.Breach // of the expected values themselves
}

// group is the settings of one group, in the controller's order.
type group struct {
	Name     string
	Findings []drift.Finding
	Off      int
}

// Expected shows what every setting of a fryer should be, where that comes from, and what was read last.
func (p *Pages) Expected(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	a, err := p.Store.Assessment(r.Context(), id)
	if err != nil {
		return err
	}
	v := expectedView{
		Frame: ui.FrameFor(r, "Expected settings of "+a.Fryer.Tag, "fryers"), Fryer: a.Fryer, Assessment: a,
		Groups: byGroup(&a.Result), Counts: a.Result.Counts(), Breaches: a.Expected.Breaches(),
	}
	return form.Show(w, r, http.StatusOK, expectedPage(v))
}

func byGroup(result *drift.Result) []group {
	var groups []group
	for _, f := range result.Findings {
		if len(groups) == 0 || groups[len(groups)-1].Name != f.Setting.Group {
			groups = append(groups, group{Name: f.Setting.Group})
		}
		g := &groups[len(groups)-1]
		g.Findings = append(g.Findings, f)
		if f.Status == drift.Drifted {
			g.Off++
		}
	}
	return groups
}

// accepting is what was typed into the form that accepts a difference, or ends that.
type accepting struct {
	Reason string
	Until  string
	Err    error
}

// oneView is what the page of one expected value shows.
type oneView struct {
	Frame     ui.Frame
	Fryer     state.Fryer
	Expected  *standard.Expected
	Finding   drift.Finding
	ReadAt    time.Time
	Accepts   bool // may accept differences
	Standards []layerLink
	Typed     accepting
	Entry     uuid.UUID
}

// layerLink leads to a standard in which the value can be changed.
type layerLink struct {
	Label string
	Href  string
}

// ExpectedOne shows what every layer says of one setting.
func (p *Pages) ExpectedOne(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	ref, err := form.Ref(r, "ref")
	if err != nil {
		return err
	}
	return p.showOne(w, r, id, ref, accepting{})
}

func (p *Pages) showOne(w http.ResponseWriter, r *http.Request, id uuid.UUID, ref sheet.Ref, typed accepting) error {
	a, err := p.Store.Assessment(r.Context(), id)
	if err != nil {
		return err
	}
	i := a.Expected.Position(ref)
	if i < 0 {
		return fault.New(fault.NotFound, "The controller of %s has no such setting.", a.Fryer.Tag)
	}
	f := a.Result.Findings[i]
	v := oneView{
		Frame: ui.FrameFor(r, ui.PlaceIn(a.Expected, f.Place)+", "+a.Fryer.Tag, "fryers"), Fryer: a.Fryer,
		Expected: a.Expected, Finding: f, ReadAt: a.ReadAt[ref], Accepts: may(r, access.AcceptDrift, &a.Fryer),
		Typed: typed, Entry: p.NewID(),
	}
	if access.May(access.FromContext(r.Context()), access.SetStandard) {
		v.Standards = layerLinks(&a.Fryer)
	}
	return form.Write(w, r, onePage(v), typed.Err)
}

func layerLinks(f *state.Fryer) []layerLink {
	to := func(level standard.Level, of uuid.UUID) string { return path.Standard(string(level), of, f.SheetID) }
	return []layerLink{
		{"Only this fryer, " + f.Tag, to(standard.OfFryer, f.ID)},
		{"The restaurant, " + f.SiteName, to(standard.OfSite, f.SiteID)},
		{"The company, " + f.CustomerName, to(standard.OfCustomer, f.CustomerID)},
		{"The model, " + f.ModelName, to(standard.OfModel, f.ModelID)},
	}
}

func (v *oneView) complaint(field string) string {
	return ui.ErrorOf(fault.FieldsOf(v.Typed.Err), field)
}
