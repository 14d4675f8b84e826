package cases

import "fmt"

// dated is one date of a case document with its path and how it may lie.
type dated struct {
	path string
	day  Day
	kind dateKind
}

type dateKind uint8

const (
	fact     dateKind = iota // on or after birth, and never after its entry
	plan                     // on or after birth, may lie ahead
	prenatal                 // may precede birth; never after its entry
)

// dates lists every date of the document that has a place in the case's life.
func (c *Case) dates() []dated {
	var out []dated
	add := func(kind dateKind, d Day, format string, args ...any) {
		if d != 0 {
			out = append(out, dated{fmt.Sprintf(format, args...), d, kind})
		}
	}
	in := &c.Infant
	for i := range in.Weights {
		add(fact, in.Weights[i].On, "infant.weights[%d].on", i)
	}
	add(fact, in.Died, "infant.died")
	add(fact, in.DiedReported, "infant.died_reported")
	for i := range in.Former {
		add(prenatal, in.Former[i].On, "infant.former_identity[%d].on", i)
	}
	ref := fact
	if c.Referral.Route == "prenatal" || c.Referral.Route == "sibling" {
		ref = prenatal
	}
	add(ref, c.Referral.On, "referral.on")
	if s := c.Referral.Screen; s != nil {
		add(fact, s.Collected, "referral.screen.collected")
		add(fact, s.Reported, "referral.screen.reported")
	}
	if g := c.Genotype; g != nil {
		add(prenatal, g.Reported, "genotype.reported")
		for i := range g.Variants {
			add(prenatal, g.Variants[i].Reported, "genotype.variants[%d].reported", i)
		}
	}
	for i := range c.Holds {
		h := &c.Holds[i]
		add(fact, h.From, "holds[%d].from", i)
		add(plan, h.Until, "holds[%d].until", i)
		add(plan, h.LookAgain, "holds[%d].look_again", i)
	}
	for i := range c.Contacts {
		add(prenatal, c.Contacts[i].On, "contacts[%d].on", i)
	}
	for i := range c.Bookings {
		add(plan, c.Bookings[i].On, "bookings[%d].on", i)
		add(fact, c.Bookings[i].Changed, "bookings[%d].changed", i)
		add(prenatal, c.Bookings[i].Made, "bookings[%d].made_on", i)
	}
	for i := range c.SweatTests {
		t := &c.SweatTests[i]
		add(fact, t.On, "sweat_tests[%d].on", i)
		if t.Verified != nil {
			add(fact, t.Verified.On, "sweat_tests[%d].verified.on", i)
		}
		for j := range t.Arms {
			add(fact, t.Arms[j].ReportedOn, "sweat_tests[%d].arms[%d].reported_on", i, j)
		}
	}
	for i := range c.Closures {
		k := &c.Closures[i]
		add(fact, k.On, "closures[%d].on", i)
		add(fact, k.AgreedOn, "closures[%d].agreed_on", i)
		add(plan, k.LookAgain, "closures[%d].look_again", i)
		if k.Reopened != nil {
			add(fact, k.Reopened.On, "closures[%d].reopened.on", i)
		}
	}
	c.otherDates(add)
	return out
}

func (c *Case) otherDates(add func(kind dateKind, d Day, format string, args ...any)) {
	for i := range c.Flags {
		add(fact, c.Flags[i].From, "flags[%d].from", i)
		add(plan, c.Flags[i].Until, "flags[%d].until", i)
	}
	if d := c.Declined; d != nil {
		add(fact, d.On, "declined.on")
		add(fact, d.WithdrawnOn, "declined.withdrawn_on")
	}
	if h := c.Handover; h != nil {
		add(fact, h.On, "handover.on")
		add(fact, h.AcceptedOn, "handover.accepted_on")
	}
	for i := range c.Letters {
		add(fact, c.Letters[i].MadeOn, "letters[%d].made_on", i)
		add(fact, c.Letters[i].AgainFrom, "letters[%d].again_from", i)
	}
	for i := range c.Messages {
		add(fact, c.Messages[i].QueuedOn, "messages[%d].queued_on", i)
	}
	for i := range c.Releases {
		add(fact, c.Releases[i].On, "letter_releases[%d].on", i)
	}
	if d := c.DuplicateOf; d != nil {
		add(fact, d.On, "duplicate_of.on")
		add(fact, d.AgreedOn, "duplicate_of.agreed_on")
	}
	for i := range c.Merged {
		add(fact, c.Merged[i].On, "merged[%d].on", i)
	}
	for i := range c.KeptApart {
		add(fact, c.KeptApart[i].On, "kept_apart[%d].on", i)
	}
	for i := range c.LegalHolds {
		add(fact, c.LegalHolds[i].On, "legal_holds[%d].on", i)
		add(plan, c.LegalHolds[i].Until, "legal_holds[%d].until", i)
		add(fact, c.LegalHolds[i].EndedOn, "legal_holds[%d].ended_on", i)
	}
	if o := c.RepeatOrdered; o != nil {
		add(fact, o.On, "repeat_ordered.on")
	}
}
