//go:build !js

// Package e2e walks through the real program in a real browser, as its three users would. Screenshots for README.md are
// made on the way.
package e2e

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"frywright/cmd/frywright/scenario"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// program is a running demo.
type program struct {
	base string
	stop func()
}

var demo program

// password is that of every sign-in of the demo.
const password = scenario.Password

func TestMain(m *testing.M) {
	code := 1
	folder, err := os.MkdirTemp("", "frywright-e2e-")
	if err == nil {
		if demo, err = start(folder); err == nil {
			code = m.Run()
			demo.stop()
		}
		_ = os.RemoveAll(folder)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
	}
	os.Exit(code)
}

var address = regexp.MustCompile(`http://127\.0\.0\.1:\d+`)

// start builds the program and starts its demo on a free port.
func start(folder string) (program, error) {
	binary := filepath.Join(folder, "frywright")
	build := exec.Command("go", "build", "-o", binary, "../cmd/frywright")
	if out, err := build.CombinedOutput(); err != nil {
		return program{}, fmt.Errorf("build: %w: %s", err, out)
	}
	cmd := exec.Command(binary, "demo", "--listen", "127.0.0.1:0", "--data", filepath.Join(folder, "data"), "--log", "error")
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return program{}, err
	}
	if err := cmd.Start(); err != nil {
		return program{}, err
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if base := address.FindString(lines.Text()); base != "" {
			go func() {
				for lines.Scan() { // the pipe is emptied, so that the program never waits for us
				}
			}()
			return program{base, func() { _ = cmd.Process.Signal(os.Interrupt); _ = cmd.Wait() }}, nil
		}
	}
	return program{}, fmt.Errorf("the demo printed no address")
}

// The two widths at which every page is looked at.
const (
	phoneWide, phoneHigh = 390, 844
	deskWide, deskHigh   = 1440, 900
)

// visitor is one browser with its own cookies.
type visitor struct {
	t   *testing.T
	ctx context.Context
}

func newVisitor(t *testing.T, email string) *visitor {
	t.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium()), chromedp.Flag("no-sandbox", true), chromedp.Flag("disable-gpu", true),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.UserDataDir(t.TempDir()))
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(alloc)
	require.NoError(t, chromedp.Do(ctx)) // starts the browser, which lives as long as this context
	timed, cancelTime := context.WithTimeout(ctx, 8*time.Minute)
	t.Cleanup(func() { cancelTime(); cancel(); cancelAlloc() })
	v := &visitor{t, timed}
	v.size(phoneWide, phoneHigh)
	v.theme("light")
	if email != "" {
		v.signIn(email)
	}
	return v
}

// chromium gives the browser's path.
func chromium() string {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return "chromium"
}

func (v *visitor) do(steps ...chromedp.Action[chromedp.Void]) {
	v.t.Helper()
	require.NoError(v.t, chromedp.Do(v.ctx, steps...))
}

// run runs a script and gives its value.
func run[T any](v *visitor, script string) T {
	v.t.Helper()
	value, err := chromedp.Run(v.ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	require.NoError(v.t, err, script)
	return value
}

func (v *visitor) size(wide, high int64) {
	v.t.Helper()
	v.do(chromedp.EmulateViewport(wide, high))
}

// theme makes the browser prefer light or dark.
func (v *visitor) theme(name string) {
	v.t.Helper()
	v.do(func(ctx context.Context, t *chromedp.Target) (chromedp.Void, error) {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
			Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}, {Name: "prefers-reduced-motion", Value: "reduce"}},
		})
		return chromedp.Void{}, err
	})
}

func (v *visitor) open(path string) {
	v.t.Helper()
	v.do(chromedp.Navigate(demo.base+path), chromedp.WaitReady(chromedp.CSS("h1")))
}

// signIn uses the form as a person would.
func (v *visitor) signIn(email string) {
	v.t.Helper()
	v.open("/signin")
	v.fill("email", email)
	v.fill("password", password)
	v.submit(`main form:not([data-demo]) input[name=password][type=password]`)
	require.NotContains(v.t, v.at(), "/signin", "signing in as %s", email)
}

// fill puts a value into the field of a name.
func (v *visitor) fill(name, value string) {
	v.t.Helper()
	run[bool](v, fmt.Sprintf(`(() => { const e = document.querySelector("main [name=" + CSS.escape(%q) + "]:not([type=hidden])"); e.value = %q;
		e.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`, name, value))
}

// fillIn puts a value into the field that a selector finds.
func (v *visitor) fillIn(selector, value string) {
	v.t.Helper()
	run[bool](v, fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.value = %q; e.dispatchEvent(new Event("input", {bubbles: true})); return true; })()`, selector, value))
}

// submit sends the form that an element stands in and waits for the next page.
func (v *visitor) submit(selector string) {
	v.t.Helper()
	v.arrive(fmt.Sprintf(`document.querySelector(%q).form.requestSubmit()`, selector))
}

// press clicks an element that leads to another page and waits for it.
func (v *visitor) press(selector string) {
	v.t.Helper()
	v.arrive(fmt.Sprintf(`document.querySelector(%q).click()`, selector))
}

// pressText clicks the button or link that bears a text.
func (v *visitor) pressText(text string) {
	v.t.Helper()
	v.arrive(fmt.Sprintf(`[...document.querySelectorAll("main button, main a")].find(e => e.checkVisibility() && e.innerText.trim().startsWith(%q)).click()`, text))
}

// arrive runs a script that leads to another page and waits until that is there.
func (v *visitor) arrive(script string) {
	v.t.Helper()
	run[bool](v, `(document.documentElement.dataset.left = "no", setTimeout(() => {`+script+`}), true)`)
	v.arrived(script)
}

// How long a page may take, and how often it is looked for.
const (
	waitFor = 20 * time.Second
	tick    = 20 * time.Millisecond
)

// arrived waits until another page is there.
func (v *visitor) arrived(by string) {
	v.t.Helper()
	require.Eventually(v.t, func() bool {
		// An error means that the page is just being left: look again.
		there, err := chromedp.Run(v.ctx, chromedp.Evaluate[bool](`document.documentElement.dataset.left === undefined && document.readyState === "complete"`))
		return err == nil && there
	}, waitFor, tick, "leads nowhere: %s", by)
}

// at gives the path of the page.
func (v *visitor) at() string {
	v.t.Helper()
	return run[string](v, `location.pathname + location.search`)
}

func (v *visitor) text(selector string) string {
	v.t.Helper()
	return run[string](v, fmt.Sprintf(`(document.querySelector(%q)?.innerText ?? "").replace(/\u00a0/g, " ").trim()`, selector))
}

func (v *visitor) count(selector string) int {
	v.t.Helper()
	return run[int](v, fmt.Sprintf(`document.querySelectorAll(%q).length`, selector))
}

// links gives the addresses that links lead to.
func (v *visitor) links(selector string) []string {
	v.t.Helper()
	return run[[]string](v, fmt.Sprintf(`[...document.querySelectorAll(%q)].map(a => a.getAttribute("href"))`, selector))
}

// shoot writes a screenshot of what is on the screen.
func (v *visitor) shoot(path string) {
	v.t.Helper()
	png, err := chromedp.Run(v.ctx, chromedp.CaptureScreenshot())
	require.NoError(v.t, err)
	require.NoError(v.t, os.MkdirAll(filepath.Dir(path), 0o750))
	require.NoError(v.t, os.WriteFile(path, png, 0o600))
}

// inspect looks at the page with axe, in both themes and at both widths, and for sideways scrolling at phone width.
func (v *visitor) inspect(name string) {
	v.t.Helper()
	axe, err := os.ReadFile("../node_modules/axe-core/axe.min.js")
	require.NoError(v.t, err)
	for _, size := range [][2]int64{{phoneWide, phoneHigh}, {deskWide, deskHigh}} {
		v.size(size[0], size[1])
		for _, theme := range []string{"light", "dark"} {
			v.theme(theme)
			run[bool](v, string(axe)+"; true")
			var found []violation
			require.NoError(v.t, json.Unmarshal([]byte(run[string](v, runAxe)), &found))
			for _, f := range found {
				v.t.Errorf("%s, %d wide, %s: axe %s: %s\n  %s", name, size[0], theme, f.ID, f.Help, strings.Join(f.Nodes, "\n  "))
			}
			if dir := os.Getenv("FRYWRIGHT_SHOTS"); dir != "" {
				v.shoot(filepath.Join(dir, fmt.Sprintf("%s-%d-%s.png", name, size[0], theme)))
			}
		}
		if size[0] == phoneWide {
			v.noSidewaysScroll(name)
			v.bigTargets(name)
		}
	}
	v.size(phoneWide, phoneHigh)
	v.theme("light")
}

type violation struct {
	ID    string   `json:"id"`
	Help  string   `json:"help"`
	Nodes []string `json:"nodes"`
}

const runAxe = `axe.run(document, {resultTypes: ["violations"]}).then(r => JSON.stringify(r.violations.map(v =>
	({id: v.id, help: v.help, nodes: v.nodes.map(n => n.html.slice(0, 200) + " " + (n.failureSummary || "").slice(0, 300))}))))`

func (v *visitor) noSidewaysScroll(name string) {
	v.t.Helper()
	over := run[string](v, `(() => { const w = document.documentElement.clientWidth;
		if (document.documentElement.scrollWidth <= w) return "";
		return [...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > w + 1).slice(0, 5).map(e => e.outerHTML.slice(0, 120)).join("\n") || "something"; })()`)
	if over != "" {
		v.t.Errorf("%s scrolls sideways at %d px: %s", name, phoneWide, over)
	}
}

// bigTargets says which buttons, links of lists and fields are lower than 48 px. Links within a sentence are left out, as
// WCAG 2.2, 2.5.8 does.
func (v *visitor) bigTargets(name string) {
	v.t.Helper()
	small := run[string](v, `[...document.querySelectorAll("button, .button, select, textarea, summary, input:not([type=hidden]):not([type=checkbox]):not([type=radio]), .row-link, nav a")]
		.filter(e => e.checkVisibility() && e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().height < 47.5)
		.map(e => Math.round(e.getBoundingClientRect().height) + " px: " + e.outerHTML.slice(0, 140)).join("\n")`)
	if small != "" {
		v.t.Errorf("%s has targets lower than 48 px:\n%s", name, small)
	}
}
