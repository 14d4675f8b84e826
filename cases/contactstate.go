package cases

import (
	"cmp"
	"slices"
)

// ContactState is where a family that has not been reached stands in the contact plan.
type ContactState struct {
	Since Day    `json:"since"` // the day from which contact is needed
	Why   string `json:"why"`   // not-reached, or missed after a missed booking
	Rung  string `json:"rung"`  // the furthest step whose day has come
	// Owed are the attempts whose day has come and that are not recorded, the earliest
	// first; Next is the first that lies ahead, nil when there is none.
	Owed []AttemptOwed `json:"owed"`
	Next *AttemptOwed  `json:"next"`
}

// AttemptOwed is one attempt of a rung: the N-th of Of.
type AttemptOwed struct {
	Rung string `json:"rung"`
	With string `json:"with"`
	By   string `json:"by,omitempty"`
	Who  string `json:"who"`
	Due  Day    `json:"due"`
	N    int    `json:"n"`
	Of   int    `json:"of"`
}

// contactNeeded is the day from which the family is to be reached, and why; 0 when it
// was reached, or when nothing is to be said to it. It is the referral, or the day CF
// became presumptive, or the day of a missed booking after which nobody was reached.
func (s *state) contactNeeded() (since Day, why string) {
	switch {
	case s.cl.standing != nil, s.c.died(s.on), s.c.declinedOn(s.on) != 0, s.sup.Has(SupMoved):
		return 0, ""
	case s.r.family == 0:
		if s.r.from > s.on {
			return 0, ""
		}
		return s.r.from, "not-reached"
	}
	b := s.bk.dropped
	if b == nil || b.State != "missed" || s.bk.ahead != nil || s.bk.past != nil || b.On > s.on || s.r.lastFamily >= b.On {
		return 0, ""
	}
	return b.On, "missed"
}

// contactState walks the plan; nil while the family need not be reached.
func (s *state) contactState() *ContactState {
	since, why := s.contactNeeded()
	if since == 0 {
		return nil
	}
	out := &ContactState{Since: since, Why: why, Owed: []AttemptOwed{}}
	presumptive := s.e.presumptive()
	nextRung, nextN, nextDay := -1, 0, 0 // the attempt ahead, by its working day
	for i := range s.p.ContactPlan {
		r := &s.p.ContactPlan[i]
		if r.byConsent() && !s.c.consents(r.By, s.on) && !(r.By == ByText && s.c.consents(ByEmail, s.on)) {
			continue
		}
		days := r.days(presumptive)
		if _, come := s.workingDay(since, days[0]); come {
			out.Rung = r.Name // rungs rise, so the last that has come is the furthest
		}
		for n := s.attempts(i, since); n < len(days); n++ {
			if due, come := s.workingDay(since, days[n]); come {
				out.Owed = append(out.Owed, AttemptOwed{Rung: r.Name, With: r.With, By: r.By, Who: r.Who, Due: due, N: n + 1, Of: len(days)})
			} else if nextRung < 0 || days[n] < nextDay {
				nextRung, nextN, nextDay = i, n, days[n]
			}
		}
	}
	if nextRung >= 0 {
		r := &s.p.ContactPlan[nextRung]
		out.Next = &AttemptOwed{Rung: r.Name, With: r.With, By: r.By, Who: r.Who, Due: s.cal.Add(since, nextDay), N: nextN + 1, Of: len(r.Days)}
	}
	slices.SortStableFunc(out.Owed, func(a, b AttemptOwed) int { return cmp.Compare(a.Due, b.Due) })
	return out
}

// workingDay is the n-th working day after a day, and whether it has come; the day
// itself is 0 when it is ahead, for counting working days costs time.
func (s *state) workingDay(since Day, n int) (d Day, come bool) {
	if since+Day(n) > s.on {
		return 0, false
	}
	if d = s.cal.Add(since, n); d > s.on {
		return 0, false
	}
	return d, true
}

// attempts counts the recorded attempts that belong to rung i: by its means, since
// contact is needed, less those that rungs above it with the same means used up. In
// ordinary cases several on one day count once, for they are to be on different days.
func (s *state) attempts(i int, since Day) int {
	plan, r := s.p.ContactPlan, &s.p.ContactPlan[i]
	n := 0
	for j := range s.c.Contacts {
		k := &s.c.Contacts[j]
		if k.Outcome == "not mailed" || !r.takes(k) || !s.counts(k, since) {
			continue
		}
		again := false
		for h := 0; h < j && !s.e.presumptive() && !again; h++ {
			o := &s.c.Contacts[h]
			again = o.Outcome != "not mailed" && r.takes(o) && s.counts(o, since) && s.c.effective(o.On) == s.c.effective(k.On)
		}
		if !again {
			n++
		}
	}
	for j := range i {
		if o := &plan[j]; o.With == r.With && o.By == r.By {
			n -= len(o.Days)
		}
	}
	return max(n, 0)
}

// takes tells whether a contact is an attempt of the rung's kind; an e-mail stands in
// for a text.
func (r *Rung) takes(k *Contact) bool {
	return k.With == r.With && (r.By == "" || k.By == r.By || r.By == ByText && k.By == ByEmail)
}

func (s *state) counts(k *Contact, since Day) bool {
	d := s.c.effective(k.On)
	return d >= since && d <= s.on
}

// failedAttempts gives the days of the first two attempts to reach the family since a
// day that did not; 0 where there is none. A letter that was not mailed is left out
// when sent is asked for.
func (s *state) failedAttempts(since Day, sent bool) (one, two Day) {
	for i := range s.c.Contacts {
		k := &s.c.Contacts[i]
		d := s.c.effective(k.On)
		if k.With != ToFamily || k.Reached || d > s.on || d < since || sent && k.Outcome == "not mailed" {
			continue
		}
		switch {
		case one == 0 || d < one:
			one, two = d, one
		case two == 0 || d < two:
			two = d
		}
	}
	return one, two
}

// rungLetter is the day on which a letter of the contact plan falls due: the rung's day
// has come and two attempts have failed, for a letter that says so must be true. The
// occasion is the day from which contact is needed.
func (s *state) rungLetter(kind string) (occasion, due Day) {
	r := s.p.ContactPlan.RungFor(kind)
	if r == nil {
		return 0, 0
	}
	since, _ := s.contactNeeded()
	if since == 0 {
		return 0, 0
	}
	d, come := s.workingDay(since, r.days(s.e.presumptive())[0])
	if !come {
		return 0, 0
	}
	_, two := s.failedAttempts(since, true)
	if two == 0 {
		return 0, 0
	}
	due = max(two, d)
	return since, due
}
