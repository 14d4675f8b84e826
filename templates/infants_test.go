package templates

func init() {
	query := Field{ID: "q", Label: "Name, birth date, case, record or specimen number", Width: "w20"}
	samples["infants"] = func() Page {
		return &InfantsPage{Base: sampleBase("Infants, 1 found", "infants"), Query: query, Asked: true, Lead: "1 infant found.",
			Rows: []FoundRow{{Who: tobias(), State: Tag{"late", "QNS, repeat due"}, Strip: Strip{Age: 43}, Next: "Book a repeat test", Former: "OYELARAN, Baby boy A"}}, Pager: Pager{Page: 1, Pages: 1}}
	}
	samples["infants-none"] = func() Page {
		return &InfantsPage{Base: sampleBase("Infants, none found", "infants"), Query: query, Asked: true, Lead: "No infant found.", Searched: "Searched names, birth dates, case, record and specimen numbers of open cases for “xyz”."}
	}
	samples["weight-error"] = func() Page {
		const text = "Weight is 36.4 kg. Infants here weigh 0.25 to 15 kg. Check the decimal point"
		p := &WeightPage{Base: sampleBase("Add a weight, AB-2026-0112", "infants"), Reference: "AB-2026-0112", Action: "/infants/AB-2026-0112/weights", Back: "/infants/AB-2026-0112",
			Weight: Field{ID: "weight", Label: "Weight", Unit: "kg", Value: "36.4", Error: text, Width: "w5", InputMode: "decimal"},
			On:     Field{ID: "on", Label: "Weighed on", Value: "today", Width: "w14"}, By: Field{ID: "by", Label: "Weighed by", Optional: true},
			Doubt: "That is 0.60 kg less than on 14 Feb 2026.", DoubtError: "Check the weight, then tick that it is right",
			Earlier: []Fact{{Name: "14 Feb 2026", Text: "3.02 kg"}}}
		p.Problems = []Problem{{"weight", text}, {"sure", p.DoubtError}}
		p.Banner = sampleBanner()
		return p
	}
	samples["name"] = func() Page {
		p := &NamePage{Base: sampleBase("Change the name, AB-2026-0112", "infants"), Reference: "AB-2026-0112",
			Family: Field{ID: "family", Label: "Family name", Value: "Oyelaran", NoSpell: true}, Given: Field{ID: "given", Label: "Given name", Value: "Tobias", Optional: true, NoSpell: true},
			Why: Field{ID: "why", Label: "Why is it changed?", Optional: true}, Former: []string{"OYELARAN, Baby boy A"}}
		p.Banner = sampleBanner()
		return p
	}
	samples["conflict"] = func() Page {
		p := &ConflictPage{Base: sampleBase("Somebody changed this case first", "infants"), Reference: "AB-2026-0112", What: "the contact",
			By:      "Dagny Achterberg, nurse, on 5 Mar 2026 at 08:39,",
			Changes: []HistoryRow{{On: DateOf("2026-03-05"), At: "08:39", Who: "Dagny Achterberg, nurse", What: "Phone of the mother", Before: "555-0178", Now: "555-0187"}},
			Typed:   []Fact{{Name: "What happened", Text: "No answer"}}, Fields: []Hidden{{"outcome", "no answer"}},
			Action: "/infants/AB-2026-0112/contacts", Use: "/infants/AB-2026-0112"}
		p.Rev = 8
		p.Banner = sampleBanner()
		return p
	}
	samples["me"] = func() Page {
		p := &MePage{Base: sampleBase("Keyboard keys and my settings", ""),
			Keys:  Choice{ID: "keys", Legend: "Letter keys on lists", Down: true, Options: []Option{{"on", "On", "", true}, {"off", "Off", "", false}}},
			Rows:  Choice{ID: "rows", Legend: "List rows", Down: true, Options: []Option{{"full", "Full rows", "Three lines an infant", true}, {"short", "Short rows", "One line an infant. The strip stays", false}}},
			Color: Choice{ID: "colors", Legend: "Colors", Down: true, Options: []Option{{"device", "Same as my device", "", true}, {"light", "Light", "", false}, {"dark", "Dark", "", false}}}}
		p.ShortRows, p.Colors, p.LetterKeys = true, "dark", false
		return p
	}
}
