package figures

import (
	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// Count counts the infants born in a year as they stand today, from the milestones
// that the store keeps.
func Count(r cases.Reader, year int, p *cases.Protocol) (measures.Year, error) {
	today := r.Today()
	t := measures.NewYearTally(year, today, p)
	if t.From() <= today {
		for m, err := range r.Milestones(t.From(), today) {
			if err != nil {
				return measures.Year{}, err
			}
			t.Add(&m)
		}
	}
	return t.Report(), nil
}

// Rows is how many rows of figures a report has.
func Rows(r *templates.YearReport) int {
	n := 0
	for _, s := range r.Sections {
		for _, t := range s.Tables {
			n += len(t.Rows)
		}
		for _, c := range s.Curves {
			n += len(c.Counts)
		}
	}
	return n
}
