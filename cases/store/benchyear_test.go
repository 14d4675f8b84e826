package store

import (
	"testing"

	"dunlin/cases"
	"dunlin/cases/measures"
)

// BenchmarkYear counts the infants born in one of ten years, of 100,000 cases, and hides
// small numbers: rates, twelve intervals, closures.
func BenchmarkYear(b *testing.B) {
	db := milestoneStore(b, 100_000)
	year, _, _ := benchDay.Date()
	defer processorTime(b)()
	for b.Loop() {
		t := measures.NewYearTally(year-1, benchDay, cases.DefaultProtocol())
		err := db.View(ctx, func(r cases.Reader) error {
			for m, err := range r.Milestones(t.From(), benchDay) {
				if err != nil {
					return err
				}
				t.Add(&m)
			}
			return nil
		})
		if p := t.Report().Publish(measures.SmallNumbers{Below: 11}); err != nil || p.Cases.N < 5000 {
			b.Fatal(err, p.Cases)
		}
	}
}
