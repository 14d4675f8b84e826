package web_test

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// A CRMS/CFSPID infant of six months, closed, with its re-test due.
const docRetest = `{"document":"dunlin-case/1","infant":{"given":"Ida","family":"Tremayne","sex":"female","born":"2025-09-05","gestation":"39w0d","weights":[{"on":"2025-10-02","g":4100}]},
"referral":{"on":"2025-09-12","route":"screen"},"genotype":{"reported":"2025-09-12","scope":"sequencing","variants":[{"name":"F508del"},{"name":"D1152H"}]},
"contacts":[{"on":"2025-09-12","with":"primary-care","by":"phone","reached":true},{"on":"2025-09-12","with":"family","by":"phone","reached":true}],
"sweat_tests":[{"on":"2025-10-02","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":22,"chloride":41},{"side":"right","minutes":30,"amount_ul":25,"chloride":43}]}],
"closures":[{"on":"2025-10-06","as":"crms-cfspid","by":"Wren Castellano","agreed_by":"Ines Okafor-Lund","agreed_on":"2025-10-07","reason":"CF center","clinician":"Dr. H. Lindqvist","look_again":"2026-03-05","rests_on":["2025-10-02"]}]}`

// section is the part of the page from one id to the next.
func (p *page) section(from, to string) string {
	p.c.t.Helper()
	i, j := strings.Index(p.body, `id="`+from+`"`), strings.Index(p.body, `id="`+to+`"`)
	if i < 0 || j < i {
		p.c.t.Fatalf("no section from %s to %s", from, to)
	}
	return p.body[i:j]
}

func TestScheduleListsWhoIsToBeWeighed(t *testing.T) {
	s := newSite(t)
	gains := s.open(doc(docTwin, `"weights":[{"on":"2026-03-02","g":2900}]`, `"weights":[{"on":"2026-02-21","g":1600},{"on":"2026-03-01","g":1840}]`, `"plurality":2,"birth_order":1,`, ""))
	unknown := s.open(doc(docTwin, `,"weights":[{"on":"2026-03-02","g":2900}]`, "", `"plurality":2,"birth_order":1,`, "", "Drummond", "Easterly"))
	stays := s.open(doc(docTwin, `"weights":[{"on":"2026-03-02","g":2900}]`, `"weights":[{"on":"2026-02-21","g":1700},{"on":"2026-03-01","g":1710}]`, `"plurality":2,"birth_order":1,`, "", "Drummond", "Fenn"))
	s.open(docQNS)
	nurse := s.as("dagny")
	p := nurse.get("/schedule")
	list := strings.ReplaceAll(p.section("weigh", "retests"), "\u00a0", " ")
	for _, want := range []string{"3 to weigh", gains.Reference, unknown.Reference, stays.Reference,
		// 1840 g on 1 March, 30 g a day: 160/30 is 6 days. 8 days apart gives 56/8 = 7 g a
		// day more or less: 160/23 is 7 days, ln(2000/1840)/(37/1720) is 4 (numbers.md 4.5).
		"2.00 kg about 7 Mar 2026 (5 Mar 2026 to 8 Mar 2026)", "from its own gain of 30 g a day", "estimate, weigh on the day",
		"Not known", "Nothing to estimate from", "Not gaining", "1 g a day in its last weights; no day is estimated"} {
		if !strings.Contains(list, want) {
			t.Errorf("the list to weigh lacks %q", want)
		}
	}
	// A projection never makes ready: all three stand among those not ready.
	if ready := p.section("ready", "not-ready"); strings.Contains(ready, "/infants/") {
		t.Error("an infant without enough measured weight stands among the ready ones")
	}
	at := "/infants/" + gains.Reference + "/weights"
	p = nurse.get(at+"/new?from=schedule").form(at+"?from=schedule").set("weight", "2.01").send().wants(200, "Weight saved", "Ready now")
	if p.path != "/schedule" || !strings.Contains(p.section("ready", "not-ready"), gains.Reference) || strings.Contains(p.section("weigh", "retests"), gains.Reference) {
		t.Errorf("after weighing the page is %s", p.path)
	}
}

func TestScheduleSaysWhatARepeatIs(t *testing.T) {
	s := newSite(t)
	one := s.open(docQNS)
	two := s.open(doc(docQNS, `"sweat_tests":[`, `"sweat_tests":[{"on":"2026-02-08","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":8},{"side":"right","minutes":30,"amount_ul":11}]},`))
	inter := s.open(doc(docQNS, `"amount_ul":8`, `"amount_ul":22,"chloride":35`, `"amount_ul":11`, `"amount_ul":22,"chloride":36`))
	p := s.as("dagny").get("/schedule")
	list := strings.ReplaceAll(p.section("repeat", "ready"), "\u00a0", " ")
	for _, want := range []string{"Test 2. From 2 tests without a result on, consider something else. From 15 Feb 2026, due 21 Feb 2026.",
		"Test 3. From 15 Feb 2026", "2 tests gave no result. Consider, besides or instead of one more:", "Ask the doctor about fecal elastase", "Tell the supervisor", "A named person decides.",
		"Between 28 Feb 2026 and 15 Apr 2026, due 14 Mar 2026", "Ask for the CFTR report, or for sequencing"} {
		if !strings.Contains(list, want) {
			t.Errorf("the repeats lack %q", want)
		}
	}
	nurse := p.c
	nurse.get("/infants/"+two.Reference).wants(200, "Repeat test", "QNS on 14 Feb 2026", "Test 3", "Tell the supervisor", "Never on the day of the test before")
	nurse.get("/infants/"+inter.Reference).wants(200, "Between 28 Feb 2026 and 15 Apr 2026")
	for _, k := range []cases.Case{one, two, inter} {
		if !strings.Contains(list, k.Reference) {
			t.Errorf("%s is not due for a repeat", k.Reference)
		}
	}
}

func TestReTests(t *testing.T) {
	s := newSite(t)
	due := s.open(docRetest)
	soon := s.open(doc(docRetest, "Ida", "Pim", `"look_again":"2026-03-05"`, `"look_again":"2026-04-30"`))
	s.open(doc(docRetest, "Ida", "Later", `"look_again":"2026-03-05"`, `"look_again":"2026-05-01"`))
	nurse := s.as("dagny")
	list := strings.ReplaceAll(nurse.get("/schedule").section("retests", "booked"), "\u00a0", " ")
	for _, want := range []string{"2 in 8 weeks or late", due.Reference, soon.Reference, "due today", "in 56 days", "Intermediate on 2 Oct 2025", "After it the protocol lists 5 Sep 2026.", "8 years"} {
		if !strings.Contains(list, want) {
			t.Errorf("the re-tests lack %q", want)
		}
	}
	if strings.Contains(list, "Later") {
		t.Error("a re-test nine weeks ahead is listed")
	}
	nurse.get("/infants/"+due.Reference).wants(200, "Re-tests, CRMS/CFSPID", "Look again on 5 Mar 2026", "Book the re-test", "6 months")
	path := "/infants/" + due.Reference + "/book?from=schedule"
	p := nurse.get(path).wants(200, "Re-test.").form(path).set("on", "5 Mar 2026").set("at", "08:00").set("site", "heron-point").send().wants(200, "Booked")
	if today := p.section("today", "how"); !strings.Contains(today, due.Reference) || !strings.Contains(today, "Re-test") {
		t.Error("the re-test booked for today does not stand under today")
	}
	if !strings.Contains(p.section("retests", "booked"), "Thu 5\u00a0Mar") && !strings.Contains(p.section("retests", "booked"), "Thu 5 Mar 2026, 08:00") {
		t.Error("the list does not say that the re-test is booked")
	}
	// The result reopens the case; closing it again proposes the next day of the series.
	s.now = s.now.Add(3 * time.Hour)
	record := "/infants/" + due.Reference + "/tests/new"
	p = fillTest(nurse.get(record).wants(200, "Re-test.").form(record), "24", "46", "23", "44").set("weight", "7.2").set("site", "heron-point").send().wants(200, "Intermediate")
	p.form(record).set("do", "save").send().wants(200, "Test saved")
	k := s.read(due.Reference)
	if b := k.Bookings; len(b) != 1 || b[0].State != "kept" {
		t.Errorf("the booking of the re-test is %+v", b)
	}
	if a := s.protocol.Assess(ptr(s.read(due.Reference)), cases.DayOf(s.now)); a.Closed || a.ReopenedOn != cases.DayOf(s.now) || a.Next.Step != cases.StepDecide {
		t.Fatalf("after the re-test: closed %v, reopened %s, step %s", a.Closed, a.ReopenedOn, a.Next.Step)
	}
	wren := s.as("wren")
	at := "/infants/" + due.Reference + "/close"
	if p = wren.get(at); !strings.Contains(p.body, `value="5 Sep 2026"`) {
		t.Error("the form of closing does not propose the next day of the series")
	}
	p.form(at).set("as", "crms-cfspid").set("clinician", "Dr. H. Lindqvist").set("reason", "Intermediate again").send().wants(200, "Case closed")
	k = s.read(due.Reference)
	if last := k.Closures[len(k.Closures)-1]; last.LookAgain != cases.MakeDay(2026, 9, 5) || len(last.RestsOn) != 2 {
		t.Errorf("closed again: %+v", last)
	}
	if list := nurse.get("/schedule").section("retests", "booked"); strings.Contains(list, due.Reference) {
		t.Error("the infant tested today stands among the re-tests of the next 8 weeks")
	}
}

func ptr[T any](x T) *T { return &x }
