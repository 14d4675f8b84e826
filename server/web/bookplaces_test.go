package web_test

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/server/web"
)

// session is one at alder-bay with 2 places of 40 minutes from 09:30.
func session(on cases.Day) booking.Session {
	return booking.Session{Site: "alder-bay", On: on, Start: "09:30", Places: 2, Minutes: 40}
}

func TestAnOfferedPlaceIsBooked(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)), session(cases.MakeDay(2026, 3, 9)))
	k := s.open(docQNS)
	nurse, at := s.as("dagny"), "/infants/"+k.Reference
	nurse.get("/schedule").wants(200, "Clinic sessions", "Fri 6 Mar 2026 , 09:30 to 10:50", "2 of 2 free")
	p := nurse.get(at+"/book?from=schedule").wants(200, "Earliest places that fit", "Fri 6 Mar 2026, 09:30, Alder Bay Sweat Laboratory", "Fri 6 Mar 2026, 10:10", "Mon 9 Mar 2026, 09:30", "A site without sessions, by hand", "Before every test")
	form := p.form(at + "/place?from=schedule")
	if form.values.Get("place") != "alder-bay 2026-03-06 09:30" {
		t.Fatalf("the first offer is %v", form.values)
	}
	p = form.send().wants(200, "Booked", "OYELARAN, Tobias", "Fri 6 Mar 2026, 09:30, Alder Bay Sweat Laboratory")
	p.wants(200, "1 of 2 free")
	if p.path != "/schedule" {
		t.Errorf("after booking the page is %s", p.path)
	}
	b := s.read(k.Reference).Bookings
	if len(b) != 1 || b[0].Session != "alder-bay-2026-03-06-0930" || b[0].UID == "" || b[0].By != "Dagny Achterberg" {
		t.Fatalf("bookings %+v", b)
	}
	move := at + "/bookings/0"
	p = nurse.get(move+"/move").wants(200, "This booking is given up", "Fri 6 Mar 2026, 10:10")
	p = p.form(move+"/place").set("place", "alder-bay 2026-03-09 10:10").send().wants(422, "Enter why the booking moves", "Mon 9 Mar 2026, 10:10, Alder Bay Sweat Laboratory", "Not booked yet")
	p.form(move+"/place").set("why", "The family asked").send().wants(200, "Booking moved", "Mon 9 Mar 2026, 10:10")
	b = s.read(k.Reference).Bookings
	if len(b) != 2 || b[0].State != "cancelled" || b[1].UID != b[0].UID || b[1].Sequence != 1 || b[1].Reason != "The family asked" {
		t.Fatalf("bookings after the move %+v", b)
	}
	cancel := at + "/bookings/1/cancel"
	nurse.get(cancel).form(cancel).set("reason", "family").send().wants(200, "Booking cancelled")
	if b = s.read(k.Reference).Bookings; b[1].State != "cancelled" || b[1].Sequence != 2 {
		t.Errorf("booking after cancelling %+v", b[1])
	}
}

// A place that somebody took meanwhile is refused with the next that fits.
func TestAPlaceThatIsGoneNamesTheNext(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)))
	k, other := s.open(docQNS), s.open(doc(docTwin, `"plurality":2,"birth_order":1,`, ""))
	at := "/infants/" + k.Reference
	mine := s.as("dagny").get(at + "/book").form(at + "/place")
	wren, path := s.as("wren"), "/infants/"+other.Reference
	wren.get(path+"/book").form(path+"/place").send().wants(200, "Booked", "Fri 6 Mar 2026, 09:30")
	p := mine.send().wants(409, "That place was taken a moment ago. The next fitting place is Fri 6 Mar 2026, 10:10, Alder Bay Sweat Laboratory")
	p.form(at+"/place").send().wants(200, "Booked", "Fri 6 Mar 2026, 10:10")
	p = wren.get(at+"/book").wants(200, "No place is looked for")
	if strings.Contains(p.body, "alder-bay 2026-03-06") {
		t.Error("a taken place is offered")
	}
}

func TestAPlaceBeforeReadyNeedsANamedPerson(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)))
	k := s.open(doc(docTwin, `"weights":[{"on":"2026-03-02","g":2900}]`, `"weights":[{"on":"2026-03-02","g":1700}]`, `"plurality":2,"birth_order":1,`, ""))
	at := "/infants/" + k.Reference
	nurse := s.as("dagny")
	p := nurse.get(at+"/book").wants(200, "Another free place")
	p = p.form(at+"/place").set("place", "alder-bay 2026-03-06 10:10").send()
	p = p.wants(422, k.Reference+" is not ready on Fri 6 Mar 2026", "last weighed 1700 g", "Who decided", "Not booked yet")
	p = p.form(at+"/place").set("override-by", "Dr. Lindqvist, neonatology").send().wants(422, "Enter why the infant is booked all the same")
	f := p.form(at + "/place")
	if f.values.Get("override-by") != "Dr. Lindqvist, neonatology" || f.values.Get("place") != "alder-bay 2026-03-06 10:10" {
		t.Errorf("what was typed is lost: %v", f.values)
	}
	f.set("override-reason", "Two siblings with CF").send().wants(200, "Booked", "10:10")
	b := s.read(k.Reference).Bookings
	if len(b) != 1 || b[0].OverrideBy != "Dr. Lindqvist, neonatology" || b[0].OverrideReason != "Two siblings with CF" {
		t.Errorf("bookings %+v", b)
	}
}

func TestTwinsAreBookedInPlacesThatFollow(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 9)))
	a := s.open(docTwin)
	b := s.open(doc(docTwin, "Baby A", "Baby B", `"birth_order":1`, `"birth_order":2`))
	s.link(a, b)
	at := "/infants/" + b.Reference
	p := s.as("dagny").get(at+"/book").wants(200, "Twins: DRUMMOND, Baby A", "Mon 9 Mar 2026, 09:30, Alder Bay Sweat Laboratory, and 10:10 for the twin")
	p.form(at+"/place").send().wants(200, "Booked", "DRUMMOND, Baby A", "DRUMMOND, Baby B")
	x, y := s.read(a.Reference).Bookings, s.read(b.Reference).Bookings
	if len(x) != 1 || len(y) != 1 || x[0].At == y[0].At || x[0].Session != y[0].Session {
		t.Errorf("bookings %+v and %+v", x, y)
	}
}

// A site with sessions is never booked by hand, so that its places are not exceeded;
// another site is.
func TestByHandOnlyWhereThereAreNoSessions(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay, session(cases.MakeDay(2026, 3, 6)))
	k := s.open(docQNS)
	at := "/infants/" + k.Reference
	p := s.as("dagny").get(at + "/book")
	p.form(at+"/book").set("on", "6 Mar 2026").set("at", "09:30").set("site", "alder-bay").send().wants(422, "Alder Bay Sweat Laboratory has sessions. Select one of its places")
	p.form(at+"/place").set("place", "nowhere").send().wants(422, "Select a place")
	p.form(at+"/place").set("rev", "").send().wants(422, "The page was sent without its version")
	p.form(at+"/place").set("place", "alder-bay 2026-03-06 09:35").send().wants(409, "no session with a place on Fri 6 Mar 2026 at 09:35")
	p.form(at+"/book").set("on", "6 Mar 2026").set("at", "09:30").set("site", "heron-point").send().wants(200, "Booked")
}

// With a file of postal codes the nearer site comes first on a day, and the way is told;
// a family whose code is not known is told no way.
func TestTheWayIsToldByPostalCode(t *testing.T) {
	s := newSite(t, func(d *web.Deps) {
		d.Centroids = booking.Centroids{"00501": {Lat: 45, Lon: -90}, "00502": {Lat: 45.1, Lon: -90}, "00503": {Lat: 46, Lon: -90}}
	})
	near, far := alderBay, alderBay
	near.Key, near.Name, near.Postal, far.Postal = "tern-island", "Tern Island Laboratory", "00502", "00503"
	s.withSessions(far, session(cases.MakeDay(2026, 3, 6)))
	at := session(cases.MakeDay(2026, 3, 6))
	at.Site = near.Key
	s.withSessions(near, at)
	k := s.open(doc(docQNS, `"letters":true`, `"letters":true,"address":{"lines":["1 Reed Street"],"postal":"00501"}`))
	p := s.as("dagny").get("/infants/"+k.Reference+"/book").wants(200, "Fri 6 Mar 2026, 09:30, Tern Island Laboratory", "About 11 km from the family in a straight line", "About 111 km")
	if strings.Index(p.body, "Tern Island") > strings.Index(p.body, "Alder Bay Sweat Laboratory") {
		t.Error("the farther site comes first")
	}
	unknown := s.open(doc(docQNS, "Tobias", "Taio"))
	if p := s.as("dagny").get("/infants/" + unknown.Reference + "/book"); strings.Contains(p.body, " km from") {
		t.Error("a way is told that nobody knows")
	}
}

// A session that has ended offers nothing, and is not shown as if it did; today's stays
// on the page for what is still to be recorded.
func TestASessionThatIsOver(t *testing.T) {
	s := newSite(t)
	early, late := session(cases.MakeDay(2026, 3, 5)), session(cases.MakeDay(2026, 3, 5))
	late.Start = "13:00"
	s.withSessions(alderBay, early, late)
	s.now = s.now.Add(2*time.Hour + 9*time.Minute) // 10:50, the end of the first
	p := s.as("dagny").get("/schedule").wants(200, "13:00 to 14:20", "2 of 2 free", "09:30 to 10:50", "Over, none booked")
	if strings.Count(p.body, "2 of 2 free") != 1 {
		t.Error("a session that is over is shown as if it had free places")
	}
	s.as("wren").get("/settings/sites/alder-bay/sessions").wants(200, "Over", "2 of 2 free")
}
