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

// doctorChanged tells that another doctor, elsewhere, looks after the infant: one who has
// had none of the letters. A name put right, or a practice that moved, is the same doctor.
func doctorChanged(old, c *Case) bool {
	was, is := old.PrimaryCare, c.PrimaryCare
	if was == nil || is == nil || was.Address == nil || is.Address == nil || len(was.Address.Lines) == 0 || len(is.Address.Lines) == 0 {
		return false
	}
	who := func(d *PrimaryCare) string { return foldAddress(d.Name + d.Practice) }
	where := func(a *Address) string { return foldAddress(a.Lines[0] + a.Postal) }
	return who(was) != who(is) && where(was.Address) != where(is.Address)
}

// outdateSent marks the letters that have left, or that a person holds, and that name a
// place where the test is not any more, or went to a doctor who is not the infant's any
// more: another one is owed from today on, while what it is about still holds.
func (s *state) outdateSent(old *Case) {
	doctor := doctorChanged(old, s.c)
	for i := range s.c.Letters {
		m := &s.c.Letters[i]
		if m.Unsent || m.Outdated || m.State == "to-print" || m.State == "printed" {
			continue
		}
		if namesPlace(m.Kind) && placeMoved(old, s.c, BaseOccasion(m.Occasion)) || doctor && LetterKindOf(m.Kind).To == ToPrimaryCare {
			m.Outdated, m.AgainFrom = true, s.on
		}
	}
}
