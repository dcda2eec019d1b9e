package account

import (
	"context"
	"net/http"
	"slices"
	"strconv"
	"time"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"
	"frywright/web/form"
	"frywright/web/path"
	"frywright/web/ui"

	"github.com/google/uuid"
)

// How long a sign-in lasts: from its beginning, and without being used. Administrators let people in, so theirs is short;
// a technician's phone is not to ask for a password in a kitchen.
var (
	shortLife = life{whole: 7 * 24 * time.Hour, idle: 12 * time.Hour}
	longLife  = life{whole: 30 * 24 * time.Hour, idle: 14 * 24 * time.Hour}
)

type life struct{ whole, idle time.Duration }

func lifeOf(role access.Role) life {
	if role == access.Administrator {
		return shortLife
	}
	return longLife
}

func (l life) over(in person.SignIn, now time.Time) bool {
	return now.Sub(in.Began) >= l.whole || now.Sub(in.Seen) >= l.idle
}

// seenEvery is how coarsely the use of a session is noted, so that reading a page seldom writes.
const seenEvery = 5 * time.Minute

// Identify gives who acts, by the session; the zero Actor for nobody.
func (p *Pages) Identify(r *http.Request) (access.Actor, error) {
	if p.sessions == nil {
		return access.Actor{}, nil
	}
	ctx := r.Context()
	token := p.sessions.Token(ctx)
	if token == "" {
		return access.Actor{}, nil
	}
	in, err := p.store.SignIn(ctx, token)
	if err != nil {
		return access.Actor{}, unlessUnknown(err)
	}
	actor, err := p.store.Actor(ctx, in.Person)
	if err != nil {
		return access.Actor{}, unlessUnknown(err)
	}
	now := p.now()
	if lifeOf(actor.Role).over(in, now) {
		return access.Actor{}, nil
	}
	if weak, err := p.tooWeak(ctx, in, actor.Role); err != nil || weak {
		return access.Actor{}, err
	}
	if now.Sub(in.Seen) >= seenEvery {
		if err := p.store.SeenSignIn(ctx, token); err != nil {
			return access.Actor{}, err
		}
	}
	return actor, nil
}

// tooWeak says whether a sign-in lacks the second step that its role needs. Whoever is made an administrator, or is one
// when the step becomes needed, signs in again.
func (p *Pages) tooWeak(ctx context.Context, in person.SignIn, role access.Role) (bool, error) {
	if in.Strong {
		return false, nil
	}
	return p.store.RequiresFactor(ctx, role)
}

// unlessUnknown passes an error on, except that somebody is not known: then nobody is signed in.
func unlessUnknown(err error) error {
	if fault.KindOf(err) == fault.NotFound {
		return nil
	}
	return err
}

// begin signs a person in with this browser. The session's token is renewed, so that one that was known before is of no
// use, and what was kept for a sign-in half done is dropped.
func (p *Pages) begin(w http.ResponseWriter, r *http.Request, id uuid.UUID, strong bool) error {
	ctx := r.Context()
	if err := p.sessions.Clear(ctx); err != nil {
		return err
	}
	if err := p.sessions.RenewToken(ctx); err != nil {
		return err
	}
	in := person.SignIn{ID: p.newID(), Person: id, Agent: agentWords(r.UserAgent()), Strong: strong}
	if err := p.store.BeginSignIn(ctx, p.sessions.Token(ctx), in); err != nil {
		return err
	}
	return p.remember(w, r, id)
}

// sessionsView is what the page of the places shows where a person is signed in.
type sessionsView struct {
	Frame  ui.Frame
	This   person.SignIn
	Others []person.SignIn
	Now    time.Time
	Life   life
}

// ShowSessions shows a person where they are signed in.
func (p *Pages) ShowSessions(w http.ResponseWriter, r *http.Request) error {
	v, err := p.whereabouts(r)
	if err != nil {
		return err
	}
	return form.Show(w, r, http.StatusOK, sessionsPage(v))
}

func (p *Pages) whereabouts(r *http.Request) (sessionsView, error) {
	v := sessionsView{Frame: ui.FrameFor(r, "Where you are signed in", ""), Now: p.now()}
	v.Life = lifeOf(v.Frame.Actor.Role)
	var err error
	if v.This, err = p.store.SignIn(r.Context(), p.sessions.Token(r.Context())); err != nil {
		return v, err
	}
	all, err := p.store.SignIns(r.Context(), v.Frame.Actor.Person)
	v.Others = slices.DeleteFunc(all, func(in person.SignIn) bool { return in.ID == v.This.ID || v.Life.over(in, v.Now) })
	return v, err
}

// EndSession ends one sign-in of the person's own; this one too.
func (p *Pages) EndSession(w http.ResponseWriter, r *http.Request) error {
	id, err := form.ID(r, "id")
	if err != nil {
		return err
	}
	if err := p.store.EndSignIn(r.Context(), access.FromContext(r.Context()).Person, id); err != nil {
		return err
	}
	return form.See(w, r, path.AccountSessions(), "session-ended")
}

// EndOthers ends every sign-in of the person but this one.
func (p *Pages) EndOthers(w http.ResponseWriter, r *http.Request) error {
	v, err := p.whereabouts(r)
	if err != nil {
		return err
	}
	if err := p.store.EndOtherSignIns(r.Context(), v.This.Person, v.This.ID); err != nil {
		return err
	}
	return form.See(w, r, path.AccountSessions(), "sessions-ended")
}

// SignOut ends the session on this device.
func (p *Pages) SignOut(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	in, err := p.store.SignIn(ctx, p.sessions.Token(ctx))
	if err := unlessUnknown(err); err != nil {
		return err
	}
	if in.Person != uuid.Nil {
		if err := p.store.EndSignIn(ctx, in.Person, in.ID); err != nil {
			return err
		}
	}
	if err := p.sessions.Destroy(ctx); err != nil {
		return err
	}
	return form.See(w, r, path.SignIn(), "signed-out")
}

// SignOutEverywhere ends every session of the person.
func (p *Pages) SignOutEverywhere(w http.ResponseWriter, r *http.Request) error {
	if err := p.store.SignOutEverywhere(r.Context(), access.FromContext(r.Context()).Person); err != nil {
		return err
	}
	if err := p.sessions.Destroy(r.Context()); err != nil {
		return err
	}
	return form.See(w, r, path.SignIn(), "signed-out-all")
}

// days says a span in plain words.
func days(d time.Duration) string {
	const day = 24 * time.Hour
	if d < 2*day {
		return strconv.Itoa(int(d/time.Hour)) + " hours"
	}
	return strconv.Itoa(int(d/day)) + " days"
}
