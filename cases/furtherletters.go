package cases

import "slices"

// furtherLetters adds the reminder, the missed test, the results and the letter of the
// contact plan.
func (s *state) furtherLetters(o *owed) {
	for i := range s.c.Bookings {
		b := &s.c.Bookings[i]
		if d := s.reminderLetter(b); d != 0 {
			o.owe(LetterReminder, BookingOccasion(b), d)
		}
	}
	if b := s.bk.dropped; b != nil {
		if d := s.missedLetter(b); d != 0 {
			o.owe(LetterMissed, BookingOccasion(b), d)
		}
	}
	s.resultLetters(o)
	if since, d := s.rungLetter(LetterNoContact); d != 0 {
		o.owe(LetterNoContact, since.String(), d)
	}
}

// reminderLetter: the letter of the booking went out some days ago, and there is time
// for another to arrive. Later it is too late for a letter, and none is owed.
func (s *state) reminderLetter(b *Booking) Day {
	if b.State != "booked" || b.On <= s.on || s.heldOver(b) || s.told() == 0 {
		return 0
	}
	occasion := BookingOccasion(b)
	i := slices.IndexFunc(s.c.Letters, func(l LetterMade) bool {
		return l.Kind == LetterBooking && countOf(l.Occasion, occasion) != 0 && !l.Outdated && l.MadeOn <= s.on && (l.State == "mailed" || l.State == "answered")
	})
	if i < 0 {
		return 0
	}
	made := max(s.c.Letters[i].MadeOn, s.c.Letters[i].MailedOn)
	v := &s.p.Mailing
	due := max(s.cal.Add(b.On, -v.ReminderFrom), s.cal.Add(made, v.ReminderAfter))
	if due > s.on || s.on > s.cal.Add(b.On, -v.ReminderUntil) {
		return 0
	}
	return due
}

// missedLetter: the family did not come, nothing else is booked, and nobody has spoken
// with it since. A hold speaks against a new day.
func (s *state) missedLetter(b *Booking) Day {
	if b.State != "missed" || b.On > s.on || s.bk.ahead != nil || s.bk.past != nil || s.r.lastFamily >= b.On || s.c.oldestHold(s.on) != nil {
		return 0
	}
	return min(s.on, max(b.On, b.Changed))
}

// resultLetters: the evidence supports it, and a named licensed person released it on
// or after the day the result was known. One without a release waits for one.
func (s *state) resultLetters(o *owed) {
	for _, kind := range []string{LetterResult, LetterCarrier} {
		known := s.resultKnown(kind)
		if known == 0 {
			continue
		}
		occasion := testOccasion(s.e.graded.Test)
		due := Day(0)
		for i := range s.c.Releases {
			r := &s.c.Releases[i]
			if r.Covers(kind, occasion) && r.On >= known && r.On <= s.on && (due == 0 || r.On < due) {
				due = r.On
			}
		}
		if due == 0 {
			if owed, again := s.c.owedOccasion(kind, occasion, s.on); owed != "" {
				o.waiting = insertLetter(o.waiting, LetterDue{Kind: kind, Occasion: owed, Due: max(known, again)})
			}
			continue
		}
		o.owe(kind, occasion, due)
	}
}

// resultKnown is the day from which the evidence supports a letter with a result: the
// last test is below the band, and it supports nothing but "not affected" or "carrier".
// 0 when it does not.
func (s *state) resultKnown(kind string) Day {
	t := s.e.graded
	if t == nil || t.Outcome != Unlikely || s.e.misfit || s.inQuestion() != "" {
		return 0
	}
	switch {
	case s.sup == SupCarrier:
	case s.sup == SupNotAffected && kind == LetterResult:
	default:
		return 0
	}
	known := t.known(s.on)
	if g := s.c.Genotype; g != nil {
		known = max(known, s.c.effective(g.Reported))
		for i := range g.Variants {
			if d := g.Variants[i].Reported; d <= s.on {
				known = max(known, s.c.effective(d))
			}
		}
	}
	return known
}

// known is the day by which a reading was known: its test, the laboratory's report, and
// a person's word on it.
func (t *TestReading) known(on Day) Day {
	d := t.On
	if v := t.Test.Verified; v != nil && v.On <= on {
		d = max(d, v.On)
	}
	if l := t.Test.Laboratory; l != nil && l.Reported <= on {
		d = max(d, l.Reported)
	}
	return d
}

// testOccasion names a test for its letters: its day, and its time where it has one.
func testOccasion(t *SweatTest) string {
	if t.At == "" {
		return t.On.String()
	}
	return t.On.String() + " " + string(t.At)
}
