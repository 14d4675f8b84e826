package web_test

import (
	"context"
	"io"
	"mime"
	"net/http"
	"strings"
	"testing"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/server/web"

	ical "github.com/arran4/golang-ical"
)

// calendar downloads a calendar file and reads it with a parser that is not ours.
func (c *client) calendar(path string) (*ical.Calendar, map[string]string, http.Header) {
	c.t.Helper()
	res, err := c.http.Get(c.site.url + path)
	if err != nil {
		c.t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != 200 {
		c.t.Fatalf("%s: %d %v %s", path, res.StatusCode, err, body)
	}
	kind, params, err := mime.ParseMediaType(res.Header.Get("Content-Type"))
	if err != nil || kind != "text/calendar" {
		c.t.Fatalf("%s: %s %v", path, res.Header.Get("Content-Type"), err)
	}
	cal, err := ical.ParseCalendar(strings.NewReader(string(body)))
	if err != nil {
		c.t.Fatalf("%s: %v in %s", path, err, body)
	}
	for _, word := range []string{"sweat", "cystic", "CF ", "chloride", "Oyelaran", "Tobias", "Light", "Vanterpool"} {
		if strings.Contains(strings.ToLower(string(body)), strings.ToLower(word)) {
			c.t.Errorf("%s names %q:\n%s", path, word, body)
		}
	}
	return cal, params, res.Header
}

func eventOf(t *testing.T, cal *ical.Calendar, n int) *ical.VEvent {
	t.Helper()
	if len(cal.Events()) != n {
		t.Fatalf("%d events, want %d", len(cal.Events()), n)
	}
	return cal.Events()[0]
}

func property(e *ical.VEvent, name ical.ComponentProperty) string {
	if p := e.GetProperty(name); p != nil {
		return p.Value
	}
	return ""
}

// organized gives the program a mailbox, so that its files have a method, and a zone
// with a name.
func organized(d *web.Deps) {
	d.Organizer = booking.Mailbox{Name: "Alder Bay follow-up", Address: "follow-up@alderbay.example"}
}

// The family's file is a request while the booking stands and a cancellation of the
// same appointment afterwards; a move keeps its identity and raises its sequence.
func TestFamilyCalendar(t *testing.T) {
	s := newSite(t, organized)
	day := session(cases.MakeDay(2026, 3, 6))
	day.Places = 4
	s.withSessions(alderBay, day)
	k := s.open(doc(docQNS, `"letters":true`, `"letters":true,"email":"family@x.example"`, `"language":"en"`, `"language":"en","consents":[{"channel":"email","on":"2026-02-01"}]`))
	desk, nurse := booking.NewDesk(s.db, s.protocol), cases.Actor{ID: "dagny@x.example", Name: "Dagny Achterberg", Role: cases.Nurse}
	ctx, on := context.Background(), cases.MakeDay(2026, 3, 6)
	must := func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	must(desk.Book(ctx, nurse, booking.Ask{Case: k.ID, Site: "alder-bay", On: on, At: "09:30"}))
	c, at := s.as("dagny"), "/infants/"+k.Reference+"/bookings/"
	c.get("/infants/"+k.Reference).wants(200, "Calendar file", "The session")
	cal, params, head := c.calendar(at + "0/calendar.ics")
	first := eventOf(t, cal, 1)
	if params["method"] != "REQUEST" || params["component"] != "VEVENT" || !strings.Contains(head.Get("Content-Disposition"), `attachment; filename="appointment-2026-03-06.ics"`) {
		t.Errorf("headers %v %v", params, head)
	}
	uid := property(first, ical.ComponentPropertyUniqueId)
	if uid == "" || property(first, ical.ComponentPropertyStatus) != "CONFIRMED" || !strings.Contains(property(first, ical.ComponentPropertyAttendee), "family@x.example") ||
		property(first, ical.ComponentPropertySummary) != "Appointment" {
		t.Errorf("event %+v", first)
	}
	must(desk.Move(ctx, nurse, 0, booking.Ask{Case: k.ID, Site: "alder-bay", On: on, At: "10:10", Reason: "The family asked"}))
	for _, i := range []string{"0", "1"} { // the old address gives the appointment as it stands now
		cal, _, _ = c.calendar(at + i + "/calendar.ics")
		e := eventOf(t, cal, 1)
		if property(e, ical.ComponentPropertyUniqueId) != uid || property(e, ical.ComponentPropertySequence) != "1" || !strings.HasSuffix(property(e, ical.ComponentPropertyDtStart), "T101000") {
			t.Errorf("after the move %s: %+v", i, e)
		}
	}
	must(desk.Cancel(ctx, nurse, k.ID, 0, 1, "The family asked"))
	cal, params, _ = c.calendar(at + "1/calendar.ics")
	if e := eventOf(t, cal, 1); params["method"] != "CANCEL" || property(e, ical.ComponentPropertyStatus) != "CANCELLED" || property(e, ical.ComponentPropertySequence) != "2" {
		t.Errorf("after the cancellation: %v %+v", params, e)
	}
}

// The clinic's file has every place of the session, by case number; a booking that no desk
// made has no calendar file, and says why.
func TestClinicCalendar(t *testing.T) {
	s, placed, hand, light := clinicDay(t)
	c := s.as("dagny")
	cal, params, _ := c.calendar(friday + "/calendar.ics")
	eventOf(t, cal, 2)
	if params["method"] != "" {
		t.Errorf("a file without organizer has the method %s", params["method"])
	}
	said := cal.Serialize()
	for _, k := range []cases.Case{placed, light} {
		if !strings.Contains(strings.ReplaceAll(said, "\r\n ", ""), k.Reference) {
			t.Errorf("%s is missing in %s", k.Reference, said)
		}
	}
	c.get("/infants/"+hand.Reference+"/bookings/0/calendar.ics").wants(409, "no identity in calendars")
	desk, nurse := booking.NewDesk(s.db, s.protocol), cases.Actor{ID: "dagny@x.example", Name: "Dagny Achterberg", Role: cases.Nurse}
	if _, err := desk.Cancel(t.Context(), nurse, light.ID, 0, 0, "ill"); err != nil {
		t.Fatal(err)
	}
	cal, _, _ = c.calendar(friday + "/calendar.ics")
	eventOf(t, cal, 2)
	if n := strings.Count(cal.Serialize(), "STATUS:CANCELLED"); n != 1 {
		t.Errorf("%d cancelled appointments, want 1", n)
	}
}
