package cases

import "slices"

// lettersDue lists the letters owed, each due the day its condition first held.
func (s *state) lettersDue() []LetterDue {
	if s.mailStop() != "" {
		return nil
	}
	var out []LetterDue
	owe := func(kind, occasion string, due Day) {
		if s.letterStop(kind, occasion) != "" || s.c.letterMade(kind, occasion, s.on) {
			return
		}
		at := len(out)
		for at > 0 && out[at-1].Kind == kind && out[at-1].Occasion >= occasion {
			at--
		}
		if at < len(out) && out[at].Occasion == occasion { // two bookings of one day and time
			out[at].Due = min(out[at].Due, due)
			return
		}
		out = slices.Insert(out, at, LetterDue{Kind: kind, Occasion: occasion, Due: due})
	}
	if due := s.firstNotice(); due != 0 {
		owe(LetterFirstNotice, s.c.Referral.On.String(), due)
	}
	for i := range s.c.Bookings {
		b := &s.c.Bookings[i]
		if due := s.bookingLetter(b); due != 0 {
			owe(LetterBooking, BookingOccasion(b), due)
		}
	}
	if r := s.repeat; r != nil && s.bk.ahead == nil {
		if due := s.repeatLetter(r); due != 0 {
			owe(LetterRepeatNeeded, r.After.String()+" "+r.Because, due)
		}
	}
	return out
}

// BookingOccasion names a booking for its letter: its day and time.
func BookingOccasion(b *Booking) string {
	if b.At == "" {
		return b.On.String()
	}
	return b.On.String() + " " + string(b.At)
}

// firstNotice: referred by the screen, nothing collected yet, and the family
// reached or tried twice.
func (s *state) firstNotice() Day {
	if s.c.Referral.Route != "screen" || len(s.e.tests) > 0 {
		return 0
	}
	var one, two Day // the days of the first two failed attempts
	for i := range s.c.Contacts {
		k := &s.c.Contacts[i]
		d := s.c.effective(k.On)
		if k.With != "family" || k.Reached || d > s.on || d < s.r.from {
			continue
		}
		switch {
		case one == 0 || d < one:
			one, two = d, one
		case two == 0 || d < two:
			two = d
		}
	}
	if f := s.r.family; f != 0 && (two == 0 || f < two) {
		return f
	}
	return two
}

// bookingLetter: a booking ahead, the family told of the matter, no hold over it.
func (s *state) bookingLetter(b *Booking) Day {
	if b.State != "booked" || b.On <= s.on {
		return 0
	}
	for i := range s.c.Holds {
		if h := &s.c.Holds[i]; h.From <= s.on && h.openOn(b.On) {
			return 0
		}
	}
	told := s.r.family
	for i := range s.c.Letters {
		l := &s.c.Letters[i]
		if l.Kind != LetterFirstNotice || l.State != "mailed" && l.State != "answered" {
			continue
		}
		if d := max(l.MadeOn, l.MailedOn); d <= s.on && (told == 0 || d < told) {
			told = d
		}
	}
	if told == 0 {
		return 0
	}
	return min(s.on, max(told, b.Changed))
}

// repeatLetter: after an intermediate test only when a clinician ordered the repeat.
func (s *state) repeatLetter(r *Repeat) Day {
	due := r.After
	v := s.e.lastChloride.Test.Verified
	if v != nil && v.On <= s.on && r.Because != string(QNS) { // a QNS was one all along
		due = max(due, v.On)
	}
	if r.Because == string(Intermediate) {
		o := s.c.RepeatOrdered
		if o == nil || o.On > s.on || o.On < r.After {
			return 0
		}
		due = max(due, o.On)
	}
	return due
}

// mailStopped tells a flag under which nothing is mailed.
func (s *state) mailStopped() bool {
	for i := range s.c.Flags {
		f := &s.c.Flags[i]
		if (f.Kind == "no-mail" || f.Kind == "custody") && f.From <= s.on && (f.Until == 0 || s.on < f.Until) {
			return true
		}
	}
	return false
}

func (c *Case) letterMade(kind, occasion string, on Day) bool {
	for i := range c.Letters {
		if l := &c.Letters[i]; l.Kind == kind && l.Occasion == occasion && l.MadeOn <= on {
			return true
		}
	}
	return false
}

func (c *Case) released(kind, occasion string, on Day) bool {
	for i := range c.Releases {
		r := &c.Releases[i]
		if r.Kind == kind && (r.Occasion == "" || r.Occasion == occasion) && r.On <= on {
			return true
		}
	}
	return false
}
