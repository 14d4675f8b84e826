package store

import "dunlin/cases"

// caseRecord is a case as the table keeps it, with where it stands under the
// protocol once that was asked for. Only the case is written.
type caseRecord struct {
	cases.Case
	stands *standing
}

// standing is what the indexes need to know of a case beyond its own fields.
type standing struct {
	due      cases.Day // first day on the overdue list if nothing more is recorded; 0 = never
	closed   bool
	closedOn cases.Day
	retest   cases.Day // of a case closed as CRMS/CFSPID: its day to look again
	marks    []string  // the key of its milestones
}

// standing is derived from the record and the protocol alone, so that it can be
// computed again at any time: the facts are read as of the day of the last of
// them, and the first day on the list is looked for from that day on.
func (db *DB) standing(r *caseRecord) standing {
	if r.stands == nil {
		p, on := db.protocol(), lastFact(&r.Case)
		a := p.AssessStep(&r.Case, on)
		r.stands = &standing{due: p.OverdueFrom(&r.Case, on), closed: a.Closed, closedOn: a.ClosedOn}
		if a.Closed && a.ClosedAs == "crms-cfspid" {
			r.stands.retest = a.LookAgain
		}
		if kept := lastKept(&r.Case); kept > on { // not yet, by the facts: a plan was marked as kept
			a = p.Assess(&r.Case, kept)
		}
		m := cases.MilestonesOf(&r.Case, &a)
		r.stands.marks = milestoneKeys(&m)
	}
	return *r.stands
}

// lastFact is the latest day of anything that was recorded. Plans are left
// out: the day of a booking, the end of a hold or a flag, a day to look again.
func lastFact(c *cases.Case) cases.Day {
	d := max(c.Referral.On, c.Infant.Born, c.Infant.Died, c.Infant.DiedReported)
	if s := c.Referral.Screen; s != nil {
		d = max(d, s.Collected, s.Reported)
	}
	for i := range c.Infant.Weights {
		d = max(d, c.Infant.Weights[i].On)
	}
	if g := c.Genotype; g != nil {
		d = max(d, g.Reported)
		for i := range g.Variants {
			d = max(d, g.Variants[i].Reported)
		}
	}
	for i := range c.Holds {
		d = max(d, c.Holds[i].From)
	}
	for i := range c.Contacts {
		d = max(d, c.Contacts[i].On)
	}
	for i := range c.Bookings {
		d = max(d, c.Bookings[i].Changed, c.Bookings[i].Made)
	}
	d = max(d, lastTestFact(c), lastClosureFact(c))
	if x := c.Declined; x != nil {
		d = max(d, x.On, x.WithdrawnOn)
	}
	if x := c.Handover; x != nil {
		d = max(d, x.On, x.AcceptedOn)
	}
	if x := c.RepeatOrdered; x != nil {
		d = max(d, x.On)
	}
	for i := range c.Letters {
		d = max(d, c.Letters[i].MadeOn, c.Letters[i].AgainFrom)
	}
	for i := range c.Messages {
		d = max(d, c.Messages[i].QueuedOn)
	}
	for i := range c.Releases {
		d = max(d, c.Releases[i].On)
	}
	return d
}

// lastKept is the latest day of an appointment that was kept.
func lastKept(c *cases.Case) (d cases.Day) {
	for i := range c.Bookings {
		if b := &c.Bookings[i]; b.State == "kept" {
			d = max(d, b.On)
		}
	}
	return d
}

func lastTestFact(c *cases.Case) (d cases.Day) {
	for i := range c.SweatTests {
		t := &c.SweatTests[i]
		d = max(d, t.On)
		if t.Verified != nil {
			d = max(d, t.Verified.On)
		}
		for j := range t.Arms {
			d = max(d, t.Arms[j].ReportedOn)
		}
	}
	return d
}

func lastClosureFact(c *cases.Case) (d cases.Day) {
	for i := range c.Closures {
		k := &c.Closures[i]
		d = max(d, k.On, k.AgreedOn)
		if k.Reopened != nil {
			d = max(d, k.Reopened.On)
		}
	}
	return d
}
