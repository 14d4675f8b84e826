package main

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"dunlin/cases"
	"dunlin/cases/store"
)

// axe is axe-core 4.14.1 (MPL-2.0, see testdata/axe.LICENSE), for tests only.
//
//go:embed testdata/axe.min.js
var axe string

// browser drives headless Chromium against a running demo.
type browser struct {
	t    *testing.T
	ctx  context.Context
	url  string
	demo *demoSite
	seen map[string]bool // pages that axe has looked at
}

// startDemo serves the demo of a fixed day and opens Chromium on it.
func startDemo(t *testing.T) *browser {
	t.Helper()
	path := findChromium(t)
	cfg, err := demoConfig(filepath.Join(t.TempDir(), "demo.db"))
	if err != nil {
		t.Fatal(err)
	}
	d, err := openDemo(t.Context(), cfg, "2026-11-25")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := d.fill(t.Context()); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	url, done := make(chan string, 1), make(chan error, 1)
	go func() {
		done <- serve(ctx, d.site, serving{log: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn})), now: d.now, madeUp: true, ids: d.ids(),
			listen: "127.0.0.1:0", ready: func(u string) { url <- u }})
	}()
	t.Cleanup(func() {
		stop()
		if err := <-done; err != nil {
			t.Errorf("serving: %v", err)
		}
		if problems, err := d.site.db.Check(context.Background()); err != nil || len(problems) > 0 {
			t.Errorf("the store after the day: %v %v", problems, err)
		}
		if err := d.site.close(); err != nil {
			t.Error(err)
		}
	})
	b := &browser{t: t, demo: d, seen: map[string]bool{}}
	select {
	case b.url = <-url:
	case err := <-done:
		t.Fatalf("serving: %v", err)
	}
	alloc, cancel := chromedp.NewExecAllocator(context.Background(), chromedp.ExecPath(path), chromedp.Headless, chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true))
	t.Cleanup(cancel)
	tab, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	b.ctx, cancel = context.WithTimeout(tab, 4*time.Minute)
	t.Cleanup(cancel)
	b.do(chromedp.EmulateViewport(1280, 900))
	return b
}

// findChromium skips the test where there is no Chromium, and fails it in CI.
func findChromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	if os.Getenv("DUNLIN_CI") != "" {
		t.Fatal("Chromium is not installed; .ci/run installs it")
	}
	t.Skip("Chromium is not installed: the browser test is skipped")
	return ""
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatalf("%v\npage: %s", err, b.eval("location.href + ': ' + document.body.innerText.slice(0, 1500)"))
	}
}

// eval runs a script and gives its text.
func (b *browser) eval(script string) string {
	b.t.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](script))
	if err != nil {
		b.t.Fatalf("%s: %v", script, err)
	}
	return s
}

// open goes to a page and checks it.
func (b *browser) open(path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.url + path))
	b.check()
}

// click presses something that leads to another page, and checks that page.
func (b *browser) click(css string) {
	b.t.Helper()
	resp, err := chromedp.RunResponse(b.ctx, chromedp.Click(chromedp.CSS(css)))
	if err != nil {
		b.t.Fatalf("click %s: %v\n%s", css, err, b.text())
	}
	if resp.Status >= 500 {
		b.t.Fatalf("click %s: status %d", css, resp.Status)
	}
	b.check()
}

// choose ticks a box or radio by its value.
func (b *browser) choose(name, value string) {
	b.t.Helper()
	b.do(chromedp.Click(chromedp.CSS(fmt.Sprintf(`input[name=%q][value=%q]`, name, value))))
}

// fill replaces the text of a field.
func (b *browser) fill(id, text string) {
	b.t.Helper()
	b.eval(fmt.Sprintf("document.getElementById(%q).value = ''", id))
	b.do(chromedp.SendKeys(chromedp.ID(id), text))
}

func (b *browser) text() string { return b.eval("document.querySelector('main').innerText") }

// says fails unless the page holds all the words.
func (b *browser) says(words ...string) {
	b.t.Helper()
	text := b.eval("document.body.innerText")
	for _, w := range words {
		if !strings.Contains(strings.ToLower(text), strings.ToLower(w)) {
			b.t.Fatalf("the page does not say %q:\n%s", w, text)
		}
	}
}

// check looks at each kind of page once: no accessibility fault by axe, in light
// and dark, and no sideways scrolling at 320 px; a picture where asked for.
func (b *browser) check() {
	b.t.Helper()
	name := b.eval(`document.title.startsWith('Error') + ' ' + location.pathname.replace(/AB-\d+-\d+/, '{case}').replace(/\/[0-9A-Z]{20,}/, '/{id}') + (location.pathname.startsWith('/reports') ? location.search : '')`)
	if b.seen[name] {
		return
	}
	b.seen[name] = true
	if err := chromedp.Do(b.ctx, chromedp.Evaluate[chromedp.Void](axe+";0")); err != nil {
		b.t.Fatalf("axe: %v", err)
	}
	out, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`axe.run().then(r => JSON.stringify(r.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html.slice(0, 160)).join(' | '))))`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("axe on %s: %v", name, err)
	}
	var faults []string
	if err := json.Unmarshal([]byte(out), &faults); err != nil {
		b.t.Fatal(err)
	}
	for _, f := range faults {
		b.t.Errorf("axe on %s: %s", name, f)
	}
	b.do(chromedp.EmulateViewport(320, 700))
	if over := b.eval("String(document.documentElement.scrollWidth - innerWidth)"); over != "0" {
		b.t.Errorf("%s scrolls sideways by %s px at 320 px", name, over)
	}
	b.do(chromedp.EmulateViewport(1280, 900))
}

// picture keeps a screenshot of the page at 1280 and 390 px in the folder that
// DUNLIN_SCREENSHOTS names.
func (b *browser) picture(name string) {
	b.t.Helper()
	dir := os.Getenv("DUNLIN_SCREENSHOTS")
	if dir == "" {
		return
	}
	for _, width := range []int64{390, 1280} {
		b.do(chromedp.EmulateViewport(width, 900))
		png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
		if err != nil {
			b.t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, width)), png, 0o644); err != nil {
			b.t.Fatal(err)
		}
	}
}

func (b *browser) signIn(who int) {
	b.t.Helper()
	b.open("/sign-in")
	b.fill("email", demoIDs[who].id)
	b.fill("password", demoPassword)
	b.click("main form button[type=submit]")
}

func (b *browser) signOut() { b.t.Helper(); b.click(`form[action="/sign-out"] button`) }

// theCase reads a case from the store, to see what the pages really did.
func (b *browser) theCase(ref string) cases.Case {
	b.t.Helper()
	var c cases.Case
	err := b.demo.site.db.View(b.t.Context(), func(r cases.Reader) (err error) {
		c, err = r.ByReference(ref)
		return err
	})
	if err != nil {
		b.t.Fatal(err)
	}
	return c
}

var _ cases.Store = (*store.DB)(nil)

// TestDayInTheBrowser does a day's work as each of the three users: the
// coordinator works the first five rows of the overdue list, the nurse books a
// repeat and records a test with a QNS arm, the manager reads closure times.
func TestDayInTheBrowser(t *testing.T) {
	b := startDemo(t)
	b.coordinatorsMorning()
	b.nursesDay()
	b.managersLook()
}

func (b *browser) coordinatorsMorning() {
	t := b.t
	b.signIn(0)
	b.says("Overdue list", "Invented data", "Order:")
	b.picture("overdue")
	rows := strings.Fields(b.eval(`[...document.querySelectorAll('tr[data-ref]')].slice(0, 5).map(r => r.dataset.ref).join(' ')`))
	if len(rows) != 5 {
		t.Fatalf("the list shows %d rows", len(rows))
	}
	for i, ref := range rows {
		before := len(b.theCase(ref).Contacts)
		b.do(chromedp.Click(chromedp.CSS("#row-"+ref+" a.log")), chromedp.WaitVisible(chromedp.CSS("#log-"+ref+" form")))
		panel := "#log-" + ref + " "
		b.do(chromedp.Click(chromedp.CSS(panel + `input[name=outcome][value="talked, understood"]`)))
		b.do(chromedp.SendKeys(chromedp.CSS(panel+`input[name=note]`), fmt.Sprintf("row %d of the morning", i+1)))
		b.click(panel + "button[type=submit]")
		c := b.theCase(ref)
		if len(c.Contacts) != before+1 {
			t.Fatalf("%s: %d contacts before, %d after", ref, before, len(c.Contacts))
		}
		k := c.Contacts[len(c.Contacts)-1]
		if !k.Reached || k.With != "family" || k.Staff != demoIDs[0].name || k.Note != fmt.Sprintf("row %d of the morning", i+1) {
			t.Errorf("%s: recorded %+v", ref, k)
		}
	}
	b.open("/infants/" + rows[0])
	b.says("Next step", "not a diagnosis", "row 1 of the morning")
	b.picture("infant")
	b.open("/infants?q=" + rows[1])
	b.open("/letters")
	b.picture("letters")
	b.open("/intake")
	b.says("items")
	b.picture("intake")
	b.signOut()
}

func (b *browser) nursesDay() {
	t := b.t
	b.signIn(1)
	b.says("Due for repeat", "Not ready yet")
	b.picture("schedule")
	ref := b.eval(`document.querySelector('a[href*="/book?"]').getAttribute('href').split('/')[2]`)
	before := len(b.theCase(ref).Bookings)
	b.click(`a[href^="/infants/` + ref + `/book?"]`)
	b.picture("book")
	b.says("Earliest places that fit", "Before every test")
	b.click(`main form[action*="/place"] button[type=submit]`)
	c := b.theCase(ref)
	if len(c.Bookings) != before+1 || c.Bookings[before].State != "booked" || c.Bookings[before].Session == "" {
		t.Fatalf("%s: bookings %+v", ref, c.Bookings)
	}
	b.open("/schedule/proposals")
	b.open("/schedule")
	b.open(b.eval(`document.querySelector('section[aria-labelledby=clinics] a').getAttribute('href')`))
	b.open(b.eval(`location.pathname + '/day-sheet'`))
	b.open("/schedule/outlook")
	b.says("All test sites", "How these numbers are made")
	b.click(`a[href*="what=ready"]`)
	b.says("Become ready in the week of")
	b.open("/schedule")
	b.says("Weigh these infants", "Re-tests due, CRMS/CFSPID")
	ref = b.eval(`document.querySelector('a[href*="/tests/new"]').getAttribute('href').split('/')[2]`)
	tests := len(b.theCase(ref).SweatTests)
	b.click(`a[href^="/infants/` + ref + `/tests/new"]`)
	b.click("main form button[type=submit]") // nothing filled in: every fault is named
	b.says("There is a problem")
	b.recordWithShortArm(ref)
	b.says("QNS", "CF unlikely")
	b.picture("check-test")
	if n := len(b.theCase(ref).SweatTests); n != tests {
		t.Fatalf("%s: saved before it was checked", ref)
	}
	b.click("main form button[type=submit]")
	c = b.theCase(ref)
	if len(c.SweatTests) != tests+1 {
		t.Fatalf("%s: %d tests before, %d after\n%s", ref, tests, len(c.SweatTests), b.text())
	}
	a := b.demo.site.cfg.protocol.Assess(&c, b.demo.today)
	last := a.Tests[len(a.Tests)-1]
	if last.Outcome != cases.Unlikely || !last.Flags.Has(cases.FlagOneArmShort) || *last.Deciding != 14 {
		t.Errorf("%s: read as %+v", ref, last)
	}
	b.signOut()
}

// recordWithShortArm fills the test form: the left arm is enough, the right is short.
func (b *browser) recordWithShortArm(ref string) {
	b.t.Helper()
	b.choose("identity", "yes")
	weight := 3310.0
	if w := b.theCase(ref).Infant.Weights; len(w) > 0 {
		weight = w[len(w)-1].G + 100
	}
	b.fill("weight", fmt.Sprintf("%.2f", weight/1000))
	b.fill("by", "J. Pell")
	b.choose("collector", "tubing")
	for id, v := range map[string]string{"left-began": "09:15", "left-ended": "09:45", "left-minutes": "30", "left-amount": "22", "left-chloride": "14", "left-again": "14",
		"right-began": "09:20", "right-ended": "09:50", "right-minutes": "30", "right-amount": "9"} {
		b.fill(id, v)
	}
	b.choose("left-before", "sound")
	b.choose("right-before", "sound")
	b.choose("left-skin", "redness")
	b.choose("right-skin", "none")
	b.choose("stopped", "no")
	b.picture("record-test")
	b.click("main form button[type=submit]")
}

func (b *browser) managersLook() {
	b.signIn(2)
	b.says("Closure times", "What the figures say", "Birth to first test", "95% limits", "Still waiting", "Counts from 1 to 10 are hidden")
	b.picture("report")
	b.eval(`document.querySelector('select[name=group]').value = 'site'`)
	b.click("form[action='/reports/closure'] button[type=submit]")
	b.says("Those who still wait counted", "Alder Bay CF Clinic")
	b.open("/reports/closure?figures=full&group=language&from=1+Jan+2026&to=30+Jun+2026&also-from=1+Jul+2026&also-to=30+Nov+2026")
	b.says("Full figures, for the program only", "Two cohorts compared", "Mean wait")
	names := b.eval(`document.body.innerText`)
	for _, c := range []string{"SORREL-WHITE", "KOVALENKO"} {
		if strings.Contains(names, c) {
			b.t.Errorf("the manager's page names %s", c)
		}
	}
	b.open("/settings/protocol")
	b.says("Least age", "choice of this project")
	b.picture("protocol")
	b.signOut()
}
