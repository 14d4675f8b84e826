package templates

func sampleFaults() *DataFaultsPage {
	return &DataFaultsPage{Base: sampleBase("Data faults", "reports"), Reports: sampleReports("/reports/faults"), Lead: "3 of 84 cases with something to look at.", AsOf: DateOf("2026-03-05"),
		Kind: Choice{ID: "kind", Legend: "Kind", Options: []Option{{Text: "All kinds"}, {Value: "no-amount", Text: "Tests without the amount of sweat"}}},
		From: Field{ID: "from", Label: "Referred from", Value: "6 Mar 2025", Width: "w14"}, To: Field{ID: "to", Label: "Referred to", Value: "5 Mar 2026", Width: "w14"},
		State: Choice{ID: "state", Legend: "Cases", Options: []Option{{Text: "All"}, {Value: "open", Text: "Open"}}},
		Kinds: []FaultKind{{Name: "Tests without the amount of sweat", Means: "A collection was recorded, and the amount of an arm was not.", Cases: 2, Href: "/reports/faults?kind=no-amount", Current: true},
			{Name: "No gestation", Means: "The gestation is not recorded.", Href: "/reports/faults?kind=no-gestation"}},
		Looked: "Cases that may be one infant were looked for at 08:12: 3 pairs compared."}
}

func init() {
	samples["data-faults"] = func() Page { return sampleFaults() }
	samples["data-faults-list"] = func() Page {
		p := sampleFaults()
		p.List = &FaultList{Name: "Tests without the amount of sweat", Means: "A collection was recorded, and the amount of an arm was not.", Do: "Ask the test site for the amount, and record it with the test.", Cases: 2, Pager: Pager{Page: 1, Pages: 2, Next: "/reports/faults?kind=no-amount&page=2"},
			Rows: []FaultRow{{Reference: "AB-2026-0112", Href: "/infants/AB-2026-0112#tests-h", Referred: DateOf("2026-01-30"), State: "Open", Words: []string{"The test of 5 Mar 2026 has an arm without its amount of sweat."}},
				{Reference: "AB-2026-0042", Referred: DateOf("2026-02-08"), State: "Closed 4 Mar 2026", Words: []string{"The test of 2 Mar 2026 has an arm without its amount of sweat."}, Others: []FaultOther{{"AB-2026-0041", "/infants/AB-2026-0041", "/infants/AB-2026-0042/merge?with=AB-2026-0041"}}}}}
		return p
	}
	samples["data-faults-none"] = func() Page {
		p := sampleFaults()
		p.List = &FaultList{Name: "No gestation", Means: "The gestation is not recorded.", Pager: Pager{Page: 1, Pages: 1}}
		return p
	}
}
