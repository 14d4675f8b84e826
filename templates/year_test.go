package templates

// sampleYear is a report with one of each thing that it can hold.
func sampleYear(full bool) *YearReport {
	r := &YearReport{Year: 2025, Title: "Figures for the year 2025", Program: "Alder Bay Newborn Screening Follow-up", Lead: "Infants born in 2025 and referred by 5 Mar 2026: 131.", AsOf: "5 Mar 2026", Full: full, Below: 11,
		Facts: []BigFact{{"Infants referred", "131", "born in the year"}, {"First test by day 28", "62%", "95% limits 53% to 71%"}},
		Says:  []string{"131 infants born in 2025 were referred for follow-up."}, Cautions: []string{"Figures count what was recorded."},
		Sections: []YearSection{
			{ID: "counted", Name: "Referred and closed", Tables: []YearTable{
				{Name: "Referred by", Columns: []YearColumn{{Head: "Way", Share: 3}, {Head: "Infants", Figure: true, Count: true}}, Rows: [][]string{{"Newborn screen", "131"}, {"All", "131"}}},
				{Name: "How the cases stand", Columns: []YearColumn{{Head: "Closed as", Share: 3}, {Head: "Infants", Figure: true, Count: true}}, Rows: [][]string{{"Still open", "hidden"}, {"Carrier", "88"}}}}},
			{ID: "times", Name: "How long infants waited", Lead: "In days.", Notes: []string{"Ages hold only infants who have come so far."},
				Tables: []YearTable{{Columns: []YearColumn{{Head: "From and to"}, {Head: "Median, days (95% limits)", Figure: true}}, Rows: [][]string{{"Birth to first test", "24 (22 to 25)"}}}},
				Curves: []YearCurve{{ID: "tested", Title: "62% tested by day 28", Description: "A step curve that rises with age.", Done: "tested", Axis: "Age in days", Joined: !full, Until: 56, AxisEnd: 56, Mark: 28,
					Points: []YearPoint{{Day: 14, Share: .2, Low: .1, High: .3, Limits: true}, {Day: 28, Share: .62, Low: .53, High: .71, Limits: true}}, Counts: []YearCurveRow{{28, "62%", "53% to 71%", "50", "81", "0"}}}}},
			{ID: "tests", Name: "Tests with too little sweat (QNS)", Funnel: &YearFunnel{ID: "funnel", Title: "QNS by site: 1 of 2 sites drawn above the upper 95% limit", Description: "Each mark is a site.", Benchmark: .1,
				Limits: []YearLimits{{10, 0, .28, 0, .44}, {50, .01, .18, 0, .24}}, Sites: []YearFunnelDot{{"Alder Bay CF Clinic", 45, .08, ""}, {"Marlow Creek Laboratory", 40, .3, "alarm"}}}},
		},
		Terms: []YearTerm{{"QNS, infants up to 3 months", "Collections with too little sweat, of: collections at an age of 90 days or less."}}, How: []string{"Open cases count until the day of the records."}}
	if full {
		r.Below = 0
	}
	return r
}

func init() {
	page := func(full bool) *YearPage {
		return &YearPage{Base: sampleBase("Figures for the year 2025", "reports"), Reports: sampleReports("/reports/year"), Report: sampleYear(full), Figures: Figures{Full: full, Below: 11, Show: "/reports/year?figures=full&year=2025", Hide: "/reports/year?year=2025"},
			Choice: Choice{ID: "year", Legend: "Born in", Options: []Option{{Value: "2026", Text: "2026"}, {Value: "2025", Text: "2025", Chosen: true}}}, Papers: []Link{{"/reports/year.pdf?paper=letter&year=2025", "PDF, US Letter"}, {"/reports/year.pdf?paper=a4&year=2025", "PDF, A4"}}}
	}
	samples["year"] = func() Page {
		p := page(false)
		p.Keep = &YearKeep{Year: 2025, Lead: "Keeps the figures.", Why: Field{ID: "why", Label: "Why they are kept", Optional: true, Width: "w20"}, Button: "Keep the figures of 2025"}
		return p
	}
	samples["year-kept"] = func() Page {
		p := page(true)
		p.Kept, p.Shows = "These are the figures kept on 1 Feb 2026 by Ines Okafor-Lund.", Link{"/reports/year?figures=full&show=now&year=2025", "Show the figures of now"}
		p.Since = &YearSince{Lead: "Then: kept on 1 Feb 2026. Now: records of 5 Mar 2026.", Says: []string{"Counted now, not then: Missed appointments."}, Rows: []YearChange{{"Referred and closed: How the cases stand", "Carrier: infants", "80", "88"}}}
		p.Keep = &YearKeep{Year: 2025, Full: true, Lead: "Keeps the figures.", Why: Field{ID: "why", Label: "Why they are kept", Width: "w20", Error: "Say why the figures of 2025 are kept again"}, Button: "Keep the figures of 2025 again"}
		p.Problems = []Problem{{"why", "Say why the figures of 2025 are kept again"}}
		return p
	}
	samples["year-none"] = func() Page {
		p := page(false)
		p.Report = &YearReport{Year: 2025, Title: "Figures for the year 2025", Lead: "Infants born in 2025.", AsOf: "5 Mar 2026", Says: []string{"No infant born in 2025 was referred."}, How: []string{"Open cases count."}}
		p.Shows = Link{"/reports/year?show=kept&year=2025", "Show the figures that were kept on 1 Feb 2026"}
		return p
	}
}
