package site

import (
	"net/http"
	"net/url"
	"strconv"

	"frywright/domain/access"
	"frywright/domain/fleet"
	"frywright/domain/state"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

const (
	perPage    = 30
	fewFryers  = 40  // so many of a manager's fryers are shown at once
	mostFryers = 200 // of one restaurant
)

// listView is what the list of restaurants shows.
type listView struct {
	Frame     ui.Frame
	Query     string
	Customer  uuid.UUID
	Customers []fleet.Customer // only for those who see the whole fleet
	Sites     []state.Site     // of this page
	state.Count
	Edits  bool
	Plain  bool                        // for a restaurant manager
	Fryers map[uuid.UUID][]state.Fryer // by restaurant; only for a manager with few
}

// List lists the restaurants that the actor sees.
func (p *Pages) List(w http.ResponseWriter, r *http.Request) error {
	actor := access.FromContext(r.Context())
	v := listView{
		Query: form.Clean(r.URL.Query().Get("q")),
		Plain: !access.May(actor, access.SeeSettings), Edits: may(r, access.EditFleet, uuid.Nil),
	}
	v.Customer, _ = uuid.Parse(r.URL.Query().Get("customer")) // what is no id narrows nothing
	v.Frame = ui.FrameFor(r, v.title(), "sites")
	page, err := p.Store.Sites(r.Context(), state.SiteFilter{Query: v.Query, Customer: v.Customer, Page: form.Page(r), PerPage: perPage})
	if err != nil {
		return err
	}
	v.Sites, v.Count = page.Sites, page.Count
	if access.May(actor, access.SeeDesk) {
		if v.Customers, err = p.Store.Customers(r.Context()); err != nil {
			return err
		}
	}
	if v.Plain {
		if err := p.plainFryers(r, &v); err != nil {
			return err
		}
	}
	return form.Show(w, r, http.StatusOK, listPage(v))
}

// plainFryers adds a manager's fryers, where they are few enough to be seen at once.
func (p *Pages) plainFryers(r *http.Request, v *listView) error {
	page, err := p.Store.Fryers(r.Context(), state.Filter{PerPage: fewFryers})
	if err != nil || page.Total > fewFryers {
		return err
	}
	v.Fryers = map[uuid.UUID][]state.Fryer{}
	for _, f := range page.Fryers {
		v.Fryers[f.SiteID] = append(v.Fryers[f.SiteID], f)
	}
	for _, list := range v.Fryers {
		worstFirst(list)
	}
	return nil
}

func (v *listView) title() string {
	if v.Plain {
		return "My restaurants"
	}
	return "Restaurants"
}

// searched says whether the list is narrowed.
func (v *listView) searched() bool { return v.Query != "" || v.Customer != uuid.Nil }

// pageLink gives the address of another page of the same list.
func (v *listView) pageLink(page int) string {
	q := url.Values{}
	if v.Query != "" {
		q.Set("q", v.Query)
	}
	if v.Customer != uuid.Nil {
		q.Set("customer", v.Customer.String())
	}
	if page > 0 {
		q.Set("page", strconv.Itoa(page+1))
	}
	if len(q) == 0 {
		return path.Sites()
	}
	return path.Sites() + "?" + q.Encode()
}
