package figures

import (
	"fmt"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// says puts the year into sentences, for those who read no table. A sentence whose
// figures are hidden, or do not exist, is left out.
func says(y *measures.PublishedYear, about *About) []string {
	if y.Cases.Hidden {
		return []string{fmt.Sprintf("Fewer than %d infants born in %d were referred, so no count is shown.", max(y.Below, 1), y.Year)}
	}
	if y.Cases.N == 0 {
		return []string{fmt.Sprintf("No infant born in %d was referred by %s, so there is nothing to count.", y.Year, cases.Say(y.AsOf))}
	}
	first := fmt.Sprintf("%s born in %d were referred for follow-up.", templates.Count(y.Cases.N, "infant", "infants"), y.Year)
	if y.Cases.N == 1 {
		first = fmt.Sprintf("1 infant born in %d was referred for follow-up.", y.Year)
	}
	if !y.Open.Hidden {
		first += fmt.Sprintf(" Of their cases %s closed and %s still open.", isAre(y.Cases.N-y.Open.N), isAre(y.Open.N))
	}
	out := []string{first}
	out = append(out, saysTimes(y, about)...)
	out = append(out, saysDiagnosis(y)...)
	out = append(out, saysRates(y)...)
	return append(out, saysGroups(y)...)
}

func isAre(n int) string {
	if n == 1 {
		return "1 is"
	}
	return templates.Thousands(n) + " are"
}

func saysTimes(y *measures.PublishedYear, about *About) (out []string) {
	by := about.Protocol.FirstTestByDays
	if x, ok := y.Interval(measures.Birth, measures.FirstTest, ""); ok {
		if s := x.All.By(by); !s.Hidden && s.Known {
			text := fmt.Sprintf("By day %d of age, %s had a first sweat test", by, percent(s.Share.Share))
			if s.Limits != nil {
				text += fmt.Sprintf(" (95%% limits %s)", limitsWord(s.Limits))
			}
			out = append(out, text+".")
		}
		if q := x.All.Median; !q.Hidden && q.Day != nil {
			text := fmt.Sprintf("Half had a first sweat test by %s of age", dayWord(q))
			if n := x.All.Ninth; !n.Hidden && n.Day != nil {
				text += fmt.Sprintf(", nine tenths by %s", dayWord(n))
			}
			out = append(out, text+".")
		} else if q.Between != nil {
			out = append(out, fmt.Sprintf("The age by which half had a first sweat test was %s.", spanWord(q)))
		}
	}
	if x, ok := y.Interval(measures.Birth, measures.Closure, ""); ok {
		if q := x.All.Median; !q.Hidden && q.Day != nil {
			out = append(out, fmt.Sprintf("Half of the cases were closed by %s of age, open ones counted.", dayWord(q)))
		} else if q.Between != nil {
			out = append(out, fmt.Sprintf("The age by which half of the cases were closed, open ones counted, was %s.", spanWord(q)))
		}
	}
	return out
}

// spanWord is where a day lies that is not shown itself: "29 to 33 days".
func spanWord(q measures.PublishedQuantile) string {
	if b := q.Between; b[0] < b[1] {
		return fmt.Sprintf("%d to %d days", b[0], b[1])
	}
	return q.BetweenWords(" days")
}

func saysDiagnosis(y *measures.PublishedYear) (out []string) {
	d := y.Diagnosed
	switch {
	case d.Median == nil:
	case d.N.Hidden:
		out = append(out, fmt.Sprintf("Of the infants closed as CF, half were so by %s days of age.", number(*d.Median)))
	case d.N.N > 1:
		out = append(out, fmt.Sprintf("%s were closed as CF, half of them by %s days of age.", templates.Count(d.N.N, "infant", "infants"), number(*d.Median)))
	case d.N.N == 1:
		out = append(out, fmt.Sprintf("1 infant was closed as CF, at %s days of age.", number(*d.Median)))
	}
	return out
}

func saysRates(y *measures.PublishedYear) (out []string) {
	if r, ok := rateOf(y, measures.TestedBy(28)); ok && r.Rate != nil {
		out = append(out, fmt.Sprintf("Of %s who reached 28 days of age, %d (%s) had a test with enough sweat by then.", templates.Count(r.Of.N, "infant", "infants"), r.Count.N, oneDecimal(*r.Rate)))
	}
	if r, ok := rateOf(y, measures.NoResolution365); ok && r.Rate != nil {
		out = append(out, fmt.Sprintf("Of %s who reached 365 days of age, %d (%s) had no final resolution by then: the national indicator of loss to follow-up.",
			templates.Count(r.Of.N, "infant", "infants"), r.Count.N, oneDecimal(*r.Rate)))
	}
	if r, ok := qnsOf(y); ok && r.Rate != nil {
		what := templates.Count(r.Of.N, "collection", "collections")
		if r.Measure == measures.QNSFirstYoung {
			what = templates.Count(r.Of.N, "first collection", "first collections")
		}
		text := fmt.Sprintf("Of %s from infants up to 3 months, %d (%s) gave too little sweat", what, r.Count.N, oneDecimal(*r.Rate))
		if r.Benchmark != nil {
			text += fmt.Sprintf("; the benchmark is %s or less", oneDecimal(*r.Benchmark))
			if r.Test != nil && *r.Rate > *r.Benchmark {
				text += fmt.Sprintf(", and so many or more would come by chance alone with a probability of %s", chance(r.Test.Greater))
			}
		}
		out = append(out, text+".")
	}
	if r, ok := rateOf(y, measures.MissedVisits); ok && r.Rate != nil {
		out = append(out, fmt.Sprintf("%s of %s were missed.", oneDecimal(*r.Rate), templates.Count(r.Of.N, "appointment", "appointments")))
	}
	return out
}

// qnsOf is the rate of collections from young infants; where it is hidden, since the
// repeats among them could be worked out, that of first collections.
func qnsOf(y *measures.PublishedYear) (measures.PublishedRate, bool) {
	if r, ok := rateOf(y, measures.QNSTestsYoung); ok && (r.Rate != nil || !r.Count.Hidden) {
		return r, true
	}
	return rateOf(y, measures.QNSFirstYoung)
}

// saysGroups compares languages and counties: the gap between groups that an annual
// report must not hide. It names no cause.
func saysGroups(y *measures.PublishedYear) (out []string) {
	for _, by := range []struct{ key, name string }{{"language", "language"}, {"county", "county"}} {
		x, ok := y.Interval(measures.Birth, measures.FirstTest, by.key)
		if !ok || x.LogRank == nil {
			continue
		}
		low, high, found := extremes(x.Groups)
		if !found {
			continue
		}
		word := "more than chance alone would usually give"
		if x.LogRank.P >= 0.05 {
			word = "no more than chance alone often gives"
		}
		out = append(out, fmt.Sprintf("By %s, the median age at the first test ran from %s (%s) to %s (%s); the groups differ by %s (log-rank p %s).",
			by.name, dayWord(low.Median), groupName(by.key, low.Name), dayWord(high.Median), groupName(by.key, high.Name), word, chance(x.LogRank.P)))
	}
	return out
}

// extremes are the groups with the earliest and the latest median that is shown; a
// group of what is not recorded is passed over.
func extremes(groups []measures.PublishedGroup) (low, high *measures.PublishedGroup, found bool) {
	for i := range groups {
		g := &groups[i]
		if g.Median.Hidden || g.Median.Day == nil || g.Name == measures.NotRecorded {
			continue
		}
		if low == nil || *g.Median.Day < *low.Median.Day {
			low = g
		}
		if high == nil || *g.Median.Day > *high.Median.Day {
			high = g
		}
	}
	return low, high, low != nil && low != high
}
