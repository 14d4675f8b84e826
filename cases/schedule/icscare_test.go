package schedule_test

import (
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// A calendar says neither whose appointment it is nor what for.
func TestCalendarsSayNothing(t *testing.T) {
	w := newWorld(t)
	w.put(t, session(1, 0))
	c := w.book(t, ask(w.infant(t, func(c *cases.Case) { c.Infant.Given, c.Infant.Family = "Adalind", "Wrenfield" }), "09:00"))[0]
	a := schedule.AppointmentOf(&c.Bookings[0], &schedule.Site{Name: "Alder Bay Sweat Test Center", Address: "1 Shore Road, Alder Bay"}, "555-0142")
	f := file(t, a)
	f.Organizer = schedule.Mailbox{Name: "Follow-up program", Address: "calls@alder.example"}
	out := string(encode(t, f))
	plain := strings.ToLower(strings.ReplaceAll(out, "\r\n ", ""))
	for _, no := range []string{"adalind", "wrenfield", strings.ToLower(c.Reference), "sweat", "cystic", "screen", "test", "chloride"} {
		if strings.Contains(plain, no) {
			t.Errorf("the file says %q:\n%s", no, out)
		}
	}
	wantText(t, plain, "summary:appointment", "class:private", "1 shore road\\, alder bay", "allow 60 minutes.", "questions: 555-0142.", "uid:"+c.Bookings[0].UID)
}

func TestMethodOfTheFile(t *testing.T) {
	ok, gone := appointment(), appointment()
	gone.Cancelled = true
	office, family := schedule.Mailbox{Address: "a@example.org"}, schedule.Mailbox{Address: "b@example.org"}
	for name, x := range map[string]struct {
		f    schedule.CalendarFile
		want string
	}{
		"to a family":             {schedule.CalendarFile{Organizer: office, Attendee: family, Appointments: []schedule.Appointment{ok}}, "REQUEST"},
		"to take along":           {schedule.CalendarFile{Organizer: office, Appointments: []schedule.Appointment{ok}}, "PUBLISH"},
		"cancelled":               {schedule.CalendarFile{Organizer: office, Attendee: family, Appointments: []schedule.Appointment{gone}}, "CANCEL"},
		"some of a day cancelled": {schedule.CalendarFile{Organizer: office, Appointments: []schedule.Appointment{ok, gone}}, "PUBLISH"},
		"no office":               {schedule.CalendarFile{Attendee: family, Appointments: []schedule.Appointment{ok}}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			x.f.Zone, x.f.Made = location(t, "America/Chicago"), time.Unix(0, 0)
			if got := x.f.Method(); got != x.want {
				t.Errorf("method %q, want %q", got, x.want)
			}
			out := string(encode(t, x.f))
			// RFC 5546: PUBLISH has no attendee; without a method there is no organizer.
			if strings.Contains(out, "ATTENDEE") != (x.want == "REQUEST" || x.want == "CANCEL") || strings.Contains(out, "ORGANIZER") != (x.want != "") {
				t.Errorf("people of the file:\n%s", out)
			}
			parse(t, []byte(out))
		})
	}
}

// A clock change makes no appointment that nobody can keep. Source of the days:
// 15 U.S.C. 260a, reference/numbers/03-dates.
func TestCalendarRefuses(t *testing.T) {
	forward, back := cases.MakeDay(2026, 3, 8), cases.MakeDay(2026, 11, 1)
	for name, x := range map[string]struct {
		change func(*schedule.CalendarFile)
		says   string
	}{
		"a skipped hour":   {func(f *schedule.CalendarFile) { f.Appointments[0].On, f.Appointments[0].At = forward, "02:30" }, "does not exist on Sun 8 Mar 2026"},
		"a repeated hour":  {func(f *schedule.CalendarFile) { f.Appointments[0].On, f.Appointments[0].At = back, "01:30" }, "comes twice on Sun 1 Nov 2026"},
		"ends in it":       {func(f *schedule.CalendarFile) { f.Appointments[0].On, f.Appointments[0].At = back, "00:15" }, "The end, 01:45, comes twice"},
		"no UID":           {func(f *schedule.CalendarFile) { f.Appointments[0].UID = "" }, "no place of a session"},
		"no time":          {func(f *schedule.CalendarFile) { f.Appointments[0].At = "" }, "no place of a session"},
		"no length":        {func(f *schedule.CalendarFile) { f.Appointments[0].Minutes = 0 }, "no place of a session"},
		"no zone":          {func(f *schedule.CalendarFile) { f.Zone = time.Local }, "zone has no name"},
		"a line in a mail": {func(f *schedule.CalendarFile) { f.Attendee.Address = "a@example.org\r\nX-Evil:1" }, "not a mail address"},
		"no mail address":  {func(f *schedule.CalendarFile) { f.Organizer.Address = "nobody" }, "not a mail address"},
	} {
		t.Run(name, func(t *testing.T) {
			f := file(t, appointment())
			x.change(&f)
			out, err := f.Encode()
			if err == nil {
				t.Fatalf("accepted:\n%s", out)
			}
			wantText(t, err.Error(), x.says)
		})
	}
	utc := file(t, appointment())
	utc.Zone = time.UTC
	wantText(t, string(encode(t, utc)), "DTSTART:20260323T133000Z", "DTEND:20260323T150000Z")
}
