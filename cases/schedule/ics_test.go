package schedule_test

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ical "github.com/arran4/golang-ical"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/schedule"
)

// The files are read back by golang-ical, a parser that is not ours.

func location(t tb, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

func appointment() schedule.Appointment {
	return schedule.Appointment{UID: "01jq2m7d3k", On: cases.MakeDay(2026, 3, 23), At: "13:30", Minutes: 90, Remind: true}
}

func file(t tb, list ...schedule.Appointment) schedule.CalendarFile {
	return schedule.CalendarFile{Zone: location(t, "America/Chicago"), Made: time.Date(2026, 3, 16, 15, 0, 0, 0, time.UTC), Appointments: list}
}

func encode(t tb, f schedule.CalendarFile) []byte {
	t.Helper()
	out, err := f.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func parse(t tb, data []byte) *ical.Calendar {
	t.Helper()
	c, err := ical.ParseCalendar(bytes.NewReader(data))
	if err != nil {
		t.Fatalf("golang-ical: %v\n%s", err, data)
	}
	return c
}

// fields are the properties of a component with their parameters.
func fields(list []ical.IANAProperty) map[string]any {
	out := map[string]any{}
	for _, p := range list {
		out[p.IANAToken] = p.Value
		for name, v := range p.ICalParameters {
			out[p.IANAToken+";"+name] = strings.Join(v, ",")
		}
	}
	return out
}

// The three files of one appointment: made, moved, cancelled. Source:
// reference/exchange/derived/ics, made by hand after RFC 5545 and RFC 5546.
func TestDerivedCalendarFiles(t *testing.T) {
	a := appointment()
	a.UID = "case-000123-appt-1@followup.example"
	a.Location = "Example Children's Hospital, Laboratory, 1st floor"
	a.Text = "Keep your baby warm and well fed. Bring a blanket, a change of clothes and a feed.\nAllow 90 minutes.\nQuestions: 555-555-0160."
	moved := a
	moved.Sequence, moved.On, moved.At = 1, cases.MakeDay(2026, 3, 24), "10:00"
	gone := moved
	gone.Sequence, gone.Cancelled = 2, true
	for name, x := range map[string]schedule.Appointment{"i01-request": a, "i02-update-moved": moved, "i03-cancel": gone} {
		t.Run(name, func(t *testing.T) {
			want, err := os.ReadFile("testdata/ics/" + name + ".ics")
			if err != nil {
				t.Fatal(err)
			}
			f := file(t, x)
			f.Organizer = schedule.Mailbox{Name: "CF Follow-up Program", Address: "referrals@followup.example"}
			f.Attendee = schedule.Mailbox{Name: "Maria", Address: "family@home.example"}
			w, g := parse(t, want), parse(t, encode(t, f))
			head := func(c *ical.Calendar) map[string]string {
				out := map[string]string{}
				for _, p := range c.CalendarProperties {
					out[p.IANAToken] = p.Value
				}
				return out
			}
			if d := cmp.Diff(head(w), head(g)); d != "" {
				t.Errorf("calendar (-want +got):\n%s", d)
			}
			we, ge := w.Events()[0], g.Events()[0]
			wf := fields(we.Properties)
			delete(wf, "CREATED") // optional
			delete(wf, "LAST-MODIFIED")
			if d := cmp.Diff(wf, fields(ge.Properties)); d != "" {
				t.Errorf("event (-want +got):\n%s", d)
			}
			if x.Cancelled {
				if len(ge.Alarms()) > 0 {
					t.Error("a cancelled appointment reminds")
				}
			} else if d := cmp.Diff(fields(we.Alarms()[0].Properties), fields(ge.Alarms()[0].Properties)); d != "" {
				t.Errorf("alarm (-want +got):\n%s", d)
			}
			ws, err1 := we.GetStartAt()
			gs, err2 := ge.GetStartAt()
			if err1 != nil || err2 != nil || !ws.Equal(gs) {
				t.Errorf("starts at %v (%v), want %v (%v)", gs, err2, ws, err1)
			}
		})
	}
}

// wantLines checks what RFC 5545, 3.1 asks of every line.
func wantLines(t tb, data []byte) {
	t.Helper()
	if !bytes.HasSuffix(data, []byte("\r\n")) {
		t.Fatalf("the last line does not end with CRLF")
	}
	for _, line := range strings.Split(strings.TrimSuffix(string(data), "\r\n"), "\r\n") {
		if len(line) > 75 || !utf8.ValidString(line) || strings.ContainsAny(line, "\r\n") || line == "" {
			t.Fatalf("line %q of %d octets", line, len(line))
		}
	}
}

var controls = regexp.MustCompile(`[\x00-\x08\x0b-\x1f\x7f]`)

// Any text folds and reads back as it was, but for control characters.
func TestAnyTextReadsBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-z,;:\\"nN \n\t]{0,200}`), rapid.StringMatching(`[äß漢👶🏽x]{0,120}`))
		a := appointment()
		a.Location, a.Text = text.Draw(rt, "location"), text.Draw(rt, "text")
		f := file(rt, a)
		f.Organizer = schedule.Mailbox{Name: text.Draw(rt, "name"), Address: "a@example.org"}
		out := encode(rt, f)
		wantLines(rt, out)
		c := parse(rt, out)
		if len(c.Events()) != 1 {
			rt.Fatalf("%d events in\n%s", len(c.Events()), out)
		}
		for what, want := range map[ical.ComponentProperty]string{ical.ComponentPropertyLocation: a.Location, ical.ComponentPropertyDescription: a.Text} {
			want = strings.ReplaceAll(want, "\r\n", "\n")
			want = strings.ReplaceAll(want, "\r", " ")
			want = controls.ReplaceAllString(want, "")
			got := ""
			if p := c.Events()[0].GetProperty(what); p != nil {
				got = p.Value
			}
			if got != want {
				rt.Fatalf("%s: %q, want %q", what, got, want)
			}
		}
	})
}

// The zone's own observances give, on each day, what the zone's data says.
func TestZoneOfTheFile(t *testing.T) {
	for _, name := range []string{"America/Chicago", "America/New_York", "America/Phoenix", "America/Anchorage", "Pacific/Honolulu", "America/Puerto_Rico",
		"Australia/Lord_Howe", "Europe/Dublin", "Asia/Kathmandu", "America/Sao_Paulo", "Africa/Casablanca"} {
		for _, year := range []int{2025, 2026, 2031} {
			loc := location(t, name)
			first, last := appointment(), appointment()
			first.On, last.On = cases.MakeDay(year, 1, 1), cases.MakeDay(year+1, 12, 31)
			f := file(t, first, last)
			f.Zone = loc
			rules := observances(t, parse(t, encode(t, f)), name)
			for d := first.On; d <= last.On; d++ {
				y, m, dd := d.Date()
				noon := time.Date(y, time.Month(m), dd, 12, 0, 0, 0, loc)
				want := noon.Format("-0700 MST")
				got := ""
				for _, r := range rules {
					if r.from <= noon.Format("20060102T150405") {
						got = r.is
					}
				}
				if got != want {
					t.Fatalf("%s on %s: the file says %q, the zone %q", name, d, got, want)
				}
			}
		}
	}
}

type rule struct{ from, is string }

// observances reads the changes of the clocks, in order of their onset.
func observances(t *testing.T, c *ical.Calendar, name string) (out []rule) {
	t.Helper()
	for _, x := range c.Components {
		z, ok := x.(*ical.VTimezone)
		if !ok {
			continue
		}
		if id := z.GetProperty("TZID"); id == nil || id.Value != name {
			t.Fatalf("the zone is %v", id)
		}
		for _, o := range z.SubComponents() {
			var r rule
			for _, p := range o.UnknownPropertiesIANAProperties() {
				switch p.IANAToken {
				case "DTSTART":
					r.from = p.Value
				case "TZOFFSETTO":
					r.is = p.Value + r.is
				case "TZNAME":
					r.is += " " + p.Value
				}
			}
			if len(out) > 0 && out[len(out)-1].from >= r.from {
				t.Fatalf("%s begins before %v", r.from, out)
			}
			out = append(out, r)
		}
	}
	return out
}
