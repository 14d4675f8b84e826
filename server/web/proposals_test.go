package web_test

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"

	"dunlin/cases"
	booking "dunlin/cases/schedule"

	"github.com/chromedp/chromedp"
)

const proposalsPath = "/schedule/proposals"

// crowd opens infants who wait: 26 who are ready, twins, one whose family was not talked
// to, and one who is too light; with sessions of 5 places on four days.
func (s *site) crowd() (ready, twins []cases.Case, silent, light cases.Case) {
	s.t.Helper()
	for i := range 26 {
		ready = append(ready, s.open(readyDoc(i)))
	}
	a := s.open(docTwin)
	b := s.open(doc(docTwin, "Baby A", "Baby B", `"birth_order":1`, `"birth_order":2`))
	s.link(a, b)
	twins = []cases.Case{s.read(a.Reference), s.read(b.Reference)}
	silent = s.open(doc(readyDoc(90), `,{"on":"2026-02-20","with":"family","by":"phone","reached":true}`, "",
		`"referral"`, `"genotype":{"reported":"2026-02-20","scope":"panel","variants":[{"name":"F508del","phase":"unknown"}]},"referral"`))
	light = s.open(doc(readyDoc(91), `"birth_weight_g":3300,"weights":[{"on":"2026-02-24","g":3500}]`, `"birth_weight_g":1500,"weights":[{"on":"2026-03-02","g":1960}]`))
	for _, d := range []int{6, 9, 10, 11} {
		k := session(cases.MakeDay(2026, 3, d))
		k.Places = 5
		s.withSessions(alderBay, k)
	}
	return ready, twins, silent, light
}

// readyDoc is an infant who can be tested now.
func readyDoc(i int) string {
	return doc(docBooked, `,
"bookings":[{"on":"2026-03-06","at":"09:30","site":"alder-bay","state":"booked","changed":"2026-02-21"}]`, "", "Ezra", fmt.Sprintf("Ezra %d", i), "Vanterpool", fmt.Sprintf("Vanterpool-%d", i))
}

// lines are the proposals of the page by what they need, as sent.
func (f *filled) lines() map[string][]string {
	out := map[string][]string{}
	for _, l := range f.values["l"] {
		need, _, _ := strings.Cut(l, " ")
		out[need] = append(out[need], l)
	}
	return out
}

// alone are the ready lines of one infant each.
func (f *filled) alone() (out []string) {
	for _, l := range f.lines()["ready"] {
		if strings.Count(l, "AB-2026-") == 1 {
			out = append(out, l)
		}
	}
	return out
}

// tick ticks the lines that hold one of the texts, and no other.
func (f *filled) tick(texts ...string) *filled {
	f.values["line"] = nil
	for _, l := range f.values["l"] {
		for _, t := range texts {
			if strings.Contains(l, t) {
				f.values.Add("line", l)
			}
		}
	}
	return f
}

// booked checks that no place is given twice and no session holds too many, and gives
// the infants with a booking.
func (s *site) booked() []string {
	s.t.Helper()
	at := map[string]string{}
	err := s.db.View(s.t.Context(), func(r cases.Reader) error {
		for k, err := range r.Open() {
			if err != nil {
				return err
			}
			for _, b := range k.Bookings {
				place := b.Site + " " + b.On.String() + " " + string(b.At)
				if at[place] != "" {
					s.t.Errorf("%s is given to %s and %s", place, at[place], k.Reference)
				}
				at[place] = k.Reference
			}
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return slices.Sorted(maps.Values(at))
}

func TestPlaceEveryoneReady(t *testing.T) {
	s := newSite(t)
	_, twins, silent, light := s.crowd()
	nurse := s.as("dagny")
	nurse.get("/schedule").wants(200, "Place everyone ready")
	p := nurse.get(proposalsPath).wants(200, "A proposal for 30 infants who wait and 20 free places", "Nothing is booked until you book it", "Without a place", "10 without a place", "a further session is needed",
		"Talk with the family first", "Way not known", "Before every test", "How this plan is made")
	f := p.form(proposalsPath)
	by := f.lines()
	if n := len(f.values["l"]); n < 18 || n > 20 {
		t.Fatalf("%d lines: %v", n, f.values["l"])
	}
	if len(f.values["line"]) != len(by["ready"]) {
		t.Errorf("%d lines are ticked, %d are ready", len(f.values["line"]), len(by["ready"]))
	}
	together := slices.ContainsFunc(f.values["l"], func(l string) bool {
		return strings.Contains(l, twins[0].Reference) && strings.Contains(l, twins[1].Reference)
	})
	if !together {
		t.Error("twins are not one line")
	}
	p = f.set("do", "ready").send().wants(200, "are booked")
	got := s.booked()
	want := 0
	for _, l := range by["ready"] {
		want += strings.Count(l, "AB-2026-")
	}
	if len(got) != want || slices.Contains(got, silent.Reference) || slices.Contains(got, light.Reference) {
		t.Errorf("%d are booked, want %d: %v", len(got), want, got)
	}
	// What was booked stays as it is when the plan is made anew.
	f = p.form(proposalsPath)
	if len(f.values["line"]) != 0 {
		t.Errorf("after booking, lines are ticked: %v", f.values)
	}
	p = f.tick("talk ").set("do", "ticked").send().wants(422, "Enter why places are booked before a talk with the family")
	if f = p.form(proposalsPath); len(f.values["line"]) != 1 {
		t.Errorf("the tick is lost: %v", f.values)
	}
	f.set("talk-why", "Reached at the clinic").send().wants(200, "1 infant is booked")
	if b := s.read(silent.Reference).Bookings; len(b) != 1 || b[0].Reason != "Booked in spite of: family not reached. Reached at the clinic" {
		t.Errorf("bookings %+v", b)
	}
	for _, ref := range got {
		if b := s.read(ref).Bookings; len(b) != 1 || b[0].State != "booked" {
			t.Errorf("%s: %+v", ref, b)
		}
	}
}

// The page as it is served, sent as it is, books the infants whose boxes are ticked on
// it and nobody else, wherever the others stand in the plan.
func TestTickedLinesAreTheOnesBooked(t *testing.T) {
	s := newSite(t)
	_, _, silent, light := s.crowd()
	f := s.as("dagny").get(proposalsPath).form(proposalsPath)
	by := f.lines()
	if !slices.Equal(slices.Sorted(slices.Values(f.values["line"])), slices.Sorted(slices.Values(by["ready"]))) {
		t.Fatalf("ticked: %q\nready: %q", f.values["line"], by["ready"])
	}
	var want []string
	for _, l := range by["ready"] {
		for _, word := range strings.Fields(l) {
			if strings.HasPrefix(word, "AB-") {
				want = append(want, word)
			}
		}
	}
	f.set("do", "ticked").send().wants(200, "are booked")
	if got := s.booked(); !slices.Equal(got, slices.Sorted(slices.Values(want))) || slices.Contains(got, silent.Reference) || slices.Contains(got, light.Reference) {
		t.Errorf("booked %v, ticked %v", got, want)
	}
}

// A form that is sent twice, also at once, books each line once; one that lost its
// answer half-way goes on with the others.
func TestProposalsAreBookedOnce(t *testing.T) {
	s := newSite(t)
	s.crowd()
	nurse := s.as("dagny")
	f := nurse.get(proposalsPath).form(proposalsPath)
	ready := f.alone()
	f.tick(ready[0], ready[1]).set("do", "ticked").send().wants(200, "2 infants are booked")
	v := maps.Clone(f.tick(ready[0], ready[1], ready[2], ready[3]).values)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() { nurse.post(proposalsPath, v) })
	}
	wg.Wait()
	p := nurse.post(proposalsPath, v).wants(200, "4 infants are booked", "It was booked before; the form was sent twice.")
	if strings.Contains(p.body, "Not booked") {
		t.Error("a line that was booked is said not to be")
	}
	if got := s.booked(); len(got) != 4 {
		t.Errorf("%d are booked: %v", len(got), got)
	}
}

// Two nurses accept the same plan at the same moment: every place once, every line said.
//
//asvs:15.4.2
func TestTwoNursesAcceptAtOnce(t *testing.T) {
	s := newSite(t)
	s.crowd()
	var forms []*filled
	for _, who := range []string{"dagny", "wren"} {
		forms = append(forms, s.as(who).get(proposalsPath).form(proposalsPath).set("do", "ready"))
	}
	want := 0
	for _, l := range forms[0].lines()["ready"] {
		want += strings.Count(l, "AB-2026-")
	}
	pages := make([]*page, len(forms))
	var wg sync.WaitGroup
	for i, f := range forms {
		wg.Go(func() { pages[i] = f.send() })
	}
	wg.Wait()
	if got := s.booked(); len(got) != want {
		t.Errorf("%d are booked, want %d", len(got), want)
	}
	total := 0
	for i, p := range pages {
		if p.status != 200 && p.status != 409 {
			t.Errorf("page %d: %d", i, p.status)
		}
		var n, not int
		head := p.text("#answer-h")
		if _, err := fmt.Sscanf(head, "%d infants are booked, %d are not", &n, &not); err != nil {
			fmt.Sscanf(head, "%d infants are booked", &n)
		}
		total += n
	}
	if total != want {
		t.Errorf("the answers name %d booked infants, want %d: %q and %q", total, want, pages[0].text("#answer-h"), pages[1].text("#answer-h"))
	}
}

// Lines that cannot be booked any more say why, and the others are booked.
func TestAStaleLineIsRefusedByItself(t *testing.T) {
	s := newSite(t)
	s.crowd()
	nurse := s.as("dagny")
	f := nurse.get(proposalsPath).form(proposalsPath)
	ready := f.alone()
	changed, taken := strings.Fields(ready[0])[3], ready[1]
	s.update(func(w cases.Writer) error {
		k, err := w.ByReference(changed)
		if err == nil {
			k.Infant.Weights = append(k.Infant.Weights, cases.Weight{On: cases.MakeDay(2026, 3, 4), G: 3600})
			_, err = w.PutCase(k, cases.Event{Kind: "weight-recorded", Text: "Weight recorded"})
		}
		return err
	})
	place := strings.Fields(taken)
	other := s.open(readyDoc(70))
	at := "/infants/" + other.Reference
	nurse.get(at+"/book").form(at+"/place").set("place", place[1]+" "+place[2]+" "+place[5]).send().wants(200, "Booked")
	damaged := "ready alder-bay 2026-03-06 AB-2026-0001"
	f.values.Add("l", damaged)
	f.tick(ready[0], ready[1], ready[2], damaged)
	p := f.set("do", "ticked").send().wants(200, "is booked, 3 are not", changed+" was changed by Test (Weight recorded)", "That place was taken a moment ago. The next fitting place is", "The line was sent damaged")
	if got := s.booked(); len(got) != 2 {
		t.Errorf("booked: %v", got)
	}
	p.form(proposalsPath) // what is left is proposed again
}

// An infant who is too light is booked on a named person's word only, which holds for
// what was shown.
func TestProposalsOnAnEstimate(t *testing.T) {
	s := newSite(t)
	_, _, light := s.lightOnes()
	nurse := s.as("dagny")
	p := nurse.get(proposalsPath).wants(200, "Planned on an estimate, weigh on the day", "last weighed 1960 g on Mon 2 Mar 2026", "the weight is an estimate, weigh on the day")
	f := p.form(proposalsPath)
	if n := len(f.values["line"]); n != 1 {
		t.Errorf("%d lines are ticked, want the one that is ready", n)
	}
	p = f.tick("estimate ").set("override-reason", "Two siblings with CF").set("do", "ticked").send()
	p.wants(422, "Enter who decided to book infants who are not ready")
	f = p.form(proposalsPath)
	if f.values.Get("override-reason") != "Two siblings with CF" || len(f.values["line"]) != 1 || !strings.HasPrefix(f.values["l"][1], "estimate ") || f.values.Get("line") != f.values["l"][1] {
		t.Errorf("what was typed and ticked is lost: %v", f.values)
	}
	if got := s.booked(); len(got) != 0 {
		t.Errorf("booked: %v", got)
	}
	f.set("override-by", "Dr. Lindqvist, neonatology")
	stale := maps.Clone(f.values)
	// The site comes to ask for more: that was not answered for.
	site := alderBay
	site.Accepts.MinWeightG = 2500
	s.withSessions(site)
	nurse.post(proposalsPath, stale).wants(409, "0 infants are booked, 1 is not", "has changed since it was answered for", "accepts from 2500 g")
	s.withSessions(alderBay)
	f = nurse.get(proposalsPath).form(proposalsPath).tick("estimate ").set("override-by", "Dr. Lindqvist, neonatology").set("override-reason", "Two siblings with CF")
	f.send().wants(200, "1 infant is booked", "Not ready; decided by Dr. Lindqvist, neonatology: Two siblings with CF. Weigh on the day.")
	if b := s.read(light.Reference).Bookings; len(b) != 1 || b[0].OverrideBy != "Dr. Lindqvist, neonatology" || b[0].OverrideReason != "Two siblings with CF" {
		t.Errorf("bookings %+v", b)
	}
}

// lightOnes opens an infant who is ready, one without a weight, and one who is too light.
func (s *site) lightOnes() (ready, unknown, light cases.Case) {
	ready = s.open(readyDoc(1))
	unknown = s.open(doc(readyDoc(2), `"birth_weight_g":3300,"weights":[{"on":"2026-02-24","g":3500}]`, `"weights":[]`))
	light = s.open(doc(readyDoc(3), `"birth_weight_g":3300,"weights":[{"on":"2026-02-24","g":3500}]`, `"birth_weight_g":1500,"weights":[{"on":"2026-02-24","g":1830},{"on":"2026-03-02","g":1960}]`))
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 10)), session(cases.MakeDay(2026, 3, 12)))
	return ready, unknown, light
}

func TestProposalsSayWhatIsMissing(t *testing.T) {
	s := newSite(t)
	nurse := s.as("dagny")
	nurse.get(proposalsPath).wants(200, "Nobody waits for a place.")
	s.open(readyDoc(1))
	nurse.get(proposalsPath).wants(200, "No session has a free place in the next 8 weeks", "No place")
	_, unknown, _ := s.lightOnes()
	p := nurse.get(proposalsPath).wants(200, "No day yet", "Cannot be planned now: no weight is recorded; weigh first.")
	if at := strings.Index(p.body, `id="unplaced"`); !strings.Contains(p.body[at:], "/infants/"+unknown.Reference+`"`) {
		t.Error("no link to the infant without a place")
	}
	f := p.form(proposalsPath)
	f.tick("nothing").set("do", "ticked").send().wants(422, "Tick the places to book")
	f.values = url.Values{"csrf": f.values["csrf"], "do": {"ready"}}
	f.send().wants(422, "Tick the places to book")
	s.as("ines").get(proposalsPath).wants(403)
	if got := s.booked(); len(got) != 0 {
		t.Errorf("booked: %v", got)
	}
}

// A plan has more infants without a place than one page shows at first.
func TestProposalsShowAllOnDemand(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		for i := range 60 {
			k, err := cases.ParseCase([]byte(readyDoc(i)), cases.DayOf(s.now), s.protocol)
			if err == nil {
				_, err = cases.OpenCase(w, s.protocol, k, cases.Event{Kind: "case-opened", Text: "Case opened"})
			}
			if err != nil {
				return err
			}
		}
		return booking.PutSite(w, alderBay)
	})
	nurse := s.as("dagny")
	p := nurse.get(proposalsPath).wants(200, "The 50 most urgent of 60 are shown", "Show all 60")
	if n := strings.Count(p.body, "No place<"); n != 50 {
		t.Errorf("%d rows", n)
	}
	if n := strings.Count(nurse.get(proposalsPath+"?all=1").wants(200).body, "No place<"); n != 60 {
		t.Errorf("%d rows of all", n)
	}
}

// On a phone everyone ready is placed in three presses from the schedule.
func TestProposalsOnAPhone(t *testing.T) {
	s := newSite(t)
	s.lightOnes()
	b := &tab{t, browser(t), s.url}
	b.signIn("dagny")
	b.do(chromedp.EmulateViewport(390, 800), chromedp.Navigate(s.url+"/schedule"),
		chromedp.Click(chromedp.CSS(`a[href="/schedule/proposals"]`)), chromedp.WaitVisible(chromedp.CSS("#line-0")))
	if got := b.js(`document.querySelectorAll("input[name=line]:checked").length`); got != "1" {
		t.Errorf("%s lines are ticked, want 1", got)
	}
	b.do(chromedp.Click(chromedp.CSS(`a[href="#book"]`)), chromedp.Click(chromedp.CSS(`button[value="ready"]`)), chromedp.WaitVisible(chromedp.CSS("#answer-h")))
	b.is(`document.querySelector("#answer-h").textContent`, "1 infant is booked")
	if got := b.js("document.documentElement.scrollWidth - document.documentElement.clientWidth"); got != "0" {
		t.Errorf("the answer is %s pixels too wide", got)
	}
	if got := s.booked(); len(got) != 1 {
		t.Errorf("booked: %v", got)
	}
}
