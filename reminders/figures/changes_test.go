package figures

import (
	"testing"

	"dunlin/templates"

	"github.com/google/go-cmp/cmp"
)

func TestChangesSetSideBySideWhatMayBe(t *testing.T) {
	report := func(below int, rows ...[]string) *templates.YearReport {
		return &templates.YearReport{Below: below, Full: below == 0, Sections: []templates.YearSection{{ID: "x", Name: "Cases", Tables: []templates.YearTable{
			{Columns: []templates.YearColumn{{Head: "As"}, {Head: "Infants", Figure: true, Count: true}, {Head: "Median", Figure: true}}, Rows: rows}}}}}
	}
	const few = "changed by fewer than 11"
	for _, x := range []struct {
		name      string
		then, now []string
		shown     string // what is now said of each column, small numbers hidden; "" when it is left out
		median    string
		full      int // rows in full
	}{
		{"nothing", []string{"CF", "20", "30"}, []string{"CF", "20", "30"}, "", "", 0},
		{"by few", []string{"CF", "20", "30"}, []string{"CF", "21", "31"}, few, few, 2},
		{"by enough", []string{"CF", "20", "30"}, []string{"CF", "1,031", "31"}, "1,031", "31", 2},
		{"a rate by few", []string{"CF", "20 of 50", "40%"}, []string{"CF", "20 of 51", "39%"}, few, few, 2},
		{"the rest of a total by few", []string{"CF", "20 of 50", "40%"}, []string{"CF", "40 of 72", "56%"}, few, few, 2},
		{"a total by few, its count hidden", []string{"CF", "hidden of 50", "hidden"}, []string{"CF", "12 of 52", "23%"}, few, few, 2},
		{"a median alone", []string{"CF", "20", "30"}, []string{"CF", "20", "31"}, "", "31", 1},
		{"a row without counts", []string{"CF", "hidden", "30"}, []string{"CF", "hidden", "31"}, "", "", 1},
		{"another row", []string{"CF", "20", "30"}, []string{"Carrier", "20", "31"}, "", "", 0},
	} {
		want := []templates.YearChange(nil)
		for i, now := range []string{x.shown, x.median} {
			if now != "" {
				want = append(want, templates.YearChange{Where: "Cases", What: "CF: " + []string{"infants", "median"}[i], Then: x.then[i+1], Now: now})
			}
		}
		if d := cmp.Diff(want, Changes(report(11, x.then), report(11, x.now))); d != "" {
			t.Errorf("%s (-want +got):\n%s", x.name, d)
		}
		if got := Changes(report(0, x.then), report(0, x.now)); len(got) != x.full {
			t.Errorf("%s, in full: %v", x.name, got)
		}
	}
}
