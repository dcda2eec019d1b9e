package site

import (
	"cmp"
	"net/http"
	"slices"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

const lately = 12 // lines of the history

// switched is a rule of the outside world and whether it is switched on here.
type switched struct {
	rule.Rule
	On    bool
	Entry uuid.UUID // of the entry that switches it
}

// layer is the way to the restaurant's own standard for one controller type.
type layer struct {
	SheetID uuid.UUID
	Name    string
	Fryers  int
}

// showView is what a restaurant's page shows to those who service it.
type showView struct {
	Frame   ui.Frame
	Site    fleet.Site
	Fryers  []state.Fryer // in use, the worst first
	Retired []state.Fryer
	More    int // fryers that are not listed
	History []state.Happening
	Rules   []switched
	Layers  []layer
	Edits   bool
	Sets    bool // standards and rules
	Err     error
}

// plainView is what a restaurant's page shows to its manager.
type plainView struct {
	Frame   ui.Frame
	Site    fleet.Site
	Fryers  []state.Fryer
	More    int
	History []state.Happening
}

// Show shows one restaurant.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error { return p.show(w, r, nil) }

func (p *Pages) show(w http.ResponseWriter, r *http.Request, invalid error) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	site, _, err := p.Store.Site(r.Context(), id)
	if err != nil {
		return err
	}
	page, err := p.Store.Fryers(r.Context(), state.Filter{Site: id, Retired: true, PerPage: mostFryers})
	if err != nil {
		return err
	}
	v := showView{Frame: ui.FrameFor(r, site.Name, "sites"), Site: site, More: page.Total - len(page.Fryers), Err: invalid}
	v.Fryers, v.Retired = inUse(page.Fryers)
	if v.History, err = p.Store.SiteHistory(r.Context(), id, 0, lately); err != nil {
		return err
	}
	if !may(r, access.SeeSettings, id) {
		return form.Show(w, r, http.StatusOK, plainPage(plainView{v.Frame, site, v.Fryers, v.More, v.History}))
	}
	if err := p.addRules(r, &v); err != nil {
		return err
	}
	return form.Write(w, r, showPage(v), invalid)
}

// addRules adds the rules and the standards, as far as the actor may see or set them.
func (p *Pages) addRules(r *http.Request, v *showView) error {
	v.Edits, v.Sets = may(r, access.EditFleet, uuid.Nil), may(r, access.SetSiteStandard, v.Site.ID)
	keys, err := p.Store.SiteRules(r.Context(), v.Site.ID)
	if err != nil {
		return err
	}
	for _, one := range rule.Rules() {
		v.Rules = append(v.Rules, switched{one, slices.Contains(keys, one.Key), p.NewID()})
	}
	v.Layers = layersOf(v.Fryers)
	return nil
}

// SwitchRule switches a rule of the outside world on or off for the restaurant.
func (p *Pages) SwitchRule(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	to := form.Text(r, "to")
	if to != "on" && to != "off" {
		return p.show(w, r, fault.New(fault.Invalid, "Say whether the rule is switched on or off."))
	}
	body := rule.Switched{Rule: form.Text(r, "rule"), On: to == "on"}
	_, err = p.Store.Record(r.Context(), journal.Draft{ID: form.EntryID(r), Subject: id, Body: body})
	switch kind := fault.KindOf(err); {
	case err == nil:
		return form.See(w, r, path.Site(id), "rule-"+to)
	case kind == fault.Invalid || kind == fault.Conflict || kind == fault.Unavailable:
		return p.show(w, r, err)
	default:
		return err
	}
}

// first gives the fryer to begin with, for whoever comes to work: the worst, where one needs hands or was never read.
func (v *showView) first() (*state.Fryer, bool) {
	if v.Edits || len(v.Fryers) == 0 {
		return nil, false
	}
	f := &v.Fryers[0]
	return f, f.NeedsHands() || f.LastRead.IsZero()
}

// inUse parts fryers into those in use, the worst first, and the retired ones.
func inUse(list []state.Fryer) (used, retired []state.Fryer) {
	for _, f := range list {
		if f.Retired.IsZero() {
			used = append(used, f)
		} else {
			retired = append(retired, f)
		}
	}
	worstFirst(used)
	return used, retired
}

// worstFirst orders fryers as the desk does: by the worst matter, where not read since something happened stands
// between food and output, for it may hide either; then what is being read; then what was never read.
func worstFirst(list []state.Fryer) {
	slices.SortStableFunc(list, func(a, b state.Fryer) int {
		return cmp.Or(cmp.Compare(urgency(&b), urgency(&a)), cmp.Compare(a.Tag, b.Tag))
	})
}

func urgency(f *state.Fryer) int {
	n := 10 * int(f.Worst())
	if !f.StaleSince.IsZero() {
		n = max(n, 10*int(sheet.Output)+5)
	}
	if f.OpenID != uuid.Nil {
		n = max(n, 5)
	}
	if f.LastRead.IsZero() {
		n = max(n, 3)
	}
	if f.Unknown > 0 {
		n = max(n, 1)
	}
	return n
}

// layersOf lists the controller types of the fryers, each once, by name.
func layersOf(list []state.Fryer) []layer {
	at := map[uuid.UUID]int{}
	var layers []layer
	for _, f := range list {
		i, ok := at[f.SheetID]
		if !ok {
			i = len(layers)
			at[f.SheetID] = i
			layers = append(layers, layer{SheetID: f.SheetID, Name: f.SheetName})
		}
		layers[i].Fryers++
	}
	slices.SortFunc(layers, func(a, b layer) int { return cmp.Compare(a.Name, b.Name) })
	return layers
}
