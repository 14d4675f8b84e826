package cases

import (
	"cmp"
	"slices"
)

// letterRank is the order in which letters to one family go when several are owed, the
// most important first (practice asks for one letter per infant and day; the order is a
// choice of this project): what a named person released, then what the family must do
// next, then what it is told of a day.
var letterRank = []string{LetterResult, LetterCarrier, LetterRepeatNeeded, LetterMissed, LetterFirstNotice, LetterNoContact, LetterBooking, LetterReminder}

// MailDay is the working day on which what is made on a day is printed and mailed: the
// day itself, or the first working day after it.
func (p *Protocol) MailDay(d Day) Day {
	cal := p.Calendar()
	for !cal.Working(d) {
		d++
	}
	return d
}

// SortLetters puts the letters of one case that are owed on a day into the order in which
// they are made: those that cannot wait first, then by importance, those to primary care
// last.
func (p *Protocol) SortLetters(c *Case, owed []LetterDue, day Day) {
	place := func(l LetterDue) int {
		switch {
		case l.To() != ToFamily:
			return 1000
		case !p.letterCanWait(c, &l, day):
			return slices.Index(letterRank, l.Kind)
		}
		return 100 + slices.Index(letterRank, l.Kind)
	}
	slices.SortStableFunc(owed, func(a, b LetterDue) int { return cmp.Compare(place(a), place(b)) })
}

// LetterWaits tells whether a letter that is owed has to wait for a later day, because
// one letter to the family is made already for the same day of mailing. One that would be
// useless by then does not wait.
func (p *Protocol) LetterWaits(c *Case, l *LetterDue, day Day) bool {
	if l.To() != ToFamily || !p.letterCanWait(c, l, day) {
		return false
	}
	mail := p.MailDay(day)
	return slices.ContainsFunc(c.Letters, func(m LetterMade) bool {
		return m.State != "held" && m.MadeOn != 0 && LetterKindOf(m.Kind).To == ToFamily && p.MailDay(m.MadeOn) == mail
	})
}

// letterCanWait tells whether a letter is still of use when it is made for the next day
// of mailing: the letter of a booking and its reminder have to arrive before the test, and
// a first notice must be made before the day of one.
func (p *Protocol) letterCanWait(c *Case, l *LetterDue, day Day) bool {
	cal := p.Calendar()
	next := cal.Add(p.MailDay(day), 1)
	switch l.Kind {
	case LetterBooking, LetterReminder:
		return next <= cal.Add(OccasionDay(l.Occasion), -p.Mailing.ReminderUntil)
	case LetterFirstNotice:
		return !slices.ContainsFunc(c.Bookings, func(b Booking) bool { return b.State == "booked" && b.On >= day && b.On <= next })
	}
	return true
}
