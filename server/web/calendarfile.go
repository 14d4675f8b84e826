package web

import (
	"fmt"
	"net/http"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
)

// familyCalendar answers GET /infants/:ref/bookings/:n/calendar.ics with the family's
// appointment as it stands now, also when the address is that of a booking that moved.
func (s *server) familyCalendar(c Ctx) error {
	o, i, err := s.loadBooking(c, true)
	if err != nil {
		return err
	}
	b := o.c.Bookings[i]
	for _, now := range booking.Newest(o.c.Bookings) {
		if now.UID == b.UID {
			b = now
		}
	}
	if b.UID == "" {
		return cases.Errorf(cases.Refused, "This booking has no identity in calendars, so there is no calendar file for it. Move it to a place, or book it anew.")
	}
	site := booking.Site{Key: b.Site}
	if k, ok := s.siteOf(b.Site); ok {
		site.Name, site.Address, site.Phone = shown(k.Name), shown(k.Address), k.Phone
	}
	file := booking.CalendarFile{Attendee: s.attendee(&o.c), Appointments: []booking.Appointment{booking.AppointmentOf(&b, &site, or(s.LetterFacts().Phone, site.Phone))}}
	return s.sendCalendar(c, "appointment-"+b.On.String(), &file)
}

// attendee is the family's mailbox, where it agreed to e-mail; its name stays out.
func (s *server) attendee(k *cases.Case) booking.Mailbox {
	if k.Family == nil {
		return booking.Mailbox{}
	}
	agreed := false
	for _, x := range k.Family.Consents {
		if x.Channel == "email" && x.On <= s.today() {
			agreed = x.Withdrawn == 0 || s.today() < x.Withdrawn
		}
	}
	for _, g := range k.Family.Guardians {
		if agreed && g.Email != "" && (g.Letters || len(k.Family.Guardians) == 1) {
			return booking.Mailbox{Address: g.Email}
		}
	}
	return booking.Mailbox{}
}

// clinicCalendar answers GET /sessions/:site/:day/:id/calendar.ics with every
// appointment of the session.
func (s *server) clinicCalendar(c Ctx) error {
	x, err := s.loadClinic(c, false)
	if err != nil {
		return err
	}
	var file booking.CalendarFile
	err = s.view(c, func(r cases.Reader) (err error) {
		file.Appointments, err = booking.ClinicAppointments(r, &x.site, &x.session)
		return err
	})
	if err != nil {
		return err
	}
	if len(file.Appointments) == 0 {
		return cases.Errorf(cases.Refused, "Nobody is booked in a place of this session, so there is no calendar file for it.")
	}
	return s.sendCalendar(c, "session-"+x.session.On.String(), &file)
}

// sendCalendar answers with a calendar file to be saved. The type names the method of
// the file (RFC 6047, 2.4); the file's name says whose it is to nobody.
func (s *server) sendCalendar(c Ctx, name string, file *booking.CalendarFile) error {
	file.Zone, file.Made, file.Organizer = s.Now().Location(), s.Now(), s.Organizer
	body, err := file.Encode()
	if err != nil {
		return err
	}
	kind := "text/calendar; charset=utf-8; component=VEVENT"
	if m := file.Method(); m != "" {
		kind += "; method=" + m
	}
	h := c.Response().Header()
	h.Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name+".ics"))
	return c.Blob(http.StatusOK, kind, body)
}
