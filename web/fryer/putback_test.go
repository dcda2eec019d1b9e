package fryer_test

import (
	"net/http"
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/domain/cause"
	"frywright/domain/fault"
	"frywright/domain/sheet"
	"frywright/domain/snapshot"
	"frywright/web/path"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
)

// reset is what the fryer reads after a reset that left another profile behind.
var reset = map[string]sheet.Value{"profile": "gentle", "pilot": "off", "setpoint@1": "350", "setpoint@2": "350", "offset": "-3", "checksum": "7A20"}

func TestThePutBackListInTheOrderOfTheWork(t *testing.T) {
	f := newFake()
	f.read(reset)
	body := f.browser(t, access.Technician).get(path.FryerPutBack(f.fryers[0].ID)).body
	has(t, body, "Put back 4 settings, in this order.", "0 of 4", "Standard gas", "First: Heat profile", "Hold the vat&#39;s own key.", "Reads 350\u00a0°F", "340\u00a0°F", "Before you begin",
		"Differs, but cannot be set", "Program checksum", "reads <b>7A20</b>", path.FryerTick(f.fryers[0].ID))
	assert.Equal(t, 4, strings.Count(body, `name="done" value="1"`))
	assert.Less(t, strings.Index(body, `id="f-line-profile"`), strings.Index(body, `id="f-line-pilot"`))
	lacks(t, body, "button primary")
}

func TestATickIsRecordedWithTheValueOnTheScreen(t *testing.T) {
	f := newFake()
	f.read(reset)
	entry := uuid.Must(uuid.NewV7())
	got := f.browser(t, access.Technician).post(path.FryerTick(f.fryers[0].ID), "entry", entry.String(), "ref", "setpoint@2", "value", "340", "done", "1")
	assert.Equal(t, http.StatusSeeOther, got.status)
	assert.Equal(t, path.FryerPutBack(f.fryers[0].ID)+"#f-line-setpoint_2", got.to)
	assert.Equal(t, entry, f.drafts[0].ID)
	assert.Equal(t, snapshot.Ticked{Ref: sheet.Ref{Key: "setpoint", Vat: 2}, Value: "340", Done: true}, f.drafts[0].Body)
	f.browser(t, access.Technician).post(path.FryerTick(f.fryers[0].ID), "ref", "setpoint@2", "value", "340", "done", "0")
	assert.Equal(t, snapshot.Ticked{Ref: sheet.Ref{Key: "setpoint", Vat: 2}, Value: "340"}, f.drafts[1].Body)
}

func TestTicksShowAndTheLastOneLeadsOn(t *testing.T) {
	f := newFake()
	f.ticks = map[sheet.Ref]sheet.Value{{Key: "profile"}: "gas", {Key: "setpoint", Vat: 1}: "340", {Key: "setpoint", Vat: 2}: "340"}
	f.read(reset)
	list := path.FryerPutBack(f.fryers[0].ID)
	body := f.browser(t, access.Technician).get(list).body
	has(t, body, "Put back 1 setting.", "3 of 4", `aria-pressed="true"`, "Read again as left now")
	lacks(t, body, "First: Heat profile")
	got := f.browser(t, access.Technician).post(path.FryerTick(f.fryers[0].ID), "ref", "pilot", "value", "on", "done", "1")
	assert.Equal(t, list+"#next", got.to)
	f.ticks[sheet.Ref{Key: "pilot"}] = "on"
	f.read(reset)
	body = f.browser(t, access.Technician).get(list).body
	has(t, body, "All 4 settings are ticked off.", "Read again as left", `value="as-left"`)
	assert.Equal(t, 1, strings.Count(body, "button primary"))
}

func TestATickOfAnotherValueDoesNotCount(t *testing.T) {
	f := newFake()
	f.ticks = map[sheet.Ref]sheet.Value{{Key: "pilot"}: "on", {Key: "setpoint", Vat: 1}: "345"} // the standard was changed since
	f.read(reset)
	has(t, f.browser(t, access.Technician).get(path.FryerPutBack(f.fryers[0].ID)).body, "1 of 4")
}

func TestNothingToPutBack(t *testing.T) {
	f := newFake()
	has(t, f.browser(t, access.Technician).get(path.FryerPutBack(f.fryers[0].ID)).body, "Nothing has to be put back.", "a routine check")
	f.fryers[0].StaleSince, f.fryers[0].StaleWhat = today, cause.PowerCut
	has(t, f.browser(t, access.Technician).get(path.FryerPutBack(f.fryers[0].ID)).body, "not known yet. Read the settings first.", `value="as-found"`)
}

func TestADoubtStandsBeforeTheList(t *testing.T) {
	f := newFake()
	f.read(map[string]sheet.Value{"profile": "turbo", "pilot": "maybe", "setpoint@1": "12", "setpoint@2": "999", "offset": "77", "checksum": "0000"})
	has(t, f.browser(t, access.Technician).get(path.FryerPutBack(f.fryers[0].ID)).body, "Check this first", "Check the controller type and its program before you put anything back.")
}

func TestATickOfNothing(t *testing.T) {
	f := newFake()
	for _, ref := range []string{"", "gone", "setpoint@3"} {
		b := f.browser(t, access.Technician)
		b.post(path.FryerTick(f.fryers[0].ID), "ref", ref, "value", "1", "done", "1")
		assert.Equal(t, fault.Invalid, fault.KindOf(b.failure), ref)
	}
	b := f.browser(t, access.Technician)
	b.post(path.FryerTick(uuid.New()), "ref", "pilot", "value", "1", "done", "1")
	assert.Equal(t, fault.NotFound, fault.KindOf(b.failure))
	assert.Empty(t, f.drafts)
}
