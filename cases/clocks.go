package cases

import "strconv"

// clocks runs the clocks of the contract. A met clock keeps how late it was met;
// an unmet one counts to the day, and all stop at closure, death and a supported
// refusal.
func (s *state) clocks() Clocks {
	p, c, e := s.p, s.c, &s.e
	stop := s.stopped()
	var k Clocks
	k.PrimaryCareTold = s.clock(s.tellDue(p.TellPrimaryCareWorkingDays), s.r.primary, stop)
	k.FamilyReached = s.clock(s.tellDue(p.ReachFamilyWorkingDays), s.r.family, stop)
	first := c.Infant.Born + Day(p.FirstTestByDays)
	exception := ""
	if e.ready.Earliest > first {
		first = e.ready.Earliest + 7
		exception = exceptionNoDay + strconv.Itoa(p.FirstTestByDays)
	}
	k.FirstTest = s.clock(first, s.firstCollection(), stop)
	k.FirstTest.Exception = exception
	if s.repeat != nil {
		r := s.clock(s.repeat.Due, 0, stop)
		k.RepeatTest = &r
	}
	var closed Day
	if s.cl.standing != nil {
		closed = s.cl.standing.closedOn()
	}
	k.Determination = s.clock(c.Infant.Born+Day(p.DeterminationByDays), closed, stop)
	return k
}

// firstCollection is the day of the first chloride collection, QNS included.
func (s *state) firstCollection() Day {
	for i := range s.e.tests {
		if t := &s.e.tests[i]; !t.Test.IsConductivity() {
			return t.On
		}
	}
	return 0
}

// stopped is the day on which unmet clocks stopped, 0 while they run.
func (s *state) stopped() Day {
	var stop Day
	at := func(d Day) {
		if stop == 0 || d < stop {
			stop = d
		}
	}
	if s.cl.standing != nil {
		at(s.cl.standing.closedOn())
	}
	if s.c.died(s.on) {
		at(s.c.Infant.Died)
	}
	if refused(s.c, &s.e) { // also when the infant died later
		at(s.c.declinedOn(s.on))
	}
	return stop
}

func (s *state) clock(due, met, stop Day) ClockRun {
	r := ClockRun{Due: due, MetOn: met}
	until := met
	if met == 0 {
		until = s.on
		r.Running = stop == 0
		if stop != 0 {
			until = min(until, stop)
		}
	}
	r.DaysLate = max(0, int(until-due))
	return r
}

// The names of the clocks, for Overdue.By.
var (
	byStep          = "step"
	byPrimaryCare   = "primary-care-told"
	byFamily        = "family-reached"
	byFirstTest     = "first-test"
	byRepeat        = "repeat-test"
	byDetermination = "determination"
)

// overdue counts from the oldest due day, today included, of the step and the
// running clocks; the step comes first on a tie.
func (s *state) overdue(n *Next, k *Clocks) Overdue {
	var o Overdue
	look := func(due Day, by *string) {
		if due != 0 && due <= s.on && (o.Since == 0 || due < o.Since) {
			o.Since, o.By = due, by
		}
	}
	look(n.Due, &byStep)
	clock := func(r *ClockRun, by *string) {
		if r != nil && r.Running {
			look(r.Due, by)
		}
	}
	clock(&k.PrimaryCareTold, &byPrimaryCare)
	clock(&k.FamilyReached, &byFamily)
	clock(&k.FirstTest, &byFirstTest)
	clock(k.RepeatTest, &byRepeat)
	clock(&k.Determination, &byDetermination)
	if o.Since != 0 {
		o.Days = int(s.on - o.Since)
	}
	return o
}
