package figures

import (
	"fmt"

	"dunlin/cases"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// groups is the age at the first test by readiness, language and county.
func groups(y *measures.PublishedYear, about *About) templates.YearSection {
	by := about.Protocol.FirstTestByDays
	s := templates.YearSection{ID: "groups", Name: "Age at the first test, by group"}
	for i := range y.Intervals {
		x := &y.Intervals[i]
		if x.Group == "" || len(x.Groups) == 0 {
			continue
		}
		name := groupingName(x.Group)
		t := templates.YearTable{Name: "By " + name, Columns: timeColumns(sentence(name), by)}
		for k := range x.Groups {
			g := &x.Groups[k]
			if g.Few {
				t.Rows = append(t.Rows, []string{groupName(x.Group, g.Name), fewerThan(y.Below), hiddenWord, hiddenWord, hiddenWord, fewWord, fewWord, fewWord, fewWord})
				continue
			}
			t.Rows = append(t.Rows, timeRow(groupName(x.Group, g.Name), g, by))
		}
		s.Tables = append(s.Tables, t)
		if x.LogRank != nil {
			s.Notes = append(s.Notes, fmt.Sprintf("By %s: log-rank chi-square %.2f on %s, p %s.", name, x.LogRank.ChiSquare, templates.Count(x.LogRank.DF, "degree of freedom", "degrees of freedom"), chance(x.LogRank.P)))
		}
	}
	return s
}

func fewerThan(below int) string { return fmt.Sprintf("fewer than %d", below) }

func groupingName(key string) string {
	for _, g := range measures.GroupingList() {
		if g.Key == key {
			return g.Name
		}
	}
	return key
}

// groupName is a group in words: languages by name, all others as they are.
func groupName(by, name string) string {
	if by == "language" && name != measures.NotRecorded {
		return cases.LanguageWord(name)
	}
	return sentence(name)
}

// terms are the definitions of all that is counted.
func terms(y *measures.PublishedYear) []templates.YearTerm {
	var out []templates.YearTerm
	for _, d := range y.Rates.Definitions {
		if isTestedBy(d.Key) && d.Key != measures.TestedBy(measures.TestedAges[0]) {
			continue
		}
		text := fmt.Sprintf("%s, of: %s.", d.Numerator, lowerFirst(d.Denominator))
		if d.Note != "" {
			text += " " + d.Note
		}
		if isTestedBy(d.Key) {
			text += " The same holds for the other ages."
		}
		out = append(out, templates.YearTerm{Name: d.Name, Text: text})
	}
	used := map[measures.Milestone]bool{}
	for i := range y.Intervals {
		used[y.Intervals[i].From], used[y.Intervals[i].To] = true, true
	}
	for _, m := range measures.MilestoneList() {
		if used[m.Key] {
			out = append(out, templates.YearTerm{Name: "Day: " + m.Name, Text: m.What})
		}
	}
	return append(out,
		templates.YearTerm{Name: "Birth to result of the screen (national timeliness indicator 5d)", Text: "The interval from birth to screen reported."},
		templates.YearTerm{Name: "Result of the screen to care (5e)", Text: "Dunlin does not record the first visit to the CF center, so this indicator is not given; take it from the center."},
		templates.YearTerm{Name: "Birth to confirmed diagnosis (5f)", Text: "Days from birth to the closure as CF, of infants closed so."},
		templates.YearTerm{Name: "Birth to ruled out (5g)", Text: "Days from birth to the closure as carrier or not affected, of infants closed so."})
}

// how says how the figures are made, and what they are held against.
func how(y *measures.PublishedYear, about *About) []string {
	p := about.Protocol
	out := []string{
		fmt.Sprintf("The cohort is every infant born in %d whose referral had come by %s. Infants without a referral in Dunlin, and births screened, are not counted here.", y.Year, cases.Say(y.AsOf)),
		"Open cases count until the day of the records (Kaplan-Meier, Greenwood's standard error). Where reasons compete, shares are by Aalen-Johansen.",
		"Limits are 95%: log-log for shares of a curve, Brookmeyer and Crowley for days, Wilson for rates. Not reached: too few have come that far. Not known yet: nobody was observed so long.",
		"An interval whose days are in the wrong order is refused and listed under Data faults.",
		fmt.Sprintf("Benchmarks of the protocol: QNS %s or less up to 3 months, %s or less over 3 months; first test by day %d; determination by day %d.", oneDecimal(p.QNSBenchmarkYoung), oneDecimal(p.QNSBenchmarkOlder), p.FirstTestByDays, p.DeterminationByDays),
	}
	for _, n := range cases.ProtocolNotes {
		switch n.Name {
		case "qns_benchmark_young", "qns_benchmark_older", "first_test_by_days", "determination_by_days":
			out = append(out, fmt.Sprintf("Source of the default of \u201c%s\u201d: %s.", n.Title, n.Source))
		}
	}
	if y.Below > 1 {
		out = append(out, fmt.Sprintf("Counts from 1 to %d are hidden, and as many others that they could be worked out from within a table; curves have steps only where enough infants moved. Figures of two reports can still be set against each other: release one report of a year, not several.", y.Below-1))
	}
	return append(out, "Dunlin does not record births screened, enrollment in care, insurance or staff hours; add them from their own sources.")
}

func lowerFirst(s string) string {
	if len(s) < 2 || s[1] >= 'A' && s[1] <= 'Z' {
		return s
	}
	return string(s[0]|0x20) + s[1:]
}
