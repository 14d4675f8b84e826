package web_test

import (
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// The reading while typing says what the server says when the form is sent: the
// limits come from the page. The protocol here differs from the default.
func TestReadingWhileTyping(t *testing.T) {
	s := newSite(t)
	s.protocol.MinAmountUL, s.protocol.CFFrom = 18, 55
	k := s.open(docQNS)
	b := &tab{t, browser(t), s.url}
	b.signIn("dagny")
	path := "/infants/" + k.Reference + "/tests/new"
	b.do(chromedp.Navigate(s.url + path))
	head := `document.querySelector("#reading-head").textContent`
	b.is(head, "Not complete yet")
	nurse := s.as("dagny")
	for _, c := range []struct{ lUL, lCl, rUL, rCl, want string }{
		{"24", "46", "11", "", "Intermediate"}, {"24", "29.9", "21", "28", "CF unlikely"}, {"24", "60", "21", "54", "In the CF range"}, {"17", "", "17.9", "", "QNS"},
		{"24", "22", "21", "44", "Arms disagree"}, {"24", "180", "21", "20", "Value not plausible"}, {"24", "90", "21", "140", "In the CF range"},
	} {
		b.js(`(function (v) { document.querySelector("#collector-0").checked = true; for (var id in v) { document.getElementById(id).value = v[id]; }
			document.querySelector("#test-form").dispatchEvent(new Event("input")); return ""; })({"left-began": "09:11", "left-ended": "09:41", "right-began": "09:11", "right-ended": "09:41",
			"left-amount": "` + c.lUL + `", "left-chloride": "` + c.lCl + `", "left-again": "` + c.lCl + `", "right-amount": "` + c.rUL + `", "right-chloride": "` + c.rCl + `", "right-again": "` + c.rCl + `"})`)
		if got := b.js(head); !strings.HasSuffix(got, c.want) {
			t.Errorf("%+v reads %q while typing, want %q", c, got, c.want)
		}
		p := fillTest(nurse.get(path).form(path), c.lUL, c.lCl, c.rUL, c.rCl).send()
		if got := p.text("#outcome"); got != c.want {
			t.Errorf("%+v reads %q on the check page, want %q", c, got, c.want)
		}
	}
}

// Wide tables and forms of these pages fit a phone of 320 pixels (WCAG 1.4.10).
func TestFormPagesOnSmallScreens(t *testing.T) {
	s := newSite(t)
	k := s.open(docCarrier)
	s.open(docMail)
	wren := s.as("wren")
	wren.uploads("list.csv", lineList)
	wren.get("/letters").form("/letters/make").send()
	b := &tab{t, browser(t), s.url}
	b.signIn("wren")
	at := "/infants/" + k.Reference
	for _, width := range []int64{320, 1081, 1280} {
		b.do(chromedp.EmulateViewport(width, 800))
		for _, path := range []string{"/intake", "/intake/upload", "/intake/" + s.waiting()[0].ID, "/letters", "/reports/closure", "/settings/protocol", at + "/close", at + "/tests/0/verify"} {
			b.do(chromedp.Navigate(s.url + path))
			if got := b.js("document.documentElement.scrollWidth - document.documentElement.clientWidth"); got != "0" {
				t.Errorf("%s at %d is %s pixels too wide: %s", path, width, got, b.js(wide))
			}
			if got := b.js(`[...document.querySelectorAll("main button, main a.btn")].filter(e => e.offsetHeight && e.offsetHeight < 24).length`); got != "0" {
				t.Errorf("%s at %d has %s controls lower than 24 pixels", path, width, got)
			}
		}
	}
}
