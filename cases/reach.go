package cases

// reach is who was reached, and since when it counts.
type reach struct {
	from       Day // contacts from this day on count
	family     Day // first day the family was reached; 0: not yet
	primary    Day
	specialist Day
	lastFamily Day // last day the family was reached, stand-ins included
}

// effective reads a day before birth as the day of birth.
func (c *Case) effective(d Day) Day { return max(d, c.Infant.Born) }

// reached finds who was reached by a day. In presumptive CF only contacts from the
// day it became known count, and neither a test nor a kept booking stands in for
// the talk with the family.
func (c *Case) reached(e *evidence) reach {
	r := reach{from: e.ref}
	if e.presumptive() {
		r.from = e.twoFrom
	}
	first := func(p *Day, d Day) {
		if *p == 0 || d < *p {
			*p = d
		}
	}
	for i := range c.Contacts {
		k := &c.Contacts[i]
		d := c.effective(k.On)
		if !k.Reached || d > e.on {
			continue
		}
		if k.With == "family" {
			r.lastFamily = max(r.lastFamily, d)
		}
		if d < r.from {
			continue
		}
		switch k.With {
		case "family":
			first(&r.family, d)
		case "primary-care":
			first(&r.primary, d)
		case "specialist":
			first(&r.specialist, d)
		}
	}
	standIn := func(d Day) {
		if d < e.ref || d > e.on {
			return
		}
		r.lastFamily = max(r.lastFamily, d)
		if !e.presumptive() {
			first(&r.family, d)
		}
	}
	for i := range c.SweatTests {
		standIn(c.SweatTests[i].On)
	}
	for i := range c.Bookings {
		if c.Bookings[i].State == "kept" {
			standIn(c.Bookings[i].On)
		}
	}
	return r
}

// declinedOn is the day of a refusal that still holds on a day, 0 otherwise: it
// ends when withdrawn, or with a test or a kept booking after it.
func (c *Case) declinedOn(on Day) Day {
	d := c.Declined
	if d == nil || d.On > on || d.WithdrawnOn != 0 && d.WithdrawnOn <= on {
		return 0
	}
	for i := range c.SweatTests {
		if t := c.SweatTests[i].On; t > d.On && t <= on {
			return 0
		}
	}
	for i := range c.Bookings {
		if b := &c.Bookings[i]; b.State == "kept" && b.On > d.On && b.On <= on {
			return 0
		}
	}
	return d.On
}

// died tells whether the infant's death was on or before a day.
func (c *Case) died(on Day) bool { return c.Infant.Died != 0 && c.Infant.Died <= on }

// unsent lists outcomes of an attempt that cannot have reached the family.
var unsent = [...]string{"wrong number", "out of service", "came back", "not mailed"}

// lost tells whether the documented attempts support closing as lost to
// follow-up: enough attempts on different days by different means with a letter
// among them, long enough, and primary care told (project choice; no national
// number found).
func (p *Protocol) lost(c *Case, e *evidence, r *reach) bool {
	if e.presumptive() || e.anyCF || e.interDays > 0 {
		return false
	}
	var days [64]Day
	var means [8]string
	nd, nm, first, letter := 0, 0, Day(0), false
	for i := range c.Contacts {
		k := &c.Contacts[i]
		d := c.effective(k.On)
		if k.With != "family" || k.Reached || d > e.on || d < e.ref || d <= r.lastFamily || isUnsent(k.Outcome) {
			continue
		}
		if first == 0 || d < first {
			first = d
		}
		letter = letter || k.By == "letter" || k.By == "certified-letter"
		nd = addDistinct(days[:], nd, d)
		nm = addDistinct(means[:], nm, k.By)
	}
	if nd < p.LostMinAttempts || nm < p.LostMinRoutes || !letter || e.on-first < Day(p.LostMinDays) {
		return false
	}
	for i := range c.Contacts {
		k := &c.Contacts[i]
		if d := c.effective(k.On); k.With == "primary-care" && k.Reached && d >= first && d <= e.on {
			return true
		}
	}
	return false
}

func isUnsent(outcome string) bool {
	for _, u := range unsent {
		if outcome == u {
			return true
		}
	}
	return false
}

func addDistinct[T comparable](set []T, n int, v T) int {
	for i := range n {
		if set[i] == v {
			return n
		}
	}
	if n < len(set) {
		set[n] = v
		n++
	}
	return n
}

// supported adds to the evidence what death, hand-over, refusal and documented
// attempts support.
func (p *Protocol) supported(c *Case, e *evidence, r *reach) Supports {
	if c.died(e.on) {
		return SupDied
	}
	s := e.supports
	if h := c.Handover; h != nil && h.AcceptedOn != 0 && h.AcceptedOn <= e.on {
		s |= SupMoved
	}
	if refused(c, e) {
		s |= SupRefused
	}
	if s == 0 && p.lost(c, e, r) {
		s |= SupLost
	}
	return s
}

// refused tells a refusal that holds and hides nothing grave.
func refused(c *Case, e *evidence) bool {
	return !e.presumptive() && !e.anyCF && c.declinedOn(e.on) != 0
}
