package web

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"

	"dunlin/cases/measures"
)

// closureCSV writes a report as rows of section, name, measure and value. It
// holds no names. Groups of fewer than few cases, and counts from 1 to few - 1,
// are not written.
func closureCSV(rep measures.Report, few int) []byte {
	var buf bytes.Buffer
	w := csv.NewWriter(&buf)
	row := func(cells ...string) { _ = w.Write(cells) }
	row("section", "group", "measure", "value")
	row("cohort", "all", "referred_from", rep.From.String())
	row("cohort", "all", "referred_to", rep.To.String())
	row("cohort", "all", "as_of", rep.AsOf.String())
	row("cohort", "all", "cases", smallCount(rep.Cases, few))
	row("cohort", "all", "open", smallCount(rep.Open, few))
	for _, g := range []struct {
		name  string
		class measures.Class
	}{{"all", rep.All}, {"ready_by_day_28", rep.Ready}, {"not_ready_by_day_28", rep.NotReady}} {
		if g.class.Cases < few {
			row("times", g.name, "left_out", fmt.Sprintf("fewer than %d cases", few))
			continue
		}
		for _, m := range []struct {
			name string
			of   measures.Measure
		}{{"birth_to_first_test", g.class.BirthToTest}, {"referral_to_first_test", g.class.ReferralToTest},
			{"birth_to_closure", g.class.BirthToClosure}, {"referral_to_closure", g.class.ReferralToClosure}} {
			writeMeasure(row, g.name, m.name, m.of, few)
		}
	}
	for _, b := range rep.Waiting {
		row("open_by_age_days", b.Label(), "open", smallCount(b.Open, few))
		row("open_by_age_days", b.Label(), "not_tested", smallCount(b.Untested, few))
	}
	for _, k := range rep.ClosedAs {
		row("closed_as", k.As, "cases", smallCount(k.N, few))
	}
	for i, n := range rep.Notes {
		row("definition", strconv.Itoa(i+1), "text", n)
	}
	w.Flush()
	return buf.Bytes()
}

func writeMeasure(row func(...string), group, name string, m measures.Measure, few int) {
	day := func(what string, d *float64) { row("times", group, name+"."+what, measures.Days(d)) }
	row("times", group, name+".cases", smallCount(m.Cases, few))
	row("times", group, name+".reached", smallCount(m.Done, few))
	row("times", group, name+".waiting", smallCount(m.Waiting, few))
	day("quarter_days", m.Quarter.Day)
	day("median_days", m.Median.Day)
	day("median_lower", m.Median.Lower)
	day("median_upper", m.Median.Upper)
	day("three_quarters_days", m.ThreeQuarters.Day)
	for _, s := range m.Shares {
		at := name + ".share_by_day_" + strconv.Itoa(s.Day)
		if !s.Known {
			row("times", group, at, "not known yet")
			continue
		}
		row("times", group, at, share(s.Share))
		if s.Limits != nil {
			row("times", group, at+".lower", share(s.Limits.Lower))
			row("times", group, at+".upper", share(s.Limits.Upper))
		}
	}
}

func share(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }

// smallCount hides a count that could point to one infant.
func smallCount(n, few int) string {
	if n > 0 && n < few {
		return fmt.Sprintf("under %d", few)
	}
	return strconv.Itoa(n)
}
