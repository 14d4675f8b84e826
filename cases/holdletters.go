package cases

import "time"

// letterStop says why one letter or message must not go out now, in words; "" when it
// may. A letter that a named person released goes in spite of CF being in question, but
// of nothing else.
func (s *state) letterStop(kind, occasion string) string {
	if why := s.otherStop(kind); why != "" {
		return why
	}
	if LetterKindOf(kind).To != ToFamily {
		return ""
	}
	if why := s.inQuestion(); why != "" && !s.c.released(kind, occasion, s.on) {
		return why
	}
	return ""
}

// otherStop is a stop that no release lifts, by whom the letter goes to.
func (s *state) otherStop(kind string) string {
	switch LetterKindOf(kind).To {
	case ToPrimaryCare:
		return s.doctorStop(kind)
	case ToClinic:
		return ""
	}
	return s.mailStop()
}

// mailStop is the stop of everything that goes to the family.
func (s *state) mailStop() string {
	switch {
	case s.c.died(s.on):
		return "the infant died"
	case s.cl.standing != nil:
		return "the case is closed"
	case s.c.declinedOn(s.on) != 0:
		return "the family declined"
	case s.sup.Has(SupMoved): // none to an infant accepted elsewhere (protocol, cautions)
		return "another program has accepted the infant"
	case s.mailStopped():
		return "a no-mail, custody or safety flag is set"
	}
	return ""
}

// mailStopped tells a flag under which nothing is mailed. A safety flag counts with the
// two of the contract: a letter may be read by the one it is set against.
func (s *state) mailStopped() bool {
	for i := range s.c.Flags {
		if f := &s.c.Flags[i]; f.stopsMail() && f.stands(s.on) {
			return true
		}
	}
	return false
}

func (f *Flag) stopsMail() bool {
	return f.Kind == "no-mail" || f.Kind == "custody" || f.Kind == "safety"
}

// stands tells whether a flag holds on a day: from From to the day before Until.
func (f *Flag) stands(on Day) bool { return f.From <= on && (f.Until == 0 || on < f.Until) }

// inQuestion is the stop while CF is presumptive or a test stands in the CF range:
// such a family hears it from a person first.
func (s *state) inQuestion() string {
	if s.e.presumptive() || s.e.anyCF {
		return "CF is presumptive or a test is in the CF range; a person tells the family first"
	}
	return ""
}

// LetterStop says why a letter of a case must not go out on a day, in words; "" when it
// may: what stops it, what it says is no longer so, or another goes in its place.
func (p *Protocol) LetterStop(c *Case, kind, occasion string, on Day) string {
	return p.derive(c, on).goStop(kind, occasion)
}

func (s *state) goStop(kind, occasion string) string {
	if why := s.wordStop(kind, occasion); why != "" {
		return why
	}
	return s.c.inPlace(kind, occasion)
}

// wordStop is goStop of a letter or a message, whatever else says the same.
func (s *state) wordStop(kind, occasion string) string {
	if why := s.letterStop(kind, occasion); why != "" {
		return why
	}
	return s.overtaken(kind, occasion)
}

// overtaken says why what a letter or message says is no longer so; "" when it is.
func (s *state) overtaken(kind, occasion string) string {
	if occasion == "" {
		return ""
	}
	occasion = BaseOccasion(occasion)
	switch kind {
	case LetterBooking, LetterReminder:
		for i := range s.c.Bookings {
			if b := &s.c.Bookings[i]; b.State == "booked" && BookingOccasion(b) == occasion {
				if b.On > s.on {
					return ""
				}
				return "the day of the test has come"
			}
		}
		return "the booking was cancelled, moved or is over"
	case LetterMissed:
		if s.bk.ahead != nil || s.bk.dropped == nil || s.bk.dropped.State != "missed" || BookingOccasion(s.bk.dropped) != occasion {
			return "another test is booked or was done"
		}
	case LetterRepeatNeeded:
		if r := s.repeat; r == nil || r.After.String()+" "+r.Because != occasion {
			return "the repeat that it asks for is not owed any more"
		}
	case LetterResult, LetterCarrier:
		if s.resultKnown(kind) == 0 || testOccasion(s.e.graded.Test) != occasion {
			return "the evidence does not support it any more"
		}
	case LetterDoctorResult:
		if t := s.e.graded; t == nil || s.e.misfit || testOccasion(t.Test)+" "+string(t.Outcome) != occasion {
			return "the result was changed, or a later one is in"
		}
	case LetterNoContact, LetterCannotReach, MessageNudge:
		if since, _ := s.contactNeeded(); since == 0 || since != OccasionDay(occasion) {
			return "the family was reached"
		}
		if d := s.nudgeDay(occasion); kind == MessageNudge && d != 0 && d < s.on {
			return "its day has passed"
		}
	}
	return ""
}

// HoldLetters holds every letter and message of a case that has not gone and must not
// go any more, in the caller's transaction: in the store and in the case's own list,
// which the caller then writes. A death, a custody or a safety flag stops the mail of
// siblings with the same contact too; HoldLetters writes those cases itself.
func HoldLetters(w Writer, p *Protocol, c *Case) error {
	_, err := HoldFamily(w, p, nil, c)
	return err
}

// HoldFamily is HoldLetters after a change of the case, and names the siblings' cases
// that it wrote. old is the case before the change, by which letters to another address
// or in another language are held as well; nil when nothing was changed.
func HoldFamily(w Writer, p *Protocol, old, c *Case) ([]ID, error) {
	if c.ID == "" {
		return nil, nil
	}
	touched, err := shareStops(w, p, c)
	if err != nil {
		return nil, err
	}
	return touched, holdOwn(w, p, old, c)
}

// holdOwn holds the letters and messages of one case, and says of those that did not
// arrive when they are owed again. old is the case before the change; nil without one.
func holdOwn(w Writer, p *Protocol, old, c *Case) error {
	if err := HoldMessages(w, p, c); err != nil {
		return err
	}
	if len(c.Letters) == 0 {
		return nil
	}
	made, err := w.LettersOf(c.ID)
	if err != nil {
		return err
	}
	s := p.derive(c, w.Today())
	for _, l := range made {
		if l.State != "to-print" && l.State != "printed" {
			continue
		}
		reason := s.goStop(l.Kind, l.Occasion)
		if reason == "" && old != nil {
			reason = outdated(old, c, &l)
		}
		if reason == "" {
			continue
		}
		if err := holdLetter(w, c, &l, reason); err != nil {
			return err
		}
	}
	if old != nil {
		s.outdateSent(old)
	}
	s.readyAgain()
	return nil
}

func holdLetter(w Writer, c *Case, l *Letter, reason string) error {
	if l.State == "printed" {
		reason += "; take it out of the stack"
	}
	l.Changed = w.Today()
	l.Step(w.Now(), "Dunlin", "held", "Held: "+reason+".")
	if _, err := w.PutLetter(*l); err != nil {
		return err
	}
	c.markLetter(l, 0)
	c.eachLine(l, func(m *LetterMade) { m.Unsent = true })
	return nil
}

// Step moves a letter to a state and adds a line to its history. An empty note leaves
// what the letter says of itself.
func (l *Letter) Step(at time.Time, by, state, note string) {
	l.State = state
	if note != "" {
		l.Note = note
	}
	l.History = append(l.History, LetterStep{At: at, By: by, State: state, Note: note})
}

// markLetter brings the case's line of a letter in step with it.
func (c *Case) markLetter(l *Letter, mailed Day) {
	c.eachLine(l, func(m *LetterMade) {
		m.State = l.State
		m.Unsent = l.State == "came-back" && l.By != ByEmail
		if !m.Outdated {
			m.AgainFrom = 0
		}
		if mailed != 0 {
			m.MailedOn = mailed
		}
	})
}

// eachLine goes over the lines of a case about one letter.
func (c *Case) eachLine(l *Letter, f func(*LetterMade)) {
	for i := range c.Letters {
		if m := &c.Letters[i]; m.Kind == l.Kind && m.Occasion == l.Occasion {
			f(m)
		}
	}
}
