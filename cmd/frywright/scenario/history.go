package scenario

import (
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"frywright/domain/cause"
	"frywright/domain/journal"
	"frywright/domain/rule"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// Fryer is what the history needs to know of a fryer.
type Fryer struct {
	ID       uuid.UUID
	Tag      string
	SiteCode string
	Site     uuid.UUID
	Area     string
	Country  string
	Zone     *time.Location
	Expected *standard.Expected
	// Other is what another customer's standard would make of it; nil where there is none.
	Other *standard.Expected
}

// World is what the history is made over.
type World struct {
	Fryers []Fryer
	Author func(area string) uuid.UUID // the technician of an area
	Desk   uuid.UUID
	NewID  func() uuid.UUID
}

// history builds the drafts of a year.
type history struct {
	world World
	rnd   *rand.Rand
	now   time.Time
	out   []journal.Draft
}

// History gives a year of entries up to now, in the order of time: first readings, visits, drift found and put back, a few
// resets, and the open present with its Friday night. It is the same for the same world, time and seed.
func History(w World, now time.Time, seed uint64) []journal.Draft {
	h := &history{world: w, rnd: rand.New(rand.NewPCG(seed, 40)), now: now} //nolint:gosec // an invented history needs no secrets
	for i := range w.Fryers {
		f := &w.Fryers[i]
		h.year(f, i)
	}
	h.rules()
	slices.SortStableFunc(h.out, func(a, b journal.Draft) int { return a.At.Compare(b.At) })
	return h.out
}

// values is what a controller shows.
type values map[sheet.Ref]sheet.Value

func right(f *Fryer) values {
	v := values{}
	for i := range f.Expected.List {
		e := &f.Expected.List[i]
		v[e.Ref] = e.Value
	}
	return v
}

// reset gives what a controller shows that lost its settings.
func reset(f *Fryer) values {
	v := right(f)
	for i := range f.Expected.List {
		if e := &f.Expected.List[i]; !e.Setting.Kept && e.Setting.Factory.Known() {
			v[e.Ref] = e.Setting.Factory
		}
	}
	return v
}

// moved gives the values with n settings turned by hand.
func (h *history) moved(f *Fryer, v values, n int) values {
	v = cloned(v)
	var places []sheet.Place
	for _, e := range f.Expected.List {
		if e.Setting.Kind == sheet.Number && !e.Setting.ReadOnly && e.Setting.Menu == 0 {
			places = append(places, e.Place)
		}
		if e.Setting.Role == sheet.RoleSetpoint || e.Setting.Role == sheet.RoleCookTime {
			places = append(places, e.Place)
		}
	}
	for range n {
		p := places[h.rnd.IntN(len(places))]
		if to, ok := h.turn(p.Setting, v[p.Ref]); ok {
			v[p.Ref] = to
		}
	}
	return v
}

// turn gives a value one to four steps away that the sheet allows.
func (h *history) turn(s *sheet.Setting, from sheet.Value) (sheet.Value, bool) {
	n, ok := from.Number()
	if !ok {
		return "", false
	}
	step := max(s.Step, 1, 2*s.Tolerance)
	for _, sign := range []float64{1, -1} {
		to := sheet.Num(n + sign*step*float64(1+h.rnd.IntN(4)))
		if s.Check(to) == nil {
			return to, true
		}
	}
	return "", false
}

func cloned(v values) values {
	c := make(values, len(v))
	for k, x := range v {
		c[k] = x
	}
	return c
}

// at adds an entry of the area's technician.
func (h *history) at(f *Fryer, at time.Time, subject uuid.UUID, body journal.Body) {
	h.out = append(h.out, journal.Draft{At: at, Author: h.world.Author(f.Area), Subject: subject, Body: body})
}

// read adds a finished reading of those places that keep says.
func (h *history) read(f *Fryer, at time.Time, purpose snapshot.Purpose, v values, note string, keep func(sheet.Ref) bool) {
	id := h.world.NewID()
	h.at(f, at, id, snapshot.Begun{Fryer: f.ID, Purpose: purpose})
	h.at(f, at.Add(time.Duration(4+h.rnd.IntN(9))*time.Minute), id, snapshot.Finished{Readings: readings(f, v, keep), Note: note})
}

func readings(f *Fryer, v values, keep func(sheet.Ref) bool) []snapshot.Reading {
	var list []snapshot.Reading
	for _, e := range f.Expected.List {
		if value := v[e.Ref]; value.Known() && (keep == nil || keep(e.Ref)) {
			list = append(list, snapshot.Reading{Ref: e.Ref, Value: value, AsExpected: value == e.Value})
		}
	}
	return list
}

// differing gives the refs in which the values are not right.
func differing(f *Fryer, v values) map[sheet.Ref]bool {
	off := map[sheet.Ref]bool{}
	for i := range f.Expected.List {
		e := &f.Expected.List[i]
		if _, beyond := e.Setting.Differ(e.Value, v[e.Ref]); beyond {
			off[e.Ref] = true
		}
	}
	return off
}

// putRight adds what a technician does about what was found: ticks, and a reading as left of what was off.
func (h *history) putRight(f *Fryer, at time.Time, found values) {
	off := differing(f, found)
	minute := 14
	for _, e := range f.Expected.List {
		if off[e.Ref] && !e.Setting.ReadOnly {
			h.at(f, at.Add(time.Duration(minute)*time.Minute), f.ID, snapshot.Ticked{Ref: e.Ref, Value: e.Value, Done: true})
			minute++
		}
	}
	h.read(f, at.Add(time.Duration(minute+2)*time.Minute), snapshot.AsLeft, right(f), "Put back and read again.", func(r sheet.Ref) bool { return off[r] })
}

// year is one fryer's year.
func (h *history) year(f *Fryer, i int) {
	day := func(ago float64) time.Time {
		t := h.now.Add(-time.Duration(ago * 24 * float64(time.Hour))).In(f.Zone)
		return time.Date(t.Year(), t.Month(), t.Day(), 8+h.rnd.IntN(8), h.rnd.IntN(60), 0, 0, f.Zone)
	}
	friday := f.SiteCode == FridaySite
	first := 365 - float64(h.rnd.IntN(50))
	h.read(f, day(first), snapshot.AsLeft, right(f), "First reading, with the house standard entered.", nil)
	for ago := first - float64(60+h.rnd.IntN(60)); ago > 24; ago -= float64(60 + h.rnd.IntN(60)) {
		if friday && ago < 130 {
			break
		}
		h.visit(f, day(ago), i)
	}
	if friday {
		h.friday(f)
		return
	}
	h.present(f, day, i)
}

// visit is one routine visit in the past.
func (h *history) visit(f *Fryer, at time.Time, i int) {
	found := right(f)
	switch chance := h.rnd.IntN(100); {
	case chance < 4 && len(differing(f, reset(f))) > 0:
		found = reset(f)
		h.at(f, at.Add(-20*time.Hour), f.ID, snapshot.Event{What: cause.PowerCut, Happened: at.Add(-20 * time.Hour), Note: "Told by the restaurant."})
	case chance < 30:
		found = h.moved(f, found, 1+h.rnd.IntN(2))
	}
	off := differing(f, found)
	if len(off) == 0 {
		h.read(f, at, snapshot.Routine, found, "", nil)
		return
	}
	h.read(f, at, snapshot.AsFound, found, "", nil)
	h.putRight(f, at, found)
	if i%17 == 0 {
		h.at(f, at.Add(50*time.Minute), f.ID, snapshot.Note{Text: "The panel's film is worn through: keys need a firm press."})
	}
}

// present leaves some fryers as they are to be found today.
func (h *history) present(f *Fryer, day func(float64) time.Time, i int) {
	recent := day(1.5 + float64(h.rnd.IntN(18)))
	switch {
	case i%9 == 3: // turned by hand, not put back yet
		h.read(f, recent, snapshot.AsFound, h.moved(f, right(f), 1+h.rnd.IntN(3)), "Kitchen was full: put back next time.", nil)
	case i%31 == 5 && f.Other != nil: // programmed to another company's standard
		h.read(f, recent, snapshot.AsFound, right(&Fryer{Expected: f.Other}), "", nil)
	case i%43 == 8: // another program inside
		v := h.moved(f, right(f), 6)
		for _, e := range f.Expected.List {
			if e.Setting.Role == sheet.RoleChecksum {
				v[e.Ref] = "FF-00-1B"
			}
		}
		h.at(f, recent.Add(-3*time.Hour), f.ID, snapshot.Event{What: cause.ControllerSwap, Happened: recent.Add(-3 * time.Hour), Note: "Swapped by the kitchen fitter."})
		h.read(f, recent, snapshot.AsFound, v, "", nil)
	case i%37 == 11: // something happened since
		h.at(f, recent, f.ID, snapshot.Event{What: cause.PowerCut, Happened: recent, Note: "Storm over the whole district."})
	case i%41 == 7: // half read, by somebody who was called away
		id := h.world.NewID()
		h.at(f, recent, id, snapshot.Begun{Fryer: f.ID, Purpose: snapshot.Routine})
		n := 0
		h.at(f, recent.Add(4*time.Minute), id, snapshot.Read{Readings: readings(f, right(f), func(sheet.Ref) bool { n++; return n <= 12 })})
	case i%23 == 2: // a difference that was accepted
		h.accepted(f, recent, i)
	case i%29 == 6: // only part of it was read
		n := 0
		h.read(f, recent, snapshot.Routine, right(f), "The menu was locked.", func(sheet.Ref) bool { n++; return n%3 != 0 })
	}
}

// accepted reads a probe offset that may stay for a while.
func (h *history) accepted(f *Fryer, at time.Time, i int) {
	for _, e := range f.Expected.List {
		if !strings.Contains(strings.ToLower(e.Setting.Label), "offset") {
			continue
		}
		v := right(f)
		to, ok := h.turn(e.Setting, v[e.Ref])
		if !ok {
			return
		}
		v[e.Ref] = to
		h.read(f, at, snapshot.AsFound, v, "", nil)
		h.out = append(h.out, journal.Draft{At: at.Add(5 * time.Hour), Author: h.world.Desk, Subject: f.ID, Body: standard.Accepted{
			Ref: e.Ref, Value: to, Reason: "A new probe is ordered; until then the offset makes up for it.", Until: h.now.Add(time.Duration(2+i%40) * 24 * time.Hour).UTC(),
		}})
		return
	}
}

// Friday gives the latest Friday evening, 21:40 in a zone, before a moment.
func Friday(now time.Time, zone *time.Location) time.Time {
	t := now.In(zone)
	at := time.Date(t.Year(), t.Month(), t.Day(), 21, 40, 0, 0, zone)
	for at.Weekday() != time.Friday || !at.Before(now) {
		at = at.AddDate(0, 0, -1)
	}
	return at
}

// friday is the power cut that the demo is about: three controllers of one restaurant, not read since.
func (h *history) friday(f *Fryer) {
	at := Friday(h.now, f.Zone)
	n := 0
	for _, x := range h.world.Fryers {
		if x.SiteCode == FridaySite && x.Tag < f.Tag {
			n++
		}
	}
	if n >= FridayFryers {
		return
	}
	h.at(f, at, f.ID, snapshot.Event{What: cause.PowerCut, Happened: at, Note: "Power went at 21:40 and came back at 22:15. Fries come out pale since."})
}

// Shown gives what the controller of a Friday-night fryer shows now: for walking through the demo.
func Shown(f *Fryer) map[sheet.Ref]sheet.Value { return reset(f) }

// rules switches on the rules of the outside world where they apply.
func (h *history) rules() {
	seen := map[uuid.UUID]bool{}
	start := h.now.AddDate(-1, 0, 0)
	for _, f := range h.world.Fryers {
		if seen[f.Site] {
			continue
		}
		seen[f.Site] = true
		key := "nfpa-96-high-limit"
		if f.Country != "US" {
			key = "eu-2017-2158-potato"
		}
		h.out = append(h.out, journal.Draft{At: start, Author: h.world.Desk, Subject: f.Site, Body: rule.Switched{Rule: key, On: true}})
	}
}
