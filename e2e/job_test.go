package e2e

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"frywright/cmd/frywright/scenario"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// houseSettings is in how many settings the house standard of the Friday-night restaurant differs from factory.
const houseSettings = 11

// readAll reads the whole controller from the page where it is: what it shows, or as expected where shows is nil.
func (v *visitor) readAll(shows map[string]string) {
	v.t.Helper()
	for range 100 {
		if !strings.Contains(v.at(), "/at/") {
			return
		}
		v.answer(shows)
	}
	v.t.Fatal("the reading never ends")
}

// answer answers one setting with what the controller shows.
func (v *visitor) answer(shows map[string]string) {
	v.t.Helper()
	value := shows[run[string](v, `document.querySelector("main form [name=ref]").value`)]
	if value == "" || value == run[string](v, `document.querySelector("main form [name=expected]")?.value ?? ""`) {
		v.press(`main button[name=as_expected]`)
		return
	}
	switch {
	case v.count(`main form button[name=typed]`) > 0:
		v.press(fmt.Sprintf(`main form button[name=typed][value=%q]`, value))
	case v.count(`main form input[type=radio][name=typed]`) > 0:
		v.press2(fmt.Sprintf(`main form input[type=radio][name=typed][value=%q]`, value))
	default:
		v.fill("typed", value)
		v.submit(`main form input[name=typed]:not([type=hidden])`)
	}
}

// press2 chooses one of several and saves.
func (v *visitor) press2(selector string) {
	v.t.Helper()
	run[bool](v, fmt.Sprintf(`(document.querySelector(%q).checked = true)`, selector))
	v.submit(selector)
}

// shown is what the controller of a Friday-night fryer shows, by the text of its refs.
func shown(t *testing.T, tag string) map[string]string {
	t.Helper()
	story, err := scenario.Tell(time.Now(), scenarioSeed)
	require.NoError(t, err)
	for _, f := range story.Friday {
		if f.Tag != tag {
			continue
		}
		values := map[string]string{}
		for ref, v := range f.Shows {
			values[ref.String()] = string(v)
		}
		return values
	}
	t.Fatalf("%s is not of the Friday night", tag)
	return nil
}

// scenarioSeed is the demo's own.
const scenarioSeed = 7

// TestFridayNight is the main job: a power cut reset a controller; the technician reads it, is told what happened, puts the
// list back in order, reads it again as left, and everybody sees it.
func TestFridayNight(t *testing.T) {
	shows := shown(t, fridayTag)
	v := newVisitor(t, ines)
	fryer := v.fridayFryer()
	assert.Contains(t, v.text("main"), "Not read since a power cut")
	v.shoot(shots("fryer.png"))

	v.pressText("Read the settings")
	require.Contains(t, v.at(), "/at/")
	v.inspect("technician-reading")
	t.Run("what is typed is weighed at once", func(t *testing.T) {
		w := &visitor{t, v.ctx}
		w.weighedWhileTyping()
	})
	for range 12 {
		v.answer(shows)
	}
	v.shoot(shots("reading.png"))
	v.open(fryer)
	assert.Contains(t, v.text("main"), "Go on reading", "a reading that was left can be gone on with")
	v.pressText("Go on reading")
	require.Contains(t, v.at(), "/at/", "straight to the next setting")
	v.readAll(shows)
	v.inspect("technician-overview")
	v.pressText("Finish")
	require.Contains(t, v.at(), "/result")
	result := v.text("main")
	assert.Contains(t, result, "All eleven house settings are back at factory values: this is a reset, not tampering.")
	assert.Contains(t, result, "11 of the 11 settings that differ from factory read factory.")
	v.inspect("technician-result")
	v.shoot(shots("result.png"))

	v.open(fryer + "/put-back")
	assert.Equal(t, houseSettings, v.count(".tick"))
	v.inspect("technician-put-back")
	assert.Equal(t, "1,2,3,4,5,6,7,8,9,10,11", strings.Join(numbers(v), ","), "the lines are numbered through")
	for n := range houseSettings {
		run[bool](v, `(document.querySelector(".tick:not(.done) .tick-key").click(), true)`)
		v.eventually(fmt.Sprintf(`document.querySelectorAll(".tick.done").length === %d ? "ticked" : ""`, n+1))
	}
	v.open(fryer)
	v.pressText("Read again as left")
	v.readAll(nil)
	v.pressText("Finish")
	require.Contains(t, v.at(), "/result")
	assert.Contains(t, v.text("main"), "All settings are as they should be")
	v.inspect("technician-as-left")
	v.open(fryer)
	assert.Contains(t, v.text("main"), "Every setting is as it should be.")

	d := newVisitor(t, desk)
	d.open("/desk")
	assert.NotContains(t, d.text("main"), fridayTag, "the desk needs nobody there any more")
	d.open("/lately")
	assert.Contains(t, d.text("main"), fridayTag)
	d.size(deskWide, deskHigh)
	d.open("/desk")
	d.shoot(shots("desk.png"))
	m := newVisitor(t, manager)
	m.open(fryer)
	assert.Contains(t, m.text("main"), "As it should be.")
	assert.Contains(t, m.text("main"), "put right")
	assert.NotContains(t, m.text("main"), "°F", "a manager is shown no settings")
}

// numbers gives the numbers of the put-back list's lines as the page counts them.
func numbers(v *visitor) []string {
	return run[[]string](v, `[...document.querySelectorAll("ol.ticks")].flatMap(o => [...o.children].map((_, i) => String(o.start + i)))`)
}

// shots is where the screenshots of README.md go: into the tree when they are asked for, else into a folder that is
// thrown away.
func shots(name string) string {
	if os.Getenv("FRYWRIGHT_README") != "" {
		return "../static/readme/" + name
	}
	return os.TempDir() + "/frywright-readme/" + name
}

// weighedWhileTyping types a wrong value and looks for what the page says before anything is saved.
func (v *visitor) weighedWhileTyping() {
	v.t.Helper()
	for v.count(`main form[data-weigh] input[name=typed][inputmode]`) == 0 {
		v.press(`main button[name=as_expected]`)
	}
	v.do(chromedp.SendKeys(chromedp.CSS(`main form[data-weigh] input[name=typed]`), "1"))
	said := v.eventually(`document.querySelector("[data-weigh-out]").innerText.trim()`)
	assert.Contains(v.t, strings.ToLower(said), "expected", "what is typed is weighed at once")
	v.fill("typed", "")
}

// eventually waits until a script gives a text that is not empty.
func (v *visitor) eventually(script string) string {
	v.t.Helper()
	var text string
	require.Eventually(v.t, func() bool { text = run[string](v, script); return text != "" }, waitFor, tick, script)
	return text
}

// TestMainJobByKeyboard goes from signing in to a saved reading without a pointer.
func TestMainJobByKeyboard(t *testing.T) {
	v := newVisitor(t, "")
	v.open("/signin")
	v.tabTo("email")
	v.keys(ines)
	v.tabTo("password")
	v.keys(password)
	v.enter()
	v.open("/fryers")
	v.tabTo("q")
	v.keys(scenario.FridayTags()[1])
	v.enter()
	if strings.HasPrefix(v.at(), "/fryers?") { // a whole tag leads straight to its fryer
		v.tabToLink("/fryers/0")
		v.enter()
	}
	v.tabToText("Read the settings")
	v.enter()
	require.Contains(t, v.at(), "/at/")
	before := v.at()
	v.tabToText("As expected")
	v.enter()
	assert.NotEqual(t, before, v.at())
	v.tabToText("Stop here")
	v.enter()
	require.Contains(t, v.at(), "/readings/")
	assert.NotContains(t, v.at(), "/at/")
}

// focus tells what has the focus.
func (v *visitor) focus() (f struct{ Name, Text, Href string }) {
	v.t.Helper()
	text := run[string](v, `(() => { const e = document.activeElement; return JSON.stringify({name: e.name ?? "", text: (e.innerText ?? "").trim(), href: e.getAttribute("href") ?? ""}); })()`)
	require.NoError(v.t, json.Unmarshal([]byte(text), &f))
	return f
}

// tabUntil presses Tab until the focus is where it should be.
func (v *visitor) tabUntil(what string, there func() bool) {
	v.t.Helper()
	for range 120 {
		v.do(chromedp.KeyEvent(kb.Tab))
		if there() {
			return
		}
	}
	v.t.Fatalf("Tab never comes to %s", what)
}

func (v *visitor) tabTo(name string) {
	v.t.Helper()
	v.tabUntil(name, func() bool { return v.focus().Name == name })
}

func (v *visitor) tabToText(text string) {
	v.t.Helper()
	v.tabUntil(text, func() bool { return strings.HasPrefix(v.focus().Text, text) })
}

func (v *visitor) tabToLink(prefix string) {
	v.t.Helper()
	v.tabUntil(prefix, func() bool { return strings.HasPrefix(v.focus().Href, prefix) })
}

func (v *visitor) keys(text string) {
	v.t.Helper()
	v.do(chromedp.KeyEvent(text))
}

// enter presses Enter and waits for the next page.
func (v *visitor) enter() {
	v.t.Helper()
	run[bool](v, `(document.documentElement.dataset.left = "no", true)`)
	v.do(chromedp.KeyEvent(kb.Enter))
	v.arrived("Enter")
}
