package cases

import "slices"

// owed collects letters: those that are due, and those that would be if a named person
// released them.
type owed struct {
	s            *state
	due, waiting []LetterDue
}

// owe adds a letter that its condition asks for, unless it was made and is not owed
// again.
func (o *owed) owe(kind, matter string, due Day) {
	occasion, again := o.s.c.owedOccasion(kind, matter, o.s.on)
	if occasion == "" {
		return
	}
	l := LetterDue{Kind: kind, Occasion: occasion, Due: max(due, again)}
	switch {
	case o.s.letterStop(kind, occasion) == "":
		o.due = insertLetter(o.due, l)
	case o.s.otherStop(kind) == "":
		o.waiting = insertLetter(o.waiting, l)
	}
}

// insertLetter keeps letters of one kind in order of their occasions; two of one
// occasion, such as two bookings of one day and time, are one letter.
func insertLetter(list []LetterDue, l LetterDue) []LetterDue {
	if list == nil {
		list = make([]LetterDue, 0, 4)
	}
	at := len(list)
	for at > 0 && list[at-1].Kind == l.Kind && list[at-1].Occasion >= l.Occasion {
		at--
	}
	if at < len(list) && list[at].Occasion == l.Occasion {
		list[at].Due = min(list[at].Due, l.Due)
		return list
	}
	return slices.Insert(list, at, l)
}

// lettersDue lists the letters owed to the family, each due the day its condition first
// held, and those that wait for a named person's release.
func (s *state) lettersDue() (due, waiting []LetterDue) {
	if s.mailStop() != "" {
		return nil, nil
	}
	o := owed{s: s}
	if d := s.firstNotice(); d != 0 {
		o.owe(LetterFirstNotice, s.c.Referral.On.String(), d)
	}
	for i := range s.c.Bookings {
		b := &s.c.Bookings[i]
		if d := s.bookingLetter(b); d != 0 {
			o.owe(LetterBooking, BookingOccasion(b), d)
		}
	}
	if r := s.repeat; r != nil && s.bk.ahead == nil {
		if d := s.repeatLetter(r); d != 0 {
			o.owe(LetterRepeatNeeded, r.After.String()+" "+r.Because, d)
		}
	}
	s.furtherLetters(&o)
	return o.due, o.waiting
}

// BookingOccasion names a booking for its letters: its day and time.
func BookingOccasion(b *Booking) string {
	if b.At == "" {
		return b.On.String()
	}
	return b.On.String() + " " + string(b.At)
}

// OccasionDay is the day with which the occasion of a case's letter begins; 0 when there
// is none.
func OccasionDay(occasion string) Day {
	const width = len("2026-03-05")
	if len(occasion) < width {
		return 0
	}
	d, err := ParseDay(occasion[:width])
	if err != nil {
		return 0
	}
	return d
}

// firstNotice: referred by the screen, nothing collected yet, and the family
// reached or tried twice.
func (s *state) firstNotice() Day {
	if s.c.Referral.Route != "screen" || len(s.e.tests) > 0 {
		return 0
	}
	_, two := s.failedAttempts(s.r.from, false)
	if f := s.r.family; f != 0 && (two == 0 || f < two) {
		return f
	}
	return two
}

// bookingLetter: a booking ahead, the family told of the matter, no hold over it.
func (s *state) bookingLetter(b *Booking) Day {
	if b.State != "booked" || b.On <= s.on || s.heldOver(b) {
		return 0
	}
	told := s.told()
	if told == 0 {
		return 0
	}
	return min(s.on, max(told, b.Changed))
}

// heldOver tells a hold over the day of a booking.
func (s *state) heldOver(b *Booking) bool {
	for i := range s.c.Holds {
		if h := &s.c.Holds[i]; h.From <= s.on && h.openOn(b.On) {
			return true
		}
	}
	return false
}

// told is the first day on which the family knew of the matter: it was reached, or a
// first notice was mailed.
func (s *state) told() Day {
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
	return told
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

func (c *Case) released(kind, occasion string, on Day) bool {
	for i := range c.Releases {
		if r := &c.Releases[i]; r.Covers(kind, occasion) && r.On <= on {
			return true
		}
	}
	return false
}

// Covers tells whether a release is about a letter. It still holds for one that is made
// again, for what the letter says is the same.
func (r *Release) Covers(kind, occasion string) bool {
	return r.Kind == kind && (r.Occasion == "" || BaseOccasion(r.Occasion) == BaseOccasion(occasion))
}
