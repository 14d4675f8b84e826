package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// A pair of twins, both untested; B is second.
const docTwin = `{"document":"dunlin-case/1","infant":{"given":"Baby A","family":"Drummond","sex":"female","born":"2026-02-09","plurality":2,"birth_order":1,"gestation":"37w0d","weights":[{"on":"2026-03-02","g":2900}]},
"referral":{"on":"2026-02-16","route":"screen"},
"contacts":[{"on":"2026-02-16","with":"primary-care","by":"phone","reached":true},{"on":"2026-02-17","with":"family","by":"phone","reached":true}]}`

func TestScheduleSortsInfantsIntoItsTables(t *testing.T) {
	s := newSite(t)
	repeat := s.open(docQNS)
	booked := s.open(docBooked)
	ready := s.open(docTwin)
	young := s.open(doc(docTwin, `"born":"2026-02-09"`, `"born":"2026-02-25"`, "2026-02-16", "2026-02-27", "2026-02-17", "2026-02-27", `"weights":[{"on":"2026-03-02","g":2900}]`, `"birth_weight_g":3100`, "Drummond", "Easterly"))
	p := s.as("dagny").get("/schedule").wants(200, "Due for repeat", "QNS on 14 Feb 2026, repeat due 21 Feb 2026", "12 days late")
	at := func(text string) int { return strings.Index(p.body, text) }
	order := []string{`id="repeat"`, "/infants/" + repeat.Reference + `"`, `id="ready"`, "/infants/" + ready.Reference + `"`, `id="not-ready"`, "/infants/" + young.Reference + `"`, `id="booked"`, "/infants/" + booked.Reference + `"`}
	for i := 1; i < len(order); i++ {
		if at(order[i]) < at(order[i-1]) || at(order[i]) < 0 {
			t.Errorf("%s is not behind %s", order[i], order[i-1])
		}
	}
	if strings.Count(p.body, booked.Reference) != strings.Count(p.body[at(`id="booked"`):], booked.Reference) {
		t.Error("a booked infant stands among those without a booking")
	}
}

func TestBookARepeatFromTheSchedule(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	nurse := s.as("dagny")
	path := "/infants/" + k.Reference + "/book?from=schedule"
	p := nurse.get(path).wants(200, "Repeat, QNS on 14 Feb 2026", "Ready now")
	p = p.form(path).set("on", "+1d").set("at", "0940").set("site", "heron-point").send()
	p.wants(200, "Booked", "OYELARAN, Tobias", "Fri 6 Mar 2026, 09:40, Heron Point Children's")
	if p.path != "/schedule" {
		t.Errorf("after booking from the schedule the page is %s", p.path)
	}
	b := s.read(k.Reference).Bookings
	if len(b) != 1 || b[0].On != cases.MakeDay(2026, 3, 6) || b[0].At != "09:40" || b[0].State != "booked" || b[0].By != "Dagny Achterberg" {
		t.Errorf("bookings %+v", b)
	}
}

//asvs:2.2.2
func TestBookingNamesEachFaultAndKeepsWhatWasTyped(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	path := "/infants/" + k.Reference + "/book"
	p := s.as("dagny").get(path).form(path).set("on", "03/05/2026").set("at", "25:00").set("site", "").send()
	p.wants(422, "There is a problem", "03/05/2026 can mean", "Time must be a time", "Select the test site")
	if !strings.Contains(p.body, `value="03/05/2026"`) || !strings.Contains(p.body, `value="25:00"`) {
		t.Error("what was typed is lost")
	}
	p = p.form(path).set("on", "9 Mar 2026").set("at", "09:00").set("site", "alder-bay").send()
	p.wants(422, "Ezra is booked already: Fri 6 Mar 2026, 09:30, Alder Bay CF Clinic. Move that booking instead")
}

// A booking by hand before the infant is ready is refused, as that of a place is, until
// a named person answers for it.
func TestBookingByHandBeforeReadyNeedsANamedPerson(t *testing.T) {
	s := newSite(t)
	k := s.open(doc(docTwin, `"weights":[{"on":"2026-03-02","g":2900}]`, `"weights":[{"on":"2026-03-02","g":1700}]`, `"plurality":2,"birth_order":1,`, ""))
	path := "/infants/" + k.Reference + "/book"
	nurse := s.as("dagny")
	p := nurse.get(path).wants(200, "estimate, weigh on the day").form(path).set("on", "6 Mar 2026").set("at", "09:00").set("site", "alder-bay").send()
	p.wants(422, "is not ready on Fri 6 Mar 2026: last weighed 1700 g on Mon 2 Mar 2026, 2000 g are needed", "Who decided")
	if !strings.Contains(p.body, `value="6 Mar 2026"`) {
		t.Error("what was typed is lost")
	}
	p = p.form(path).set("override-reason", "The CF center asked").send().wants(422, "Enter the name of the person who decided")
	p = p.form(path).set("override-by", "Dr. Invented").send()
	p.wants(200, "Booked")
	if b := s.read(k.Reference).Bookings; len(b) != 1 || b[0].OverrideBy != "Dr. Invented" || b[0].OverrideReason != "The CF center asked" || b[0].UID == "" {
		t.Errorf("bookings %+v", b)
	}
}

// link makes two cases name each other.
func (s *site) link(a, b cases.Case) {
	s.t.Helper()
	s.update(func(w cases.Writer) error {
		for i, x := range []cases.Case{a, b} {
			x.Siblings = []string{[]cases.Case{b, a}[i].Reference}
			if _, err := w.PutCase(x, cases.Event{Kind: "sibling-linked"}); err != nil {
				return err
			}
		}
		return nil
	})
}

func TestTwinsGetDifferentTimes(t *testing.T) {
	s := newSite(t)
	a := s.open(docTwin)
	b := s.open(doc(docTwin, "Baby A", "Baby B", `"birth_order":1`, `"birth_order":2`))
	s.link(a, b)
	path := "/infants/" + a.Reference + "/book"
	nurse := s.as("dagny")
	p := nurse.get(path).wants(200, "The other infant: DRUMMOND, Baby B")
	p = p.form(path).set("on", "9 Mar 2026").set("at", "13:00").set("site", "alder-bay").set("sibling-at", "13:00").send()
	p.wants(422, "Twins need different times")
	p.form(path).set("sibling-at", "").send().wants(200, "DRUMMOND, Baby A", "13:00", "DRUMMOND, Baby B", "13:40")
	x, y := s.read(a.Reference).Bookings, s.read(b.Reference).Bookings
	if len(x) != 1 || len(y) != 1 || x[0].At == y[0].At || x[0].On != y[0].On {
		t.Errorf("twins are booked %+v and %+v", x, y)
	}
}

func TestMoveCancelMissedAndKept(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	nurse := s.as("dagny")
	at := "/infants/" + k.Reference + "/bookings/0"
	p := nurse.get(at+"/move").wants(200, "This booking is given up").form(at+"/move").set("on", "5 Mar 2026").set("at", "08:00").send()
	p = p.wants(422, "Enter why the booking moves").form(at+"/move").set("why", "The family asked").send()
	p.wants(200, "Booking moved")
	if b := s.read(k.Reference).Bookings; len(b) != 2 || b[0].State != "cancelled" || b[1].State != "booked" {
		t.Fatalf("bookings after the move %+v", b)
	}
	nurse.get("/schedule").wants(200, "Not recorded yet")
	missed := "/infants/" + k.Reference + "/bookings/1/missed?from=schedule"
	p = nurse.get(missed).form(missed).send().wants(422, "Select why the family did not come").form(missed).set("reason", "no-word").send()
	p.wants(200, "Marked as missed", "Book another day")
	if b := s.read(k.Reference).Bookings; b[1].State != "missed" || b[1].Reason != "Nobody came, no word from the family" || p.path != "/schedule" {
		t.Errorf("booking after missed %+v on %s", b[1], p.path)
	}
	book := "/infants/" + k.Reference + "/book"
	nurse.get(book).form(book).set("on", "6 Mar 2026").set("at", "09:00").set("site", "alder-bay").send().wants(200, "Booked")
	cancel := "/infants/" + k.Reference + "/bookings/2/cancel"
	p = nurse.get(cancel).form(cancel).send()
	p = p.wants(422, "Select why the booking is cancelled").form(cancel).set("reason", "other").send()
	p = p.wants(422, "Enter the reason in words").form(cancel).set("words", "Snow").send()
	p.wants(200, "Booking cancelled")
	if b := s.read(k.Reference).Bookings; b[2].State != "cancelled" || b[2].Reason != "Another reason: Snow" {
		t.Errorf("booking after cancelling %+v", b[2])
	}
	for _, old := range []string{"/move", "/cancel", "/missed"} { // the way back to a page of before
		nurse.get("/infants/"+k.Reference+"/bookings/2"+old).wants(409, "That booking is cancelled already")
	}
}

//asvs:15.4.2
func TestSecondOfTwoEditorsKeepsWhatTheyTyped(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/book"
	dagny, wren := s.as("dagny"), s.as("wren")
	mine := dagny.get(path).form(path).set("on", "9 Mar 2026").set("at", "09:40").set("site", "alder-bay")
	wren.get(path).form(path).set("on", "10 Mar 2026").set("at", "10:00").set("site", "alder-bay").send().wants(200, "Booked")
	p := mine.send()
	if p.status != 422 && p.status != 409 {
		t.Fatalf("status %d", p.status)
	}
	if !strings.Contains(p.body, "9 Mar 2026") || len(s.read(k.Reference).Bookings) != 1 {
		t.Error("the second booking was written, or what was typed is lost")
	}
}

func TestAnEditConflictShowsBothVersions(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/book"
	mine := s.as("dagny").get(path).form(path).set("on", "9 Mar 2026").set("at", "09:40").set("site", "alder-bay")
	log := "/infants/" + k.Reference + "/contacts"
	wren := s.as("wren")
	wren.get(log+"/new").form(log).set("outcome", "no answer").send()
	p := mine.send().wants(409, "Wren Castellano", "9 Mar 2026", "09:40")
	if len(s.read(k.Reference).Bookings) != 0 {
		t.Fatal("the stale booking was written")
	}
	p.form(path).send().wants(200, "Booked")
	if b := s.read(k.Reference).Bookings; len(b) != 1 || b[0].At != "09:40" {
		t.Errorf("bookings after sending mine again %+v", b)
	}
}

//asvs:2.3.4
func TestADoubleClickBooksOnce(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	path := "/infants/" + k.Reference + "/book"
	f := s.as("dagny").get(path).form(path).set("on", "9 Mar 2026").set("at", "09:40").set("site", "alder-bay")
	f.send().wants(200, "Booked")
	f.send()
	if b := s.read(k.Reference).Bookings; len(b) != 1 {
		t.Errorf("%d bookings", len(b))
	}
}

// Nobody is asked for a day for an infant whose case has ended.
func TestNoBookingPageAfterTheEnd(t *testing.T) {
	s := newSite(t)
	died := s.open(doc(docTwin, `"sex":"female"`, `"sex":"female","died":"2026-03-04"`, `"plurality":2,"birth_order":1,`, ""))
	declined := s.open(doc(docTwin, `"plurality":2,"birth_order":1,`, "", `{"document":"dunlin-case/1",`, `{"document":"dunlin-case/1","declined":{"on":"2026-03-03","by_whom":"the mother"},`, "Drummond", "Easterly"))
	nurse := s.as("dagny")
	p := nurse.get("/infants/"+died.Reference+"/book").wants(409, "The death of this infant is recorded. Nothing is booked")
	if strings.Contains(p.body, "Can the infant be tested") {
		t.Error("it is asked whether an infant who died can be tested")
	}
	nurse.get("/infants/"+declined.Reference+"/book").wants(409, "declined the test")
}
