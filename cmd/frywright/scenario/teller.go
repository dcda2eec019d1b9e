package scenario

import (
	"encoding/binary"
	"math/rand/v2"
	"slices"
	"time"

	"frywright/domain/fleet"
	"frywright/domain/journal"
	"frywright/domain/rule"
	"frywright/domain/standard"

	"github.com/google/uuid"
)

// teller tells the story: it plans what happens when, lets it happen in the order of time, and writes it down.
type teller struct {
	now         time.Time
	rnd         *rand.Rand
	world       *world
	people      map[string]uuid.UUID
	technicians map[string]uuid.UUID // by area
	booked      map[booking]bool
	tasks       []task
	drafts      []journal.Draft
	moverTo     *place // where the mover stands today
	// own is the standards of single fryers, set when each is commissioned.
	own map[uuid.UUID]standard.Changed
}

// task is something that happens at a moment.
type task struct {
	at time.Time
	do func(at time.Time)
}

func newTeller(now time.Time, seed uint64) *teller {
	return &teller{
		now: now.UTC().Truncate(time.Second), rnd: rand.New(rand.NewPCG(seed, 1120)), //nolint:gosec // an invented story keeps no secrets
		world: newWorld(), booked: map[booking]bool{}, own: map[uuid.UUID]standard.Changed{},
	}
}

// storyDays is how long ago the story begins.
const storyDays = 385

// newID makes a UUIDv7 (RFC 9562) of a moment, its random part from the seed.
func (t *teller) newID(at time.Time) uuid.UUID {
	var id uuid.UUID
	binary.BigEndian.PutUint64(id[8:], t.rnd.Uint64())
	binary.BigEndian.PutUint64(id[:], uint64(at.UnixMilli())<<16|uint64(t.rnd.Uint32N(1<<12)))
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// draft writes an entry down and gives its id.
func (t *teller) draft(d journal.Draft) uuid.UUID {
	if d.ID == uuid.Nil {
		d.ID = t.newID(d.At)
	}
	d.At = d.At.UTC()
	t.drafts = append(t.drafts, d)
	return d.ID
}

// note writes down something about a fryer.
func (t *teller) note(f *fryer, at time.Time, author uuid.UUID, body journal.Body) {
	t.draft(journal.Draft{At: at, Author: author, Site: f.at.ID, Subject: f.ID, Body: body})
}

func (t *teller) plan(at time.Time, do func(time.Time)) { t.tasks = append(t.tasks, task{at, do}) }

// run lets everything happen in the order of time.
func (t *teller) run() {
	slices.SortStableFunc(t.tasks, func(a, b task) int { return a.at.Compare(b.at) })
	for _, x := range t.tasks {
		x.do(x.at)
	}
	slices.SortStableFunc(t.drafts, func(a, b journal.Draft) int { return a.At.Compare(b.At) })
}

func (t *teller) lead() uuid.UUID { return t.people[LeadEmail] }
func (t *teller) desk() uuid.UUID { return t.people[DeskEmail] }

// technician gives who goes to a fryer.
func (t *teller) technician(f *fryer) uuid.UUID { return t.technicians[f.at.Area] }

// begin is when the story begins: a morning at the office.
func (t *teller) begin() time.Time {
	day := t.now.AddDate(0, 0, -storyDays)
	return time.Date(day.Year(), day.Month(), day.Day(), 13, 0, 0, 0, time.UTC)
}

// found makes the fleet as the story begins: the files, the people, and the rules of the outside world.
func (t *teller) found() error {
	at := t.begin()
	t.namePeople(at)
	p, err := plan(func() uuid.UUID { return t.newID(at) })
	if err != nil {
		return err
	}
	for i, d := range p.Drafts {
		d.At, d.Author = at.Add(time.Duration(i)*20*time.Millisecond), t.lead()
		t.standBefore(&d)
		if b, ok := d.Body.(standard.Changed); ok {
			t.foundStandard(b)
			continue
		}
		if d.ID == uuid.Nil {
			d.ID = t.newID(d.At)
		}
		if err := t.world.take(d); err != nil {
			return err
		}
		if !t.late(d) {
			t.draft(d)
		}
	}
	t.addPeople(at.Add(time.Hour))
	for _, s := range t.world.sites {
		t.switchRule(s, at.Add(25*time.Hour))
	}
	return nil
}

// foundStandard keeps a fryer's own standard until it is commissioned; the others are set the day after.
func (t *teller) foundStandard(b standard.Changed) {
	if b.Level == standard.OfFryer {
		t.own[b.Of] = b
		return
	}
	t.planTurns(b)
	if b = before(t.world, b); len(b.Set) == 0 {
		return
	}
	at := t.begin().Add(26*time.Hour + time.Duration(len(t.world.layers))*4*time.Minute)
	t.change(b, at, t.lead())
}

// change changes a standard.
func (t *teller) change(b standard.Changed, at time.Time, author uuid.UUID) {
	id := t.newID(at)
	d := journal.Draft{ID: id, At: at, Author: author, Subject: standard.LayerID(b.Level, b.Of, b.Sheet), Base: t.world.change(b, id, at), Body: b}
	switch b.Level {
	case standard.OfSite:
		d.Site = b.Of
	case standard.OfFryer:
		d.Site = t.world.fryers[slices.IndexFunc(t.world.fryers, func(f *fryer) bool { return f.ID == b.Of })].at.ID
	}
	t.draft(d)
}

// switchRule switches on the rule of the outside world that holds where a restaurant stands.
func (t *teller) switchRule(s *place, at time.Time) {
	key := "nfpa-96-high-limit"
	if s.Country == "IE" {
		key = "eu-2017-2158-potato"
	}
	t.draft(journal.Draft{At: at, Author: t.lead(), Site: s.ID, Subject: s.ID, Body: rule.Switched{Rule: key, On: true}})
}

// late keeps back what the story tells later: a fryer that came only now.
func (t *teller) late(d journal.Draft) bool {
	b, ok := d.Body.(fleet.FryerSaved)
	if !ok || b.Fryer.Tag != newcomerTag {
		return false
	}
	f := t.world.fryer(newcomerTag)
	t.plan(t.officeHour(2), func(at time.Time) {
		d.At = at
		f.version = t.draft(d)
	})
	return true
}
