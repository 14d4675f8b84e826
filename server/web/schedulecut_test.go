package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// A long table shows its first rows with the number of all, and all on demand; the
// other tables stay as they are.
func TestScheduleShowsAllOnDemand(t *testing.T) {
	s := newSite(t)
	s.update(func(w cases.Writer) error {
		for i := range 60 {
			k, err := cases.ParseCase([]byte(readyDoc(i)), cases.DayOf(s.now), s.protocol)
			if err == nil {
				_, err = cases.OpenCase(w, s.protocol, k, cases.Event{Kind: "case-opened", Text: "Case opened"})
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	repeat := s.open(docQNS)
	nurse := s.as("dagny")
	rows := func(p *page) int { return strings.Count(p.body, "?from=schedule\">Book") }
	p := nurse.get("/schedule").wants(200, "61 infants have no booking yet", "60 without a booking", "The first 50 of 60 are shown. Show all 60", repeat.Reference)
	if n := rows(p); n != 51 {
		t.Errorf("%d rows, want 51", n)
	}
	p = nurse.get("/schedule?all=ready").wants(200, "60 without a booking")
	if n := rows(p); n != 61 || strings.Contains(p.body, "are shown") {
		t.Errorf("%d rows of all, want 61", n)
	}
	p = nurse.get("/schedule?all=nothing").wants(200, "The first 50 of 60 are shown")
	if n := rows(p); n != 51 {
		t.Errorf("%d rows, want 51", n)
	}
}
