package web

import (
	"fmt"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// repeatPart says of an open repeat its cause, window and count, and what to consider
// besides or instead; nil without one. A person decides.
func (s *server) repeatPart(a *cases.Assessment) *templates.RepeatPart {
	if a.Next.Step == cases.StepRecordResult && a.Next.Cause == "genotype" {
		return &templates.RepeatPart{Head: "No more repeats", Cause: "Two intermediate tests on different days end the repeats.",
			Window: "The sequencing report is awaited, " + reportDue(a.Next.Due, a.On) + "."}
	}
	r, ok := s.protocol().RepeatPlan(a)
	if !ok || a.Closed {
		return nil
	}
	p := &templates.RepeatPart{Head: "Repeat test", Cause: fmt.Sprintf("%s on %s.", repeatCause(r.Because), shortDay(r.After)),
		Window: fmt.Sprintf("From %s, due %s.", shortDay(r.From), shortDay(r.Due)), State: lateTag(r.Due, a.On), Count: fmt.Sprintf("Test %d.", r.Attempt)}
	if r.Last != 0 {
		p.Window = fmt.Sprintf("Between %s and %s, due %s.", shortDay(r.From), shortDay(r.Last), shortDay(r.Due))
		if a.On > r.Last {
			p.Window += " The window has passed: test as soon as the infant can be."
		}
	}
	switch {
	case r.PastLimit() && r.Fruitless > 1:
		p.Consider = fmt.Sprintf("%d tests gave no result. Consider, besides or instead of one more:", r.Fruitless)
	case r.PastLimit():
		p.Consider = "The test gave no result. Consider, besides or instead of a repeat:"
	case r.Fruitless > 0:
		p.Count = fmt.Sprintf("Test %d. From %s without a result on, consider something else.", r.Attempt, templates.Count(r.Limit, "test", "tests"))
		fallthrough
	default:
		p.Consider = "Besides the repeat:"
	}
	if p.Instead = considerWords(r.Consider); len(p.Instead) == 0 {
		p.Consider = ""
	}
	return p
}

func reportDue(due, today cases.Day) string {
	if due < today {
		return "overdue since " + shortDay(due)
	}
	return "by " + shortDay(due)
}

// considerWords says what to consider, as part of the list of what is to be done.
func considerWords(a cases.Actions) []string {
	return actionsOf(&cases.Assessment{Actions: a})
}

// retestSeries lists the days of the re-tests of a CRMS/CFSPID infant with what
// became of each.
func (s *server) retestSeries(c *cases.Case, today, next cases.Day) []templates.RetestMark {
	var out []templates.RetestMark
	for _, d := range s.protocol().RetestSeries(c, today) {
		m := templates.RetestMark{Age: retestAge(d.Months), On: date(d.On)}
		switch {
		case d.Tested != 0:
			m.State = templates.Tag{Kind: "done", Text: "tested " + shortDay(d.Tested)}
		case d.On > today || d.On >= next:
		default:
			m.State = templates.Tag{Kind: "blank", Text: "no test on file"}
		}
		out = append(out, m)
	}
	return out
}

// retestAge is an age in whole years, or in months.
func retestAge(months int) string {
	if months >= 24 && months%12 == 0 {
		return templates.Count(months/12, "year", "years")
	}
	return templates.Count(months, "month", "months")
}

// retestPart is the series of an infant closed as CRMS/CFSPID, with a link to book once
// the re-test is at most 8 weeks ahead; nil for any other.
func (s *server) retestPart(c Ctx, o *opened) *templates.RetestPart {
	k, a := &o.c, &o.a
	if !a.Closed || a.ClosedAs != "crms-cfspid" || k.Infant.Died != 0 {
		return nil
	}
	p := &templates.RetestPart{Due: date(a.LookAgain), Next: s.nextRetest(k, max(a.LookAgain, o.today)), Series: s.retestSeries(k, o.today, a.LookAgain)}
	own := placesOf(k, o.today)
	switch {
	case own.ahead >= 0:
		p.State = templates.Tag{Kind: "book", Text: "Booked"}
	case own.owed >= 0:
		p.State = templates.Tag{Kind: "late", Text: "Not recorded yet"}
	case a.LookAgain <= o.today+booking.RetestAhead:
		p.State = lateTag(a.LookAgain, o.today)
		if can(c, schedule) {
			p.Book = templates.Link{Href: "/infants/" + k.Reference + "/book", Text: "Book the re-test"}
		}
	}
	return p
}

// nextRetest proposes the day of the protocol after a re-test, in words.
func (s *server) nextRetest(c *cases.Case, after cases.Day) string {
	d := s.protocol().NextRetest(c, after)
	if d == 0 {
		return "The protocol lists no later re-test."
	}
	return "After it the protocol lists " + shortDay(d) + "."
}
