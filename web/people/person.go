package people

import (
	"net/http"
	"net/url"
	"strings"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// linkDays is how long a link can be used.
const linkDays = 7

// listView is what the list of people shows.
type listView struct {
	Frame    ui.Frame
	People   []person.Person
	Gone     []person.Person
	Required bool // administrators need the second step
	Err      error
}

// List lists everybody.
func (p *Pages) List(w http.ResponseWriter, r *http.Request) error {
	v, err := p.list(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, listPage(v))
}

func (p *Pages) list(r *http.Request) (listView, error) {
	v := listView{Frame: ui.FrameFor(r, "People", "people")}
	all, err := p.Store.People(r.Context())
	if err != nil {
		return v, err
	}
	for _, x := range all {
		if x.Gone {
			v.Gone = append(v.Gone, x)
		} else {
			v.People = append(v.People, x)
		}
	}
	v.Required, err = p.Store.RequiresFactor(r.Context(), access.Administrator)
	return v, err
}

// showView is what the page of a person shows.
type showView struct {
	Frame  ui.Frame
	Person person.Person
	Base   uuid.UUID
	Entry  uuid.UUID
	Sites  []choice
	Self   bool
	SignIn signInView
	Err    error
}

// Show shows a person.
func (p *Pages) Show(w http.ResponseWriter, r *http.Request) error {
	v, err := p.show(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, showPage(v))
}

func (p *Pages) show(r *http.Request) (showView, error) {
	v := showView{Entry: p.NewID()}
	id, err := form.ID(r, "id")
	if err != nil {
		return v, err
	}
	if v.Person, v.Base, err = p.Store.Person(r.Context(), id); err != nil {
		return v, err
	}
	v.Frame = ui.FrameFor(r, v.Person.Name, "people")
	v.Self = id == v.Frame.Actor.Person
	e := editView{Person: v.Person}
	if err = p.choose(r, &e); err != nil {
		return v, err
	}
	v.Sites = e.Chosen
	v.SignIn, err = p.signIn(r, id)
	return v, err
}

// linkView is what the page with a fresh link shows, once.
type linkView struct {
	Frame  ui.Frame
	Person person.Person
	Link   string
	Until  time.Time
}

// Link makes a link with which a person chooses a password, and shows it, once. Older links of theirs end.
func (p *Pages) Link(w http.ResponseWriter, r *http.Request) error {
	v, err := p.show(r)
	if err != nil {
		return err
	}
	if v.Person.Gone {
		v.Err = fault.New(fault.Invalid, "Whoever is gone cannot sign in. Bring them back first.")
		return form.Write(w, r, showPage(v), v.Err)
	}
	token := p.NewToken()
	const valid = linkDays * 24 * time.Hour
	if err := p.Store.Invite(r.Context(), v.Person.ID, token, valid); err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, linkPage(linkView{
		Frame: ui.FrameFor(r, "A link for "+v.Person.Name, "people"), Person: v.Person,
		Link: origin(r) + path.Welcome(token), Until: p.Now().Add(valid),
	}))
}

// origin gives the scheme and the host under which the administrator's own browser reaches the server. Browsers name it
// with every POST; a proxy in front does not change that.
func origin(r *http.Request) string {
	u, err := url.Parse(r.Header.Get("Origin"))
	if err == nil && (u.Scheme == "https" || u.Scheme == "http") && strings.EqualFold(u.Host, r.Host) {
		return u.Scheme + "://" + u.Host
	}
	if r.TLS != nil {
		return "https://" + r.Host
	}
	return "http://" + r.Host
}

// Gone marks a person as gone, or brings them back.
func (p *Pages) Gone(w http.ResponseWriter, r *http.Request) error {
	if err := form.Parse(w, r); err != nil {
		return err
	}
	v, err := p.show(r)
	if err != nil {
		return err
	}
	changed := v.Person
	changed.Gone = r.Form.Get("gone") == "yes"
	v.Err = p.mark(r, changed)
	switch {
	case v.Err == nil && changed.Gone:
		return form.See(w, r, path.Person(changed.ID), "person-gone")
	case v.Err == nil:
		return form.See(w, r, path.Person(changed.ID), "person-back")
	case !shown(v.Err):
		return v.Err
	}
	return form.Write(w, r, showPage(v), v.Err)
}

// mark records that a person is gone or back. Sessions of whoever is gone end for good: coming back does not revive them.
func (p *Pages) mark(r *http.Request, changed person.Person) error {
	if err := p.keeps(r, changed); err != nil {
		return err
	}
	_, err := p.Store.Record(r.Context(), journal.Draft{
		ID: form.EntryID(r), Subject: changed.ID, Base: form.UUID(r, "base"), Body: person.Saved{Person: changed},
	})
	if err != nil || !changed.Gone {
		return err
	}
	return p.Store.SignOutEverywhere(r.Context(), changed.ID)
}
