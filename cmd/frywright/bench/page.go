package bench

import (
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"frywright/domain/fault"
	"frywright/domain/state"
	"frywright/store"
	"frywright/web/path"

	"github.com/google/uuid"
)

// page is one kind of page: what of it is asked for varies from request to request.
type page struct {
	name string
	next func(*rand.Rand) hit
}

// cast is what of the fleet the pages are asked about.
type cast struct {
	fryers, off, openFryers []state.Fryer
	fleetPages, deskPages   int
	words                   []string
	own                     []state.Fryer // the manager's
}

// casting is how many fryers of each sort the pages are asked about, if there are so many.
const casting = 2000

// newCast looks for fryers in random pages of the fleet.
func newCast(ctx context.Context, s *store.Store, seed uint64) (*cast, error) {
	rnd := rand.New(rand.NewPCG(seed, 3))
	c := &cast{}
	var err error
	if c.fryers, c.fleetPages, err = spread(ctx, s, rnd, state.Filter{}); err != nil {
		return nil, err
	}
	if c.off, c.deskPages, err = spread(ctx, s, rnd, state.Filter{Hands: true}); err != nil {
		return nil, err
	}
	if c.openFryers, _, err = spread(ctx, s, rnd, state.Filter{Open: true}); err != nil {
		return nil, err
	}
	if len(c.fryers) == 0 || len(c.off) == 0 || len(c.openFryers) == 0 {
		return nil, fault.New(fault.NotFound, "The fleet is too small to be asked about.")
	}
	for range casting {
		c.words = append(c.words, word(rnd, pick(rnd, c.fryers)))
	}
	c.own, err = ownFryers(ctx, s)
	return c, err
}

// spread gives fryers of random pages of a list, and how many pages of 50 it has.
func spread(ctx context.Context, s *store.Store, rnd *rand.Rand, f state.Filter) ([]state.Fryer, int, error) {
	f.PerPage = 50
	first, err := s.Fryers(ctx, f)
	if err != nil || first.Pages == 0 {
		return nil, 0, err
	}
	var list []state.Fryer
	for _, n := range rnd.Perm(first.Pages)[:min(first.Pages, casting/f.PerPage)] {
		f.Page = n
		p, err := s.Fryers(ctx, f)
		if err != nil {
			return nil, 0, err
		}
		list = append(list, p.Fryers...)
	}
	return list, first.Pages, nil
}

// ownFryers gives the fryers that the first manager sees.
func ownFryers(ctx context.Context, s *store.Store) ([]state.Fryer, error) {
	people, err := s.People(ctx)
	if err != nil {
		return nil, err
	}
	for _, p := range people {
		if p.Email != managerEmail {
			continue
		}
		list, err := s.Fryers(ctx, state.Filter{Site: p.Sites[0]})
		return list.Fryers, err
	}
	return nil, fmt.Errorf("nobody has the address %s", managerEmail)
}

// word gives what somebody types to find fryers: a town or its beginning, a restaurant, the beginning of a tag or of a serial
// number. A whole tag leads to its fryer at once and is no search.
func word(rnd *rand.Rand, f state.Fryer) string {
	switch rnd.IntN(6) {
	case 0:
		return f.Tag[:len(f.Tag)-1]
	case 1:
		return f.Tag[:len(f.Tag)-2]
	case 2:
		return strings.ToLower(pick(rnd, townHeads))
	case 3:
		return f.SiteName
	case 4:
		return f.Serial[:len(f.Serial)-2]
	default:
		return townName(rnd)
	}
}

// session is who the pages are asked by.
type session struct {
	base                     string
	desk, technician, manage string // cookies
}

// signIn signs the bench's people in as their browsers would.
func signIn(ctx context.Context, c *caller, base string) (*session, error) {
	s := &session{base: base}
	for email, to := range map[string]*string{deskEmail: &s.desk, technicianEmail: &s.technician, managerEmail: &s.manage} {
		resp, err := c.send(ctx, hit{address: base + path.SignIn(), form: url.Values{"email": {email}, "password": {password}}.Encode()})
		if err != nil {
			return nil, err
		}
		if err := resp.Body.Close(); err != nil {
			return nil, err
		}
		var cookies []string
		for _, k := range resp.Cookies() {
			cookies = append(cookies, k.Name+"="+k.Value)
		}
		if resp.StatusCode != http.StatusSeeOther || len(cookies) == 0 {
			return nil, fmt.Errorf("signing in as %s answers %s", email, resp.Status)
		}
		*to = strings.Join(cookies, "; ")
	}
	return s, nil
}

// pages lists what is measured: the pages of a day.
func (s *session) pages(c *cast) []page {
	desk := func(address func(*rand.Rand) string) func(*rand.Rand) hit {
		return func(rnd *rand.Rand) hit { return hit{address: s.base + address(rnd), cookie: s.desk} }
	}
	of := func(list []state.Fryer, address func(uuid.UUID) string) func(*rand.Rand) hit {
		return desk(func(rnd *rand.Rand) string { return address(pick(rnd, list).ID) })
	}
	return []page{
		{"desk", desk(func(rnd *rand.Rand) string { return listPage(path.Desk(), rnd, min(c.deskPages, 3)) })},
		{"fleet", desk(func(rnd *rand.Rand) string { return listPage(path.Fryers(), rnd, min(c.fleetPages, 20)) })},
		{"fleet, any page", desk(func(rnd *rand.Rand) string { return listPage(path.Fryers(), rnd, c.fleetPages) })},
		{"search", desk(func(rnd *rand.Rand) string { return path.Fryers() + "?q=" + url.QueryEscape(pick(rnd, c.words)) })},
		{"fryer", of(c.fryers, path.Fryer)},
		{"expected settings", of(c.fryers, path.FryerExpected)},
		{"history", of(c.fryers, path.FryerHistory)},
		{"put-back list", of(c.off, path.FryerPutBack)},
		{"reading, one setting", desk(func(rnd *rand.Rand) string { return path.ReadingAt(pick(rnd, c.openFryers).OpenID, 1+rnd.IntN(40)) })},
		{"restaurants", desk(func(rnd *rand.Rand) string { return listPage(path.Sites(), rnd, 3) + "&q=" + pick(rnd, townSought) })},
		{"restaurant", desk(func(rnd *rand.Rand) string { return path.Site(pick(rnd, c.fryers).SiteID) })},
		{"lately", desk(func(rnd *rand.Rand) string { return listPage(path.Lately(), rnd, 3) })},
		{"technician's fleet", func(rnd *rand.Rand) hit { return hit{address: s.base + path.Fryers(), cookie: s.technician} }},
		{"manager's fryer", func(rnd *rand.Rand) hit {
			return hit{address: s.base + path.Fryer(pick(rnd, c.own).ID), cookie: s.manage}
		}},
	}
}

// townSought is what restaurants are looked for by; often by nothing.
var townSought = append([]string{"", "", "", ""}, townHeads[:8]...)

func listPage(address string, rnd *rand.Rand, pages int) string {
	return address + "?page=" + strconv.Itoa(1+rnd.IntN(max(1, pages)))
}

// mixed asks for any of the pages.
func mixed(pages []page) func(*rand.Rand) hit {
	return func(rnd *rand.Rand) hit { return pick(rnd, pages).next(rnd) }
}
