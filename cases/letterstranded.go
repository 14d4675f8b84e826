package cases

// Whether anybody can be tested at the place and time of a booking is known where
// sessions are; a letter or message that sends a family there is stopped from there.

// Calls gives the booking to which a letter or message of a kind and occasion calls the
// family; nil when it calls to none that stands.
func (c *Case) Calls(kind, occasion string) *Booking {
	if !namesPlace(kind) {
		return nil
	}
	return c.lastBooking(BaseOccasion(occasion), "booked")
}

// HoldCalls holds, in the caller's transaction, the letters that have not left and the
// queued messages that call a family to a booking to which why says that nobody can come
// ("" when one can). Such a letter is owed again, and made once one can. It tells whether
// the case was changed; the caller then writes it.
func HoldCalls(w Writer, c *Case, why func(*Booking) (string, error)) (changed bool, err error) {
	reason := func(kind, occasion string) (string, error) {
		if b := c.Calls(kind, occasion); b != nil {
			return why(b)
		}
		return "", nil
	}
	letters, err := w.LettersOf(c.ID)
	if err != nil {
		return false, err
	}
	for _, l := range letters {
		if l.State != "to-print" && l.State != "printed" {
			continue
		}
		stop, err := reason(l.Kind, l.Occasion)
		if err != nil {
			return changed, err
		}
		if stop == "" {
			continue
		}
		if err := holdLetter(w, c, &l, stop); err != nil {
			return changed, err
		}
		c.eachLine(&l, func(m *LetterMade) { m.AgainFrom = w.Today() })
		changed = true
	}
	return changed, holdMessages(w, c, func(o *Outgoing) (string, error) {
		if o.ToWhom != ToFamily {
			return "", nil
		}
		return reason(o.Kind, o.Occasion)
	})
}
