package web_test

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
)

const friday = "/sessions/alder-bay/2026-03-06/alder-bay-2026-03-06-0930"

// clinicDay is a site with a session on Friday 6 March 2026, 09:30, four places of 40
// minutes, the last kept for repeats, and three infants booked in it: one with a place,
// one by hand before the session was made, one that is not ready with a named override.
func clinicDay(t *testing.T) (s *site, placed, hand, light cases.Case) {
	s = newSite(t)
	x := alderBay
	x.Accepts.Collectors = []string{"tubing"}
	day := session(cases.MakeDay(2026, 3, 6))
	day.Places, day.ForRepeats, day.Note = 4, 1, "room 4"
	s.withSessions(x, day)
	placed = s.open(doc(docQNS, `"language":"en"`, `"language":"es","interpreter":true`))
	light = s.open(doc(docTwin, `"weights":[{"on":"2026-03-02","g":2900}]`, `"weights":[{"on":"2026-02-23","g":1720},{"on":"2026-03-02","g":1850}]`, `"plurality":2,"birth_order":1,`, "", "Drummond", "Light"))
	hand = s.open(doc(docBooked, "09:30", "10:10"))
	desk := booking.NewDesk(s.db, s.protocol)
	nurse := cases.Actor{ID: "dagny@x.example", Name: "Dagny Achterberg", Role: cases.Nurse}
	on := cases.MakeDay(2026, 3, 6)
	if _, err := desk.Book(t.Context(), nurse, booking.Ask{Case: placed.ID, Site: "alder-bay", On: on, At: "09:30"}); err != nil {
		t.Fatal(err)
	}
	if _, err := desk.Book(t.Context(), nurse, booking.Ask{Case: light.ID, Site: "alder-bay", On: on, At: "10:50",
		Override: &booking.Override{By: "Dr. Invented", Reason: "Two variants run in the family"}}); err != nil {
		t.Fatal(err)
	}
	return s, placed, hand, light
}

func TestASessionShowsWhoComes(t *testing.T) {
	s, placed, hand, light := clinicDay(t)
	nurse := s.as("dagny")
	nurse.get("/schedule").wants(200, "Clinic sessions")
	p := nurse.get(friday).wants(200, "Alder Bay Sweat Laboratory, Friday 6 March 2026", "09:30 to 12:10", "1 of 4 free, 1 kept for repeats", "Room 4.",
		"Repeat, QNS on 14 Feb 2026", "Interpreter needed: Spanish", "Not ready that day as far as is known: last weighed 1850 g on Mon 2 Mar 2026, 2000 g are needed; weigh again",
		"Booked all the same by decision of Dr. Invented: Two variants run in the family.", "Free, kept for repeats", "Record test", "Calendar file")
	at := 0
	for _, want := range []string{placed.Reference, hand.Reference, light.Reference, "Free, kept for repeats"} {
		i := strings.Index(p.body[at:], want)
		if i < 0 {
			t.Fatalf("%s is missing or out of order", want)
		}
		at += i
	}
	if strings.Contains(p.body, ">Kept<") || strings.Contains(p.body, "/missed") {
		t.Error("kept and missed are offered the day before")
	}
	// A moved booking leads back to the session and leaves its place free.
	path := "/infants/" + hand.Reference + "/bookings/0/cancel?from=" + friday
	p = nurse.get(path).form(path).set("reason", "travel").send()
	if p.path != friday {
		t.Errorf("after cancelling from the session the page is %s", p.path)
	}
	p.wants(200, "2 of 4 free")
	nurse.get("/sessions/alder-bay/2026-03-06?at=09:30").wants(200, "Friday 6 March 2026")
	for _, bad := range []string{"/sessions/alder-bay/2026-03-06/none", "/sessions/alder-bay/today/x", "/sessions/nowhere/2026-03-06/x"} {
		nurse.get(bad).wants(404)
	}
	s.as("ines").get(friday).wants(403)
}

// A cancelled session offers no place, and the history of an infant says days as elsewhere.
func TestACancelledSessionHasNoFreePlace(t *testing.T) {
	s := newSite(t)
	day := session(cases.MakeDay(2026, 3, 6))
	day.Cancelled = true
	s.withSessions(alderBay, day)
	if body := s.as("dagny").get(friday).wants(200, "Cancelled", "None of").body; strings.Contains(body, "2 of 2 free") {
		t.Error("it counts free places")
	}
	k, placed, _, _ := clinicDay(t)
	if body := k.as("wren").get("/infants/"+placed.Reference).wants(200, "Test booked for").body; strings.Contains(body, "Test booked for 2026-") {
		t.Error("the infant's page says a day as the store does")
	}
}

func TestWhoMissedStaysOnTheSessionAndCanBePutRight(t *testing.T) {
	s, placed, _, _ := clinicDay(t)
	s.now = s.now.Add(24*time.Hour + time.Hour) // Friday 09:41
	nurse := s.as("dagny")
	p := nurse.get(friday).wants(200, "Not recorded yet")
	path := "/infants/" + placed.Reference + "/bookings/0"
	p.form(path + "/kept?from=" + friday)
	p = nurse.get(path+"/missed?from="+friday).form(path+"/missed?from="+friday).set("reason", "other").send().wants(422, "Enter the reason in words")
	p = p.form(path+"/missed?from="+friday).set("words", "Car broke down").send().wants(200, "Marked as missed", "Missed", "Came after all")
	if b := s.read(placed.Reference).Bookings[0]; b.State != "missed" || b.Reason != "Another reason: Car broke down" {
		t.Errorf("%+v", b)
	}
	p.form(path+"/kept?from="+friday).send().wants(200, "Marked as kept", "Kept, no test recorded")
	if b := s.read(placed.Reference).Bookings[0]; b.State != "kept" {
		t.Errorf("%+v", b)
	}
	// A page that somebody else overtook marks nothing.
	stale := p.form(path + "/kept?from=" + friday).send()
	if stale.status != 409 {
		t.Errorf("a stale mark is answered with %d", stale.status)
	}
}

// The day sheet says of each infant what the session's nurse must know, and leaves room
// for the rest.
func TestDaySheet(t *testing.T) {
	s, placed, _, light := clinicDay(t)
	p := s.as("dagny").get(friday+"/day-sheet").wants(200, "Day sheet: Friday 6 March 2026, 09:30 to 12:10", "Alder Bay Sweat Laboratory, 3 Harbor Way, Alder Bay, 555-0163. Room 4. Collector: microbore tubing.",
		"3 infants.", "Printed 5 Mar 2026, 08:41, by Dagny Achterberg", "Local protocol and licensed practice come first", "least amount 15 µL for each arm in 30 minutes", "never across the chest",
		"OYELARAN, Tobias", "Born 21 Jan 2026 (44 days that day; corrected 43 weeks)", placed.Reference, "Repeat, attempt 2: QNS on 14 Feb 2026", "Interpreter needed: Spanish",
		light.Reference, "Last weighed 1.85 kg on 2 Mar 2026", "About 1.92 kg that day: estimate, weigh on the day", "Not ready as far as is known: last weighed 1850 g", "Dr. Invented",
		"Amount, µL", "implanted device", "one limb at a time", "Name and birth date said by the parent", "shred after entry", "Signed")
	if strings.Contains(p.body, "F508del") {
		t.Error("a variant stands on the day sheet")
	}
	s.as("ines").get(friday + "/day-sheet").wants(403)
}

// A visit whose test is recorded says what came of it, and is not called the repeat
// that follows it.
func TestAVisitThatIsOverSaysWhatCameOfIt(t *testing.T) {
	s, placed, _, _ := clinicDay(t)
	s.now = s.now.Add(26 * time.Hour) // Friday 10:41
	amount, c := 4.0, s.read(placed.Reference)
	_, err := cases.NewDesk(s.db, s.protocol).RecordTest(t.Context(), cases.Actor{Name: "D", Role: cases.Nurse}, c.ID, c.Rev, cases.SweatTest{On: cases.DayOf(s.now), Collector: "tubing",
		Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountUL: &amount, Reaction: "none"}, {Side: "right", Minutes: 30, AmountUL: &amount, Reaction: "none"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{friday, friday + "/day-sheet", "/schedule"} {
		p := s.as("dagny").get(path).wants(200, "Tested that day: QNS")
		if path != "/schedule" && strings.Contains(p.body, "QNS on 6 Mar") {
			t.Errorf("%s: the visit is called the repeat after it", path)
		}
	}
}

// Bookings of a site without sessions have a list and a sheet of their own.
func TestBookedByHandHasADaySheet(t *testing.T) {
	s := newSite(t)
	k := s.open(docBooked)
	nurse := s.as("dagny")
	nurse.get("/sessions/alder-bay/2026-03-06?at=09:30").wants(200, "Booked by hand, outside of sessions: 1 infant.", k.Reference)
	nurse.get("/sessions/alder-bay/2026-03-06/by-hand/day-sheet").wants(200, "booked by hand", "VANTERPOOL, Ezra", "Amount, µL or mg")
}

// A session that the site cancelled says that its bookings must move.
func TestACancelledSessionSaysSo(t *testing.T) {
	s, placed, _, _ := clinicDay(t)
	s.update(func(w cases.Writer) error {
		k, err := booking.SessionByID(w, "alder-bay", cases.MakeDay(2026, 3, 6), "alder-bay-2026-03-06-0930")
		if err != nil {
			return err
		}
		k.Cancelled = true
		return booking.PutSessions(w, s.protocol, k)
	})
	nurse := s.as("dagny")
	nurse.get(friday).wants(200, "Cancelled", "moved by hand", placed.Reference)
	nurse.get(friday+"/day-sheet").wants(200, "This session does not take place")
}
