package cases

// letterStop says why one letter must not go out now, in words; "" when it may. A
// letter that a named person released goes in spite of CF being in question, but of
// nothing else.
func (s *state) letterStop(kind, occasion string) string {
	if why := s.mailStop(); why != "" {
		return why
	}
	if why := s.inQuestion(); why != "" && !s.c.released(kind, occasion, s.on) {
		return why
	}
	return ""
}

// mailStop is a stop that no release lifts.
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
		return "a no-mail or custody flag is set"
	}
	return ""
}

// inQuestion is the stop while CF is presumptive or a test stands in the CF range:
// such a family hears it from a person first.
func (s *state) inQuestion() string {
	if s.e.presumptive() || s.e.anyCF {
		return "CF is presumptive or a test is in the CF range; a person tells the family first"
	}
	return ""
}

// HoldLetters holds every letter of a case that is made and not mailed when mail to
// the family has stopped, in the caller's transaction: in the letters and in the
// case's own list, which the caller then writes. Messages that wait are held with them.
func HoldLetters(w Writer, p *Protocol, c *Case) error {
	if err := HoldMessages(w, p, c); err != nil {
		return err
	}
	if c.ID == "" || len(c.Letters) == 0 {
		return nil
	}
	s := p.derive(c, w.Today())
	if s.mailStop() == "" && s.inQuestion() == "" {
		return nil
	}
	made, err := w.LettersOf(c.ID)
	if err != nil {
		return err
	}
	for _, l := range made {
		if l.State != "to-print" && l.State != "printed" {
			continue
		}
		reason := s.letterStop(l.Kind, l.Occasion)
		if reason == "" {
			continue
		}
		if l.State == "printed" {
			reason += "; take it out of the stack"
		}
		l.State, l.Changed, l.Note = "held", w.Today(), "Held: "+reason+"."
		if _, err := w.PutLetter(l); err != nil {
			return err
		}
		for i := range c.Letters {
			if m := &c.Letters[i]; m.Kind == l.Kind && m.Occasion == l.Occasion {
				m.State = "held"
			}
		}
	}
	return nil
}
