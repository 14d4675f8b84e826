package measures_test

import (
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// Whatever interval refuses a case for its days, the list of data faults names the case.
func TestRefusedIntervalsAreDataFaults(t *testing.T) {
	list := measures.MilestoneList()
	asOf := cases.MakeDay(2026, 12, 31)
	q := cases.NewDataQuality(cases.DefaultProtocol(), asOf)
	refused := 0
	rapid.Check(t, func(t *rapid.T) {
		born := cases.MakeDay(2026, 1, 1)
		day := func(name string) cases.Day {
			if rapid.IntRange(0, 3).Draw(t, "no "+name) == 0 {
				return 0
			}
			return born + cases.Day(rapid.IntRange(0, 20).Draw(t, name))
		}
		m := cases.Milestones{Reference: "AB-2026-0001", Born: born, Referred: born + 6, Collected: day("c"), Reported: day("r"), DoctorTold: day("d"), FamilyReached: day("f"),
			FirstBooking: day("b"), FirstTest: day("t"), FirstSufficient: day("s"), LastResult: day("l"), Route: "screen"}
		if m.Closed = day("k"); m.Closed != 0 {
			m.ClosedAs, m.Determined = "carrier", m.Closed
		}
		s := q.Faults(&m)
		listed := s.Has(cases.ImpossibleOrder) || s.Has(cases.UnusualOrder)
		for i := range list {
			for j := i + 1; j < len(list); j++ {
				tally := measures.NewIntervalTally(measures.Question{From: list[i].Key, To: list[j].Key, By: "referral", Window: measures.Window{AsOf: asOf}})
				tally.Add(&m)
				r := tally.Report()
				if len(r.Refused) > 0 {
					refused++
				}
				if len(r.Refused) > 0 && !listed {
					t.Fatalf("%s to %s is refused, and no data fault says so: %+v", list[i].Name, list[j].Name, m)
				}
			}
		}
	})
	if refused == 0 {
		t.Error("nothing was refused")
	}
}
