package web

import (
	"cmp"
	"slices"

	"dunlin/cases"
	"dunlin/templates"
)

// toWeigh lists the infants who wait for a new weight, the first wanted first.
func (s *server) toWeigh(list []scheduled, cut func(id string, n int) int, today cases.Day) []templates.WeighRow {
	slices.SortStableFunc(list, func(a, b scheduled) int {
		return cmp.Or(cmp.Compare(a.a.WeighBy, b.a.WeighBy), byAge(&a.c, &b.c))
	})
	list = list[:cut("weigh", len(list))]
	out := make([]templates.WeighRow, 0, len(list))
	for i := range list {
		c, a := &list[i].c, &list[i].a
		row := templates.WeighRow{Who: s.who(c), By: date(a.WeighBy), State: lateTag(a.WeighBy, today), Weight: "Not known", Href: "/infants/" + c.Reference + "/weights/new?from=schedule"}
		if w := a.Readiness.Latest; w.On != 0 {
			row.Weight, row.Measured = templates.Kg(int(w.G+0.5)), "measured "+shortDay(w.On)
			if w.On == c.Infant.Born {
				row.Measured = "at birth"
			}
		}
		row.Expected, row.Basis = s.projectionWords(a)
		if list[i].own.ahead >= 0 {
			row.Booked = "Booked " + s.bookingWords(&c.Bookings[list[i].own.ahead]) + ": weigh before the test"
		}
		out = append(out, row)
	}
	return out
}

// waitsForWeight tells whether a new weight is wanted of an infant.
func waitsForWeight(a *cases.Assessment) bool {
	return a.WeighBy != 0 && !a.Supports.Has(cases.SupRefused) && !a.Supports.Has(cases.SupMoved)
}
