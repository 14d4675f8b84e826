package web_test

import (
	"context"
	"dunlin/cases"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// browser starts a headless Chromium with an empty profile. Without one the
// test is skipped, and fails where DUNLIN_CI=1 says that all parts must be there.
func browser(t *testing.T) context.Context {
	t.Helper()
	return browserFor(t, 60*time.Second)
}

// browserFor is browser, for a longer time.
func browserFor(t *testing.T, limit time.Duration) context.Context {
	t.Helper()
	path := os.Getenv("DUNLIN_CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); path == "" && err == nil {
			path = p
		}
	}
	if path == "" {
		if os.Getenv("DUNLIN_CI") == "1" {
			t.Fatal("no Chromium is installed")
		}
		t.Skip("no Chromium is installed; install it, or name it in DUNLIN_CHROMIUM")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true))
	ctx, cancel := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(cancel)
	ctx, stop := chromedp.NewContext(ctx)
	t.Cleanup(stop)
	ctx, end := context.WithTimeout(ctx, limit)
	t.Cleanup(end)
	return ctx
}

type tab struct {
	t   *testing.T
	ctx context.Context
	url string
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) js(expression string) string {
	b.t.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("String("+expression+")"))
	if err != nil {
		b.t.Fatalf("%s: %v", expression, err)
	}
	return s
}

func (b *tab) is(expression, want string) {
	b.t.Helper()
	if got := b.js(expression); got != want {
		b.t.Errorf("%s is %q, want %q", expression, got, want)
	}
}

// signIn signs a person in through the page.
func (b *tab) signIn(name string) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(1280, 900), chromedp.Navigate(b.url+"/sign-in"), chromedp.SendKeys(chromedp.CSS("#email"), name+"@x.example"), chromedp.SendKeys(chromedp.CSS("#password"), testPassword+"\r"),
		chromedp.WaitVisible(chromedp.CSS("a.me")))
}

// The keys of a list, as the settings page explains them.
func TestRowKeys(t *testing.T) {
	s := newSite(t)
	two, qns := s.open(docTwoVariants), s.open(docQNS)
	b := &tab{t, browser(t), s.url}
	b.signIn("wren")
	b.do(chromedp.Navigate(s.url + "/overdue"))
	const at = "document.activeElement.id"
	b.js(`document.querySelector("tr[data-row]").focus()`)
	b.do(chromedp.KeyEvent("j"))
	b.is(at, "row-"+qns.Reference)
	b.do(chromedp.KeyEvent("j"))
	b.is(at, "row-"+qns.Reference)
	b.do(chromedp.KeyEvent("k"))
	b.is(at, "row-"+two.Reference)

	b.do(chromedp.KeyEvent("l"))
	b.is(at, "with-0-"+two.Reference)
	b.is(`document.querySelector("#log-`+two.Reference+`").hidden`, "false")
	b.is(`document.querySelector("#row-`+two.Reference+` .log").getAttribute("aria-expanded")`, "true")
	b.do(chromedp.SendKeys(chromedp.CSS("#note-"+two.Reference), "kjlo"))
	b.is(`document.querySelector("#note-`+two.Reference+`").value`, "kjlo")
	b.do(chromedp.KeyEvent("\x1b"))
	b.is(at, "row-"+two.Reference)
	b.is(`document.querySelector("#log-`+two.Reference+`").hidden`, "true")

	b.do(chromedp.KeyEvent("l"), chromedp.Click(chromedp.CSS("#with-2-"+two.Reference)), chromedp.Click(chromedp.CSS("#outcome-3-"+two.Reference)),
		chromedp.Click(chromedp.CSS(`#log-`+two.Reference+` button[name=go]`)), chromedp.WaitVisible(chromedp.CSS("#flash")))
	if got := b.js("location.hash"); got != "#row-"+qns.Reference {
		t.Errorf("after the save at %q", got)
	}
	b.do(chromedp.WaitVisible(chromedp.CSS("#with-0-" + qns.Reference)))
	b.is(at, "with-0-"+qns.Reference)
	k := s.read(two.Reference).Contacts
	if len(k) != 1 || k[0].With != "specialist" || k[0].Outcome != "no answer" || k[0].Note != "kjlo" {
		t.Errorf("recorded %+v", k)
	}

	b.do(chromedp.Navigate(s.url + "/overdue"))
	b.js(`document.querySelector("tr[data-row]").focus()`)
	b.do(chromedp.KeyEvent("o"), chromedp.WaitVisible(chromedp.CSS("#next-step")))
	b.is("location.pathname", "/infants/"+two.Reference)

	b.is(`document.documentElement.dataset.idle`, "900")
	b.js(`document.querySelector("#idle").showModal()`)
	b.do(chromedp.Click(chromedp.CSS("#stay")), chromedp.WaitNotVisible(chromedp.CSS("#idle")))
}

// No page needs sideways scrolling, down to 320 pixels (WCAG 1.4.10), and no
// control is below 24 pixels on a phone (WCAG 2.5.8).
func TestSmallScreens(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	s.open(docTwoVariants)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)))
	_, item := twinItem(s)
	s.as("wren").uploads("r.hl7", sweatORU)
	sweat := "/intake/" + s.waiting()[1].ID
	b := &tab{t, browser(t), s.url}
	b.fits("wren", "/intake", "/intake/upload", item, sweat, "/settings/senders", "/settings/senders/new", "/settings/jobs", "/settings/protocol")
	at := "/infants/" + k.Reference
	b.do(chromedp.Navigate(s.url + "/me"))
	b.js(`document.querySelector("#sign-out").submit()`)
	b.do(chromedp.WaitVisible(chromedp.CSS("#email")))
	b.fits("dagny", "/overdue", "/overdue/print", at, at+"/contacts/new", at+"/weights/new", at+"/book", at+"/tests/new", "/infants", "/schedule", "/schedule/outlook", "/schedule/outlook/infants?site=&week=1&what=ready", proposalsPath, "/me",
		"/settings/sites", "/settings/sites/new", "/settings/sites/alder-bay", "/settings/sites/import", "/settings/sites/alder-bay/sessions", "/settings/sites/alder-bay/sessions/new", "/settings/sites/alder-bay/sessions/alder-bay-2026-03-06-0930")
}

// fits signs a person in and looks at pages at two widths.
func (b *tab) fits(who string, paths ...string) {
	t := b.t
	t.Helper()
	b.signIn(who)
	for _, width := range []int64{320, 1081} {
		b.do(chromedp.EmulateViewport(width, 800))
		for _, path := range paths {
			b.do(chromedp.Navigate(b.url + path))
			if got := b.js("document.documentElement.scrollWidth - document.documentElement.clientWidth"); got != "0" {
				t.Errorf("%s at %d is %s pixels too wide: %s", path, width, got, b.js(wide))
			}
			if width == 320 {
				if got := b.js(small); got != "" {
					t.Errorf("%s: too small: %s", path, strings.TrimSpace(got))
				}
			}
		}
	}
}

// wide names the elements that stand out to the right; small the controls of
// under 24 pixels that are not links in a line of text.
const (
	wide  = `Array.from(document.querySelectorAll("main *")).filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 && !e.closest(".scroll")).slice(0, 3).map(e => e.tagName + "." + e.className).join(", ")`
	small = `Array.from(document.querySelectorAll("main button, main select, main input:not([type=hidden]):not([type=radio]):not([type=checkbox]), main .btn, main .opt")).filter(e => { const r = e.getBoundingClientRect(); return r.width && (r.height < 24 || r.width < 24) }).map(e => e.tagName + "." + e.className + " " + e.textContent.slice(0, 20)).join(", ")`
)
