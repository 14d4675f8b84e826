package cases

// doctorLettersDue lists the letters owed to primary care. Of each kind only the newest
// is owed, for an old one that never went must not go beside it.
func (s *state) doctorLettersDue() []LetterDue {
	var out []LetterDue
	owe := func(kind, occasion string, due Day) {
		if due == 0 || due > s.on || s.doctorStop(kind) != "" {
			return
		}
		if occasion, again := s.c.owedOccasion(kind, occasion, s.on); occasion != "" {
			out = append(out, LetterDue{Kind: kind, Occasion: occasion, Due: max(due, again)})
		}
	}
	if occasion, due := s.referralLetter(); due != 0 {
		owe(LetterReferral, occasion, due)
	}
	if t := s.e.graded; t != nil && !s.e.misfit {
		// A reading that was changed is another occasion, so that the doctor hears of it.
		owe(LetterDoctorResult, testOccasion(t.Test)+" "+string(t.Outcome), s.cal.Add(t.known(s.on), 1))
	}
	if since, due := s.rungLetter(LetterCannotReach); due != 0 {
		owe(LetterCannotReach, since.String(), due)
	}
	return out
}

// referralLetter: one working day after the referral, until a test was collected; and
// on the day CF became presumptive, until a test after it was graded.
func (s *state) referralLetter() (occasion string, due Day) {
	if two := s.e.twoFrom; two != 0 {
		if g := s.e.graded; g != nil && g.On >= two {
			return "", 0
		}
		return two.String() + " presumptive", two
	}
	if len(s.e.tests) > 0 {
		return "", 0
	}
	return s.e.ref.String(), s.cal.Add(s.e.ref, 1)
}

// doctorStop says why a letter to primary care must not go now, in words. Flags are
// about the family's mail and do not stop it.
func (s *state) doctorStop(kind string) string {
	switch {
	case s.c.died(s.on):
		return "the infant died; a person tells the doctor"
	case s.sup.Has(SupMoved):
		return "another program has accepted the infant"
	case s.cl.standing != nil:
		if k := s.cl.standing; kind != LetterDoctorResult || k.As == "duplicate" || s.on-k.closedOn() > Day(s.p.Mailing.DoctorResultDays) {
			return "the case is closed"
		}
	case kind != LetterDoctorResult && s.c.declinedOn(s.on) != 0:
		return "the family declined"
	}
	return ""
}
