package schedule

import (
	"cmp"
	"slices"

	"dunlin/cases"
)

// Visit is one booking of a clinic day, with its case.
type Visit struct {
	Case cases.Case
	N    int // index of the booking in the case
}

// Booking is the booking of the visit.
func (v *Visit) Booking() *cases.Booking { return &v.Case.Bookings[v.N] }

// VisitsOn gives who is booked at a site on a day, or came, in order of time and
// reference. A booking without a time comes first.
func VisitsOn(r cases.Reader, site string, on cases.Day) ([]Visit, error) {
	var out []Visit
	seen := map[cases.ID]bool{}
	for b, err := range r.BookedAt(site, on, on) {
		if err != nil {
			return nil, err
		}
		if seen[b.Case] {
			continue
		}
		seen[b.Case] = true
		c, err := r.Case(b.Case)
		if err != nil {
			return nil, err
		}
		out = addVisits(out, &c, func(b *cases.Booking) bool {
			return b.Site == site && b.On == on && (b.State == "booked" || b.State == "kept")
		})
	}
	slices.SortFunc(out, visitOrder)
	return out, nil
}

// MissedOn gives the open cases whose booking at a site on a day was missed. They hold
// no place any more and are found by looking through all open cases.
func MissedOn(r cases.Reader, site string, on cases.Day) ([]Visit, error) {
	var out []Visit
	for c, err := range r.Open() {
		if err != nil {
			return nil, err
		}
		out = addVisits(out, &c, func(b *cases.Booking) bool { return b.Site == site && b.On == on && b.State == "missed" })
	}
	slices.SortFunc(out, visitOrder)
	return out, nil
}

func addVisits(out []Visit, c *cases.Case, want func(*cases.Booking) bool) []Visit {
	for i := range c.Bookings {
		if want(&c.Bookings[i]) {
			out = append(out, Visit{Case: *c, N: i})
		}
	}
	return out
}

func visitOrder(a, b Visit) int {
	return cmp.Or(cmp.Compare(a.Booking().At, b.Booking().At), cmp.Compare(a.Case.Reference, b.Case.Reference))
}

// Covers tells whether a time lies in the session.
func (s *Session) Covers(at cases.Clock) bool { return s.over(at) >= 0 }

// PlaceOver is the number of the place that a time lies in, -1 when it lies outside.
func (s *Session) PlaceOver(at cases.Clock) int { return s.over(at) }

// ClinicAppointments gives every appointment that a session has or had, as calendars of
// the clinic should show it now: those that moved to another session of the site at
// their new time, those that moved to another site or were cancelled as cancelled. The
// text names the case by its reference and nothing else. Bookings by hand are in none.
func ClinicAppointments(r cases.Reader, site *Site, s *Session) ([]Appointment, error) {
	var out []Appointment
	for c, err := range r.All() {
		if err != nil {
			return nil, err
		}
		for _, now := range Newest(c.Bookings) {
			i := slices.IndexFunc(c.Bookings, func(b cases.Booking) bool { return b.UID == now.UID && b.Session == s.ID })
			if i < 0 {
				continue
			}
			b := now
			if now.Site != site.Key {
				b = c.Bookings[i]
				b.State, b.Sequence = "cancelled", now.Sequence
			}
			out = append(out, clinicAppointment(&b, site, c.Reference))
		}
	}
	slices.SortFunc(out, func(a, b Appointment) int {
		return cmp.Or(cmp.Compare(a.On, b.On), cmp.Compare(a.At, b.At), cmp.Compare(a.UID, b.UID))
	})
	return out, nil
}

func clinicAppointment(b *cases.Booking, site *Site, reference string) Appointment {
	a := AppointmentOf(b, site, "")
	a.Text, a.Remind = "Case "+reference+". The day sheet has the rest.", false
	a.Cancelled = b.State == "cancelled" || b.State == "missed"
	return a
}
