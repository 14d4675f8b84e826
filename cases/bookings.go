package cases

// openBookings sorts out the bookings that no test lies on or after.
type openBookings struct {
	past    *Booking // booked or kept, its day has gone: the oldest
	ahead   *Booking // booked, today or later: the nearest
	dropped *Booking // missed or cancelled: the latest changed
}

// Become sets the state of a booking as of a day. When it was made is written down
// before the day of the old state is lost.
func (b *Booking) Become(state string, on Day) {
	if b.Made == 0 && b.State == "booked" {
		b.Made = b.Changed
	}
	b.State, b.Changed = state, on
}

func (b *Booking) before(o *Booking) bool { return b.On < o.On || b.On == o.On && b.At < o.At }

// openBookings looks at all bookings with the state they have: they are plans.
func (c *Case) openBookings(e *evidence) openBookings {
	var lastTest Day
	if n := len(e.tests); n > 0 {
		lastTest = e.tests[n-1].On
	}
	var o openBookings
	for i := range c.Bookings {
		b := &c.Bookings[i]
		if lastTest != 0 && lastTest >= b.On {
			continue
		}
		switch {
		case b.State == "booked" && b.On >= e.on:
			if o.ahead == nil || b.before(o.ahead) {
				o.ahead = b
			}
		case b.On < e.on && (b.State == "booked" || b.State == "kept"):
			if o.past == nil || b.before(o.past) {
				o.past = b
			}
		case b.State == "missed" || b.State == "cancelled":
			if d := o.dropped; d == nil || b.Changed > d.Changed || b.Changed == d.Changed && d.before(b) {
				o.dropped = b
			}
		}
	}
	return o
}

// oldestHold is the open hold that began first.
func (c *Case) oldestHold(on Day) *Hold {
	var h *Hold
	for i := range c.Holds {
		k := &c.Holds[i]
		if k.openOn(on) && (h == nil || k.From < h.From || k.From == h.From && k.Reason < h.Reason) {
			h = k
		}
	}
	return h
}
