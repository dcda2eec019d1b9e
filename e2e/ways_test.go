package e2e

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"frywright/cmd/frywright/scenario"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestTheDispatchersWay changes a standard with a preview, finds what it created on the desk, accepts one difference there,
// and imports files, first wrong, then right.
func TestTheDispatchersWay(t *testing.T) {
	v := newVisitor(t, desk)
	v.open("/desk")
	before := v.text(".count")

	v.open("/standards")
	standard := v.links(`main a[href^="/standards/customer/"]`)[0]
	v.open(standard)
	field := run[string](v, `[...document.querySelectorAll("main input[inputmode=decimal][name^='v.']")].find(e => e.value !== "" && Number(e.value) > 60).name`)
	was := run[string](v, `document.querySelector("[name=" + CSS.escape(`+quoted(field)+`) + "]").value`)
	v.fill(field, "nonsense")
	v.fill("why", "First try")
	v.submit(`main [name=why]`)
	assert.Contains(t, v.text("main"), "nonsense", "what was typed is kept and named")
	assert.NotZero(t, v.count(`[aria-invalid=true]`))
	v.inspect("desk-standard-wrong")
	v.fill(field, run[string](v, `String(Number(`+quoted(was)+`) + 5)`))
	v.fill("why", "Trial of a longer cook")
	v.submit(`main [name=why]:not([type=hidden])`)
	assert.Contains(t, v.text("main"), "fryers would expect something else.", "the change is shown before it is saved")
	v.inspect("desk-standard-preview")
	v.pressText("Save the standard")
	v.open(standard + "/history")
	assert.Contains(t, v.text("main"), "Trial of a longer cook")
	v.open("/desk")
	assert.NotEqual(t, before, v.text(".count"), "the desk knows at once")

	v.acceptADifference(standard)
	v.importFiles()
}

// acceptADifference accepts the first difference of the first fryer on the desk that has one.
func (v *visitor) acceptADifference(string) {
	v.t.Helper()
	v.open("/desk?class=food")
	v.open(v.links(`main a[href^="/fryers/"]`)[0])
	fryer := v.at()
	v.open(v.links(`main a[href*="/expected/"]`)[0])
	one := v.at()
	require.NotZero(v.t, v.count(`main [name=until]`), "the dispatcher can accept a difference here")
	v.fill("reason", "A part is on its way")
	v.fill("until", time.Now().AddDate(0, 0, 10).Format(time.DateOnly))
	v.submit(`main [name=until]`)
	assert.Contains(v.t, v.text("main"), "accepted", "at %s", v.at())
	v.open(one)
	assert.Contains(v.t, v.text("main"), "A part is on its way")
	v.open(fryer)
	v.inspect("desk-fryer-accepted")
}

// importFiles imports a restaurant and a fryer: with a mistake, then without, then once more.
func (v *visitor) importFiles() {
	v.t.Helper()
	folder := v.t.TempDir()
	sites, fryers := filepath.Join(folder, "sites.csv"), filepath.Join(folder, "fryers.csv")
	write := func(zone string) {
		require.NoError(v.t, os.WriteFile(sites, []byte("\ufeffcode;customer;customer_name;name;zone\r\nNEW-1;NEW;Nettle & Brine;Nettle Yard;"+zone+"\r\n"), 0o600))
	}
	require.NoError(v.t, os.WriteFile(fryers, []byte("tag,site,model\nNB-0001,NEW-1,"+v.anyModel()+"\n"), 0o600))
	check := func() {
		v.open("/import")
		v.do(chromedp.SetUploadFiles(chromedp.CSS(`main input[type=file]`), []string{sites, fryers}))
		v.submit(`main input[type=file]`)
	}
	write("Nowhere/Atlantis")
	check()
	assert.Contains(v.t, v.text("main"), "Nothing was written")
	assert.Contains(v.t, v.text("main"), "time zone")
	v.inspect("desk-import-wrong")
	write("Europe/Dublin")
	check()
	assert.Contains(v.t, v.text("main"), "Nothing is written yet")
	v.inspect("desk-import-checked")
	v.pressText("Import")
	assert.Contains(v.t, v.text("main"), "Imported")
	check()
	assert.Contains(v.t, v.text("main"), "There is nothing to import", "a second run changes nothing")
	v.open("/tag/NB-0001")
	assert.Contains(v.t, v.text("main"), "Never read")
}

// anyModel gives the code of a fryer model.
func (v *visitor) anyModel() string {
	v.t.Helper()
	v.open("/models")
	code, _, _ := strings.Cut(v.text(`main .row-link .row-meta`), " ")
	return code
}

func quoted(text string) string { return `"` + strings.ReplaceAll(text, `"`, `\"`) + `"` }

// TestTheManagersWay sees own restaurants only, in plain words, and signs out everywhere.
func TestTheManagersWay(t *testing.T) {
	v := newVisitor(t, manager)
	v.open("/")
	assert.Equal(t, "/sites", v.at(), "a manager begins at the restaurants")
	v.open("/fryers")
	for _, path := range v.links(`main a[href^="/fryers/"]`) {
		v.open(path)
		text := v.text("main")
		assert.NotContains(t, text, "°F")
		assert.NotContains(t, text, "factory value")
		assert.Zero(t, v.count(`main form[action*="/readings"]`), "no procedures for managers")
	}
	other := newVisitor(t, manager)
	v.open("/account/sessions")
	v.pressText("Sign out everywhere")
	other.open("/fryers")
	assert.Contains(t, other.at(), "/signin", "the other session is over too")
}

// TestWithoutSignalNothingTypedIsLost cuts the network while a setting is being typed: the strip says so, the form is not
// sent into nothing, and it goes through once the network is back.
func TestWithoutSignalNothingTypedIsLost(t *testing.T) {
	v := newVisitor(t, ines)
	v.open("/tag/" + scenario.FridayTags()[2])
	fryer := v.at()
	v.fill("text", "Typed in the basement")
	v.offline(true)
	v.eventually(`document.querySelector("[data-strip-text]").innerText.includes("No signal") ? "said" : ""`)
	run[bool](v, `(document.querySelector("main [name=text]").form.requestSubmit(), true)`)
	assert.Equal(t, fryer, v.at(), "the page stays")
	assert.Equal(t, "Typed in the basement", run[string](v, `document.querySelector("main [name=text]").value`))
	v.offline(false)
	v.eventually(`document.querySelector("[data-strip-text]").innerText.includes("Connected") ? "said" : ""`)
	v.submit(`main [name=text]`)
	assert.Contains(t, v.text("main"), "Typed in the basement")
}

// offline cuts the browser's network, or gives it back.
func (v *visitor) offline(cut bool) {
	v.t.Helper()
	v.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		conditions := []*network.Conditions{{Offline: cut, DownloadThroughput: -1, UploadThroughput: -1}}
		if _, err := cdp.Call(ctx, t, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{MatchedNetworkConditions: conditions}); err != nil {
			return chromedp.Void{}, err
		}
		_, err := cdp.Call(ctx, t, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: cut, DownloadThroughput: -1, UploadThroughput: -1})
		return chromedp.Void{}, err
	})
}
