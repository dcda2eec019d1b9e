package scenario

import (
	"time"

	"frywright/domain/cause"
	"frywright/domain/snapshot"
)

// How long ago the Friday night's restaurant was visited.
var fridayVisits = []int{storyDays - 20, 262, 152}

// told is when the last word of Friday night was written down, after the power went.
const told = 35 * time.Minute

// Friday gives the latest Friday evening, at 21:40 in a zone, that was over and told before a moment.
func Friday(now time.Time, zone *time.Location) time.Time {
	day := now.In(zone)
	at := time.Date(day.Year(), day.Month(), day.Day(), 21, 40, 0, 0, zone)
	for at.Weekday() != time.Friday || at.Add(told).After(now) {
		at = at.AddDate(0, 0, -1)
	}
	return at
}

// planFriday plans the power cut of which nobody knows yet what it left behind. What it gives says what the controllers
// show now, once the story has run.
func (t *teller) planFriday() func() []Fryer {
	p := t.world.site(FridaySite)
	at := Friday(t.now, p.zone)
	var friday []Fryer
	t.plan(at, func(at time.Time) {
		for i, tag := range FridayTags() {
			f := t.world.fryer(tag)
			f.shows.reset(t.world.expected(f))
			t.note(f, at.Add(22*time.Minute+time.Duration(i)*50*time.Second), t.desk(), snapshot.Event{
				What: cause.PowerCut, Happened: at, Note: "The manager rang: the basement was dark from 21:40 to 21:52.",
			})
			friday = append(friday, Fryer{ID: f.ID, Tag: f.Tag, Shows: f.shows})
		}
		f := t.world.fryer(FridayTags()[0])
		t.note(f, at.Add(told), t.desk(), snapshot.Note{Text: "The manager rang again: fries come out pale. Ines passes there anyway."})
	})
	return func() []Fryer { return friday }
}
