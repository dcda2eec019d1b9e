package scenario

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/entry"
	"frywright/domain/intake"
	"frywright/domain/journal"
	"frywright/domain/person"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var someTuesday = time.Date(2026, 11, 24, 10, 0, 0, 0, time.UTC)

// moments are awkward ones: midnights, ends of years, a leap day, the hours in which clocks change, a Friday night while it
// happens.
var moments = []time.Time{
	someTuesday,
	time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC),
	time.Date(2028, 2, 29, 23, 59, 59, 0, time.UTC),
	time.Date(2026, 3, 29, 1, 30, 0, 0, time.UTC),
	time.Date(2026, 11, 1, 6, 30, 0, 0, time.UTC),
	time.Date(2026, 11, 21, 2, 50, 0, 0, time.UTC),
	time.Date(2026, 11, 21, 3, 20, 0, 0, time.UTC),
	time.Date(2026, 8, 2, 12, 0, 0, 0, time.UTC),
}

func tell(t *testing.T, now time.Time, seed uint64) *Story {
	t.Helper()
	s, err := Tell(now, seed)
	require.NoError(t, err)
	return s
}

func TestTheStoryIsTheSameForTheSameSeed(t *testing.T) {
	once, again := tell(t, someTuesday, 7), tell(t, someTuesday, 7)
	require.Equal(t, once, again)
	other := tell(t, someTuesday, 8)
	assert.NotEqual(t, once.Drafts, other.Drafts)
}

func TestTheStoryIsToldInOrderAndNeverOfTheFuture(t *testing.T) {
	for i, now := range moments {
		s := tell(t, now, uint64(i))
		assert.True(t, len(s.Drafts) >= 2500 && len(s.Drafts) <= 5000, "%d entries", len(s.Drafts))
		last, ids := now.AddDate(0, 0, -storyDays-1), map[uuid.UUID]bool{}
		for _, d := range s.Drafts {
			require.NoError(t, d.Body.Validate(), d.Body.Kind())
			require.False(t, d.At.Before(last) || d.At.After(now), "%s at %s", d.Body.Kind(), d.At)
			require.Equal(t, uuid.Version(7), d.ID.Version())
			require.False(t, ids[d.ID], "an id twice")
			last, ids[d.ID] = d.At, true
		}
	}
}

// folded is what a test keeps of the story while it is told.
type folded struct {
	world    *world
	people   map[uuid.UUID]person.Person
	begun    map[uuid.UUID]*fryer
	finished map[uuid.UUID]bool
}

// fold tells the story to each, in order.
func fold(t *testing.T, s *Story, each func(f *folded, d journal.Draft)) {
	t.Helper()
	f := &folded{newWorld(), map[uuid.UUID]person.Person{}, map[uuid.UUID]*fryer{}, map[uuid.UUID]bool{}}
	for _, d := range s.Drafts {
		each(f, d)
		require.NoError(t, f.world.take(d))
		switch b := d.Body.(type) {
		case person.Saved:
			f.people[b.Person.ID] = b.Person
		case snapshot.Begun:
			f.begun[d.Subject] = f.byID(b.Fryer)
		case snapshot.Finished:
			f.finished[d.Subject] = true
		}
	}
}

func (f *folded) byID(id uuid.UUID) *fryer {
	for _, x := range f.world.fryers {
		if x.ID == id {
			return x
		}
	}
	return nil
}

func TestEveryReadingIsOfItsFryersController(t *testing.T) {
	fold(t, tell(t, someTuesday, 7), func(f *folded, d journal.Draft) {
		var readings []snapshot.Reading
		switch b := d.Body.(type) {
		case snapshot.Begun:
			require.NotNil(t, f.byID(b.Fryer), "a reading of a fryer that is not there yet")
			return
		case snapshot.Read:
			readings = b.Readings
		case snapshot.Finished:
			readings = b.Readings
		case snapshot.Ticked:
			readings = []snapshot.Reading{{Ref: b.Ref, Value: b.Value}}
			f.begun[d.Subject] = f.byID(d.Subject)
		default:
			return
		}
		at := f.begun[d.Subject]
		require.NotNil(t, at, "%s before the reading was begun", d.Body.Kind())
		require.False(t, f.finished[d.Subject], "%s after the reading was finished", d.Body.Kind())
		x := f.world.expected(at)
		for _, r := range readings {
			require.GreaterOrEqual(t, x.Position(r.Ref), 0, "%s has no %s", at.Tag, r.Ref)
			require.True(t, r.Value.Known() != r.Skipped, "%s %s is neither read nor skipped", at.Tag, r.Ref)
		}
	})
}

func TestEveryAuthorMayDoWhatTheyDid(t *testing.T) {
	s := tell(t, someTuesday, 7)
	everybody := map[uuid.UUID]person.Person{}
	for _, d := range s.Drafts {
		if b, ok := d.Body.(person.Saved); ok {
			everybody[b.Person.ID] = b.Person
		}
	}
	require.Len(t, everybody, len(People()))
	fold(t, s, func(f *folded, d journal.Draft) {
		p, ok := everybody[d.Author]
		require.True(t, ok, "%s by nobody", d.Body.Kind())
		a := access.Actor{Person: p.ID, Role: p.Role, Sites: map[uuid.UUID]bool{}}
		for _, site := range f.world.sites {
			for _, area := range p.Areas {
				if site.Area == area {
					a.Sites[site.ID] = true
				}
			}
		}
		require.Equal(t, access.Allowed, access.Can(a, entry.ActionFor(d.Body), d.Site), "%s by %s", d.Body.Kind(), p.Name)
	})
}

func TestNobodyIsInTwoRestaurantsAtOnce(t *testing.T) {
	type stay struct {
		site uuid.UUID
		at   time.Time
	}
	last := map[uuid.UUID]stay{}
	s := tell(t, someTuesday, 7)
	for _, d := range s.Drafts {
		switch d.Body.(type) {
		case snapshot.Begun, snapshot.Finished:
			was, ok := last[d.Author]
			if ok && was.site != d.Site {
				assert.GreaterOrEqual(t, d.At.Sub(was.at), 10*time.Minute, "%s", d.At)
			}
			last[d.Author] = stay{d.Site, d.At}
		}
	}
}

func TestTheStandardsEndAsTheFilesHaveThem(t *testing.T) {
	p, err := plan(counter())
	require.NoError(t, err)
	s := tell(t, someTuesday, 7)
	ours, files := newWorld(), ofFiles(t)
	for _, d := range s.Drafts {
		require.NoError(t, ours.take(d))
	}
	told := standards(s.Drafts)
	for _, d := range p.Drafts {
		b, ok := d.Body.(standard.Changed)
		if !ok {
			continue
		}
		of := files.translate(ours, b)
		assert.Equal(t, standards([]journal.Draft{d})[d.Subject], told[of], "%s of %s", b.Level, b.Of)
	}
	assert.Len(t, told, len(standards(p.Drafts)))
}

// translate gives the layer in another world that stands for one of this world.
func (w *world) translate(to *world, b standard.Changed) uuid.UUID {
	var of uuid.UUID
	switch b.Level {
	case standard.OfCustomer:
		of = to.customer(w.customers[b.Of].Code).ID
	case standard.OfModel:
		for id, m := range to.models {
			if m.Code == w.models[b.Of].Code {
				of = id
			}
		}
	case standard.OfSite:
		of = to.site(w.siteOf(b.Of).Code).ID
	default:
		for _, f := range w.fryers {
			if f.ID == b.Of {
				of = to.fryer(f.Tag).ID
			}
		}
	}
	for id, s := range to.sheets {
		if s.Code == w.sheets[b.Sheet].Code {
			return standard.LayerID(b.Level, of, id)
		}
	}
	return uuid.Nil
}

// office is a context in which the program itself acts.
func office() context.Context {
	return access.NewContext(context.Background(), access.Actor{Role: access.Administrator, System: true})
}

// recorded gives a store that holds the story.
func recorded(t *testing.T, s *Story, now time.Time) *store.Store {
	t.Helper()
	st, err := store.Open(office(), store.Config{Path: filepath.Join(t.TempDir(), "t.db"), Now: func() time.Time { return now }, NewID: counter()})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	_, err = st.Record(office(), s.Drafts...)
	require.NoError(t, err)
	return st
}

func TestTheStoreTakesTheStoryAndTellsItBack(t *testing.T) {
	s := tell(t, someTuesday, 7)
	st := recorded(t, s, someTuesday)
	page, err := st.Fryers(office(), state.Filter{PerPage: 500, Retired: true})
	require.NoError(t, err)
	standing, causes, classes := map[string]state.Fryer{}, map[cause.Kind]int{}, map[sheet.Class]int{}
	hands, accepted := 0, 0
	for _, f := range page.Fryers {
		standing[f.Tag] = f
		causes[f.Cause]++
		classes[f.Worst()]++
		accepted += f.Accepted
		if f.NeedsHands() {
			hands++
		}
	}
	assert.InDelta(t, 25, hands, 4, "fryers that need hands")
	assert.Equal(t, 5, accepted)
	for _, k := range append(cause.Kinds(), cause.CannotTell) {
		assert.Positive(t, causes[k], "no %s", k)
	}
	for _, c := range sheet.Classes() {
		assert.Positive(t, classes[c], "nothing of class %s", c)
	}
	for tag, says := range map[string]string{
		"KF-2001": "Not read since a power cut.", "KF-2002": "Not read since a power cut.", "KF-2003": "Not read since a power cut.",
		"KF-2004":   "Every setting is as it should be.",
		"KF-1003":   "1 rule is broken",
		"KF-2205":   "this may be the wrong settings sheet",
		"KF-2805":   "programmed to another standard",
		"KF-3606":   "Read it again as left to be sure",
		"KF-3405":   "why cannot be told",
		"KF-1704":   "were not read",
		newcomerTag: "Never read",
		leaverTag:   "Retired",
	} {
		f := standing[tag]
		assert.Contains(t, f.Sentence(), says, tag)
	}
	assert.NotEqual(t, uuid.Nil, standing[openTag].OpenID)
	a, err := st.Assessment(office(), standing[openTag].ID)
	require.NoError(t, err)
	assert.Equal(t, 18, a.Fryer.OpenDone)
	mover := standing[moverTag]
	assert.Contains(t, mover.SiteName, "Verdigris Wells")
}

func TestAgainThroughTheFilesNothingChanges(t *testing.T) {
	st := recorded(t, tell(t, someTuesday, 7), someTuesday)
	list, err := Files()
	require.NoError(t, err)
	p, err := st.PlanImport(office(), list)
	require.NoError(t, err)
	for _, r := range p.Rows {
		assert.Equal(t, intake.Same, r.Outcome, "%s:%d %s %v", r.File, r.Line, r.What, r.Changes)
	}
}

// TestFridayNight reads the three controllers as they stand now: the day that must work.
func TestFridayNight(t *testing.T) {
	s := tell(t, someTuesday, 7)
	st := recorded(t, s, someTuesday)
	require.Len(t, s.Friday, len(FridayTags()))
	for i, f := range s.Friday {
		assert.Equal(t, FridayTags()[i], f.Tag)
		x, err := st.Expected(office(), f.ID)
		require.NoError(t, err)
		for j := range x.List {
			if e := &x.List[j]; e.Setting.Kept && e.Setting.Factory.Known() {
				assert.Equal(t, e.Value, f.Shows[e.Ref], "%s %s is kept", f.Tag, e.Ref)
			} else if e.Setting.Factory.Known() {
				assert.Equal(t, e.Setting.Factory, f.Shows[e.Ref], "%s %s is lost", f.Tag, e.Ref)
			}
		}
		snap := uuid.Must(uuid.NewV7())
		var readings []snapshot.Reading
		for ref, v := range f.Shows {
			readings = append(readings, snapshot.Reading{Ref: ref, Value: v})
		}
		_, err = st.Record(office(),
			journal.Draft{Subject: snap, Body: snapshot.Begun{Fryer: f.ID, Purpose: snapshot.AsFound}},
			journal.Draft{Subject: snap, Body: snapshot.Finished{Readings: readings}})
		require.NoError(t, err)
		r, err := st.ReadingResult(office(), snap)
		require.NoError(t, err)
		assert.Equal(t, cause.FullReset, r.Cause.Verdict, f.Tag)
		assert.True(t, r.Cause.Sure(), f.Tag)
		assert.Equal(t, []int{11, 11}, []int{r.Cause.Counts.AtFactory, r.Cause.Counts.Telling}, f.Tag)
		assert.True(t, strings.HasPrefix(r.Cause.Sentence, "All eleven house settings are back at factory values"), r.Cause.Sentence)
		assert.Len(t, r.Result.Drifted(), 11, f.Tag)
	}
}

func TestFridayIsTheLatestThatIsOver(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		now := time.Unix(rapid.Int64Range(1_700_000_000, 2_000_000_000).Draw(t, "now"), 0)
		at := Friday(now, zone)
		require.Equal(t, time.Friday, at.Weekday())
		require.Equal(t, "21:40", at.Format("15:04"))
		require.False(t, at.Add(told).After(now))
		require.True(t, at.AddDate(0, 0, 7).Add(told).After(now), "a later one is over too")
	})
}
