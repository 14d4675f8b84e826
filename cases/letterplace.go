package cases

// The occasion of a letter about a booking is its day and time. A test moved to another
// place at the same time keeps its occasion, so the letters about it must be looked at
// when the place changes: what waits is held and made again, and after what has left
// another one goes, with the new place.

// namesPlace tells the kinds of letters that send a family to a place.
func namesPlace(kind string) bool { return kind == LetterBooking || kind == LetterReminder }

// placeMoved tells that the test of an occasion is booked at another site than the last
// booking of that occasion was before the change.
func placeMoved(old, c *Case, occasion string) bool {
	was, is := old.lastBooking(occasion, ""), c.lastBooking(occasion, "booked")
	return was != nil && is != nil && was.Site != is.Site
}

// lastBooking is the last booking of an occasion, in a state or in any for ""; nil when
// there is none.
func (c *Case) lastBooking(occasion, state string) *Booking {
	for i := len(c.Bookings) - 1; i >= 0; i-- {
		if b := &c.Bookings[i]; (state == "" || b.State == state) && BookingOccasion(b) == occasion {
			return b
		}
	}
	return nil
}

// outdatePlaces marks the letters that have left, or that a person holds, and that name a
// place where the test is not any more: another one is owed from today on.
func (s *state) outdatePlaces(old *Case) {
	for i := range s.c.Letters {
		m := &s.c.Letters[i]
		if !namesPlace(m.Kind) || m.Unsent || m.Outdated || m.State == "to-print" || m.State == "printed" {
			continue
		}
		if placeMoved(old, s.c, BaseOccasion(m.Occasion)) {
			m.Outdated, m.AgainFrom = true, s.on
		}
	}
}
