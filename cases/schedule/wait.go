package schedule

import (
	"fmt"
	"slices"

	"dunlin/cases"
)

// Wait is what planning needs to know of one infant that waits for a place. It is
// made anew from the case each time; nothing of it is stored.
type Wait struct {
	ID        cases.ID
	Rev       cases.Rev // of the case as it was read
	Reference string
	Kind      Kind
	Born      cases.Day
	Gestation cases.Gestation // at birth, 0 when not known

	// From is the first day to offer: old enough, the weight expected or measured, no
	// hold, and the day after the test that a repeat follows. FromWhy says in words which
	// of them decides; it is "" when the infant could be tested today.
	From    cases.Day
	FromWhy string
	// Estimate tells that From rests on a projected weight: the infant is not ready by
	// it, and is weighed on the day.
	Estimate bool
	// Blocked says why no day can be planned now, "" when one can.
	Blocked string
	// Deadline is the day by which the test is due; later places are marked late.
	Deadline    cases.Day
	DeadlineWhy string

	Urgency    float64 // weight of the protocol's planning values; 1 is ordinary
	UrgencyWhy string

	Readiness cases.Readiness
	Repeat    *cases.Repeat
	Language  string // of the interpreter the family needs, "" when none
	Postal    string
	Home      *Point // where the family lives; nil is not known
	Limits    cases.Visits
	Siblings  []string // references; who of them is a twin is told by Twins
}

// Kind is what a place is wanted for.
type Kind uint8

// The kinds of Wait.
const (
	FirstTest Kind = iota
	RepeatTest
	Retest // of an infant closed as CRMS/CFSPID whose day to look again comes or has come
)

// RetestAhead is how many days before its day to look again a re-test is planned: as
// far as sessions are looked for, so that the family has time. A choice of this project.
const RetestAhead = 56

// Word says the kind as people read it.
func (k Kind) Word() string { return [...]string{"first test", "repeat", "re-test"}[k] }

// mayUseKept tells whether places kept for repeats are open to it.
func (k Kind) mayUseKept() bool { return k == RepeatTest }

// WaitOf tells what an infant waits for; false when it waits for no place: it has
// one, its test or a decision is awaited, or its case is closed. a is the assessment
// of c by p on the day of planning.
func WaitOf(c *cases.Case, a *cases.Assessment, p *cases.Protocol) (Wait, bool) {
	w := Wait{ID: c.ID, Rev: c.Rev, Reference: c.Reference, Born: c.Infant.Born, Gestation: c.Infant.Gestation, Readiness: a.Readiness, Repeat: a.Repeat, Siblings: c.Siblings}
	switch {
	case c.Infant.Died != 0 && c.Infant.Died <= a.On, a.Supports.Has(cases.SupRefused), a.Supports.Has(cases.SupMoved):
		return Wait{}, false
	case hasPlace(c, a):
		return Wait{}, false
	case a.Closed && a.ClosedAs == "crms-cfspid" && a.LookAgain != 0 && a.LookAgain <= a.On+RetestAhead:
		w.Kind, w.Repeat = Retest, nil
	case a.Closed:
		return Wait{}, false
	case a.Repeat != nil:
		w.Kind = RepeatTest
	case collected(a):
		return Wait{}, false
	}
	w.setUrgency(a, &p.Planning)
	w.setFamily(c)
	w.setDeadline(a, p)
	w.setFrom(c, a, p)
	return w, true
}

// hasPlace tells whether an open booking is ahead, or one has passed and nobody has
// said what became of it.
func hasPlace(c *cases.Case, a *cases.Assessment) bool {
	var last cases.Day
	if n := len(a.Tests); n > 0 {
		last = a.Tests[n-1].On
	}
	return slices.ContainsFunc(c.Bookings, func(b cases.Booking) bool {
		return (b.State == "booked" || b.State == "kept" && b.On <= a.On) && (last == 0 || b.On > last)
	})
}

// collected tells whether sweat for chloride was collected; conductivity only screens.
func collected(a *cases.Assessment) bool {
	return slices.ContainsFunc(a.Tests, func(t cases.TestReading) bool { return !t.Test.IsConductivity() })
}

func (w *Wait) setUrgency(a *cases.Assessment, v *cases.Planning) {
	al := &a.Genotype.Alleles
	switch n := al.CFCausing + al.Varying + al.Unknown; {
	case n >= 2 || a.PresumptiveCF:
		w.Urgency, w.UrgencyWhy = v.TwoVariants, "two variants"
	case w.Kind == RepeatTest:
		w.Urgency, w.UrgencyWhy = v.Repeat, "repeat"
	case n == 1:
		w.Urgency, w.UrgencyWhy = v.OneVariant, "one variant"
	default:
		w.Urgency, w.UrgencyWhy = v.None, "no variant known"
	}
}

func (w *Wait) setFamily(c *cases.Case) {
	f := c.Family
	if f == nil {
		return
	}
	if f.Interpreter {
		w.Language = f.Language
	}
	if f.Visits != nil {
		w.Limits = *f.Visits
	}
	for i := range f.Guardians {
		g := &f.Guardians[i]
		if g.Address == nil || g.Address.Postal == "" || g.Address.Bad {
			continue
		}
		if w.Postal == "" || g.Letters { // the one whom letters go to has the say
			w.Postal = g.Address.Postal
		}
		if g.Letters {
			break
		}
	}
}

func (w *Wait) setDeadline(a *cases.Assessment, p *cases.Protocol) {
	switch w.Kind {
	case RepeatTest:
		w.Deadline, w.DeadlineWhy = a.Repeat.Due, "the day the repeat is due"
	case Retest:
		// Ours: a re-test that comes every six or twelve months is not late at once.
		w.Deadline, w.DeadlineWhy = a.LookAgain+cases.Day(p.IntermediateRepeatDays), fmt.Sprintf("%d days after the day to look again", p.IntermediateRepeatDays)
	default:
		w.Deadline, w.DeadlineWhy = a.Clocks.FirstTest.Due, fmt.Sprintf("day %d", a.Clocks.FirstTest.Due-w.Born)
	}
}

func (w *Wait) setFrom(c *cases.Case, a *cases.Assessment, p *cases.Protocol) {
	r := &a.Readiness
	w.From = a.On
	later := func(d cases.Day, why string) {
		if d > w.From {
			w.From, w.FromWhy = d, why
		}
	}
	later(r.AgeFrom, fmt.Sprintf("%d days old", p.MinAgeDays))
	later(r.GestationFrom, "corrected age "+p.MinCorrectedGestation.String())
	switch w.Kind {
	case RepeatTest:
		later(p.RepeatFrom(a.Repeat), "the test before was on "+cases.Say(a.Repeat.After))
	case Retest:
		later(a.LookAgain, "the day to look again")
	}
	for i := range c.Holds {
		w.heldBy(&c.Holds[i], a.On, later)
	}
	w.weighFirst(a, p, later)
}

func (w *Wait) heldBy(h *cases.Hold, on cases.Day, later func(cases.Day, string)) {
	switch {
	case h.From > on || h.Until != 0 && h.Until <= on:
	case h.Until != 0:
		later(h.Until, "on hold until then: "+cases.HoldWord(h.Reason))
	default:
		w.Blocked = "on hold: " + cases.HoldWord(h.Reason)
		if h.LookAgain != 0 {
			w.Blocked += "; ask again on " + sayDay(h.LookAgain)
		}
	}
}

func (w *Wait) weighFirst(a *cases.Assessment, p *cases.Protocol, later func(cases.Day, string)) {
	block := func(format string, args ...any) {
		if w.Blocked == "" {
			w.Blocked = fmt.Sprintf(format, args...)
		}
	}
	switch r := &a.Readiness; r.Weight.State {
	case cases.WeightUnknown:
		block("no weight is recorded; weigh first")
	case cases.WeightShort:
		e := r.Weight.Estimate
		switch {
		case e == nil:
			block("no weight is recorded; weigh first")
		case e.Status == "not_gaining":
			block("the weight is not rising; weigh again by %s", sayDay(e.ReweighBy))
		case e.Central == 0:
			block("%.0f g is too far ahead to plan; weigh again by %s", p.MinWeightG, sayDay(e.ReweighBy))
		default:
			w.Estimate = true
			later(e.Central, fmt.Sprintf("%.0f g are expected between %s and %s", p.MinWeightG, cases.Say(e.Early), cases.Say(e.Late)))
		}
	}
}
