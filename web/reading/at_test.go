package reading_test

import (
	"net/http"
	"strings"
	"testing"

	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/web/path"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The positions of the fake's settings.
const (
	atLeft = iota + 1
	atRight
	atOffset
	atProfile
	atPilot
	atHours
)

func TestOneSettingShowsWhatIsExpected(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	body := f.browser(t).get(path.ReadingAt(id, atRight)).body
	for _, text := range []string{
		"2 of 6", "Frying", "Fry setpoint", "right vat", "Hold the vat&#39;s own key.", "As expected:", "340\u00a0°F", "customer standard, Otterly Battered",
		`inputmode="decimal"`, "From 200\u00a0°F to 375\u00a0°F in steps of 1.", "Cannot be read", path.ReadingAt(id, atLeft), `data-weigh="` + strings.ReplaceAll(path.ReadingWeigh(id, sheet.Ref{Key: "setpoint", Vat: 2}), "&", "&amp;"),
	} {
		has(t, body, text)
	}
	lacks(t, body, "data-sign")
	has(t, f.browser(t).get(path.ReadingAt(id, atOffset)).body, "data-sign")
	has(t, f.browser(t).get(path.ReadingAt(id, atProfile)).body, `type="radio"`)
	has(t, f.browser(t).get(path.ReadingAt(id, atPilot)).body, `name="typed" value="on"`)
}

func TestNothingExpectedOffersNoTap(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	body := f.browser(t).get(path.ReadingAt(id, atHours)).body
	lacks(t, body, "as_expected")
	has(t, body, "Nothing is expected here")
	b := f.browser(t)
	got := b.post(path.ReadingAt(id, atHours), "as_expected", "1", "expected", "")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	assert.Empty(t, f.drafts)
}

func TestAsExpectedIsRecordedAsSuch(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	got := f.browser(t).post(path.ReadingAt(id, atLeft), "as_expected", "1", "expected", "340")
	assert.Equal(t, snapshot.Reading{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "340", AsExpected: true}, f.read(t))
	assert.Equal(t, path.ReadingAt(id, atRight)+"?after=setpoint%401#here", got.to)
	has(t, f.browser(t).get(got.to).body, "Fry setpoint, left vat: 340\u00a0°F, as expected.")
}

func TestAStandardChangedMeanwhileIsNotTakenForRead(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	f.house = []standard.Set{{Ref: sheet.Ref{Key: "setpoint"}, Value: "335"}}
	got := f.browser(t).post(path.ReadingAt(id, atLeft), "as_expected", "1", "expected", "340")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, "was changed meanwhile")
	has(t, got.body, "335\u00a0°F")
	assert.Empty(t, f.drafts)
}

func TestWhatIsTyped(t *testing.T) {
	for name, c := range map[string]struct {
		at      int
		form    []string
		want    snapshot.Reading
		outcome string
	}{
		"a number below":       {atLeft, []string{"typed", "330"}, snapshot.Reading{Value: "330"}, "Fry setpoint, left vat: 330\u00a0°F, expected 340\u00a0°F: 10\u00a0°F below, a food matter."},
		"within the tolerance": {atLeft, []string{"typed", "341"}, snapshot.Reading{Value: "341"}, "expected 340\u00a0°F: 1\u00a0°F above, within the tolerance."},
		"comma and unit":       {atLeft, []string{"typed", " 340,5 °F"}, snapshot.Reading{Value: "340.5", Typed: "340,5 °F"}, "0.5\u00a0°F above, within the tolerance"},
		"outside the range":    {atLeft, []string{"typed", "500"}, snapshot.Reading{Value: "500"}, "The settings sheet does not allow this value; it is recorded as read."},
		"negative":             {atOffset, []string{"typed", "−5"}, snapshot.Reading{Value: "-5", Typed: "−5"}, "Probe offset: −5\u00a0°F, expected −3\u00a0°F: 2\u00a0°F below"},
		"choice":               {atProfile, []string{"typed", "gentle"}, snapshot.Reading{Value: "gentle"}, "Heat profile: Gentle gas, expected Standard gas, an output matter."},
		"unlisted choice":      {atProfile, []string{"typed", "", "other", "Wild gas"}, snapshot.Reading{Value: "Wild gas"}, "Heat profile: Wild gas"},
		"switch":               {atPilot, []string{"typed", "off"}, snapshot.Reading{Value: "off"}, "Standing pilot: Off, expected On, a safety matter."},
		"nothing expected":     {atHours, []string{"typed", "4120"}, snapshot.Reading{Value: "4120"}, "recorded; nothing is expected here"},
		"cannot be read":       {atHours, []string{"skip", "1"}, snapshot.Reading{Skipped: true}, "Burner hours: left open, it could not be read."},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			id := f.begun(t, snapshot.AsFound, nil)
			got := f.browser(t).post(path.ReadingAt(id, c.at), c.form...)
			require.Equal(t, http.StatusSeeOther, got.status, got.body)
			c.want.Ref = f.expected().List[c.at-1].Ref
			assert.Equal(t, c.want, f.read(t))
			has(t, f.browser(t).get(got.to).body, c.outcome)
		})
	}
}

func TestNonsenseIsKeptAndComplainedAbout(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	got := f.browser(t).post(path.ReadingAt(id, atLeft), "typed", `hot "as" <hell>`)
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, `value="hot &#34;as&#34; &lt;hell&gt;"`)
	has(t, got.body, "is not a number. It goes from 200")
	has(t, got.body, `aria-invalid="true"`)
	for _, empty := range []int{atLeft, atProfile, atPilot} {
		got := f.browser(t).post(path.ReadingAt(id, empty), "typed", "")
		assert.Equal(t, http.StatusUnprocessableEntity, got.status, empty)
		has(t, got.body, "Enter a value for")
	}
	assert.Empty(t, f.drafts)
}

func TestAClosedReadingTakesNothing(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	f.refuse = fault.New(fault.Conflict, "This reading is closed. Begin a new one.")
	got := f.browser(t).post(path.ReadingAt(id, atLeft), "typed", "333")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, "This reading is closed.")
	has(t, got.body, `value="333"`)
}

func TestTheFormNamesItsSetting(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, nil)
	f.browser(t).post(path.ReadingAt(id, atLeft), "ref", "offset", "typed", "2")
	assert.Equal(t, sheet.Ref{Key: "offset"}, f.read(t).Ref, "the setting on the screen, wherever it stands by now")
	b := f.browser(t)
	b.post(path.ReadingAt(id, atLeft), "ref", "gone", "typed", "2")
	assert.Equal(t, fault.Conflict, fault.KindOf(b.failure))
}

func TestAnEarlierValueCanBeChanged(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"setpoint@1": "330", "profile": "Wild gas"})
	body := f.browser(t).get(path.ReadingAt(id, atLeft)).body
	has(t, body, `value="330"`)
	has(t, body, "Recorded: 330\u00a0°F. What you save now takes its place.")
	has(t, f.browser(t).get(path.ReadingAt(id, atProfile)).body, `name="other" type="text" value="Wild gas"`)
	got := f.browser(t).post(path.ReadingAt(id, atLeft), "typed", "340")
	assert.Equal(t, sheet.Value("340"), f.readings[id].Readings[sheet.Ref{Key: "setpoint", Vat: 1}].Value)
	assert.True(t, strings.HasPrefix(got.to, path.ReadingAt(id, atRight)), got.to)
}

func TestABreachIsSaidAtOnce(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"profile": "gentle"})
	got := f.browser(t).post(path.ReadingAt(id, atPilot), "as_expected", "1", "expected", "on")
	has(t, f.browser(t).get(got.to).body, "Breaks a rule: A standing pilot needs the standard gas profile")
}

// Wherever somebody begins, every setting is asked for once and the last one leads to the overview.
func TestTheWayLeadsThroughEverySetting(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := newFake()
		id := f.begun(t, snapshot.AsFound, nil)
		total := len(f.expected().List)
		at := path.ReadingAt(id, rapid.IntRange(1, total).Draw(rt, "first"))
		for range total {
			target, _, _ := strings.Cut(at, "?") // and with it the fragment
			if !strings.Contains(target, "/at/") {
				rt.Fatalf("left after %d of %d settings for %s", len(f.readings[id].Readings), total, at)
			}
			at = f.browser(t).post(target, "skip", rapid.StringMatching("[1-9]").Draw(rt, "skip")).to
		}
		if target, _, _ := strings.Cut(at, "?"); target != path.Reading(id) || len(f.readings[id].Readings) != total {
			rt.Fatalf("ended at %s with %d of %d settings", at, len(f.readings[id].Readings), total)
		}
	})
}

// A reading as left proves first what was off before; the others may follow.
func TestAReadingAsLeftProvesWhatWasOff(t *testing.T) {
	f := newFake()
	f.before = map[sheet.Ref]sheet.Value{{Key: "setpoint", Vat: 2}: "350", {Key: "pilot"}: "off", {Key: "profile"}: "gas"}
	got := f.browser(t).post(path.ReadingBegin(f.fryer.ID), "purpose", "as-left")
	id := f.drafts[0].Subject
	assert.Equal(t, path.ReadingAt(id, atRight), got.to)
	has(t, f.browser(t).get(got.to).body, "1 of 2")
	has(t, f.browser(t).get(path.Reading(id)).body, "First what was off before", "0 of 2", "next: Fry setpoint, right vat")
	got = f.browser(t).post(path.ReadingAt(id, atRight), "typed", "340")
	assert.True(t, strings.HasPrefix(got.to, path.ReadingAt(id, atPilot)), got.to)
	has(t, f.browser(t).get(got.to).body, `href="`+path.ReadingAt(id, atRight)+`"`)
	has(t, f.browser(t).get(path.Reading(id)).body, "1 of the 2 that were off before is read again, none off so far.")
	got = f.browser(t).post(path.ReadingAt(id, atPilot), "typed", "on")
	assert.True(t, strings.HasPrefix(got.to, path.Reading(id)+"?"), got.to)
	has(t, f.browser(t).get(got.to).body, "what was off before was gone through", "Read the others too", path.ReadingAt(id, atLeft)+`"`)
	got = f.browser(t).post(path.ReadingAt(id, atLeft), "typed", "340")
	assert.True(t, strings.HasPrefix(got.to, path.ReadingAt(id, atOffset)), "the others follow in the controller's order")
	has(t, f.browser(t).get(got.to).body, "3 of 6")
}

func TestWeighIsAPieceOfAPage(t *testing.T) {
	f := newFake()
	id := f.begun(t, snapshot.AsFound, map[string]sheet.Value{"profile": "gentle"})
	weigh := func(key, typed string) string {
		ref, _ := sheet.ParseRef(key)
		got := f.browser(t).get(path.ReadingWeigh(id, ref) + "&typed=" + typed)
		require.Equal(t, http.StatusOK, got.status)
		lacks(t, got.body, "<html")
		return got.body
	}
	assert.Empty(t, weigh("setpoint@1", ""))
	has(t, weigh("setpoint@1", "330"), "10\u00a0°F below, a food matter.")
	has(t, weigh("setpoint@1", "340"), "As expected")
	has(t, weigh("setpoint@1", "%3Cb%3E"), "“&lt;b&gt;” is not a number.")
	has(t, weigh("pilot", "on"), "Breaks a rule: A standing pilot")
	assert.Empty(t, f.drafts, "weighing records nothing")
}
