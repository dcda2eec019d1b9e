package e2e

import (
	"context"
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// planted are texts that run where a page takes them for its own: as elements, as the end of an attribute or of another
// element, as an address, as a template. Each fits a name.
var planted = []string{
	`<script>ran("script")</script><img src=x onerror=ran("img")>`,
	`"'><svg onload=ran("svg") data-evil></svg>{{ran("a")}}${ran("b")}`,
	`</title></textarea></select><iframe src="javascript:ran(1)"></iframe>`,
	`javascript:ran("url")//" autofocus onfocus=ran("focus") data-weigh="//x`,
	`<details open ontoggle=ran("toggle")><a href=javascript:ran(2) data-evil>&lt;b&gt;`,
}

// watch is there before any page: it notes what ran, what the policy had to stop, and what went wrong. The policy is the
// second wall; nothing may get as far as that.
const watch = `(() => {
	window.noted = [];
	const note = (what) => window.noted.push(what);
	window.ran = (by) => note("ran: " + by);
	window.alert = window.confirm = window.prompt = (text) => note("dialog: " + text);
	document.addEventListener("securitypolicyviolation", (e) => note("policy: " + e.violatedDirective + " " + e.blockedURI + " " + e.sample));
	window.addEventListener("error", (e) => note("error: " + (e.message || e.target?.outerHTML)), true);
	window.addEventListener("unhandledrejection", (e) => note("rejection: " + e.reason));
	const error = console.error;
	console.error = (...all) => { note("console: " + all.join(" ")); error(...all); };
})()`

// mostPages is how many pages are looked at a role. Pages of the same kind show the same fields.
const mostPages = 45

// TestNothingPlantedRuns types what could run into every field that takes words, as a service lead and as a technician would,
// and then looks at every page of every role: it is shown as it was typed, and nothing runs.
func TestNothingPlantedRuns(t *testing.T) {
	own, err := start(t.TempDir())
	require.NoError(t, err)
	shared := demo
	demo = own
	t.Cleanup(func() {
		demo = shared
		own.stop()
	})
	v := newVisitor(t, lead)
	v.watched()
	taken := v.plantEverywhere()
	assert.GreaterOrEqual(t, len(taken), 13, "forms that took it: %v", taken)
	v.weighs()
	seen := v.lookAround("lead", append(taken, "/desk", "/sheets", "/standards", "/customers", "/models", "/people", "/sites", "/fryers", "/lately", "/set-aside", "/import", "/account")...)
	assert.Greater(t, seen, 25, "pages on which it stands")
	for role, email := range map[string]string{"dispatcher": desk, "technician": ines, "manager": manager} {
		w := newVisitor(t, email)
		w.watched()
		assert.Positive(t, w.lookAround(role, "/", "/fryers", "/sites", v.fryerPath()), "%s sees it", role)
	}
}

// watched puts the watch into every page from now on.
func (v *visitor) watched() {
	v.t.Helper()
	v.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: watch})
		return chromedp.Void{}, err
	})
}

// fryerPath is where the fryer is that everybody sees.
func (v *visitor) fryerPath() string { return "/tag/" + fridayTag }

// clean checks the page that is open.
func (v *visitor) clean(what string) {
	v.t.Helper()
	assert.Empty(v.t, run[[]string](v, `window.noted`), "%s: something ran, or was about to", what)
	assert.Zero(v.t, v.count(`[data-evil], [onload], [onerror], [onfocus], [ontoggle], iframe, script:not([src]), img[src=x], a[href^="javascript:" i], form[action^="javascript:" i]`), what)
}

// plantEverywhere fills the forms of the desk and of a fryer, and gives the pages that they led to where they were taken.
func (v *visitor) plantEverywhere() (pages []string) {
	v.t.Helper()
	v.open(v.fryerPath())
	fryer := v.at()
	site := v.links(`main a[href^="/sites/"]`)[0]
	expected := v.linkAt(fryer+"/expected", `main a[href*="/expected/"]`)
	for _, path := range append(v.deskForms(), site+"/edit", fryer+"/edit", fryer, expected) {
		pages = append(pages, v.plantForms(path)...)
	}
	return pages
}

// deskForms lists a page with each form of the desk's records.
func (v *visitor) deskForms() []string {
	v.t.Helper()
	sheet := v.linkAt("/sheets", `main a[href^="/sheets/"]:not([href="/sheets/new"])`)
	return []string{
		v.linkAt("/customers", `main a[href^="/customers/"]:not([href="/customers/new"])`), v.linkAt("/models", `main a[href^="/models/"]:not([href="/models/new"])`),
		"/sheets/new", v.linkAt(sheet, `main a[href*="/settings/"]:not([href$="/-"])`), v.linkAt(sheet, `main a[href*="/interlocks/"]:not([href$="/-"])`),
		"/customers/new", "/people/new", v.linkAt("/people", `main a[href^="/people/"]:not([href="/people/new"])`) + "/edit",
		v.linkAt("/standards", `main a[href^="/standards/customer/"]`), "/sites/new", "/fryers/new", "/models/new",
	}
}

func (v *visitor) linkAt(path, selector string) string {
	v.t.Helper()
	v.open(path)
	links := v.links(selector)
	require.NotEmpty(v.t, links, "%s at %s", selector, path)
	return links[0]
}

// plantForms plants in each form of a page, and gives the pages that those led to that were taken.
func (v *visitor) plantForms(path string) (pages []string) {
	v.t.Helper()
	for i := 0; ; i++ {
		v.open(path)
		if i >= v.count(forms) {
			return pages
		}
		if v.plant(i) {
			pages = append(pages, v.at())
		}
	}
}

// forms are those in which words are typed.
const forms = `main form[method=post]:not([action$="/retire"]):has(textarea, input[type=text]:not([readonly]))`

// plant types what could run into every field for words of the form, takes back what is complained of, and sends it again,
// until it is taken or nothing is left to take back.
func (v *visitor) plant(i int) bool {
	v.t.Helper()
	action := run[string](v, fmt.Sprintf(`document.querySelectorAll(%q)[%d].getAttribute("action") ?? location.pathname`, forms, i))
	v.arrive(fmt.Sprintf(typeInto, forms, i, quotedList(planted)))
	for range 4 {
		v.clean("the answer to " + action)
		if v.count(`main [aria-invalid=true]`) == 0 && v.count(`[data-focus-errors]`) == 0 {
			return true
		}
		if v.count(`main form [aria-invalid=true]`) == 0 {
			return false
		}
		v.arrive(takeBack)
	}
	return false
}

// saver finds the button of a form that saves it.
const saver = `form.querySelector("button[value=save]") ?? form.querySelector("button.primary") ?? form.querySelector("button:not([type=button])")`

// typeInto fills a form. Fields that choose, and fields of codes, numbers and dates are left, for they take no words; what is
// required gets something plain.
const typeInto = `(() => {
	const form = document.querySelectorAll(%q)[%d], texts = %s;
	let n = 0;
	sessionStorage.was = JSON.stringify(Object.fromEntries([...form.querySelectorAll("input, textarea, select")].map(f => [f.name, f.value])));
	for (const f of form.querySelectorAll("input, textarea, select")) { // not form.elements: one has a field of that name
		if (f.type === "hidden" || f.readOnly || f.disabled) continue;
		if (f.tagName === "SELECT" && f.required && !f.value) f.value = [...f.options].find(o => o.value)?.value ?? "";
		if (f.tagName !== "TEXTAREA" && f.type !== "text") continue;
		f.removeAttribute("maxlength");
		if (["code", "tag", "key"].includes(f.name)) { f.value ||= "planted-" + Math.random().toString(36).slice(2, 8); continue; }
		if (["zone"].includes(f.name)) { f.value ||= "Europe/Dublin"; continue; }
		if (f.inputMode === "decimal" || f.inputMode === "numeric" || f.name.startsWith("v.")) continue;
		f.value = texts[n++ %% texts.length];
	}
	form.noValidate = true;
	form.requestSubmit(` + saver + `);
})()`

// takeBack puts back what stood there before wherever something is complained of, or something plain, and sends the form again.
const takeBack = `(() => {
	const wrong = [...document.querySelectorAll("main form [aria-invalid=true]")], form = wrong[0].form, was = JSON.parse(sessionStorage.was);
	const plain = { email: "planted@kettlefold.example", zone: "Europe/Dublin", label: "<b>short</b>", name: "<b>short</b>", group: "<b>short</b>" };
	for (const f of wrong) {
		if (f.type === "radio") f.checked = f.value === "technician" || f.checked;
		else if (f.tagName === "SELECT") f.value = [...f.options].find(o => o.value)?.value ?? "";
		else f.value = was[f.name] || plain[f.name] || "";
	}
	form.noValidate = true;
	form.requestSubmit(` + saver + `);
})()`

func quotedList(texts []string) string {
	all := make([]string, len(texts))
	for i, text := range texts {
		all[i] = quoted(text)
	}
	return "[" + strings.Join(all, ", ") + "]"
}

// weighs reads a setting, where a fragment of a page is put in while somebody types, and finishes the reading with a note.
func (v *visitor) weighs() {
	v.t.Helper()
	v.open(v.fryerPath())
	v.arrive(`document.querySelector("main form[action$='/readings'] button").click()`)
	v.clean("a reading")
	for _, text := range planted {
		require.NotZero(v.t, v.count(`form[data-weigh] [name=typed]`), "a setting that is typed")
		v.fill("typed", text)
		require.Eventually(v.t, func() bool { return v.text(`[data-weigh-out]`) != "" }, waitFor, tick, "what is typed is weighed")
		v.clean("weighing")
	}
	v.open(regexp.MustCompile(`/at/.*|/next.*|\?.*`).ReplaceAllString(v.at(), ""))
	v.plantForms(v.at())
}

// lookAround goes from page to page by their links, each kind of address a few times, and gives on how many it saw what was
// planted.
func (v *visitor) lookAround(role string, from ...string) int {
	v.t.Helper()
	queue, known, kinds, seen := from, map[string]bool{}, map[string]int{}, 0
	for n := 0; len(queue) > 0 && n < mostPages; n++ {
		path := queue[0]
		queue = queue[1:]
		v.open(path)
		v.clean(role + " at " + path)
		if v.shows() {
			seen++
		}
		for _, link := range v.links(`a[href^="/"]`) {
			link, _, _ = strings.Cut(link, "#")
			kind := kindOf(link)
			if known[link] || kinds[kind] >= 2 || strings.HasSuffix(kind, ".csv") || strings.HasPrefix(link, "/static") {
				continue
			}
			known[link] = true
			kinds[kind]++
			queue = append(queue, link)
		}
	}
	return seen
}

var ids = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f-]{27}|\d+`)

// kindOf gives an address with its ids and what is behind the question mark taken out.
func kindOf(link string) string {
	u, err := url.Parse(link)
	if err != nil {
		return link
	}
	kind := ids.ReplaceAllString(u.Path, "#")
	if before, _, found := strings.Cut(kind, "/expected/"); found {
		kind = before + "/expected/#"
	}
	for _, part := range []string{"/settings/", "/interlocks/", "/tag/"} {
		if before, _, found := strings.Cut(kind, part); found {
			kind = before + part + "#"
		}
	}
	return kind
}

// shows says whether something planted stands on the page to be read, and fails where it stands in the source as anything but
// text.
func (v *visitor) shows() bool {
	v.t.Helper()
	source := run[string](v, `fetch(location.href).then(r => r.text())`)
	for _, bare := range []string{"<script>ran", "<img src=x", "<svg onload", "<iframe", "<details open ontoggle"} {
		assert.NotContains(v.t, source, bare, v.at())
	}
	return run[bool](v, `(() => {
		const texts = `+quotedList(planted)+`.map(t => t.slice(0, 40));
		const all = document.documentElement.innerText + document.title + [...document.querySelectorAll("input, textarea")].map(f => f.value).join(" ");
		return texts.some(t => all.includes(t));
	})()`)
}
