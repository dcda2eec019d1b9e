package scenario

import (
	"time"

	"frywright/domain/cause"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
)

// finding is a fryer at which something is open today.
type finding struct {
	tag       string
	days      int // how long ago it was found
	note      string
	event     cause.EventKind // what was noted before, if anything
	eventNote string
	leave     func(t *teller, f *fryer, x *standard.Expected, at time.Time, note string)
}

const later = "Kitchen was full and could not spare it: put back next time."

var findings = []finding{
	// Turned by hand, of every class and of different age.
	{tag: "KF-2104", days: 2, note: "Switched off for a boil-out and never on again. Told the crew to leave it off.", leave: turned("guard.level", "off")},
	{tag: "KF-3203", days: 20, note: "No solid shortening here: the pilot need not burn. " + later, leave: turned("pilot", "on")},
	{tag: "KF-1202", days: 5, note: later, leave: turned("p1.setpoint", "352")},
	{tag: "KF-1504", days: 33, note: "Fish comes out early, says the crew. " + later, leave: turned("card-b.time", "285")},
	{tag: "KF-3806", days: 11, note: later, leave: turned("ready-band", "25")},
	{tag: "KF-4005", days: 41, note: "Overshoots. " + later, leave: turned("profile.gas", "thermostat")},
	{tag: "KF-3702", days: 15, note: later, leave: turned("min-off", "25")},
	{tag: "KF-2904", days: 27, note: "The crew wants it loud.", leave: turned("signal.volume", "10")},
	// Resets, and what looks like one.
	{tag: "KF-4804", days: 3, note: "Fryer was needed for the supper hour: the rest next time.", event: cause.PowerCut, eventNote: "Lightning, says the manager.", leave: halfTicked},
	{tag: "KF-3905", days: 8, note: "Somebody began to enter the menu again.", event: cause.PowerCut, eventNote: "Wind brought a line down.", leave: leftAs(halfPutBack)},
	{tag: "KF-3405", days: 10, note: later, leave: leftAs(fullReset)},
	{tag: "KF-4601", days: 17, note: later, leave: turned("card-a.time", "180")},
	{tag: "KF-2805", days: 6, note: "This is not our menu.", event: cause.ControllerSwap, eventNote: "Swapped by the kitchen fitter with one from his store.", leave: leftAs(programmedTo("BRK"))},
	{tag: "KF-2205", days: 9, note: "The pages do not follow the sheet, and the checksum is another.", event: cause.ProgramChange, eventNote: "The fitter loaded a program of his own.", leave: leftAs(foreign)},
	// Put back, but not read again.
	{tag: "KF-3606", days: 1, note: "", leave: allTicked},
	// Something happened, and only part was read since.
	{tag: "KF-1704", days: 18, note: "The menu is locked; the key holder was out.", event: cause.PowerCut, eventNote: "Quarter of an hour without power.", leave: withoutMenu},
	{tag: "KF-2705", days: 24, note: "Called away before the menu.", event: cause.PowerCut, eventNote: "The meter was changed.", leave: withoutMenu},
}

// unread are fryers to which something happened that nobody has read since.
var unread = []struct {
	tags []string
	days int
	what cause.EventKind
	note string
}{
	{[]string{"KF-3103", "KF-3104"}, 5, cause.PowerCut, "Grain dust fire at the mill: the street was without power until night."},
	{[]string{"KF-2602"}, 13, cause.ProgramChange, "The restaurant’s own fitter loaded a new program, says the manager."},
}

// expiredSite is where an accepted difference ran out: nobody was there since.
const expiredSite = "OSP-44"

// planPresent plans what is open today.
func (t *teller) planPresent() {
	for _, x := range findings {
		f := t.world.fryer(x.tag)
		at := t.workday(f.at, x.days)
		f.at.closeFrom(at.Add(-30 * time.Hour))
		t.plan(at, func(at time.Time) { t.find(f, x, at) })
	}
	for _, x := range unread {
		p := t.world.fryer(x.tags[0]).at
		at := t.hour(p, t.now.In(p.zone).AddDate(0, 0, -x.days))
		p.closeFrom(at.Add(-longest))
		t.plan(at, func(at time.Time) {
			for i, tag := range x.tags {
				t.note(t.world.fryer(tag), at.Add(time.Duration(40+i)*time.Minute), t.desk(), snapshot.Event{What: x.what, Happened: at, Note: x.note})
			}
		})
	}
	for _, x := range turns {
		if x.level == standard.OfSite {
			t.world.site(x.of).closeFrom(t.officeHour(x.days))
		}
	}
	t.world.site(expiredSite).closeFrom(t.now.AddDate(0, 0, -4))
	t.planOpenReading()
}

// closeFrom keeps routine visits away from a restaurant.
func (p *place) closeFrom(at time.Time) {
	if p.closed.IsZero() || at.Before(p.closed) {
		p.closed = at
	}
}

// find lets the technician find what is open.
func (t *teller) find(f *fryer, x finding, at time.Time) {
	if x.event != "" {
		happened := at.Add(-26 * time.Hour)
		t.note(f, happened.Add(50*time.Minute), t.desk(), snapshot.Event{What: x.event, Happened: happened, Note: x.eventNote})
	}
	x.leave(t, f, t.world.expected(f), at, x.note)
}

// turned is one setting turned by hand, found and not put back.
func turned(key string, v sheet.Value) func(*teller, *fryer, *standard.Expected, time.Time, string) {
	return leftAs(func(_ *teller, f *fryer, _ *standard.Expected) { f.shows[sheet.Ref{Key: key}] = v })
}

// leftAs reads what something left behind, and puts nothing back.
func leftAs(after func(*teller, *fryer, *standard.Expected)) func(*teller, *fryer, *standard.Expected, time.Time, string) {
	return func(t *teller, f *fryer, x *standard.Expected, at time.Time, note string) {
		after(t, f, x)
		t.reading(f, x, at, snapshot.AsFound, note, nil)
	}
}

// halfTicked is a reset of which half the put-back list is done.
func halfTicked(t *teller, f *fryer, x *standard.Expected, at time.Time, note string) {
	f.shows.reset(x)
	end := t.reading(f, x, at, snapshot.AsFound, note, nil)
	off := f.off(x, at)
	t.putBack(f, off[:len(off)/2], end)
}

// allTicked is put back, and waits to be read again.
func allTicked(t *teller, f *fryer, x *standard.Expected, at time.Time, note string) {
	for range 2 {
		f.wander(x, t.rnd)
	}
	f.shows[sheet.Ref{Key: "p2.cook"}] = "300"
	end := t.reading(f, x, at, snapshot.AsFound, note, nil)
	t.putBack(f, f.off(x, at), end)
}

// withoutMenu reads everything but the menu.
func withoutMenu(t *teller, f *fryer, x *standard.Expected, at time.Time, note string) {
	t.reading(f, x, at, snapshot.AsFound, note, func(s *sheet.Setting) bool { return s.Menu > 0 })
}

// foreign is another program inside: most values mean something else there.
func foreign(t *teller, f *fryer, x *standard.Expected) {
	for i := range x.List {
		e := &x.List[i]
		s := e.Setting
		switch roll := t.rnd.IntN(10); {
		case s.Role == sheet.RoleChecksum:
			f.shows[e.Ref] = "OR14 1C 22"
		case s.ReadOnly || s.Kind == sheet.Text || !e.Value.Known():
		case s.Kind == sheet.Choice && roll < 3:
			f.shows[e.Ref] = "mode 7"
		case s.Kind == sheet.Number && roll < 2:
			f.shows[e.Ref] = sheet.Num(*s.Max + float64(1+t.rnd.IntN(60)))
		case s.Kind == sheet.Number && roll < 7:
			f.shows[e.Ref] = nudge(s, e.Value, t.rnd)
		}
	}
}

// openTag is the fryer that a technician reads at this moment.
const openTag = "KF-2403"

// planOpenReading plans the reading that is going on now, in a diner that never closes.
func (t *teller) planOpenReading() {
	f := t.world.fryer(openTag)
	f.at.closeFrom(t.now.AddDate(0, 0, -2))
	t.plan(t.now.Add(-34*time.Minute), func(at time.Time) {
		x := t.world.expected(f)
		f.shows[sheet.Ref{Key: "idle-delay"}] = "90"
		list := f.readings(x, at, nil)
		id := t.newID(at)
		t.ofReading(f, id, at, snapshot.Begun{Fryer: f.ID, Purpose: snapshot.Routine})
		const together, done = 3, 18
		for i := 0; i < done; i += together {
			at = at.Add(95 * time.Second)
			t.ofReading(f, id, at, snapshot.Read{Readings: list[i : i+together]})
		}
	})
}
