package fryer_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/domain/standard"
	"frywright/domain/state"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
)

// off is what the fryer reads after two settings were changed and a third is accepted.
var off = map[string]sheet.Value{"profile": "gas", "pilot": "off", "setpoint@1": "350", "setpoint@2": "340", "offset": "-3", "checksum": "7A20"}

func TestFindListsFryers(t *testing.T) {
	f := newFake()
	body := f.browser(t, access.Technician).get(path.Fryers()).body
	has(t, body, "FW-1041", "line 1", "Vexley Quay, Vexley", "Every setting is as it should be.", "In order", "FW-1042", "Never read", "Page 1 of 3", path.Fryers()+"?page=2")
	lacks(t, body, "Restaurant company")
}

func TestATechnicianSeesWhichRestaurantsNeedThem(t *testing.T) {
	f := newFake()
	body := f.browser(t, access.Technician).get(path.Fryers()).body
	_, body, found := strings.Cut(body, "Restaurants that need you")
	assert.True(t, found)
	body, _, _ = strings.Cut(body, "</section>")
	has(t, body, "Old Ferry", "Vexley Quay", "Harl Street", "2 have to be read again")
	assert.Equal(t, state.SiteFilter{Hands: true, PerPage: 6}, f.siteFilter)
	for _, target := range []string{"?q=vexley", "?page=2"} {
		lacks(t, f.browser(t, access.Technician).get(path.Fryers()+target).body, "Restaurants that need you")
	}
}

func TestTheDeskFilters(t *testing.T) {
	f := newFake()
	body := f.browser(t, access.Dispatcher).get(path.Fryers() + "?q=quay&class=food&customer=" + customer.ID.String() + "&page=2").body
	assert.Equal(t, state.Filter{Query: "quay", Worst: sheet.Food, Customer: customer.ID, Page: 1, PerPage: 24}, f.filter)
	has(t, body, "2 fryers found", `value="quay"`, `<option value="food" selected>`, "Otterly Battered", "class=food&amp;customer="+customer.ID.String()+"&amp;page=3&amp;q=quay")
	f.browser(t, access.Dispatcher).get(path.Fryers() + "?class=worst&customer=x&site=y&page=-1")
	assert.Equal(t, state.Filter{PerPage: 24}, f.filter, "what is no class, no id and no page narrows nothing")
}

func TestAWholeTagLeadsToItsFryer(t *testing.T) {
	f := newFake()
	assert.Equal(t, path.Fryer(f.fryers[1].ID), f.browser(t, access.Technician).get(path.Fryers()+"?q=fw-1042").to)
	assert.Equal(t, path.Fryer(f.fryers[1].ID), f.browser(t, access.Technician).get(path.Tag("FW-1042")).to)
	assert.Equal(t, path.Fryers()+"?q=FW+1%2F2", f.browser(t, access.Technician).get(path.Tag("FW 1/2")).to)
}

func TestNothingFoundSaysWhatToDo(t *testing.T) {
	f := newFake()
	has(t, f.browser(t, access.Technician).get(path.Fryers()+"?q=<zzz>").body, "No fryer like that", "Show all fryers", `value="&lt;zzz&gt;"`)
	f.fryers = nil
	has(t, f.browser(t, access.Technician).get(path.Fryers()).body, "Ask your dispatcher")
	has(t, f.browser(t, access.Dispatcher).get(path.Fryers()).body, path.Import())
	has(t, f.browser(t, access.Manager).get(path.Fryers()).body, "Your service company has not put your fryers in yet.")
}

func TestTheFryersPageBeginsWithItsState(t *testing.T) {
	f := newFake()
	f.read(off)
	f.readings = []state.Reading{{ID: uuid.New(), Purpose: snapshot.AsFound, Finished: today, By: "Tom Tech", Known: 6, Wrong: 3}}
	f.history = []state.Happening{{Kind: snapshot.KindNote, Title: "Note", Detail: "Key <sticks>", At: today, By: "Tom Tech"}}
	body := f.browser(t, access.Technician).get(path.Fryer(f.fryers[0].ID)).body
	has(t, body, "FW-1041", "Halver 35, gas, two vats", "3 settings are off, the worst a safety matter", "Put back 2 settings", path.FryerPutBack(f.fryers[0].ID),
		"Standing pilot", "reads <b>Off</b>", "should be <b>On</b>", "10\u00a0°F above", "Read as found", "3 off", "Key &lt;sticks&gt;", "S&lt;1&gt;",
		"Before you work at it", "high limit", path.FryerExpected(f.fryers[0].ID), path.Site(f.fryers[0].SiteID))
	lacks(t, body, "Edit its record")
	has(t, f.browser(t, access.Dispatcher).get(path.Fryer(f.fryers[0].ID)).body, "Edit its record", path.FryerEdit(f.fryers[0].ID))
}

func TestTheNextStepIsTheBiggestButton(t *testing.T) {
	open := uuid.New()
	for name, c := range map[string]struct {
		change func(*state.Fryer)
		want   []string
	}{
		"read for the first time": {func(x *state.Fryer) { x.Standing = state.Standing{} }, []string{"Read the settings", `value="as-found"`, "for the first time"}},
		"go on":                   {func(x *state.Fryer) { x.OpenID, x.OpenDone = open, 3 }, []string{"Go on reading", path.ReadingNext(open)}},
		"as left":                 {func(x *state.Fryer) { x.PutBack, x.Ticked = 2, 2 }, []string{"Read again as left", `value="as-left"`}},
		"routine":                 {func(*state.Fryer) {}, []string{"a routine check", `value="routine"`}},
		"after a power cut":       {func(x *state.Fryer) { x.StaleSince, x.StaleWhat = today, cause.PowerCut }, []string{"Not read since a power cut.", `value="as-found"`}},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			c.change(&f.fryers[0])
			body := f.browser(t, access.Technician).get(path.Fryer(f.fryers[0].ID)).body
			has(t, body, c.want...)
			assert.Equal(t, 1, strings.Count(body, "button primary"))
		})
	}
	f := newFake()
	f.fryers[0].Retired = today
	lacks(t, f.browser(t, access.Technician).get(path.Fryer(f.fryers[0].ID)).body, "button primary", "Before you work at it")
}

func TestAManagerSeesPlainWordsOnly(t *testing.T) {
	f := newFake()
	f.read(off)
	f.history = []state.Happening{{Title: "The settings were checked.", At: today, By: "Tom Tech"}}
	for _, target := range []string{path.Fryer(f.fryers[0].ID), path.Fryers()} {
		body := f.browser(t, access.Manager).get(target).body
		has(t, body, "Its settings are not as they should be. Your service company can see this.")
		lacks(t, body, "Standing pilot", "Put back", "Read the settings", "button primary", "safety matter", "350", "odds", path.FryerExpected(f.fryers[0].ID), "<textarea")
	}
	has(t, f.browser(t, access.Manager).get(path.Fryer(f.fryers[0].ID)).body, "What to leave alone", "In danger", "The settings were checked.")
}

func TestAnElectricFryerIsNotSaidToBurnGas(t *testing.T) {
	f := newFake()
	f.read(off)
	target := path.Fryer(f.fryers[0].ID)
	for energy, gas := range map[sheet.Energy]bool{sheet.Gas: true, sheet.Electric: false} {
		f.fryers[0].Energy = energy
		for _, text := range []string{
			f.browser(t, access.Technician).get(target).body, f.browser(t, access.Technician).get(path.FryerPutBack(f.fryers[0].ID)).body,
			f.browser(t, access.Manager).get(target).body,
		} {
			assert.Equal(t, gas, strings.Contains(text, "Gas: shut off") || strings.Contains(text, "where gas and power") || strings.Contains(text, "mains, gas and hot parts"), "%s", energy)
		}
	}
}

func TestAnEventIsNoted(t *testing.T) {
	f := newFake()
	entry := uuid.Must(uuid.NewV7())
	got := f.browser(t, access.Technician).post(path.FryerEvents(f.fryers[0].ID), "entry", entry.String(), "what", "power-cut", "happened", "2026-11-20T20:10", "note", "whole street")
	assert.Equal(t, http.StatusSeeOther, got.status)
	assert.Equal(t, entry, f.drafts[0].ID)
	assert.Equal(t, f.fryers[0].ID, f.drafts[0].Subject)
	assert.Equal(t, snapshot.Event{What: cause.PowerCut, Happened: time.Date(2026, 11, 20, 20, 10, 0, 0, time.UTC), Note: "whole street"}, f.drafts[0].Body)
}

func TestAnEventInTheSummerIsNotedInTheZoneOfTheRestaurant(t *testing.T) {
	f := newFake()
	f.browser(t, access.Technician).post(path.FryerEvents(f.fryers[0].ID), "what", "power-cut", "happened", "2026-07-03T20:10")
	assert.Equal(t, time.Date(2026, 7, 3, 19, 10, 0, 0, time.UTC), f.drafts[0].Body.(snapshot.Event).Happened)
}

func TestAWrongEventIsShownAgain(t *testing.T) {
	for name, c := range map[string]struct {
		form []string
		want string
	}{
		"nothing chosen": {[]string{"happened", "2026-11-20T20:10", "note", "a <b> c"}, "Say what happened."},
		"no time":        {[]string{"what", "power-cut", "happened", "last night", "note", "a <b> c"}, "Give day and time"},
		"neither":        {[]string{"note", "a <b> c"}, "Say what happened."},
		"tomorrow":       {[]string{"what", "power-cut", "happened", "2026-11-21T20:10", "note", "a <b> c"}, "That lies in the future."},
		"unknown":        {[]string{"what", "flood", "happened", "2026-11-20T20:10", "note", "a <b> c"}, "Say what happened."},
	} {
		t.Run(name, func(t *testing.T) {
			f := newFake()
			got := f.browser(t, access.Technician).post(path.FryerEvents(f.fryers[0].ID), c.form...)
			assert.Equal(t, http.StatusUnprocessableEntity, got.status)
			has(t, got.body, c.want, `value="a &lt;b&gt; c"`)
			if len(c.form) > 4 {
				has(t, got.body, `value="`+c.form[3]+`"`)
			}
			assert.Empty(t, f.drafts)
		})
	}
}

func TestANoteIsKept(t *testing.T) {
	f := newFake()
	f.browser(t, access.Technician).post(path.FryerNotes(f.fryers[0].ID), "text", " Key sticks. ")
	assert.Equal(t, snapshot.Note{Text: "Key sticks."}, f.drafts[0].Body)
	got := f.browser(t, access.Technician).post(path.FryerNotes(f.fryers[0].ID), "text", "  ")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, "Write the note.")
	long := strings.Repeat("x", 4001)
	got = f.browser(t, access.Technician).post(path.FryerNotes(f.fryers[0].ID), "text", long)
	has(t, got.body, "At most 4000 characters.", long)
}

func TestWhatTheStoreRefusesIsSaid(t *testing.T) {
	f := newFake()
	for _, refusal := range []error{fault.New(fault.Denied, "no"), fmt.Errorf("disk full")} {
		f.refuse = refusal
		for _, target := range []string{path.FryerNotes(f.fryers[0].ID), path.FryerAcceptancesEnd(f.fryers[0].ID)} {
			b := f.browser(t, access.Dispatcher)
			b.post(target, "text", "x", "ref", "pilot", "reason", "x")
			assert.ErrorIs(t, b.failure, refusal)
		}
	}
}

func TestEveryLayerHasItsSay(t *testing.T) {
	f := newFake()
	f.read(off)
	ref := sheet.Ref{Key: "setpoint", Vat: 1}
	body := f.browser(t, access.Technician).get(path.FryerExpectedOne(f.fryers[0].ID, ref)).body
	has(t, body, "Fry setpoint, left vat", "350\u00a0°F", "345\u00a0°F", "340\u00a0°F", "factory value", "customer standard", "site standard", "house menu", "thick-cut &lt;chips&gt;",
		"Dee Desk", "This one counts", "Hold the vat&#39;s own key.", "from 200\u00a0°F to 375\u00a0°F in steps of 1", "A factory reset brings it back to 350", "10\u00a0°F above what is expected")
	lacks(t, body, "Accept this difference", "Change what is expected")
	body = f.browser(t, access.Dispatcher).get(path.FryerExpectedOne(f.fryers[0].ID, ref)).body
	has(t, body, "Accept this difference", path.Standard("site", f.fryers[0].SiteID, quill.ID), path.Standard("fryer", f.fryers[0].ID, quill.ID))
}

func TestTheWholeSheetInTheControllersOrder(t *testing.T) {
	f := newFake()
	f.read(off)
	body := f.browser(t, access.Technician).get(path.FryerExpected(f.fryers[0].ID)).body
	last := -1
	for _, text := range []string{"Heat profile", "Standing pilot", "Fry setpoint, left vat", "Fry setpoint, right vat", "Probe offset", "Program checksum"} {
		at := strings.Index(body, text)
		assert.Greater(t, at, last, text)
		last = at
	}
	has(t, body, "3 of 6 are known to be right, 3 are off.", "site standard, Vexley Quay", "read 350\u00a0°F, ")
}

func TestADifferenceIsAcceptedUntilTheEndOfADay(t *testing.T) {
	f := newFake()
	f.read(off)
	got := f.browser(t, access.Dispatcher).post(path.FryerAcceptances(f.fryers[0].ID), "ref", "setpoint@1", "value", "350", "reason", "old oil", "until", "2026-12-24")
	assert.Equal(t, standard.Accepted{Ref: sheet.Ref{Key: "setpoint", Vat: 1}, Value: "350", Reason: "old oil", Until: time.Date(2026, 12, 25, 0, 0, 0, 0, time.UTC)}, f.drafts[0].Body)
	assert.True(t, strings.HasPrefix(got.to, path.FryerExpectedOne(f.fryers[0].ID, sheet.Ref{Key: "setpoint", Vat: 1})), got.to)
}

func TestAWrongAcceptanceIsShownAgain(t *testing.T) {
	f := newFake()
	f.read(off)
	for until, want := range map[string]string{"2026-11-19": "That day has passed.", "soon": "Give the date as year-month-day", "2026-12-24": "Say why the difference may stay."} {
		got := f.browser(t, access.Dispatcher).post(path.FryerAcceptances(f.fryers[0].ID), "ref", "setpoint@1", "value", "350", "until", until)
		assert.Equal(t, http.StatusUnprocessableEntity, got.status)
		has(t, got.body, want, "Say why the difference may stay.", `value="`+until+`"`)
	}
	b := f.browser(t, access.Dispatcher)
	b.post(path.FryerAcceptances(f.fryers[0].ID), "ref", "", "value", "350")
	assert.Equal(t, fault.Invalid, fault.KindOf(b.failure))
	assert.Empty(t, f.drafts)
}

func TestAnAcceptedDifferenceCanBeEnded(t *testing.T) {
	f := newFake()
	ref := sheet.Ref{Key: "setpoint", Vat: 1}
	f.accepted = []standard.Acceptance{{Ref: ref, Value: "350", Reason: "old oil", Until: time.Date(2026, 12, 25, 0, 0, 0, 0, time.UTC), By: "Dee Desk"}}
	f.read(off)
	has(t, f.browser(t, access.Technician).get(path.Fryer(f.fryers[0].ID)).body, "Differs, and is accepted", "350\u00a0°F instead of 340\u00a0°F: old oil", "Thu 24 Dec 2026", "accepted by Dee Desk")
	one := path.FryerExpectedOne(f.fryers[0].ID, ref)
	lacks(t, f.browser(t, access.Technician).get(one).body, "End it now")
	has(t, f.browser(t, access.Dispatcher).get(one).body, "End it now")
	got := f.browser(t, access.Dispatcher).post(path.FryerAcceptancesEnd(f.fryers[0].ID), "ref", ref.String(), "reason", "")
	assert.Equal(t, http.StatusUnprocessableEntity, got.status)
	has(t, got.body, "Say why it ends.")
	f.browser(t, access.Dispatcher).post(path.FryerAcceptancesEnd(f.fryers[0].ID), "ref", ref.String(), "reason", "new oil")
	assert.Equal(t, standard.Ended{Ref: ref, Reason: "new oil"}, f.drafts[0].Body)
}

func TestTheHistoryIsPaged(t *testing.T) {
	f := newFake()
	for i := range 85 {
		f.history = append(f.history, state.Happening{Title: fmt.Sprintf("Thing %d.", i), At: today, By: "Tom <Tech>", Skew: time.Duration(i) * time.Minute})
	}
	to := path.FryerHistory(f.fryers[0].ID)
	first := f.browser(t, access.Technician).get(to).body
	has(t, first, "Thing 0.", "Thing 39.", "Earlier", "Tom &lt;Tech&gt;", "off by 6 minutes")
	lacks(t, first, "Thing 40.", "Later", "off by 5 minutes")
	last := f.browser(t, access.Manager).get(to + "?page=3").body
	has(t, last, "Thing 84.", "Later")
	lacks(t, last, "Earlier", "off by")
	has(t, f.browser(t, access.Technician).get(to+"?page=9").body, "Nothing older is recorded.")
	f.history = nil
	has(t, f.browser(t, access.Technician).get(to).body, "Nothing is recorded yet")
}

func TestAddressesThatLeadNowhere(t *testing.T) {
	f := newFake()
	for _, target := range []string{
		path.Fryer(uuid.New()), "/fryers/none", path.FryerExpected(uuid.New()), path.FryerHistory(uuid.New()), path.FryerExpectedOne(f.fryers[0].ID, sheet.Ref{Key: "gone"}),
		path.FryerExpected(f.fryers[0].ID) + "/setpoint@9",
	} {
		b := f.browser(t, access.Technician)
		b.get(target)
		assert.Error(t, b.failure, target)
		assert.Equal(t, fault.NotFound, fault.KindOf(b.failure), target)
	}
}
