package web_test

import (
	"net/http"
	"strings"
	"testing"

	"dunlin/cases"
)

// A QNS leads to the earliest places, which are booked from there.
func TestQNSOpensWithTheEarliestPlaces(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 9)))
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	path := at + "/tests/new"
	p := fillTest(s.as("dagny").get(path).form(path), "9", "", "11", "").send().wants(200, "QNS", "09:41 today has not come yet") // it is 08:41
	p = p.form(path).set("do", "save").send()
	p.wants(200, "Test saved", "Next for Tobias", "Next: Book a repeat test", "2 tests gave no result", "Earliest places that fit", "Fri 6 Mar 2026, 09:30", "QNS gives no result and never closes a case")
	if p.path != at+"/next" || strings.Count(p.body, `name="place"`) != 3 {
		t.Errorf("after a QNS at %s with %d places", p.path, strings.Count(p.body, `name="place"`))
	}
	p.form(at+"/place").send().wants(200, "Booked", "Fri 6 Mar 2026, 09:30")
	if b := s.read(k.Reference).Bookings; len(b) != 1 || b[0].Session == "" {
		t.Errorf("bookings %+v", b)
	}
	s.as("dagny").get(at+"/next").wants(200, "A test is booked for 6 Mar 2026")
}

// After an intermediate test the clinician's order is asked for before the date.
func TestAnIntermediateTestAsksForTheOrder(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 26)))
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	path := at + "/tests/new"
	nurse := s.as("dagny")
	p := fillTest(nurse.get(path).form(path), "24", "46", "21", "44").send().form(path).set("do", "save").send()
	p.wants(200, "Record the clinician's order of the repeat", "Between 19 Mar 2026 and 4 May 2026, due 2 Apr 2026", "Thu 26 Mar 2026, 09:30", "A value under the CF range alone")
	order := at + "/repeat-order"
	nurse.get(order).form(order).set("by", "Dr. H. Lindqvist").send().wants(200, "Order saved")
	if p := nurse.get(at + "/next"); strings.Contains(p.body, "Record the clinician") {
		t.Error("the order is asked for again")
	}
}

// Where no date is set a clinician's reason is, and the case has a day to look again.
func TestNoRepeatDateNeedsACliniciansReason(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	nurse := s.as("dagny")
	p := nurse.get(at+"/next").wants(200, "No site has sessions in the next 8 weeks", "No date is set now")
	p = p.form(at+"/no-date").set("look-again", "today").send()
	p = p.wants(422, "Enter the clinician who decided", "Enter the clinician's reason", "Look again on must be after today")
	p.form(at+"/no-date").set("by", "Dr. H. Lindqvist").set("reason", "Weight first").set("look-again", "+1w").send().wants(200, "Reason saved", "Ask whether the hold is over")
	c := s.read(k.Reference)
	if len(c.Holds) != 1 || c.Holds[0].LookAgain != cases.MakeDay(2026, 3, 12) || c.Holds[0].Note != "No repeat date, decided by Dr. H. Lindqvist: Weight first" {
		t.Fatalf("holds %+v", c.Holds)
	}
	a := s.protocol.Assess(&c, cases.MakeDay(2026, 3, 5))
	if a.Next.Step != cases.StepClearHold || a.Next.Due != cases.MakeDay(2026, 3, 12) || a.Clocks.RepeatTest == nil || !a.Clocks.RepeatTest.Running {
		t.Errorf("next %+v, repeat clock %+v", a.Next, a.Clocks.RepeatTest)
	}
	nurse.get(at+"/next").wants(200, "Ask whether the hold is over")
	nurse.get(at).wants(200, "Weight first")
}

// A burn that nobody was told of stays a task until it is reported.
func TestABurnOpensTheReport(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	path := at + "/tests/new"
	nurse := s.as("dagny")
	f := fillTest(nurse.get(path).form(path), "24", "20", "21", "18").set("left-skin", "burn")
	p := f.send().wants(200, "Report the skin reaction")
	p.form(path).set("do", "save").send().wants(200, "Today, before you leave", "Report the burn of 5 Mar 2026")
	reaction := at + "/tests/1/reaction"
	p = nurse.get(reaction).form(reaction).set("to", "Dr. H. Lindqvist").set("on", "4 Mar 2026").send().wants(422, "Day must be on or after 5 Mar 2026, the day of the test")
	p.form(reaction).set("on", "today").set("at", "1040").send().wants(200, "Report saved")
	arm := s.read(k.Reference).SweatTests[1].Arms[0]
	if arm.ReportedTo != "Dr. H. Lindqvist" || arm.ReportedAt != "10:40" || arm.ReportedOn != cases.MakeDay(2026, 3, 5) {
		t.Errorf("arm %+v", arm)
	}
	nurse.get(at).wants(200, "Burn, reported 5 Mar 2026 to Dr. H. Lindqvist")
	if p := nurse.get(at + "/next"); strings.Contains(p.body, "Report the burn") {
		t.Error("a reported burn is still a task")
	}
}

// Who was told may be recorded with the test; half of it is asked for.
func TestABurnReportedWithTheTest(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/tests/new"
	nurse := s.as("dagny")
	f := fillTest(nurse.get(path).form(path), "24", "20", "21", "18").set("left-skin", "blister").set("told", "Dr. H. Lindqvist").set("told-at", "10:05")
	p := f.send().wants(422, "Enter the day on which Dr. H. Lindqvist was told")
	p = p.form(path).set("told", "").set("reported", "today").send().wants(422, "Enter who was told of the blister or burn")
	p = p.form(path).set("told", "Dr. H. Lindqvist").send().wants(200, "Told of the skin", "Dr. H. Lindqvist, 5 Mar 2026 10:05", "Skin sound before; collection 09:11 to 09:41")
	p.form(path).set("do", "save").send().wants(200, "Test saved")
	c := s.read(k.Reference)
	arm := c.SweatTests[1].Arms[0]
	a := s.protocol.Assess(&c, cases.MakeDay(2026, 3, 5))
	if arm.ReportedTo == "" || arm.SkinBefore != "sound" || a.Actions.Has(cases.ActReportReaction) {
		t.Errorf("arm %+v, actions %v", arm, a.Actions)
	}
}

// A form that was typed while the session ended is kept and sent again.
func TestATestTypedWhileSignedOutIsKept(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/tests/new"
	f := fillTest(s.as("dagny").get(path).form(path), "24", "46", "11", "")
	out := s.client() // the session has ended
	r, err := http.NewRequest(http.MethodPost, s.url+path, strings.NewReader(f.values.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	p := out.page(out.http.Do(r)).wants(401, "You were signed out", "Nothing was saved yet", "What you typed")
	kept := p.form(path).values
	for name, want := range map[string]string{"left-amount": "24", "left-again": "46", "right-skin": "none", "left-before": "sound", "weight": "3.64"} {
		if kept.Get(name) != want {
			t.Errorf("%s is %q, was %q", name, kept.Get(name), want)
		}
	}
}
