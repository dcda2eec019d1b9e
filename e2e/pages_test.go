package e2e

import (
	"testing"

	"frywright/cmd/frywright/scenario"
)

// The sign-ins of the demo that the tests use.
const (
	lead    = scenario.LeadEmail
	desk    = scenario.DeskEmail
	ines    = scenario.FridayEmail
	manager = scenario.ManagerEmail
)

// fridayFryer opens the first fryer of the restaurant whose power failed, and gives its path.
func (v *visitor) fridayFryer() string {
	v.t.Helper()
	v.open("/tag/" + fridayTag)
	return v.at()
}

// fridayTag is the asset tag of the first fryer whose settings the power cut wiped.
var fridayTag = scenario.FridayTags()[0]

// TestEveryPageOfTheDesk inspects what dispatchers and the service lead see.
func TestEveryPageOfTheDesk(t *testing.T) {
	v := newVisitor(t, lead)
	site := func() string { v.open("/sites?q=Vexley+Cellars"); return v.links("main .row-link")[0] }()
	fryer := v.fridayFryer()
	v.open("/sheets")
	sheet := v.links(`main a[href^="/sheets/"]:not([href="/sheets/new"])`)[0]
	v.open("/standards")
	standard := v.links(`main a[href^="/standards/c"]`)[0]
	v.open(sheet)
	setting, interlock := v.links(`main a[href*="/settings/"]:not([href$="/-"])`)[0], v.links(`main a[href*="/interlocks/"]:not([href$="/-"])`)[0]
	v.open("/customers")
	customer := v.links(`main a[href^="/customers/"]:not([href="/customers/new"])`)[0]
	v.open("/models")
	model := v.links(`main a[href^="/models/"]:not([href="/models/new"])`)[0]
	v.open("/people")
	person := v.links(`main a[href^="/people/"]:not([href="/people/new"])`)[0]
	for name, path := range map[string]string{
		"desk": "/desk", "desk-filtered": "/desk?class=food", "desk-empty": "/desk?class=safety&older=720", "lately": "/lately", "set-aside": "/set-aside",
		"sites": "/sites", "site": site, "site-edit": site + "/edit", "site-new": "/sites/new", "fryers": "/fryers", "fryers-none": "/fryers?q=nosuchthing",
		"fryer": fryer, "fryer-edit": fryer + "/edit", "fryer-move": fryer + "/move", "fryer-new": "/fryers/new", "fryer-expected": fryer + "/expected",
		"fryer-history": fryer + "/history", "standards": "/standards", "standard": standard, "standard-history": standard + "/history",
		"sheets": "/sheets", "sheet": sheet, "sheet-new": "/sheets/new", "setting": setting, "setting-new": sheet + "/settings/-", "interlock": interlock,
		"sheet-history": sheet + "/history", "customers": "/customers", "customer": customer, "models": "/models", "model": model,
		"people": "/people", "person": person, "person-new": "/people/new", "import": "/import", "account": "/account", "sessions": "/account/sessions", "second-step": "/account/second-step",
		"not-found": "/nothing/here",
	} {
		t.Run(name, func(t *testing.T) {
			w := &visitor{t, v.ctx}
			w.open(path)
			w.inspect("desk-" + name)
		})
	}
}

// TestPagesOutside inspects what is seen before signing in.
func TestPagesOutside(t *testing.T) {
	v := newVisitor(t, "")
	for name, path := range map[string]string{"signin": "/signin", "link-over": "/welcome/used-already"} {
		v.open(path)
		v.inspect("outside-" + name)
	}
}

// TestEveryPageOfTheManager inspects what a restaurant manager sees.
func TestEveryPageOfTheManager(t *testing.T) {
	v := newVisitor(t, manager)
	fryer := v.fridayFryer()
	v.open("/sites")
	site := v.links(`main a[href^="/sites/"]`)[0]
	for name, path := range map[string]string{
		"sites": "/sites", "site": site, "fryers": "/fryers", "fryer": fryer, "history": fryer + "/history", "denied": "/desk", "hidden": fryer + "/put-back",
	} {
		v.open(path)
		v.inspect("manager-" + name)
	}
}
