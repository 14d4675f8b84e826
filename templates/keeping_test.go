package templates

func sampleKeeping() *KeepingPage {
	return &KeepingPage{Base: sampleBase("Keeping", "settings"), Lead: "How long records are kept, which may be erased, and what was.",
		Links:  []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/keeping", Text: "Keeping", Current: true}},
		Listed: "as of 5 Mar 2026, by the times below", BackUps: "Back-ups made before still hold it: the last of these goes by 5 Apr 2027.",
		Times:  []Field{{ID: "no-cf", Label: "Closed with CF excluded", Hint: "Years; empty: for good", Width: "w5", Value: "10"}},
		Order:  Field{ID: "order", Label: "Or one record that an order names", Optional: true, Width: "w14"},
		Reason: Field{ID: "reason", Label: "Why they are erased", Kind: "area", Rows: 2}}
}

func init() {
	samples["keeping"] = func() Page { return sampleKeeping() }
	samples["keeping-waiting"] = func() Page {
		p := sampleKeeping()
		p.Rows = []ErasableRow{{Reference: "AB-2014-0042", Href: "/infants/AB-2014-0042", Closed: DateOf("2014-03-02"), From: DateOf("2024-03-02"), Rule: "Closed with CF excluded, 10 years after closing", Picked: true},
			{Reference: "AB-2014-0043", Closed: DateOf("2014-03-03"), From: DateOf("2024-03-03"), Rule: "Closed with CF excluded, 10 years after closing", Held: "since 2 Feb 2024, placed by Ina Reed"}}
		p.More = 1
		p.Waiting = &Erasing{By: "Ina Reed", On: DateOf("2026-03-04"), Reason: "Kept long enough", References: []string{"AB-2014-0040", "AB-2014-0041"}, MayConfirm: true,
			Decision: Choice{ID: "decision", Legend: "Your decision", Down: true, Options: []Option{{Value: "erase", Text: "Erase them now", Sub: "They cannot be brought back."}, {Value: "drop", Text: "Take the proposal back"}}},
			Own:      Field{ID: "own", Label: "Why they are erased, in your words", Kind: "area", Rows: 2}}
		p.Erasures = []ErasureRow{{On: DateOf("2026-01-04"), At: "09:12", Rule: "Closed with CF excluded, 10 years after closing", By: "Proposed by Ina Reed, confirmed by Max Orr", What: "1 record, 4 letters", Says: "Kept long enough / the time is over"}}
		return p
	}
}
