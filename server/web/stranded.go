package web

import (
	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// stranded finds the bookings ahead that have no session to come to: their families
// would travel for nothing, so that they stand first on the schedule until they are moved.
func (s *server) stranded(r cases.Reader, p *templates.SchedulePage) error {
	sites, err := booking.Sites(r)
	if err != nil {
		return err
	}
	today := r.Today()
	for i := range sites {
		list, err := booking.Stranded(r, s.protocol().Calendar(), sites[i].Key, today, today+366)
		if err != nil {
			return err
		}
		for _, b := range list {
			c, err := r.Case(b.Case)
			if cases.IsElsewhere(err) {
				continue
			}
			if err != nil {
				return err
			}
			if err := s.addStranded(r, p, &c, &b); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *server) addStranded(r cases.Reader, p *templates.SchedulePage, c *cases.Case, at *cases.Booked) error {
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if b.State != "booked" || b.Site != at.Site || b.On != at.On || b.At != at.At || testedSince(c, b.On) {
			continue
		}
		why, err := booking.StrandedWhy(r, s.protocol().Calendar(), b)
		if err != nil {
			return err
		}
		p.Stranded = append(p.Stranded, templates.Appointment{Who: s.who(c), On: date(b.On), At: string(b.At), Site: s.siteName(b.Site), Rev: uint64(c.Rev), Why: shown(why), Path: bookingPath(c, i), Clinic: clinicPath(b)})
	}
	return nil
}

// strandedRow says on the infant's page that a booking has no session to come to.
func (s *server) strandedRow(c Ctx, row *templates.BookingRow, o *opened, b *cases.Booking) error {
	if b.State != "booked" || b.On < o.today || testedSince(&o.c, b.On) {
		return nil
	}
	return s.view(c, func(r cases.Reader) error {
		why, err := booking.StrandedWhy(r, s.protocol().Calendar(), b)
		if why != "" {
			row.State = templates.Tag{Kind: "cross", Text: "To be moved"}
			row.Note = shown(why) + ". Move the booking and tell the family."
		}
		return err
	})
}

// holdClosed holds what has not left and calls families to a site on a day that it is
// closed now.
func (s *server) holdClosed(w cases.Writer, site string) error {
	return booking.HoldStranded(w, s.protocol().Calendar(), site, w.Today(), w.Today()+366)
}
