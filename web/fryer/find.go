package fryer

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/sheet"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

const (
	perPage  = 24
	mostSite = 6 // restaurants that need hands, on the first page
)

// findView is what the list of fryers shows.
type findView struct {
	Frame     ui.Frame
	Filter    state.Filter
	Class     string
	Page      state.Page
	Sites     []state.Site // restaurants that need hands; only without a search
	MoreSites int
	Customers []fleet.Customer
	Desk      bool // the filters of the desk
	Plain     bool // for a restaurant manager
	Search    bool // something is searched for or filtered by
}

// Find finds a fryer: all that the actor sees, or what a search and the filters leave.
func (p *Pages) Find(w http.ResponseWriter, r *http.Request) error {
	actor := access.FromContext(r.Context())
	v := findView{
		Frame: ui.FrameFor(r, "Find a fryer", "fryers"), Filter: filterOf(r),
		Desk: access.May(actor, access.SeeDesk), Plain: !access.May(actor, access.SeeSettings),
	}
	if v.Filter.Worst != 0 && !v.Plain {
		v.Class = v.Filter.Worst.String()
	} else {
		v.Filter.Worst = 0
	}
	f := v.Filter
	v.Search = f.Query != "" || f.Customer != uuid.Nil || f.Site != uuid.Nil || f.Worst != 0
	var err error
	if v.Page, err = p.Store.Fryers(r.Context(), f); err != nil {
		return err
	}
	if one, ok := v.exact(); ok {
		return form.See(w, r, path.Fryer(one), "")
	}
	if v.Desk {
		if v.Customers, err = p.Store.Customers(r.Context()); err != nil {
			return err
		}
	} else if !v.Search && !v.Plain && f.Page == 0 {
		if err = p.needHands(r, &v); err != nil {
			return err
		}
	}
	return form.Show(w, r, http.StatusOK, findPage(v))
}

func filterOf(r *http.Request) state.Filter {
	q := r.URL.Query()
	f := state.Filter{Query: form.Clean(q.Get("q")), Page: form.Page(r), PerPage: perPage}
	// What is no id or no class narrows nothing.
	f.Customer, _ = uuid.Parse(q.Get("customer"))
	f.Site, _ = uuid.Parse(q.Get("site"))
	f.Worst, _ = sheet.ParseClass(q.Get("class"))
	return f
}

// exact gives the fryer whose whole tag was searched for.
func (v *findView) exact() (uuid.UUID, bool) {
	if len(v.Page.Fryers) == 1 && v.Page.Total == 1 && strings.EqualFold(v.Page.Fryers[0].Tag, v.Filter.Query) {
		return v.Page.Fryers[0].ID, true
	}
	return uuid.Nil, false
}

// needHands lists the actor's restaurants where somebody has to go or go on, the worst first.
func (p *Pages) needHands(r *http.Request, v *findView) error {
	page, err := p.Store.Sites(r.Context(), state.SiteFilter{Hands: true, PerPage: mostSite})
	if err != nil {
		return err
	}
	v.Sites, v.MoreSites = page.Sites, page.Total-len(page.Sites)
	return nil
}

// pageLink gives the address of another page of the same list.
func (v *findView) pageLink(page int) string {
	q := url.Values{}
	set := func(name, value string) {
		if value != "" {
			q.Set(name, value)
		}
	}
	set("q", v.Filter.Query)
	set("class", v.Class)
	if v.Filter.Customer != uuid.Nil {
		q.Set("customer", v.Filter.Customer.String())
	}
	if v.Filter.Site != uuid.Nil {
		q.Set("site", v.Filter.Site.String())
	}
	if page > 0 {
		q.Set("page", strconv.Itoa(page+1))
	}
	if len(q) == 0 {
		return path.Fryers()
	}
	return path.Fryers() + "?" + q.Encode()
}
