package web_test

import (
	"bytes"
	"context"
	"fmt"
	"mime/multipart"
	"net/http"
	"strings"
	"testing"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
)

// alderBay is a site as the store keeps it; sessions are added by withSessions.
var alderBay = booking.Site{Key: "alder-bay", Name: "Alder Bay Sweat Laboratory", Address: "3 Harbor Way, Alder Bay", Phone: "555-0163", Languages: []string{"es"}}

// withSessions puts sites and sessions into the store.
func (s *site) withSessions(x booking.Site, list ...booking.Session) {
	s.t.Helper()
	s.update(func(w cases.Writer) error {
		if err := booking.PutSite(w, x); err != nil {
			return err
		}
		return booking.PutSessions(w, s.protocol, list...)
	})
}

// sessions are the sessions of a site in the store in the year from today on.
func (s *site) sessions(key string) (list []booking.Session) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) (err error) {
		list, err = booking.Sessions(r, key, r.Today(), r.Today()+366)
		return err
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return list
}

// sendFile sends a form with a file.
func (f *filled) sendFile(field, name, content string) *page {
	c := f.p.c
	c.t.Helper()
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	for k, values := range f.values {
		for _, v := range values {
			w.WriteField(k, v)
		}
	}
	part, err := w.CreateFormFile(field, name)
	if err != nil {
		c.t.Fatal(err)
	}
	part.Write([]byte(content))
	w.Close()
	req, err := http.NewRequest(http.MethodPost, c.url+f.action, &body)
	if err != nil {
		c.t.Fatal(err)
	}
	req.Header.Set("Content-Type", w.FormDataContentType())
	res, err := c.http.Do(req)
	return c.page(res, err)
}

func TestTestSiteIsAddedAndChanged(t *testing.T) {
	s := newSite(t)
	nurse := s.as("dagny")
	nurse.get("/settings/sites").wants(200, "No test site with sessions is kept yet", "Add a test site")
	f := nurse.get("/settings/sites/new").wants(200, "Add a test site").form("/settings/sites/new")
	p := f.set("key", "Alder Bay").set("name", "").set("lat", "north").set("min-age", "3.5").set("closed", "24 Dec 2026 to 20 Dec 2026").set("weekdays").send()
	p.wants(422, "Enter the name of the site", "Latitude must be degrees", "Least age must be a whole number", "Closed days, line 1: the last day must be on or after the first", "Select the days of the week")
	if !strings.Contains(p.body, `value="north"`) || !strings.Contains(p.body, `value="Alder Bay"`) {
		t.Error("what was typed is lost")
	}
	p = p.form("/settings/sites/new").set("name", "Alder Bay Sweat Laboratory").set("lat", "95").set("lon", "").set("min-age", "10").set("max-age", "5").set("min-weight", "2").set("languages", "es, ?").set("weekdays", "2", "4").set("closed", "").send()
	p.wants(422, "Short name must be small letters", "Least weight must be 250 to 15000 g", "Most age must not be below", "Interpreters at hand must be a language tag", "Position a position needs both")
	p = p.form("/settings/sites/new").set("key", "alder-bay").set("lat", "44.97").set("lon", "-93.26").set("max-age", "").set("min-weight", "2500").set("languages", "es, pt-BR").set("collectors", "tubing").
		set("closed", "24 Dec 2026 to 31 Dec 2026: painting\n6 Apr 2026").set("phone", "555-0163").set("note", "Park on deck B").set("email", "desk at clinic").send()
	p.wants(422, "E-mail must be a mail address")
	p = p.form("/settings/sites/new").set("closed", "24 Dec 2026 to 31 Dec 2026: painting\n6 Apr 2026").set("email", "desk@alder-bay.example").send()
	p.wants(200, "Test site saved: Alder Bay Sweat Laboratory", "From 10 days of age, from 2.50 kg, with microbore tubing", "Tue, Thu; closed 24 Dec 2026 to 31 Dec 2026: painting and 1 more", "Interpreters: es, pt-BR", "None in the next 8 weeks")
	if table := nurse.get("/settings/sites.csv").body; !strings.Contains(table, "desk@alder-bay.example,Park on deck B") {
		t.Errorf("exported %s", table)
	}
	at := "/settings/sites/alder-bay"
	if body := nurse.get(at).body; !strings.Contains(body, `value="desk@alder-bay.example"`) || !strings.Contains(body, `value="Park on deck B"`) {
		t.Error("the page of the site holds neither its mail address nor its note")
	}
	old := nurse.get(at).form(at)
	// the test's form reader joins lines, so the stretches are set again
	nurse.get(at).form(at).set("closed", "24 Dec 2026 to 31 Dec 2026: painting\n6 Apr 2026").set("address", "3 Harbor Way").send().wants(200, "Test site saved", "3 Harbor Way")
	old.set("address", "4 Harbor Way").set("closed", "").send().wants(409, "Somebody changed this test site since you opened the page")
	nurse.get("/settings/sites/new").form("/settings/sites/new").set("key", "alder-bay").set("name", "Again").send().wants(422, "Short name alder-bay is taken")
	nurse.get("/settings/protocol").wants(200, "Alder Bay Sweat Laboratory", "3 Harbor Way", "Heron Point Children's")
}

func TestTestSitesByRole(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay)
	wren := s.as("wren")
	p := wren.get("/settings/sites").wants(200, "Alder Bay Sweat Laboratory")
	wren.get("/settings/sites/alder-bay").wants(200, "555-0163", "As the protocol asks")
	wren.get("/settings/sites/alder-bay/sessions").wants(200, "No session in the next 8 weeks")
	if strings.Contains(p.body, "/settings/sites/new") {
		t.Error("the coordinator is offered a change")
	}
	for _, path := range []string{"/settings/sites/new", "/settings/sites/import", "/settings/sites/alder-bay/sessions/new"} {
		wren.get(path).wants(403, "Only a nurse can do this")
	}
	for _, who := range []string{"ines", "theo"} {
		c := s.as(who)
		for _, path := range []string{"/settings/sites", "/settings/sites.csv", "/settings/sites/alder-bay", "/settings/sites/alder-bay/sessions", "/settings/sites/alder-bay/sessions.csv"} {
			c.get(path).wants(403)
		}
	}
	s.as("dagny").get("/settings/sites/nowhere").wants(404)
}

func TestTablesOfSitesAndSessions(t *testing.T) {
	s := newSite(t)
	nurse := s.as("dagny")
	form := func() *filled { return nurse.get("/settings/sites/import").form("/settings/sites/import") }
	form().sendFile("file", "s.csv", "key,name\nalder-bay,Alder Bay\nOdd Key,Odd\n").wants(422, "Nothing was taken in", "row 3", "must be small letters")
	if nurse.get("/settings/sites.csv").body != string(booking.SitesCSV(nil)) {
		t.Error("a file with a fault was taken in")
	}
	form().sendFile("file", "s.csv", "key,name,languages\nalder-bay,Alder Bay,es;so\nheron-point,Heron Point,\n").wants(200, "Table taken in: s.csv, 2 test sites", "Heron Point")
	sessions := form().set("kind", "sessions")
	sessions.sendFile("file", "t.csv", "site,on,start,places,minutes\nalder-bay,2026-03-07,09:30,4,40\n").wants(422, "is closed on Sat 7 Mar 2026")
	form().set("kind", "sessions").sendFile("file", "t.csv", "site,on,start,places,minutes,for_repeats\nalder-bay,2026-03-09,09:30,4,40,1\nalder-bay,2026-03-16,9:30,4,40,1\n").wants(200, "t.csv, 2 sessions", "Next Mon 9 Mar 2026, 09:30; 2 in 8 weeks")
	p := nurse.get("/settings/sites/alder-bay/sessions.csv").wants(200)
	if p.body != string(booking.SessionsCSV(s.sessions("alder-bay"))) || !strings.Contains(p.head.Get("Content-Disposition"), "sessions-alder-bay.csv") {
		t.Errorf("exported %s", p.body)
	}
	form().set("kind", "sessions").sendFile("file", "again.csv", p.body).wants(200, "again.csv, 2 sessions")
	if n := len(s.sessions("alder-bay")); n != 2 {
		t.Errorf("%d sessions after the export was imported again", n)
	}
}

// TestLargeTableOfSites: a table of ten thousand rows is one change of the settings.
func TestLargeTableOfSites(t *testing.T) {
	s := newSite(t)
	var b strings.Builder
	b.WriteString("\ufeffkey;name;email\r\n")
	for i := range 10_000 {
		fmt.Fprintf(&b, "site-%d;Site %d;desk@s%d.example\r\n", i, i, i)
	}
	nurse := s.as("dagny")
	p := nurse.get("/settings/sites/import").form("/settings/sites/import").sendFile("file", "all.csv", b.String())
	p.wants(200, "all.csv, 10,000 test sites")
}

func TestSessionsAreAddedChangedAndCancelled(t *testing.T) {
	s := newSite(t)
	s.withSessions(alderBay)
	k := s.open(docBooked)
	nurse, at := s.as("dagny"), "/settings/sites/alder-bay/sessions"
	p := nurse.get(at+"/new").form(at+"/new").set("on", "6 Mar 2026").set("start", "25:00").set("places", "").set("until", "1 Mar 2026").send()
	p.wants(422, "Start must be a time", "Enter the places", "Each week until must be on or after the first day")
	p = p.form(at+"/new").set("on", "7 Mar 2026").set("start", "09:30").set("places", "4").set("until", "").send()
	p.wants(422, "is closed on Sat 7 Mar 2026: ")
	if !strings.Contains(p.body, `value="7 Mar 2026"`) {
		t.Error("what was typed is lost")
	}
	p.form(at+"/new").set("on", "6 Mar 2026").set("until", "27 Mar 2026").send().wants(200, "Sessions added: 4, from Fri 6 Mar 2026 to Fri 27 Mar 2026", "3 of 4 free, 1 kept for repeats", "4 of 4 free, 1 kept for repeats", "09:30 to 12:10")
	nurse.get(at+"/new").form(at+"/new").set("on", "13 Mar 2026").set("start", "10:00").set("until", "20 Mar 2026").send().wants(422, "Start on Fri 13 Mar 2026 overlaps the session from 09:30 to 12:10")
	nurse.get(at+"/new").form(at+"/new").set("on", "13 Mar 2026").set("start", "09:30").send().wants(422, "there is a session at this time already")
	one := at + "/alder-bay-2026-03-06-0930"
	p = nurse.get(one).wants(200, "Booked in this session", k.Reference)
	stale := p.form(one)
	p.form(one).set("start", "10:00").send().wants(409, k.Reference+" (09:30)", "Move or cancel these bookings first")
	nurse.get(one).form(one).set("places", "5").set("note", "Room 2").send().wants(200, "Session saved", "4 of 5 free", "Room 2")
	stale.set("places", "3").send().wants(409, "Somebody changed this session since you opened the page")
	nurse.get(one).form(one+"/cancel").send().wants(422, "Enter why the session is cancelled")
	nurse.get(one).form(one+"/cancel").set("why", "Power cut").send().wants(200, "Session cancelled", "1 booking has to be moved by hand", "Cancelled", "Power cut; noted before: Room 2", "To be moved by hand: "+k.Reference+" 09:30")
	lost := strings.ReplaceAll(nurse.get("/schedule").wants(200).section("stranded", "repeat"), "\u00a0", " ")
	for _, want := range []string{k.Reference, "1 to move", "09:30", "The session was cancelled: Power cut", "/infants/" + k.Reference + "/bookings/0/move?from=schedule"} {
		if !strings.Contains(lost, want) {
			t.Errorf("the schedule does not say %q of a booking without a session", want)
		}
	}
	nurse.get("/infants/"+k.Reference).wants(200, "To be moved", "The session was cancelled: Power cut", "tell the family")
	nurse.get(one).form(one+"/cancel").send().wants(200, "Session opened again", "4 of 5 free")
	if strings.Contains(nurse.get("/schedule").body, `id="stranded"`) {
		t.Error("a booking whose session takes place is to be moved")
	}
	if b := s.read(k.Reference).Bookings; len(b) != 1 || b[0].State != "booked" {
		t.Errorf("bookings %+v", b)
	}
}

// A series leaves closed days out and says which.
func TestSeriesLeavesClosedDaysOut(t *testing.T) {
	s := newSite(t)
	x := alderBay
	x.Closed = []booking.Closed{{From: cases.MakeDay(2026, 3, 16), To: cases.MakeDay(2026, 3, 16), Reason: "painting"}}
	s.withSessions(x)
	at := "/settings/sites/alder-bay/sessions"
	s.as("dagny").get(at+"/new").form(at+"/new").set("on", "9 Mar 2026").set("start", "13:00").set("until", "23 Mar 2026").send().
		wants(200, "Sessions added: 2", "Left out, the site is closed: Mon 16 Mar 2026 (painting)")
	if n := len(s.sessions("alder-bay")); n != 2 {
		t.Errorf("%d sessions", n)
	}
	// One beyond the weeks that are shown can be found and changed; one decades ahead is
	// a mistyped year.
	nurse := s.as("dagny")
	nurse.get(at+"/new").form(at+"/new").set("on", "1 Mar 2066").set("start", "13:00").send().wants(422, "more than two years ahead", "Check the year")
	nurse.get(at+"/new").form(at+"/new").set("on", "5 Oct 2026").set("start", "13:00").set("minutes", "5").send().wants(422, "Minutes of one place must be 20 to 240")
	nurse.get(at+"/new").form(at+"/new").set("on", "5 Oct 2026").set("start", "13:00").send().wants(200, "Session saved")
	if far := at + "/alder-bay-2026-10-05-1300"; strings.Contains(nurse.get(at).body, far) || !strings.Contains(nurse.get(at+"?all=1").body, far) {
		t.Error("a session of October stands in the next 8 weeks, or not among all")
	} else {
		nurse.get(far).form(far).set("places", "6").send().wants(200, "Session saved")
	}
}
