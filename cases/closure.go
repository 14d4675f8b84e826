package cases

import "slices"

// Determinations lists the reasons of a closure in the order shown.
var Determinations = []string{"cf", "crms-cfspid", "carrier", "not-affected", "other-diagnosis",
	"lost", "refused", "died", "moved", "duplicate"}

// closing is where a case stands between open, proposed and closed on a day.
type closing struct {
	standing *Closure // closed, and nothing reopened it
	proposed *Closure // waits for a second person
	reopened Day      // the day of the fact that reopened it
}

// latestClosure is the closure that counts: the one with the latest day.
func (c *Case) latestClosure(on Day) *Closure {
	var last *Closure
	for i := range c.Closures {
		k := &c.Closures[i]
		if k.On > on {
			continue
		}
		if last == nil || k.On > last.On || k.On == last.On && k.weight(on) > last.weight(on) {
			last = k
		}
	}
	return last
}

// weight decides between two closures of one day: one that nobody took back
// counts before one taken back, an agreed one before a proposal.
func (k *Closure) weight(on Day) int {
	n := 0
	if k.Reopened == nil || k.Reopened.On > on {
		n += 2
	}
	if k.agreed(on) {
		n++
	}
	return n
}

// closedOn is the day from which the closure stands.
func (k *Closure) closedOn() Day { return max(k.On, k.AgreedOn) }

// agreed tells whether another person agreed and a reason stands.
func (k *Closure) agreed(on Day) bool {
	return k.AgreedBy != "" && k.AgreedBy != k.By && k.Reason != "" && k.AgreedOn <= on
}

// closing derives the state. Whether a closure stands without a second person
// depends on what the evidence supported on its own day.
func (p *Protocol) closing(c *Case, on Day) closing {
	k := c.latestClosure(on)
	if k == nil {
		return closing{}
	}
	if !k.agreed(on) && !p.StandsAlone(c, k.As, k.On) {
		if k.Reopened != nil && k.Reopened.On <= on {
			return closing{} // sent back
		}
		return closing{proposed: k}
	}
	if r := c.reopenedOn(k, on); r != 0 {
		return closing{reopened: r}
	}
	return closing{standing: k}
}

func (p *Protocol) supportedOn(c *Case, on Day) Supports {
	e := p.weigh(c, on, nil)
	r := c.reached(&e)
	return p.supported(c, &e, &r)
}

// reopenedOn finds the first fact that reopens a closed case: a test it did not
// rest on, one it rested on voided since, a later genotype, after lost a reached
// family, or a person's word.
func (c *Case) reopenedOn(k *Closure, on Day) Day {
	var first Day
	found := func(d Day) {
		if d <= on && (first == 0 || d < first) {
			first = d
		}
	}
	for i := range c.SweatTests {
		t := &c.SweatTests[i]
		rested := t.On <= k.On
		if k.RestsOn != nil {
			rested = slices.Contains(k.RestsOn, t.On)
		}
		switch {
		case !rested && !t.void(on):
			found(max(t.On, k.On))
		case rested && t.void(on) && t.Verified.On > k.On:
			found(t.Verified.On)
		}
	}
	if g := c.Genotype; g != nil {
		if g.Reported > k.On {
			found(g.Reported)
		}
		for i := range g.Variants {
			if d := g.Variants[i].Reported; d > k.On {
				found(d)
			}
		}
	}
	if k.As == "lost" {
		for i := range c.Contacts {
			if t := &c.Contacts[i]; t.With == "family" && t.Reached && t.On > k.On {
				found(t.On)
			}
		}
	}
	if k.Reopened != nil {
		found(k.Reopened.On)
	}
	return first
}
