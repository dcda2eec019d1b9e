package desk

import (
	"net/http"
	"net/url"
	"strconv"
	"time"

	"frywright/domain/fault"
	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

const (
	perPage     = 30
	mostChoices = 500 // restaurants to choose from
)

// ages are the choices of "for more than so many days".
var ages = []int{1, 3, 7, 30}

// The lists of the desk.
const (
	showHands = ""      // what needs hands
	showStale = "stale" // not read since something happened
	showOpen  = "open"  // being read
	showNever = "never" // never read
)

// wanted is what the address asks for. It is the whole of it, so that the address can be kept.
type wanted struct {
	Show     string
	Customer uuid.UUID
	Site     uuid.UUID
	Class    sheet.Class
	Days     int
	Page     int
}

// deskView is what the desk shows.
type deskView struct {
	Frame     ui.Frame
	Now       time.Time
	Wanted    wanted
	Totals    state.Totals
	Page      state.Page
	Customers []fleet.Customer
	Sites     []state.Site // of the chosen company
}

// Desk lists what needs hands, the worst first.
func (p *Pages) Desk(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	v := deskView{Frame: ui.FrameFor(r, "Desk", "desk"), Now: p.Now(), Wanted: wantedOf(r)}
	v.Frame.Wide = true
	var err error
	if v.Totals, err = p.Store.Totals(ctx); err != nil {
		return err
	}
	if v.Customers, err = p.Store.Customers(ctx); err != nil {
		return err
	}
	if err := p.narrow(r, &v); err != nil {
		return err
	}
	if v.Page, err = p.Store.Fryers(ctx, v.Wanted.filter()); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, deskPage(v))
}

// narrow makes company and restaurant agree: a restaurant alone brings its company along, and a restaurant of another
// company than the one just chosen is let go of.
func (p *Pages) narrow(r *http.Request, v *deskView) error {
	want := &v.Wanted
	if want.Site != uuid.Nil {
		site, _, err := p.Store.Site(r.Context(), want.Site)
		switch {
		case err != nil && fault.KindOf(err) == fault.NotFound:
			want.Site = uuid.Nil
		case err != nil:
			return err
		case want.Customer == uuid.Nil:
			want.Customer = site.Customer
		case want.Customer != site.Customer:
			want.Site = uuid.Nil
		}
	}
	if want.Customer == uuid.Nil {
		return nil
	}
	page, err := p.Store.Sites(r.Context(), state.SiteFilter{Customer: want.Customer, PerPage: mostChoices})
	v.Sites = page.Sites
	return err
}

// wantedOf reads the address. What is no id, no class and no number narrows nothing.
func wantedOf(r *http.Request) wanted {
	q := r.URL.Query()
	w := wanted{Page: form.Page(r)}
	switch show := q.Get("show"); show {
	case showStale, showOpen, showNever:
		w.Show = show
	}
	w.Customer, _ = uuid.Parse(q.Get("customer"))
	w.Site, _ = uuid.Parse(q.Get("site"))
	w.Class, _ = sheet.ParseClass(q.Get("class"))
	if days, err := strconv.Atoi(q.Get("days")); err == nil && days > 0 && days <= 3650 {
		w.Days = days
	}
	return w
}

func (w wanted) filter() state.Filter {
	return state.Filter{
		Customer: w.Customer, Site: w.Site, Worst: w.Class, OlderH: w.Days * 24,
		Hands: w.Show != showNever, Stale: w.Show == showStale, Open: w.Show == showOpen, Never: w.Show == showNever,
		Page: w.Page, PerPage: perPage,
	}
}

// narrowed says whether the list is less than everything that needs hands.
func (w wanted) narrowed() bool {
	w.Page = 0
	return w != wanted{}
}

// href gives the address of what is wanted.
func (w wanted) href() string {
	q := url.Values{}
	if w.Show != showHands {
		q.Set("show", w.Show)
	}
	if w.Customer != uuid.Nil {
		q.Set("customer", w.Customer.String())
	}
	if w.Site != uuid.Nil {
		q.Set("site", w.Site.String())
	}
	if w.Class != 0 {
		q.Set("class", w.Class.String())
	}
	if w.Days > 0 {
		q.Set("days", strconv.Itoa(w.Days))
	}
	if w.Page > 0 {
		q.Set("page", strconv.Itoa(w.Page+1))
	}
	if len(q) == 0 {
		return path.Desk()
	}
	return path.Desk() + "?" + q.Encode()
}

// pageLink gives the address of another page of the same list.
func (w wanted) pageLink(page int) string {
	w.Page = page
	return w.href()
}
