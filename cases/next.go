package cases

// state is everything that one assessment derives from.
type state struct {
	p      *Protocol
	c      *Case
	on     Day
	cal    Calendar
	e      evidence
	r      reach
	sup    Supports
	cl     closing
	repeat *Repeat
	bk     openBookings
}

// next finds the one step owed: the first of the contract's table that applies.
func (s *state) next() Next {
	n := s.step()
	if n.Due != 0 && s.cl.reopened != 0 {
		n.Due = max(n.Due, s.cl.reopened)
	}
	if n.Due != 0 && n.Due < s.on {
		n.DaysOverdue = int(s.on - n.Due)
	}
	n.Urgency = s.urgency(n.Step)
	return n
}

func (s *state) step() Next {
	if k := s.cl.standing; k != nil {
		if (k.As == "lost" || k.As == crmsCFSPID) && k.LookAgain != 0 && k.LookAgain <= s.on {
			return Next{Step: StepLookAgain, Due: k.LookAgain, Cause: k.As}
		}
		return Next{Step: StepClosed, Cause: k.As}
	}
	in := &s.c.Infant
	if s.c.died(s.on) {
		return Next{Step: StepDecide, Due: max(in.Died, in.DiedReported), Cause: "died"}
	}
	if s.e.presumptive() && s.r.specialist == 0 {
		return Next{Step: StepReferAtOnce, Due: s.e.twoFrom, Cause: "presumptive"}
	}
	if s.sup.Has(SupRefused) {
		return Next{Step: StepDecide, Due: s.cal.Add(s.c.declinedOn(s.on), 3), Cause: "refused"}
	}
	if n, ok := s.testStep(); ok {
		return n
	}
	return s.followStep()
}

// testStep covers the steps that a recorded test or an unrecorded one asks for.
func (s *state) testStep() (Next, bool) {
	e := &s.e
	last := e.lastChloride
	if last != nil && s.bk.ahead == nil {
		cause := ""
		switch {
		case last.Outcome == Unverified || last.Outcome == ArmsDisagree:
			cause = string(last.Outcome)
		case e.misfit:
			cause = becauseMisfit
		case e.polyT:
			cause = "poly-t"
		}
		if cause != "" {
			return Next{Step: StepVerify, Due: s.cal.Add(s.lastTest(), 1), Cause: cause}, true
		}
	}
	rec := Next{Step: StepRecordResult}
	owed := func(due Day, cause string, b *Booking) {
		if rec.Due == 0 || due < rec.Due {
			rec.Due, rec.Cause, rec.Booking = due, cause, b
		}
	}
	if b := s.bk.past; b != nil {
		owed(b.On, "booking", b)
	}
	if last != nil && last.Outcome == NotResulted {
		owed(last.On, "not-resulted", nil)
	}
	if e.awaitReport {
		owed(e.secondInter+Day(s.p.GenotypeWaitDays), "genotype", nil)
	}
	if rec.Due != 0 {
		return rec, true
	}
	switch {
	case s.sup.Has(SupMoved):
		return Next{Step: StepDecide, Due: s.c.Handover.AcceptedOn, Cause: "moved"}, true
	case s.sup&^SupLost != 0:
		return Next{Step: StepDecide, Due: s.lastTest() + 7, Cause: "supported"}, true
	case e.judge:
		return Next{Step: StepDecide, Due: s.lastTest() + 7, Cause: "judge"}, true
	}
	return Next{}, false
}

func (s *state) lastTest() Day { return s.e.tests[len(s.e.tests)-1].On }

// followStep covers reaching people, waiting, booking.
func (s *state) followStep() Next {
	p := s.p
	if s.r.primary == 0 && s.r.family == 0 {
		return Next{Step: StepTellPrimary, Due: s.tellDue(p.TellPrimaryCareWorkingDays)}
	}
	if s.r.family == 0 {
		return Next{Step: StepReachFamily, Due: s.tellDue(p.ReachFamilyWorkingDays)}
	}
	if h := s.c.oldestHold(s.on); h != nil {
		due := h.LookAgain
		if due == 0 {
			due = s.cal.Add(h.From, 3)
		}
		return Next{Step: StepClearHold, Due: due, Cause: h.Reason}
	}
	if b := s.bk.ahead; b != nil {
		return Next{Step: StepAwaitTest, Due: b.On, Booking: b}
	}
	if s.repeat != nil {
		return Next{Step: StepRepeatTest, Due: s.repeat.Due, Cause: s.repeat.Because, Booking: s.bk.dropped}
	}
	ready := &s.e.ready
	if w := ready.Weight.State; (w == WeightShort || w == WeightUnknown) && ready.Earliest-s.on <= 7 {
		return Next{Step: StepReweigh, Due: s.reweighDue(), Cause: w}
	}
	return s.bookStep()
}

// tellDue is the day by which somebody is to be told: the same day when CF is
// presumptive, else working days after the referral.
func (s *state) tellDue(workingDays int) Day {
	if s.e.presumptive() {
		return s.e.twoFrom
	}
	return s.cal.Add(s.e.ref, workingDays)
}

func (s *state) reweighDue() Day {
	ready := &s.e.ready
	if ready.Weight.State == WeightUnknown {
		return s.e.ref + 7
	}
	due := ready.Latest.On + 7
	if est := ready.Weight.Estimate; est != nil && est.ReweighBy != 0 {
		due = min(due, est.ReweighBy)
	}
	return max(due, s.c.Infant.Born+10) // not before day 10 of life
}

func (s *state) bookStep() Next {
	ordinary := max(s.e.ref+Day(s.p.BookWithinDays), s.e.ready.Earliest-7)
	b := s.bk.dropped
	switch {
	case b != nil && b.State == "missed":
		return Next{Step: StepBookTest, Due: s.cal.Add(b.On, 2), Cause: "missed", Booking: b}
	case b != nil:
		due := ordinary
		if b.Changed != 0 {
			due = min(due, s.cal.Add(b.Changed, 2))
		}
		return Next{Step: StepBookTest, Due: due, Cause: "cancelled", Booking: b}
	case s.conductivityOpen():
		return Next{Step: StepBookTest, Due: s.lastTest() + 7, Cause: "conductivity"}
	}
	return Next{Step: StepBookTest, Due: ordinary}
}

// urgency is a class, said in words: 3 presumptive CF or an arm in the CF range,
// 2 a value that does not fit or 50 up to the CF limit, 1 everything else.
func (s *state) urgency(step Step) int {
	e := &s.e
	switch {
	case s.cl.standing != nil:
		return 1
	case e.presumptive() || e.anyCF:
		return 3
	case step == StepVerify:
		return 2
	case e.graded != nil && e.graded.Outcome == Intermediate && *e.graded.Deciding >= 50:
		return 2
	}
	return 1
}
