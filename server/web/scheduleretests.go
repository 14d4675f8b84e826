package web

import (
	"cmp"
	"slices"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// retests adds the infants closed as CRMS/CFSPID: whose re-test comes within the weeks
// ahead or is late, and what is booked for them.
func (s *server) retests(r cases.Reader, p *templates.SchedulePage, cut func(id string, n int) int, today cases.Day) error {
	var due []scheduled
	for k, err := range r.RetestsThrough(today + 2*booking.RetestAhead) { // booked early, it stands among the bookings
		if err != nil {
			return err
		}
		x := scheduled{c: k, a: s.protocol().AssessStep(&k, today)}
		if !x.a.Closed || x.a.ClosedAs != "crms-cfspid" || k.Infant.Died != 0 {
			continue
		}
		x.own = placesOf(&k, today)
		s.appointments(p, &x, today)
		if x.a.LookAgain <= today+booking.RetestAhead {
			due = append(due, x)
		}
	}
	slices.SortStableFunc(due, func(a, b scheduled) int {
		return cmp.Or(cmp.Compare(a.a.LookAgain, b.a.LookAgain), byAge(&a.c, &b.c))
	})
	for i := range due[:cut("retests", len(due))] {
		p.Retests = append(p.Retests, s.retestRow(&due[i], today))
	}
	return nil
}

func (s *server) retestRow(x *scheduled, today cases.Day) templates.RetestRow {
	c, a := &x.c, &x.a
	row := templates.RetestRow{Who: s.who(c), On: date(a.LookAgain), State: lateTag(a.LookAgain, today), Series: s.retestSeries(c, today, a.LookAgain)}
	if row.State.Text == "on time" {
		row.State = templates.Tag{Text: "in " + templates.Days(int(a.LookAgain-today))}
	}
	row.Last = "No test on file"
	if n := len(a.Tests); n > 0 {
		t := &a.Tests[n-1]
		row.Last = outcomeWord(t.Outcome) + " on " + shortDay(t.On)
	}
	from := a.LookAgain
	switch {
	case x.own.owed >= 0:
		row.State, row.Booked = templates.Tag{Kind: "late", Text: "Not recorded yet"}, s.bookingWords(&c.Bookings[x.own.owed])
	case x.own.ahead >= 0:
		b := &c.Bookings[x.own.ahead]
		row.State, row.Booked, from = templates.Tag{Kind: "book", Text: "Booked"}, s.bookingWords(b), max(from, b.On)
	default:
		row.Href = "/infants/" + c.Reference + "/book?from=schedule"
	}
	row.Next = s.nextRetest(c, max(from, today))
	return row
}
