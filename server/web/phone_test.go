package web_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"dunlin/cases"

	"github.com/chromedp/chromedp"
)

// A nurse records a test on a phone of 390 pixels, from the schedule to the repeat
// that is booked. Steps and time are logged; nothing passes or fails by them.
func TestRecordingOnAPhone(t *testing.T) {
	s := newSite(t)
	pads := alderBay
	pads.Key, pads.Name, pads.Accepts.Collectors = "heron-point", "Heron Point Children's", []string{"pad"}
	s.withSessions(pads)
	only := alderBay
	only.Accepts.Collectors = []string{"tubing"}
	s.withSessions(only, session(cases.MakeDay(2026, 3, 6)))
	k := s.open(doc(docQNS, `"flags"`, `"bookings":[{"on":"2026-03-05","at":"08:00","site":"alder-bay","state":"booked","changed":"2026-03-01"}],"flags"`))
	b := &tab{t, browser(t), s.url}
	b.signIn("dagny")
	b.do(chromedp.EmulateViewport(390, 844), chromedp.Navigate(s.url+"/schedule"))
	began := time.Now()
	taps, typed := 0, 0
	tap := func(sel string) {
		t.Helper()
		taps++
		b.do(chromedp.Click(chromedp.CSS(sel)))
	}
	fill := func(id, value string) {
		t.Helper()
		typed++
		b.do(chromedp.SendKeys(chromedp.CSS("#"+id), value))
	}
	tap(`a[href^="/infants/` + k.Reference + `/tests/new"]`)
	b.do(chromedp.WaitVisible(chromedp.CSS("#reading")))
	b.onPhone("/tests/new")
	b.is(`document.querySelector("#left .by-collector").textContent`, "µL")
	b.is(`document.querySelector("input[name=collector]:checked").value`, "tubing")
	b.is(`[...document.querySelectorAll("#left input[type=text], #right input[type=text], #weight, #at")].every(i => /numeric|decimal/.test(i.inputMode))`, "true")
	b.is(`new Set([...document.querySelectorAll(".arm")].map(e => e.getBoundingClientRect().left)).size`, "1")
	b.is(`document.querySelector("#left-conductivity").offsetParent === null`, "true")

	tap("label:has(#identity)")
	fill("weight", "3.64")
	for _, side := range []string{"left", "right"} {
		tap("label:has(#" + side + "-before-0)")
		fill(side+"-induced", "0745")
		fill(side+"-began", "0755")
		fill(side+"-ended", "0825")
		fill(side+"-amount", map[string]string{"left": "9", "right": "11"}[side])
		tap("label:has(#" + side + "-skin-0)")
	}
	tap("label:has(#stopped-0)")
	b.is(`document.querySelector("#reading-head").textContent`, "QNS")
	b.is(`document.querySelector("#reading-lines").innerText.split("\n")[1]`, "Right arm: 11 µL is under 15 µL, so this arm is QNS.")
	tap("#test-form button[type=submit]")
	b.do(chromedp.WaitVisible(chromedp.CSS("#outcome")))
	b.onPhone("the check page")
	tap("button[value=save]")
	b.do(chromedp.WaitVisible(chromedp.CSS("#offer-0")))
	b.onPhone("the next step")
	tap(`form[action="/infants/` + k.Reference + `/place"] button`)
	b.do(chromedp.WaitVisible(chromedp.CSS("#next-step"))) // the infant's page
	t.Logf("on a phone: %d taps and %d fields from the schedule to the booked repeat; the browser took %s", taps, typed, time.Since(began).Round(10*time.Millisecond))
	c := s.read(k.Reference)
	if len(c.SweatTests) != 2 || len(c.Bookings) != 2 || c.Bookings[0].State != "kept" || c.Bookings[1].State != "booked" || c.SweatTests[1].Arms[0].Induced != "07:45" {
		t.Errorf("recorded %+v %+v", c.SweatTests, c.Bookings)
	}

	b.do(chromedp.Navigate(s.url + "/infants/" + k.Reference + "/tests/not-done"))
	b.onPhone("/tests/not-done")
	b.do(chromedp.Navigate(s.url + "/infants/" + k.Reference + "/tests/new"))
	choose := func(site string) {
		b.js(fmt.Sprintf(`(() => { const f = document.querySelector("#site"); f.value = %q; f.dispatchEvent(new Event("change", {bubbles: true})); })()`, site))
	}
	for _, x := range [][2]string{{"heron-point", "mg"}, {"alder-bay", "µL"}} {
		choose(x[0])
		b.is(`document.querySelector("#right .by-collector").textContent`, x[1])
	}
	b.do(chromedp.Click(chromedp.CSS("label:has(#collector-1)"))) // a person's choice stays
	choose("alder-bay")
	b.is(`document.querySelector("#right .by-collector").textContent`, "mg")
	b.do(chromedp.Click(chromedp.CSS("label:has(#analyte-1)")))
	b.is(`document.querySelector("#left-conductivity").offsetParent === null`, "false")
}

// onPhone looks for sideways scrolling and for controls under 44 pixels.
func (b *tab) onPhone(what string) {
	b.t.Helper()
	if got := b.js("document.documentElement.scrollWidth - document.documentElement.clientWidth"); got != "0" {
		b.t.Errorf("%s is %s pixels too wide: %s", what, got, b.js(wide))
	}
	if got := b.js(strings.NewReplacer("r.height < 24", "r.height < 43.5", "r.width < 24", "r.width < 43.5", "main select", "main form select").Replace(small)); got != "" {
		b.t.Errorf("%s: too small for a thumb: %s", what, strings.TrimSpace(got))
	}
}
