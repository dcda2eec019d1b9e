package bench

import (
	"slices"
	"time"

	"frywright/domain/cause"
	"frywright/domain/journal"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// rounds is how often every restaurant is visited within the story.
const rounds = 3

// How often what happens at a visit, of a hundred visits to a fryer.
const (
	oftenReset  = 3  // it lost its settings since the last one
	oftenTurned = 23 // somebody turned a setting or three
	oftenLeft   = 44 // of those found off on the last round: it is left so, and drifts now
	oftenMay    = 6  // of those turned on the last round: the difference is accepted
)

// task is something that happens at a moment.
type task struct {
	at time.Time
	i  int // which place or machine
	do func(at time.Time, i int)
}

// run lets everything happen in the order of time.
func (t *teller) run(tasks []task) {
	slices.SortStableFunc(tasks, func(a, b task) int { return a.at.Compare(b.at) })
	for _, x := range tasks {
		if t.over {
			return
		}
		x.do(x.at, x.i)
	}
}

// visits tells the routine visits of two years. What is missing from the number of entries comes as notes on the way.
func (t *teller) visits() {
	founded, done := t.count, 0
	const window = (storyDays - 20) / rounds // days
	var tasks []task
	for round := range rounds {
		for i := range t.places {
			day := begin().AddDate(0, 0, 3+round*window+t.rnd.IntN(window-3))
			at := day.Add(7*time.Hour + time.Duration(t.rnd.IntN(10*3600))*time.Second)
			tasks = append(tasks, task{at, i, func(at time.Time, i int) {
				t.goTo(&t.places[i], at, round)
				done++
				due := founded + (t.plan.Entries()-founded-t.reserve())*done/(rounds*len(t.places))
				t.remark(&t.places[i], at.Add(6*time.Hour), min(due-t.count, 2*perSite))
			}})
		}
	}
	t.run(tasks)
}

// reserve is how many entries are kept for the present.
func (t *teller) reserve() int { return t.plan.Fryers / 10 }

// remark leaves so many notes at the fryers of a restaurant.
func (t *teller) remark(p *place, at time.Time, notes int) {
	for range notes {
		at = at.Add(time.Duration(1+t.rnd.IntN(4)) * time.Minute)
		m := &t.machines[p.first+t.rnd.IntN(perSite)]
		t.note(m, at, t.crew.technicians[p.area], snapshot.Note{Text: pick(t.rnd, remarks)})
	}
}

func (t *teller) note(m *machine, at time.Time, author uuid.UUID, body journal.Body) {
	t.tell(at, about{author: author, place: &t.places[m.place], subject: m.id, fryer: m.id}, body)
}

// goTo reads every fryer of a restaurant, one after another.
func (t *teller) goTo(p *place, at time.Time, round int) {
	for i := range perSite {
		m := &t.machines[p.first+i]
		switch {
		case m.late:
		case round == 0:
			at = t.reading(m, t.expected(m), at, snapshot.AsLeft)
		default:
			at = t.visit(m, at, round == rounds-1)
		}
	}
}

// visit is a routine visit to one fryer; the last one can leave it as it was found.
func (t *teller) visit(m *machine, at time.Time, last bool) time.Time {
	x := t.expected(m)
	luck := t.rnd.IntN(100)
	switch {
	case luck < oftenReset:
		cut := at.Add(-time.Duration(2+t.rnd.IntN(40)) * time.Hour)
		what := pick(t.rnd, cause.EventKinds()[:3])
		t.note(m, cut.Add(20*time.Minute), pick(t.rnd, t.crew.desks), snapshot.Event{What: what, Happened: cut, Note: "The kitchen rang."})
		m.reset(x)
	case luck < oftenReset+oftenTurned:
		t.turn(m, x)
	default:
		return t.reading(m, x, at, snapshot.Routine)
	}
	at = t.reading(m, x, at, snapshot.AsFound)
	switch luck := t.rnd.IntN(100); {
	case last && luck < oftenLeft:
		return at
	case last && luck < oftenLeft+oftenMay:
		return t.accept(m, x, at)
	default:
		return t.putBack(m, x, at, m.off)
	}
}

// reset brings what a factory reset erases back to factory values.
func (m *machine) reset(x *standard.Expected) {
	m.off = nil
	for i := range x.List {
		if e := &x.List[i]; e.Informative() {
			m.off = append(m.off, deviation{i, e.Setting.Factory})
		}
	}
}

// turn turns one to three settings by hand.
func (t *teller) turn(m *machine, x *standard.Expected) {
	for range 1 + t.rnd.IntN(2) + t.rnd.IntN(2) {
		i := t.rnd.IntN(len(x.List))
		s := x.List[i].Setting
		n, ok := x.List[i].Value.Number()
		if !ok || s.Kind != sheet.Number || s.ReadOnly || slices.ContainsFunc(m.off, func(d deviation) bool { return d.at == i }) {
			continue
		}
		by := s.Tolerance + float64(1+t.rnd.IntN(4))
		if n+by > *s.Max || (t.rnd.IntN(2) == 0 && n-by >= *s.Min) {
			by = -by
		}
		if v := sheet.Num(n + by); s.Check(v) == nil {
			m.off = append(m.off, deviation{i, v})
		}
	}
}

// putBack enters what is expected again, ticks it off, and reads it as left.
func (t *teller) putBack(m *machine, x *standard.Expected, at time.Time, off []deviation) time.Time {
	if len(off) == 0 {
		return at
	}
	author := t.crew.technicians[t.places[m.place].area]
	var again []snapshot.Reading
	for _, d := range off {
		at = at.Add(time.Duration(25+t.rnd.IntN(50)) * time.Second)
		e := &x.List[d.at]
		t.note(m, at, author, snapshot.Ticked{Ref: e.Ref, Value: e.Value, Done: true})
		again = append(again, snapshot.Reading{Ref: e.Ref, Value: e.Value, AsExpected: true})
	}
	m.off = slices.DeleteFunc(slices.Clone(m.off), func(d deviation) bool { return slices.Contains(off, d) })
	id := t.newID(at)
	of := about{author: author, place: &t.places[m.place], subject: id, fryer: m.id}
	t.tell(at, of, snapshot.Begun{Fryer: m.id, Purpose: snapshot.AsLeft})
	t.tell(at.Add(time.Minute), of, snapshot.Read{Readings: again})
	t.tell(at.Add(2*time.Minute), of, snapshot.Finished{})
	return at.Add(4 * time.Minute)
}

// accept lets the first difference stay and puts the others back.
func (t *teller) accept(m *machine, x *standard.Expected, at time.Time) time.Time {
	if len(m.off) == 0 {
		return at
	}
	d := m.off[0]
	until := end.AddDate(0, 0, 90+t.rnd.IntN(700))
	t.note(m, at, pick(t.rnd, t.crew.desks), standard.Accepted{Ref: x.List[d.at].Ref, Value: d.value, Reason: "On trial in this kitchen.", Until: until})
	return t.putBack(m, x, at.Add(time.Minute), m.off[1:])
}

// reads gives what the controller shows, in its order.
func (m *machine) reads(x *standard.Expected) []snapshot.Reading {
	list := make([]snapshot.Reading, len(x.List))
	for i := range x.List {
		list[i] = snapshot.Reading{Ref: x.List[i].Ref, Value: x.List[i].Value, AsExpected: true}
	}
	for _, d := range m.off {
		list[d.at].Value, list[d.at].AsExpected = d.value, false
	}
	return list
}

// reading writes a finished reading down: some values one or a few at a time, the others with its finish. It gives when the
// next thing can begin.
func (t *teller) reading(m *machine, x *standard.Expected, at time.Time, purpose snapshot.Purpose) time.Time {
	id := t.newID(at)
	of := about{author: t.crew.technicians[t.places[m.place].area], place: &t.places[m.place], subject: id, fryer: m.id}
	t.tell(at, of, snapshot.Begun{Fryer: m.id, Purpose: purpose})
	list := m.reads(x)
	for range 2 + t.rnd.IntN(3) {
		n := 1 + t.rnd.IntN(6)
		at = at.Add(time.Duration(n*6+t.rnd.IntN(20)) * time.Second)
		t.tell(at, of, snapshot.Read{Readings: list[:n]})
		list = list[n:]
	}
	at = at.Add(time.Duration(len(list)*6+t.rnd.IntN(60)) * time.Second)
	t.tell(at, of, snapshot.Finished{Readings: list})
	return at.Add(time.Minute)
}

// How many fryers of a hundred are in which state now.
const (
	oftenStale = 2 // something happened and nobody was there since
	oftenOpen  = 1 // somebody is reading it
)

// present tells the last days: power cuts that nobody looked after yet, and readings that are under way.
func (t *teller) present() {
	var tasks []task
	for i := range t.machines {
		at := end.Add(-time.Duration(t.rnd.IntN(5*24*3600)) * time.Second)
		switch luck := t.rnd.IntN(100); {
		case luck < oftenStale:
			tasks = append(tasks, task{at, i, func(at time.Time, i int) {
				what := pick(t.rnd, cause.EventKinds()[:2])
				t.note(&t.machines[i], at, pick(t.rnd, t.crew.desks), snapshot.Event{What: what, Happened: at.Add(-time.Hour), Note: "Dark for twelve minutes."})
			}})
		case luck < oftenStale+oftenOpen:
			tasks = append(tasks, task{at, i, func(at time.Time, i int) { t.open(&t.machines[i], at) }})
		}
	}
	t.run(tasks)
}

// open begins a reading and leaves it open after some values.
func (t *teller) open(m *machine, at time.Time) {
	id, list := t.newID(at), m.reads(t.expected(m))
	of := about{author: t.crew.technicians[t.places[m.place].area], place: &t.places[m.place], subject: id, fryer: m.id}
	t.tell(at, of, snapshot.Begun{Fryer: m.id, Purpose: snapshot.Routine})
	t.tell(at.Add(time.Minute), of, snapshot.Read{Readings: list[:1+t.rnd.IntN(12)]})
}

// fill leaves notes, one here and one there, until the number of entries is right.
func (t *teller) fill() {
	missing := t.plan.Entries() - t.count
	for i := 0; i < missing && !t.over; i++ {
		at := end.Add(time.Duration(i-missing) * time.Second)
		t.remark(&t.places[t.rnd.IntN(len(t.places))], at, 1)
	}
}
