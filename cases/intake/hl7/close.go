package hl7

import (
	"fmt"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// close settles what needs the whole group: fall-backs, and facts that contradict
// each other.
func (rd *reading) close() {
	r := rd.r
	if r.Card == "" {
		r.Card = rd.facts.formCard
	}
	if r.Infant.Facility == "" {
		r.Infant.Facility = rd.facts.orcPlace
	}
	if rd.facts.pd1 != "" && (r.Infant.Care == nil || r.Infant.Care.Name == "") {
		rd.pcp().Name = rd.facts.pd1
	}
	if r.Collected.Text == "" {
		r.Collected = rd.facts.obxTime
	}
	if r.Screen && !rd.ownScreen {
		r.About = intake.Problem{} // its codes say what it is
	}
	rd.endOrder()
	rd.closeSweat()
	rd.spans()
	rd.birthTime()
	rd.born()
	rd.plural()
	rd.dateChecks()
	if r.Screen && r.Transfused.Day != 0 && r.Collected.Day != 0 && r.Transfused.Day <= r.Collected.Day {
		rd.it.Problems = append(rd.it.Problems, place(r.Transfused.At, intake.Check,
			"Blood was given before the card was filled: the IRT and the variants may be those of the donor. Ask the laboratory."))
	}
}

func place(p intake.Problem, s intake.Severity, text string) intake.Problem {
	p.Severity, p.Text = s, text
	return p
}

// birthTime takes the time of birth from its own answer when PID-7 has none.
func (rd *reading) birthTime() {
	b := &rd.r.Infant.Born
	t := rd.facts.birthTime
	if t == "" || b.Clock != "" || b.Day == 0 || len(t) < 4 {
		return
	}
	if t[2] != ':' {
		t = t[:2] + ":" + t[2:4]
	}
	if c, err := cases.ParseClock(t[:min(5, len(t))]); err == nil {
		b.Clock = c
	}
}

// born checks the birth date: without a real one no case can be opened.
func (rd *reading) born() {
	b := rd.r.Infant.Born
	switch {
	case b.Text == "":
		rd.it.Problems = append(rd.it.Problems, place(intake.Problem{Segment: "PID", Occurrence: max(1, b.At.Occurrence), Field: 7}, intake.Check,
			"The birth date is missing."))
	case b.Bad != "":
		p := place(b.At, intake.Check, "The birth date "+b.Bad+".")
		p.Value = intake.Shorten(b.Text)
		rd.it.Problems = append(rd.it.Problems, p)
	case b.Doubt != "":
		p := place(b.At, intake.Check, "The time of birth "+b.Doubt+"; only the day was taken over.")
		p.Value = intake.Shorten(b.Text)
		rd.it.Problems = append(rd.it.Problems, p)
	}
}

// stamp writes a moment for a sentence: the day, and the time when there is one.
func stamp(m intake.Moment) string {
	if m.Clock == "" {
		return m.Day.String()
	}
	return m.Day.String() + " " + string(m.Clock)
}

// plural compares what is said of twins in several places; contradictions are
// normal and go to a person as a note on the case.
func (rd *reading) plural() {
	in, f := &rd.r.Infant, rd.facts
	in.Plurality = f.plural
	check := func(v Value, text string) {
		rd.it.Problems = append(rd.it.Problems, place(v.At(), intake.Check, text))
	}
	if f.plural == 1 && in.Multiple == "Y" {
		check(f.pluralAt, "PID-24 says a multiple birth, this answer says a single infant. Ask the birth place.")
		in.Plurality = 0
	}
	if f.plural > 1 && in.Multiple == "N" {
		check(f.pluralAt, "PID-24 says a single infant, this answer says a multiple birth. Ask the birth place.")
	}
	if letter := intake.TwinLetter(in.Given); letter > 0 {
		switch {
		case in.Order == 0:
			in.Order = letter
		case in.Order != letter:
			check(f.orderAt, fmt.Sprintf("The birth order is %d, but the name ends in the letter of infant %d.", in.Order, letter))
		}
	}
	single := in.Plurality == 1 || (in.Plurality == 0 && in.Multiple == "N")
	if in.Order > 1 && (single || (in.Plurality > 1 && in.Order > in.Plurality)) {
		check(f.orderAt, fmt.Sprintf("The birth order %d does not fit the number of infants born. It was not taken over.", in.Order))
		in.Order = 0
	}
	if in.Order > 1 && in.Plurality == 0 && in.Multiple == "" {
		check(f.orderAt, fmt.Sprintf("The birth order is %d, but nothing says that it was a multiple birth. Ask the birth place.", in.Order))
	}
}

// dateChecks compares birth, collection, receipt and report.
func (rd *reading) dateChecks() {
	r := rd.r
	named := []struct {
		m    intake.Moment
		name string
	}{{r.Infant.Born, "birth"}, {r.Collected, "collection"}, {r.Received, "receipt"}, {r.Reported, "report"}, {r.Sent, "message"}}
	for _, n := range named[1:4] {
		if n.m.Bad != "" {
			p := place(n.m.At, intake.Check, "The day of "+n.name+" "+n.m.Bad+".")
			p.Value = intake.Shorten(n.m.Text)
			rd.it.Problems = append(rd.it.Problems, p)
		}
	}
	for i, a := range named {
		for _, b := range named[i+1:] {
			if a.m.Day == 0 || b.m.Day == 0 {
				continue
			}
			early := b.m.Day < a.m.Day || (b.m.Day == a.m.Day && a.m.Clock > b.m.Clock && a.m.Clock != "" && b.m.Clock != "" && a.m.Offset == b.m.Offset)
			if early {
				p := place(b.m.At, intake.Check, fmt.Sprintf("The %s (%s) lies before the %s (%s).", b.name, stamp(b.m), a.name, stamp(a.m)))
				p.Value = intake.Shorten(b.m.Text)
				rd.it.Problems = append(rd.it.Problems, p)
			}
		}
	}
	if d := r.Received.Day - r.Collected.Day; r.Received.Day != 0 && r.Collected.Day != 0 && d > 14 {
		rd.it.Problems = append(rd.it.Problems, place(r.Received.At, intake.Note, fmt.Sprintf("The card reached the laboratory %d days after it was filled.", d)))
	}
}
