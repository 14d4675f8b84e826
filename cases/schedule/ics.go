package schedule

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"dunlin/cases"
)

// Appointment is a booking as calendars see it. Calendars are shared and synchronized,
// so it says neither whose appointment it is nor what for: the summary is always
// "Appointment" and the entry is private. Location and Text are shown as given; they
// must not name the infant or the test.
type Appointment struct {
	UID       string // for the life of the appointment
	Sequence  int    // raised at each change
	Cancelled bool
	On        cases.Day
	At        cases.Clock
	Minutes   int
	Location  string
	Text      string // what to bring, whom to ask
	Remind    bool   // a day before
}

// Mailbox is a person or office with a mail address.
type Mailbox struct{ Name, Address string }

// CalendarFile is a file of appointments (RFC 5545), for the family or the clinic.
type CalendarFile struct {
	Zone         *time.Location
	Made         time.Time // when the file was made
	Organizer    Mailbox   // the program; without an address the file has no method
	Attendee     Mailbox   // the family, when the file goes by mail
	Appointments []Appointment
}

// AppointmentOf gives the appointment of a booking, with the words for a family.
// phone is where to ask. Location is the address of the site; its name, which often says
// what is done there, stands in for a site without one.
func AppointmentOf(b *cases.Booking, site *Site, phone string) Appointment {
	a := Appointment{
		UID: b.UID, Sequence: b.Sequence, Cancelled: b.State == "cancelled", On: b.On, At: b.At, Minutes: b.Minutes,
		Location: site.Address, Remind: b.State == "booked",
		Text: "Keep your baby warm and well fed. Bring a blanket, a change of clothes and a feed. No cream or lotion on the arms and legs that day.",
	}
	if a.Location == "" {
		a.Location = site.Name
	}
	if b.Minutes > 0 {
		a.Text += fmt.Sprintf("\nAllow %d minutes.", b.Minutes)
	}
	if phone != "" {
		a.Text += "\nQuestions: " + phone + "."
	}
	return a
}

// The methods of a calendar file (RFC 5546, 1.4).
const (
	MethodPublish = "PUBLISH"
	MethodRequest = "REQUEST"
	MethodCancel  = "CANCEL"
)

// Method is how the file is meant: REQUEST to an attendee, CANCEL when every
// appointment is cancelled, PUBLISH otherwise. RFC 5546 asks for an organizer in each;
// without one the file has no method. A mix of both is published with each state.
func (c *CalendarFile) Method() string {
	gone := 0
	for i := range c.Appointments {
		if c.Appointments[i].Cancelled {
			gone++
		}
	}
	switch {
	case c.Organizer.Address == "":
		return ""
	case gone > 0 && gone == len(c.Appointments):
		return MethodCancel
	case c.Attendee.Address != "" && gone == 0:
		return MethodRequest
	}
	return MethodPublish
}

// Encode writes the file. It refuses an appointment without UID, day, time or length,
// a time that the clocks skip or repeat, and an address that is none.
func (c *CalendarFile) Encode() ([]byte, error) {
	if c.Zone == nil || c.Zone == time.Local || c.Zone.String() == "" || c.Zone.String() == "Local" {
		return nil, fmt.Errorf("calendar: the program's zone has no name")
	}
	for _, m := range []Mailbox{c.Organizer, c.Attendee} {
		if m.Address != "" && !plainAddress(m.Address) {
			return nil, cases.Errorf(cases.Invalid, "%q is not a mail address for a calendar file.", m.Address)
		}
	}
	var w lines
	method := c.Method()
	w.add("BEGIN:VCALENDAR")
	w.add("PRODID:-//Dunlin//Follow-up//EN")
	w.add("VERSION:2.0")
	w.add("CALSCALE:GREGORIAN")
	if method != "" {
		w.add("METHOD:" + method)
	}
	if err := c.zone(&w); err != nil {
		return nil, err
	}
	for i := range c.Appointments {
		if err := c.event(&w, &c.Appointments[i], method); err != nil {
			return nil, err
		}
	}
	w.add("END:VCALENDAR")
	return w.out, nil
}

func (c *CalendarFile) event(w *lines, a *Appointment, method string) error {
	start, end, err := a.times(c.Zone)
	if err != nil {
		return err
	}
	w.add("BEGIN:VEVENT")
	w.add("UID:" + escape(a.UID))
	w.add(fmt.Sprintf("SEQUENCE:%d", a.Sequence))
	w.add("DTSTAMP:" + c.Made.UTC().Format(utcTime))
	w.add("DTSTART" + stamp(start))
	w.add("DTEND" + stamp(end))
	if a.Cancelled {
		w.add("STATUS:CANCELLED")
	} else {
		w.add("STATUS:CONFIRMED")
	}
	w.add("CLASS:PRIVATE")
	w.add("TRANSP:OPAQUE")
	w.add("SUMMARY:Appointment")
	if a.Location != "" {
		w.add("LOCATION:" + escape(a.Location))
	}
	if a.Text != "" {
		w.add("DESCRIPTION:" + escape(a.Text))
	}
	if method != "" {
		w.add("ORGANIZER" + c.Organizer.property())
	}
	if c.Attendee.Address != "" && (method == MethodRequest || method == MethodCancel) {
		w.add("ATTENDEE;CUTYPE=INDIVIDUAL;ROLE=REQ-PARTICIPANT;PARTSTAT=NEEDS-ACTION;RSVP=TRUE" + c.Attendee.property())
	}
	if a.Remind && !a.Cancelled {
		w.add("BEGIN:VALARM")
		w.add("ACTION:DISPLAY")
		w.add("DESCRIPTION:Appointment tomorrow")
		w.add("TRIGGER:-P1D")
		w.add("END:VALARM")
	}
	w.add("END:VEVENT")
	return nil
}

// times are start and end; the length is counted in minutes that pass, whatever the
// clocks do.
func (a *Appointment) times(zone *time.Location) (start, end time.Time, err error) {
	minute, ok := minutesOf(a.At)
	if a.UID == "" || a.On <= 0 || !ok || a.Minutes <= 0 {
		return start, end, cases.Errorf(cases.Invalid, "This booking has no place of a session, so there is no calendar file for it. Move it to a place first.")
	}
	switch wallTime(zone, a.On, minute) {
	case wallSkipped:
		return start, end, cases.Errorf(cases.Invalid, "%s does not exist on %s: the clocks go forward.", a.At, sayDay(a.On))
	case wallRepeated:
		return start, end, cases.Errorf(cases.Invalid, "%s comes twice on %s: the clocks go back.", a.At, sayDay(a.On))
	}
	y, m, d := a.On.Date()
	start = time.Date(y, time.Month(m), d, minute/60, minute%60, 0, 0, zone)
	end = start.Add(time.Duration(a.Minutes) * time.Minute)
	if wallTime(zone, cases.DayOf(end), end.Hour()*60+end.Minute()) == wallRepeated {
		return start, end, cases.Errorf(cases.Invalid, "The end, %s, comes twice on %s: the clocks go back.", end.Format("15:04"), sayDay(a.On))
	}
	return start, end, nil
}

const (
	localTime = "20060102T150405"
	utcTime   = localTime + "Z"
)

func stamp(t time.Time) string {
	if t.Location() == time.UTC {
		return ":" + t.Format(utcTime)
	}
	return ";TZID=" + parameter(t.Location().String()) + ":" + t.Format(localTime)
}

// property is a calendar user: the name as a parameter, the address as the value.
func (m Mailbox) property() string {
	if m.Name == "" {
		return ":mailto:" + m.Address
	}
	return ";CN=" + parameter(m.Name) + ":mailto:" + m.Address
}

// plainAddress tells whether an address can stand after mailto: as it is.
func plainAddress(s string) bool {
	at := strings.LastIndexByte(s, '@')
	return at > 0 && at < len(s)-1 && utf8.ValidString(s) && !strings.ContainsFunc(s, func(r rune) bool {
		return r <= ' ' || r >= 0x7f || strings.ContainsRune(`"<>\^`+"`{|}%?#&", r)
	})
}

// Newest gives each appointment of an infant as it stands now, in order of its first
// booking: of the bookings with one UID the one with the highest sequence. Bookings
// without a UID, which no desk made, are in no calendar.
func Newest(bookings []cases.Booking) []cases.Booking {
	var out []cases.Booking
	for _, b := range bookings {
		if b.UID == "" {
			continue
		}
		i := slices.IndexFunc(out, func(x cases.Booking) bool { return x.UID == b.UID })
		switch {
		case i < 0:
			out = append(out, b)
		case b.Sequence > out[i].Sequence:
			out[i] = b
		}
	}
	return out
}
