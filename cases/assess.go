package cases

// Assess derives what a case and the protocol imply on a day. It does not touch
// its input and always gives the same answer for the same facts, in whatever
// order they were entered. The sentence Next.Because is left empty: Explain
// composes it for display.
func (p *Protocol) Assess(c *Case, on Day) Assessment {
	s := p.derive(c, on)
	a := s.steps()
	if a.LettersDue, a.LettersToRelease = s.lettersDue(); a.LettersDue == nil {
		a.LettersDue = []LetterDue{}
	}
	a.DoctorLettersDue, a.MessagesDue, a.ContactPlan = s.doctorLettersDue(), s.messagesDue(), s.contactState()
	return a
}

// AssessStep is Assess without the letters and messages that are owed and without the
// contact plan, which stay empty: for lists of many cases, which do not show them.
func (p *Protocol) AssessStep(c *Case, on Day) Assessment { return p.derive(c, on).steps() }

// steps is the assessment but for letters, messages and the contact plan.
func (s *state) steps() Assessment {
	c, on := s.c, s.on
	a := Assessment{
		Reference: c.Reference, On: on,
		Readiness: s.e.ready, PresumptiveCF: s.e.presumptive(), Genotype: s.e.genotype,
		Tests: s.e.tests, Repeat: s.repeat, Next: s.next(), Supports: s.sup, Actions: s.actions(),
		Proposed: s.cl.proposed, ReopenedOn: s.cl.reopened, KnownOn: s.e.twoFrom, CallBy: on + Day(s.p.Mailing.CallWithinDays),
	}
	if s.e.provisional {
		a.Provisional = &provisionalCRMS
	}
	if k := s.cl.standing; k != nil {
		a.Closed, a.ClosedOn, a.ClosedAs, a.LookAgain = true, k.closedOn(), k.As, k.LookAgain
	}
	if a.Actions.Has(ActReweigh) {
		a.WeighBy = s.reweighDue()
	}
	a.Clocks = s.clocks()
	a.Overdue = s.overdue(&a.Next, &a.Clocks)
	if a.Tests == nil {
		a.Tests = []TestReading{}
	}
	return a
}

var provisionalCRMS = crmsCFSPID

func (p *Protocol) derive(c *Case, on Day) *state {
	s := &state{p: p, c: c, on: on, cal: p.Calendar()}
	var buf []TestReading
	if n := len(c.SweatTests); n > 0 {
		buf = make([]TestReading, 0, n)
	}
	s.e = p.weigh(c, on, buf)
	s.r = c.reached(&s.e)
	s.sup = p.supported(c, &s.e, &s.r)
	s.cl = p.closing(c, on)
	s.bk = c.openBookings(&s.e)
	s.repeat = p.repeat(&s.e)
	return s
}

// OverdueFrom is the first day, from a given one on, on which the case is on the
// overdue list if nothing more is recorded; 0 when it never will be.
func (p *Protocol) OverdueFrom(c *Case, from Day) Day {
	for d := max(from, c.Infant.Born); ; {
		s := p.derive(c, d)
		n := s.next()
		k := s.clocks()
		due := s.soonest(&n, &k)
		if due != 0 && due <= d {
			return d
		}
		turn := c.turnAfter(d, s.e.ready.Earliest)
		if due != 0 && (turn == 0 || due < turn) {
			return due
		}
		if turn == 0 {
			return 0
		}
		d = turn
	}
}

// soonest is the earliest due day of the step and the running clocks.
func (s *state) soonest(n *Next, k *Clocks) Day {
	due := n.Due
	for _, r := range []*ClockRun{&k.PrimaryCareTold, &k.FamilyReached, &k.FirstTest, k.RepeatTest, &k.Determination} {
		if r != nil && r.Running && (due == 0 || r.Due < due) {
			due = r.Due
		}
	}
	return due
}

// turnAfter is the next day on which the mere passing of time can change the step:
// a hold begins or ends, a booking passes, a day to look again comes, a recorded
// fact takes effect.
func (c *Case) turnAfter(d, earliest Day) Day {
	var next Day
	look := func(x Day) {
		if x > d && (next == 0 || x < next) {
			next = x
		}
	}
	look(earliest - 7)
	for i := range c.Holds {
		look(c.Holds[i].From)
		look(c.Holds[i].Until)
	}
	for i := range c.Bookings {
		look(c.Bookings[i].On)
		look(c.Bookings[i].On + 1)
	}
	for i := range c.Closures {
		k := &c.Closures[i]
		look(k.On)
		look(k.AgreedOn)
		look(k.LookAgain)
		if k.Reopened != nil {
			look(k.Reopened.On)
		}
	}
	for i := range c.Contacts {
		look(c.Contacts[i].On)
	}
	for i := range c.Infant.Weights {
		look(c.Infant.Weights[i].On)
	}
	for i := range c.SweatTests {
		look(c.SweatTests[i].On)
		if v := c.SweatTests[i].Verified; v != nil {
			look(v.On)
		}
	}
	look(c.Infant.Died)
	if g := c.Genotype; g != nil {
		look(g.Reported)
		for i := range g.Variants {
			look(g.Variants[i].Reported)
		}
	}
	if x := c.Declined; x != nil {
		look(x.On)
		look(x.WithdrawnOn)
	}
	if h := c.Handover; h != nil {
		look(h.AcceptedOn)
	}
	return next
}
