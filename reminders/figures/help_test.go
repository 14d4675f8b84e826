package figures

import (
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// madeUp is a birth year of invented cases: so many infants at three sites, tested,
// closed and open in fixed proportions.
func madeUp(n int) measures.Year {
	asOf := measures.LastOfYear(2025) + 300
	tally := measures.NewYearTally(2025, asOf, cases.DefaultProtocol())
	sites := []string{"alder-bay", "heron-point", "marlow-creek"}
	ends := []string{"carrier", "not-affected", "cf", "carrier", "lost", "not-affected", "", "carrier", "crms-cfspid", "not-affected"}
	for i := range n {
		born := measures.FirstOfYear(2025) + cases.Day(i*97%360)
		first := born + 16 + cases.Day(i*5%31)
		m := cases.Milestones{Born: born, Collected: born + 1, Reported: born + 5, Referred: born + 6, DoctorTold: born + 7, FamilyReached: born + 8 + cases.Day(i%4),
			FirstTest: first, Route: "screen", Site: sites[i*i%3], Language: []string{"en", "en", "es"}[i%3], Gestation: 270, BirthWeightG: 3100, Alleles: cases.Alleles{CFCausing: 1 + i%11/10},
			Calls: cases.CallCounts{Family: 1 + i%3, FamilyReached: 1}, Lacks: cases.Lacks(i%7/6) * cases.LacksPhone}
		outcome := cases.Unlikely
		if i%9 == 0 {
			outcome = cases.QNS
			m.FirstSufficient = first + 7
			m.Tests = []cases.TestMark{{On: first, Outcome: outcome, Site: m.Site, WeightG: 3300}, {On: first + 7, Outcome: cases.Unlikely, Site: m.Site, WeightG: 3400}}
		} else {
			m.FirstSufficient = first
			m.Tests = []cases.TestMark{{On: first, Outcome: outcome, Site: m.Site, WeightG: 3300}}
		}
		for _, x := range m.Tests {
			m.Visits = append(m.Visits, cases.VisitMark{On: x.On, Site: x.Site, State: "kept"})
		}
		if i%13 == 0 {
			m.Visits = append(m.Visits, cases.VisitMark{On: first - 3, Site: m.Site, State: "missed"})
		}
		if as := ends[i%len(ends)]; as != "" {
			m.Closed, m.ClosedAs = first+9+cases.Day(i*3%17), as
			if measures.ReasonCode(as) == 1 {
				m.Determined = m.Closed
			}
		}
		tally.Add(&m)
	}
	return tally.Report()
}

func about() About {
	names := map[string]string{"alder-bay": "Alder Bay CF Clinic", "heron-point": "Heron Point Children’s", "marlow-creek": "Marlow Creek Laboratory"}
	return About{Program: "Alder Bay Newborn Screening Follow-up", Protocol: cases.DefaultProtocol(), Site: func(key string) string {
		if n, ok := names[key]; ok {
			return n
		}
		return key
	}}
}

func published(t testing.TB, n, below int) measures.PublishedYear {
	t.Helper()
	return madeUp(n).Publish(measures.SmallNumbers{Below: below})
}
