package demo

import (
	"dunlin/cases"
	"dunlin/cases/schedule"
)

// Words of the contact log, from the program's vocabulary.
const (
	talked     = "talked, understood"
	callBack   = "talked, call back"
	message    = "left message, no health detail"
	noAnswer   = "no answer"
	mailed     = "mailed"
	cameBack   = "came back"
	notFetched = "not collected"
	noOneHome  = "no one home"
)

// contact logs an attempt; outcomes with a two-way talk count as reached.
func (s *story) contact(on cases.Day, with, by, outcome string) *story {
	k := cases.Contact{On: on, With: with, By: by, Outcome: outcome,
		Reached: outcome == talked || outcome == callBack || outcome == "seen at home"}
	return s.add(on, Coordinator, "contact", func(p *player, c cases.Case) error { return p.contact(c, k) })
}

// told tells primary care and reaches the family on one day. Some families agree to
// text messages when they are reached.
func (s *story) told(on cases.Day) *story {
	s.contact(on, "primary-care", "phone", talked).contact(on, "family", "phone", talked)
	if s.w.n%3 == 0 {
		s.add(on, Coordinator, "consent to messages", func(p *player, c cases.Case) error { return p.consent(c, on) })
	}
	return s
}

// toldAll adds the CF center, as presumptive CF asks.
func (s *story) toldAll(on cases.Day) *story {
	return s.contact(on, "specialist", "phone", talked).told(on)
}

// weigh records a weight in grams.
func (s *story) weigh(on cases.Day, grams float64) *story {
	return s.add(on, Nurse, "weight", func(p *player, c cases.Case) error {
		return p.weight(c, cases.Weight{On: on, G: grams, By: "primary care"})
	})
}

// hold opens a hold; a later call with until ends it.
func (s *story) hold(reason string, from, lookAgain cases.Day) *story {
	return s.add(from, Nurse, "hold", func(p *player, c cases.Case) error {
		return p.hold(c, cases.Hold{Reason: reason, From: from, LookAgain: lookAgain})
	})
}

// holdOver ends the hold.
func (s *story) holdOver(on cases.Day) *story {
	return s.add(on, Nurse, "end of hold", func(p *player, c cases.Case) error { return p.holdOver(c, on) })
}

// book books a place on a day.
func (s *story) book(made, on cases.Day) *story {
	n := s.w.n
	if s.second { // twins come one after the other, never at one time
		n++
	}
	return s.bookAt(made, on, []cases.Clock{"09:00", "09:45", "10:30", "11:15", "13:00", "13:45"}[n%6])
}

// bookAt books a place at a time, or the next one that is free.
func (s *story) bookAt(made, on cases.Day, at cases.Clock) *story {
	return s.add(made, Nurse, "booking", func(p *player, c cases.Case) error {
		return p.book(c, schedule.Ask{Case: c.ID, Rev: c.Rev, Site: s.site, On: on, At: at})
	})
}

// booking says what became of the booking of a day.
func (s *story) booking(on cases.Day, state string, changed cases.Day, reason string) *story {
	s.add(changed, Nurse, "booking "+state, func(p *player, c cases.Case) error {
		return p.booking(c, on, state, reason)
	})
	if state == "missed" { // nobody misses a test before its time
		s.acts[len(s.acts)-1].at = "16:40"
	}
	return s
}

// arm makes an arm of 30 minutes with microbore tubing: µL and mmol/L. A
// negative chloride is no value yet.
func arm(side string, amount, chloride float64) cases.Arm {
	a := cases.Arm{Side: side, Minutes: 30, AmountUL: &amount, Reaction: "redness"}
	if chloride >= 0 {
		a.Chloride = &chloride
	}
	return a
}

// test records a sweat test with enough sweat on both arms.
func (s *story) test(on cases.Day, left, right float64) *story {
	l := arm("left", float64(18+s.rng.IntN(40)), left)
	r := arm("right", float64(18+s.rng.IntN(40)), right)
	return s.sweat(on, cases.SweatTest{On: on, Arms: []cases.Arm{l, r}})
}

// qns records a test with too little sweat on both arms.
func (s *story) qns(on cases.Day) *story {
	l, r := arm("left", float64(3+s.rng.IntN(10)), -1), arm("right", float64(2+s.rng.IntN(11)), -1)
	return s.sweat(on, cases.SweatTest{On: on, Arms: []cases.Arm{l, r}})
}

// sweat records a test as it is given, at the story's site.
func (s *story) sweat(on cases.Day, t cases.SweatTest) *story {
	t.Site, t.By, t.At = s.site, Nurse.Name, "10:15"
	if t.Collector == "" {
		t.Collector = "tubing"
	}
	return s.add(on, Nurse, "sweat test", func(p *player, c cases.Case) error { return p.test(c, t) })
}

// visit books a place and tests there: the ordinary way to a result.
func (s *story) visit(made, on cases.Day, left, right float64) *story {
	return s.book(made, on).test(on, left, right)
}

// genotype records a report of variants.
func (s *story) genotype(on cases.Day, scope string, variants ...string) *story {
	g := cases.Genotype{Reported: on, Scope: scope}
	for _, v := range variants {
		g.Variants = append(g.Variants, cases.Variant{Name: v, Phase: "unknown", Reported: on})
	}
	return s.add(on, Coordinator, "genotype", func(p *player, c cases.Case) error { return p.genotype(c, g) })
}

// orderRepeat records the clinician's order for a repeat.
func (s *story) orderRepeat(on cases.Day) *story {
	return s.add(on, Coordinator, "order of a repeat", func(p *player, c cases.Case) error {
		return p.orderRepeat(c, clinicians[1])
	})
}

// close closes the case as the evidence supports.
func (s *story) close(on cases.Day, as string) *story {
	k := cases.Closure{On: on, As: as, By: Coordinator.Name, Clinician: clinicians[s.w.n%2],
		Reason: "Result discussed with the family and sent to primary care."}
	if as == "crms-cfspid" {
		k.LookAgain = on + 150
	}
	return s.closing(k, Coordinator)
}

// closing records a closure or the proposal of one.
func (s *story) closing(k cases.Closure, by cases.Actor) *story {
	return s.add(k.On, by, "closure "+k.As, func(p *player, c cases.Case) error { return p.close(c, k) })
}

// agree lets the manager agree to a proposed closure.
func (s *story) agree(on cases.Day) *story {
	return s.add(on, Manager, "agreement", func(p *player, c cases.Case) error { return p.agree(c) })
}

// letterBack marks the family's mailed letters as come back.
func (s *story) letterBack(on cases.Day) *story {
	return s.add(on, Coordinator, "letter came back", func(p *player, c cases.Case) error { return p.letterBack(c) })
}

// ladder tries everything the contact plan asks for, from a first call on: the
// rungs of the contact ladder, none of which reaches the family.
func (s *story) ladder(first cases.Day) *story {
	w := s.w
	return s.contact(w.work(first), "primary-care", "phone", talked).
		contact(w.work(first), "family", "phone", noAnswer).
		contact(w.work(first+1), "family", "phone", message).
		contact(w.work(first+4), "family", "phone", noAnswer).
		contact(w.work(first+5), "family", "letter", mailed).
		contact(w.work(first+12), "family", "certified-letter", notFetched).
		contact(w.work(first+18), "family", "visit", noOneHome)
}
