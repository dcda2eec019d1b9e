package reading_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBeginLeadsToTheFirstSetting(t *testing.T) {
	f := newFake()
	b := f.browser(t)
	got := b.post(path.ReadingBegin(f.fryer.ID), "purpose", "as-found")
	require.NoError(t, b.failure)
	assert.Equal(t, http.StatusSeeOther, got.status)
	require.Len(t, f.drafts, 1)
	assert.Equal(t, snapshot.Begun{Fryer: f.fryer.ID, Purpose: snapshot.AsFound}, f.drafts[0].Body)
	assert.Equal(t, path.ReadingAt(f.drafts[0].Subject, 1), got.to)
}

func TestAFormSentTwiceBeginsOneReading(t *testing.T) {
	f := newFake()
	entry := uuid.Must(uuid.NewV7()).String()
	f.browser(t).post(path.ReadingBegin(f.fryer.ID), "purpose", "routine", "entry", entry)
	f.fryer.OpenID = uuid.Nil // both were on their way before either was seen
	f.browser(t).post(path.ReadingBegin(f.fryer.ID), "purpose", "routine", "entry", entry)
	require.Len(t, f.drafts, 2)
	assert.Equal(t, f.drafts[0].ID, f.drafts[1].ID)
	assert.Equal(t, f.drafts[0].Subject, f.drafts[1].Subject)
}

func TestAnOpenReadingIsGoneOnWith(t *testing.T) {
	f := newFake()
	open := f.begun(t, snapshot.AsFound, nil)
	got := f.browser(t).post(path.ReadingBegin(f.fryer.ID), "purpose", "as-found")
	assert.True(t, strings.HasPrefix(got.to, path.Reading(open)), got.to)
	assert.Empty(t, f.drafts)
}

func TestAPurposeThatDoesNotExist(t *testing.T) {
	f := newFake()
	b := f.browser(t)
	b.post(path.ReadingBegin(f.fryer.ID), "purpose", "as-wished")
	assert.Equal(t, fault.Invalid, fault.KindOf(b.failure))
	assert.Empty(t, f.drafts)
}

func TestFinishKeepsTheNote(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"pilot": "on"})
	got := f.browser(t).post(path.ReadingFinish(id), "note", "display dim")
	assert.Equal(t, snapshot.Finished{Note: "display dim"}, f.last(t))
	assert.True(t, strings.HasPrefix(got.to, path.ReadingResult(id)), got.to)
}

func TestNothingReadCannotBeFinished(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"pilot": ""})
	got := f.browser(t).post(path.ReadingFinish(id), "note", "<b>in a hurry</b>")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, "No value was read yet")
	assert.Empty(t, f.drafts)
}

func TestARefusedFinishKeepsWhatWasTyped(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"pilot": "on"})
	f.refuse = fault.New(fault.Conflict, "This reading is closed. Begin a new one.")
	got := f.browser(t).post(path.ReadingFinish(id), "note", "<b>dim</b>")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, "This reading is closed.")
	has(t, got.body, "&lt;b&gt;dim&lt;/b&gt;")
	got = f.browser(t).post(path.ReadingDrop(id), "why", "wrong fryer")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, `value="wrong fryer"`)
}

func TestAnErrorOfOursIsForTheErrorPage(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"pilot": "on"})
	f.refuse = fmt.Errorf("disk full")
	for _, target := range []string{path.ReadingFinish(id), path.ReadingDrop(id), path.ReadingAt(id, 1)} {
		b := f.browser(t)
		got := b.post(target, "typed", "340")
		assert.Equal(t, fault.Internal, fault.KindOf(b.failure), target)
		lacks(t, got.body, "disk full")
	}
}

func TestDropLeadsBackToTheFryer(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	got := f.browser(t).post(path.ReadingDrop(id), "why", "wrong fryer")
	assert.Equal(t, snapshot.Dropped{Why: "wrong fryer"}, f.last(t))
	assert.True(t, strings.HasPrefix(got.to, path.Fryer(f.fryer.ID)), got.to)
	has(t, f.browser(t).get(path.Reading(id)).body, "Given up.")
}

func TestOverviewSaysHowFarItIs(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"setpoint@1": "350", "pilot": "on", "profile": "gentle"})
	body := f.browser(t).get(path.Reading(id)).body
	for _, text := range []string{
		"3 of 6 values read, 2 are off so far.", "next: Fry setpoint, right vat", "Finish with what was read", "3 values stay unknown.",
		"A standing pilot needs the standard gas profile", path.ReadingAt(id, 5), "reads 350\u00a0°F, expected 340\u00a0°F: 10\u00a0°F above, a food matter",
	} {
		has(t, body, text)
	}
}

func TestGoingOnLeadsStraightToTheNextSetting(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"setpoint@1": "340"})
	assert.Equal(t, path.ReadingAt(id, atRight), f.browser(t).get(path.ReadingNext(id)).to)
	all := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"setpoint@1": "340", "setpoint@2": "340", "offset": "-3", "profile": "gas", "pilot": "on", "hours": ""})
	assert.Equal(t, path.Reading(all), f.browser(t).get(path.ReadingNext(all)).to, "nothing is left to read")
	f.browser(t).post(path.ReadingFinish(id))
	assert.Equal(t, path.Reading(id), f.browser(t).get(path.ReadingNext(id)).to, "closed meanwhile")
}

func TestOverviewOffersToFinishOnceAllIsRead(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"setpoint@1": "340", "setpoint@2": "340", "offset": "-3", "profile": "gas", "pilot": "on", "hours": ""})
	body := f.browser(t).get(path.Reading(id)).body
	has(t, body, "5 of 6 values read, none off so far.")
	has(t, body, "every setting was gone through")
	lacks(t, body, "Go on reading")
}

func TestAClosedReadingIsShownAsItsResult(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"pilot": "on"})
	assert.True(t, strings.HasPrefix(f.browser(t).get(path.ReadingResult(id)).to, path.Reading(id)), "an open one has no result yet")
	f.browser(t).post(path.ReadingFinish(id))
	assert.Equal(t, path.ReadingResult(id), f.browser(t).get(path.Reading(id)).to)
	assert.Equal(t, path.ReadingResult(id), f.browser(t).get(path.ReadingAt(id, 1)).to)
}

func finished(t *testing.T, f *fake, purpose snapshot.Purpose, values map[string]sheet.Value) string {
	t.Helper()
	id := f.begun(t, purpose, values)
	f.browser(t).post(path.ReadingFinish(id))
	got := f.browser(t).get(path.ReadingResult(id))
	require.Equal(t, http.StatusOK, got.status)
	return got.body
}

func right(change map[string]sheet.Value) map[string]sheet.Value {
	values := map[string]sheet.Value{"setpoint@1": "340", "setpoint@2": "340", "offset": "-3", "profile": "gas", "pilot": "on", "hours": "4120"}
	for k, v := range change {
		values[k] = v
	}
	return values
}

func TestResultBeginsWithTheVerdict(t *testing.T) {
	partly := right(map[string]sheet.Value{"offset": "", "pilot": ""})
	for name, c := range map[string]struct {
		purpose snapshot.Purpose
		values  map[string]sheet.Value
		after   state.Standing // how the fryer stands after it
		want    string
	}{
		"all right":             {snapshot.Routine, right(nil), state.Standing{}, "All settings are as they should be."},
		"right as far as read":  {snapshot.Routine, partly, state.Standing{}, "What was read is as it should be; 2 settings were not read."},
		"put right":             {snapshot.AsLeft, right(nil), state.Standing{}, "All settings are as they should be: everything was read again."},
		"put right and proved":  {snapshot.AsLeft, partly, state.Standing{}, "All settings are as they should be: what was off is put right and read again."},
		"put right, some known": {snapshot.AsLeft, partly, state.Standing{Unknown: 2}, "What was read is put right; 2 settings are not known."},
		"put right, some to go": {snapshot.AsLeft, partly, state.Standing{ByClass: [5]int{sheet.Safety: 1}}, "What was read is put right. Not read again yet: 1 setting is off"},
		"still off":             {snapshot.AsLeft, right(map[string]sheet.Value{"setpoint@2": "350", "profile": "gentle"}), state.Standing{}, "Still off: Fry setpoint, right vat; Heat profile; 1 broken rule."},
		"reset":                 {snapshot.AsFound, right(map[string]sheet.Value{"setpoint@1": "350", "setpoint@2": "350", "offset": "0", "pilot": "off"}), state.Standing{}, "All four house settings are back at factory values"},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			f.fryer.Standing = c.after
			has(t, finished(t, f, c.purpose, c.values), c.want)
		})
	}
}

func TestResultShowsTheOddsAndWhatTheyRestOn(t *testing.T) {
	body := finished(t, newFake(), snapshot.AsFound, right(map[string]sheet.Value{"setpoint@1": "350", "setpoint@2": "350", "offset": "0", "pilot": "off"}))
	for _, text := range []string{"4 of the 4 settings that differ from factory read factory.", "A full reset", "Changed by hand, or misread", "Show the working", "Bayes", "reads <b>350\u00a0°F</b>"} {
		has(t, body, text)
	}
}

func TestResultNamesWhatWasNotRead(t *testing.T) {
	body := finished(t, newFake(), snapshot.AsFound, right(map[string]sheet.Value{"setpoint@1": "350", "offset": ""}))
	has(t, body, "Not read this time")
	has(t, body, path.FryerExpectedOne(newFake().fryer.ID, sheet.Ref{Key: "offset"})[len(path.Fryer(uuid.Nil)):])
}

func TestAcceptedDifferencesStandApart(t *testing.T) {
	f := newFake()
	f.accepted = []standard.Acceptance{{Ref: sheet.Ref{Key: "profile"}, Value: "gentle", Reason: "new burner comes", Until: today.AddDate(0, 1, 0)}}
	body := finished(t, f, snapshot.Routine, right(map[string]sheet.Value{"profile": "gentle", "pilot": "on"}))
	has(t, body, "Differs, and is accepted")
	has(t, body, "but 1 rule is broken.")
}

func TestAnOlderReadingLeadsToTheFryerOnly(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, right(map[string]sheet.Value{"setpoint@1": "350"}))
	f.browser(t).post(path.ReadingFinish(id))
	f.fryer.LastRead = today.Add(1)
	body := f.browser(t).get(path.ReadingResult(id)).body
	has(t, body, "The controller was read again after this.")
	lacks(t, body, "button primary")
}

func TestAReadingThatWasGivenUpHasNoResult(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, right(nil))
	f.browser(t).post(path.ReadingDrop(id))
	b := f.browser(t)
	b.get(path.ReadingResult(id))
	assert.Equal(t, fault.NotFound, fault.KindOf(b.failure))
}

func TestAddressesThatLeadNowhere(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	for _, target := range []string{
		path.Reading(uuid.New()), "/readings/none", path.ReadingAt(id, 0), path.ReadingAt(id, 7), path.Reading(id) + "/at/one",
		path.Reading(id) + "/weigh?ref=nothing&typed=1", path.Reading(id) + "/weigh",
	} {
		b := f.browser(t)
		b.get(target)
		assert.Equal(t, fault.NotFound, fault.KindOf(b.failure), target)
		assert.Error(t, b.failure, target)
	}
}
