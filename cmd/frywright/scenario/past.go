package scenario

import (
	"time"

	"frywright/domain/cause"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
)

// mishap is a controller that lost its settings within the year and was put back.
type mishap struct {
	tag   string
	days  int // how long ago
	what  cause.EventKind
	note  string
	after func(t *teller, f *fryer, x *standard.Expected) // what it left behind
}

func fullReset(_ *teller, f *fryer, x *standard.Expected) { f.shows.reset(x) }

// halfPutBack is a reset after which somebody entered every second house setting again.
func halfPutBack(_ *teller, f *fryer, x *standard.Expected) {
	f.shows.reset(x)
	n := 0
	for i := range x.List {
		if e := &x.List[i]; e.Informative() {
			if n++; n%2 == 0 {
				f.shows[e.Ref] = e.Value
			}
		}
	}
}

// programmedTo is a controller that was programmed to another restaurant company's standard.
func programmedTo(customer string) func(*teller, *fryer, *standard.Expected) {
	return func(t *teller, f *fryer, _ *standard.Expected) { f.shows = right(t.world.expectedOf(f, customer)) }
}

var mishaps = []mishap{
	{"KF-2902", 262, cause.PowerCut, "Thunderstorm over the county.", fullReset},
	{"KF-1901", 238, cause.PowerCut, "The breaker of the front line had tripped.", fullReset},
	{"KF-1105", 201, cause.FactoryReset, "Somebody held two keys down while wiping the panel.", fullReset},
	{"KF-4102", 178, cause.ControllerSwap, "Controller swapped for the spare from the van.", programmedTo("BRK")},
	{"KF-3605", 151, cause.PowerCut, "Snow on the line. The kitchen entered what it knew.", halfPutBack},
	{"KF-2302", 94, cause.ControllerSwap, "Display dead; controller swapped for a new one.", fullReset},
	{"KF-1803", 70, cause.PowerCut, "Works on the bridge: no power for an hour.", fullReset},
}

// planPast plans what happened besides routine.
func (t *teller) planPast() {
	for _, m := range mishaps {
		f := t.world.fryer(m.tag)
		t.plan(t.workday(f.at, m.days), func(at time.Time) { t.mishap(f, m, at) })
	}
	for _, a := range acceptances {
		f := t.world.fryer(a.tag)
		t.plan(t.workday(f.at, a.days), func(at time.Time) { t.accept(f, a, at) })
		if a.ended > 0 {
			t.plan(t.workday(f.at, a.ended), func(at time.Time) { t.endAccepted(f, a, at) })
		}
	}
	for _, p := range partials {
		f := t.world.fryer(p.tag)
		t.plan(t.workday(f.at, p.days), func(at time.Time) {
			t.reading(f, t.world.expected(f), at, snapshot.Routine, p.note, func(s *sheet.Setting) bool { return s.Menu > 0 })
		})
	}
}

// workday gives a working hour at a restaurant so many days ago, or on the last day before it on which the technician can
// come.
func (t *teller) workday(p *place, days int) time.Time {
	return t.hour(p, t.book(p, t.now.In(p.zone).AddDate(0, 0, -days), -1))
}

// mishap lets a controller lose its settings; it is read and put right the next day.
func (t *teller) mishap(f *fryer, m mishap, at time.Time) {
	x := t.world.expected(f)
	m.after(t, f, x)
	author, happened := t.desk(), at.Add(-21*time.Hour)
	if m.what == cause.ControllerSwap {
		author, happened = t.technician(f), at.Add(-15*time.Minute)
	}
	t.note(f, happened.Add(10*time.Minute), author, snapshot.Event{What: m.what, Happened: happened, Note: m.note})
	t.check(f, x, at)
}

// accepting is a difference that was accepted.
type accepting struct {
	tag    string
	ref    sheet.Ref
	value  sheet.Value
	days   int // how long ago
	until  int // days from now
	reason string
	ended  int    // how many days ago it was ended; 0: it was not
	over   string // why it was ended
}

var acceptances = []accepting{
	{"KF-1604", sheet.Ref{Key: "ready-band"}, "14", 80, 6, "The new probe is slow; on trial until the next one comes.", 0, ""},
	{"KF-1406", sheet.Ref{Key: "card-b.time"}, "350", 45, 140, "Thicker fish from the new boat. The hall asks its office for a standard.", 0, ""},
	{"KF-4902", sheet.Ref{Key: "shake-alarm"}, "10", 30, 60, "Loud kitchen while the roof is mended.", 0, ""},
	{"KF-3505", sheet.Ref{Key: "idle-temp"}, "270", 110, 20, "Cold room beside it: idle at 250 °F takes too long to come back.", 0, ""},
	{"KF-4105", sheet.Ref{Key: "p2.cook"}, "320", 62, 33, "Strips are cut thicker until the slicer is mended.", 0, ""},
	{"KF-3301", sheet.Ref{Key: "hold-time"}, "12", 200, 100, "The hold cabinet is out of order.", 90, "The hold cabinet is mended."},
	{"KF-4403", sheet.Ref{Key: "ready-band"}, "16", 93, -3, "Crew starts early for the lunch hour; to be looked at again in three months.", 0, ""},
}

// accept finds a difference, which the desk then accepts.
func (t *teller) accept(f *fryer, a accepting, at time.Time) {
	x := t.world.expected(f)
	f.shows[a.ref] = a.value
	end := t.reading(f, x, at, snapshot.AsFound, "", nil)
	until := t.now.AddDate(0, 0, a.until)
	f.accepted[a.ref] = acceptance{a.value, until}
	t.note(f, end.Add(2*time.Hour), t.desk(), standard.Accepted{Ref: a.ref, Value: a.value, Reason: a.reason, Until: until.UTC()})
}

// endAccepted ends an accepted difference before its time: what differs is put back.
func (t *teller) endAccepted(f *fryer, a accepting, at time.Time) {
	delete(f.accepted, a.ref)
	t.note(f, at.Add(-time.Hour), t.desk(), standard.Ended{Ref: a.ref, Reason: a.over})
	t.check(f, t.world.expected(f), at)
}

// partials are readings in which the menu could not be read.
var partials = []struct {
	tag  string
	days int
	note string
}{
	{"KF-1602", 140, "The menu is locked; the key holder was out."},
	{"KF-2703", 125, "Called away to another restaurant before the menu."},
	{"KF-4701", 84, "The menu is locked; the key holder was out."},
}
