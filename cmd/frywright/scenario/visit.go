package scenario

import (
	"slices"
	"time"

	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// Between two routine visits to a restaurant.
const (
	fewestDays = 60
	mostDays   = 120
)

// trip is a day on which a technician goes to a restaurant.
type trip struct {
	to  *place
	day time.Time
}

// planVisits plans the routine visits of the year, on days that are not booked. Every technician goes to one restaurant a
// day, from Monday to Friday.
func (t *teller) planVisits() {
	var trips []trip
	for _, p := range t.world.sites {
		for _, day := range t.visitDays(p) {
			trips = append(trips, trip{p, day})
		}
	}
	slices.SortStableFunc(trips, func(a, b trip) int { return a.day.Compare(b.day) })
	for _, x := range trips {
		day := t.book(x.to, x.day, 1)
		t.plan(t.hour(x.to, day), func(at time.Time) { t.goTo(x.to, at) })
	}
}

// book gives the first day from a given one on, forwards or backwards, on which the technician of a restaurant works and
// goes nowhere else, and books it.
func (t *teller) book(p *place, day time.Time, step int) time.Time {
	who := t.technicians[p.Area]
	for ; weekend(day) || t.booked[booking{who, day.Format(time.DateOnly)}]; day = day.AddDate(0, 0, step) {
	}
	t.booked[booking{who, day.Format(time.DateOnly)}] = true
	return day
}

// booking is a technician's day.
type booking struct {
	who uuid.UUID
	day string
}

// visitDays gives the days on which a restaurant is due. Each visit comes a while after the one before, and may be put
// off by days on which the technician is elsewhere.
func (t *teller) visitDays(p *place) []time.Time {
	var days []time.Time
	if p.Code == FridaySite {
		for _, ago := range fridayVisits {
			days = append(days, t.now.AddDate(0, 0, -ago))
		}
		return days
	}
	for day := t.begin().AddDate(0, 0, 4+t.rnd.IntN(38)); day.Before(t.now.AddDate(0, 0, -1)); {
		days = append(days, day)
		day = day.AddDate(0, 0, fewestDays+t.rnd.IntN(mostDays-fewestDays-10))
	}
	return days
}

func weekend(day time.Time) bool {
	return day.Weekday() == time.Saturday || day.Weekday() == time.Sunday
}

// hour is when a technician comes to a restaurant on a day: between half past seven and noon, as the clocks there show.
func (t *teller) hour(p *place, day time.Time) time.Time {
	return time.Date(day.Year(), day.Month(), day.Day(), 7, 30+t.rnd.IntN(270), 0, 0, p.zone)
}

// longest is how long a visit to a whole restaurant can take.
const longest = 6 * time.Hour

// goTo reads every fryer of a restaurant, one after another. A restaurant in which something is open is not visited
// again, and neither is one that would not be done by now.
func (t *teller) goTo(p *place, at time.Time) {
	if !p.closed.IsZero() && !at.Before(p.closed) || at.Add(longest).After(t.now) {
		return
	}
	for _, f := range t.world.fryers {
		switch {
		case f.at != p || f.gone || f.Tag == newcomerTag:
		case !f.read:
			at = t.commission(f, at)
		default:
			at = t.visit(f, at)
		}
	}
}

// commission sets a fryer up for the first time: its own standard, and a reading as left.
func (t *teller) commission(f *fryer, at time.Time) time.Time {
	if b, ok := t.own[f.ID]; ok {
		t.change(b, at.Add(2*time.Minute), t.desk())
	}
	x := t.world.expected(f)
	f.read, f.shows, f.accepted = true, right(x), map[sheet.Ref]acceptance{}
	return t.reading(f, x, at.Add(9*time.Minute), snapshot.AsLeft, "Taken into care: house standard entered and read back.", nil)
}

// oftenOff is how many routine visits of a hundred find something turned.
const oftenOff = 17

// visit is a routine visit to one fryer.
func (t *teller) visit(f *fryer, at time.Time) time.Time {
	x := t.world.expected(f)
	if t.rnd.IntN(100) < oftenOff {
		f.wander(x, t.rnd)
	}
	end := t.check(f, x, at)
	if t.rnd.IntN(100) < 7 {
		t.note(f, end, t.technician(f), snapshot.Note{Text: remarks[t.rnd.IntN(len(remarks))]})
	}
	return end.Add(3 * time.Minute)
}

var remarks = []string{
	"Oil dark and foaming at the rim: told the shift lead to change it.",
	"The film over the keys is worn through: they need a firm press.",
	"Probe cleaned of carbon.",
	"Basket hook bent; straightened, a new one would be better.",
	"Drain valve stiff. Greased with food-grade grease.",
	"One caster lock is missing; chocked.",
	"High limit tested: shut off as it should, came back when reset.",
	"Vent hood filters full of grease: told the manager.",
	"Door hinge loose; tightened.",
	"Crew asks for a louder shake tone. Told them to ask their office.",
}

// check reads a fryer; what is off is put back and read again as left.
func (t *teller) check(f *fryer, x *standard.Expected, at time.Time) time.Time {
	off := f.off(x, at)
	if len(off) == 0 {
		return t.reading(f, x, at, snapshot.Routine, "", nil)
	}
	end := t.reading(f, x, at, snapshot.AsFound, "", nil)
	end = t.putBack(f, off, end)
	return t.reading(f, x, end, snapshot.AsLeft, "", nil)
}

// putBack enters the values of lines of the put-back list and ticks them off.
func (t *teller) putBack(f *fryer, lines []*standard.Expectation, at time.Time) time.Time {
	for _, e := range lines {
		at = at.Add(time.Duration(25+t.rnd.IntN(50)) * time.Second)
		f.shows[e.Ref] = e.Value
		t.note(f, at, t.technician(f), snapshot.Ticked{Ref: e.Ref, Value: e.Value, Done: true})
	}
	return at.Add(time.Minute)
}

// reading writes a finished reading down and gives when the next thing can begin.
func (t *teller) reading(f *fryer, x *standard.Expected, at time.Time, p snapshot.Purpose, note string, skip func(*sheet.Setting) bool) time.Time {
	id := t.newID(at)
	list := f.readings(x, at, skip)
	end := at.Add(time.Duration(len(list)*6+t.rnd.IntN(120)) * time.Second)
	t.ofReading(f, id, at, snapshot.Begun{Fryer: f.ID, Purpose: p})
	t.ofReading(f, id, end, snapshot.Finished{Readings: list, Note: note})
	return end.Add(time.Minute)
}

func (t *teller) ofReading(f *fryer, id uuid.UUID, at time.Time, body journal.Body) {
	t.draft(journal.Draft{At: at, Author: t.technician(f), Site: f.at.ID, Subject: id, Body: body})
}
