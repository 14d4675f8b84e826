package templates

func sampleSides() *Sides {
	given, other := Differences("Baby Girl", "Ada")
	return &Sides{A: Side{"AB-2026-0042", "WREN, Baby Girl", "/infants/AB-2026-0042"}, B: Side{"AB-2026-0041", "WREN, Ada", "/infants/AB-2026-0041"},
		Lines: []SideLine{{Name: "Family name", A: Whole("Wren", false), B: Whole("Wren", false)}, {Name: "Given name", A: given, B: other, Differs: true}}}
}

func sampleMerge() *MergePage {
	return &MergePage{Base: sampleBase("One infant or two, AB-2026-0042", "infants"), Head: "One infant, or two?", Lead: "Compare before you decide.", Action: "/infants/AB-2026-0042/merge", Back: "/infants/AB-2026-0042"}
}

func init() {
	samples["merge"] = func() Page {
		p := sampleMerge()
		p.Sides, p.OtherRev, p.Warn = sampleSides(), 4, "One of them was born with others. Merge only when the birth record shows that this is one infant."
		p.Answer = Choice{ID: "answer", Legend: "What are they?", Down: true, Options: []Option{{Value: "two", Text: "Two infants", Sub: "They are kept apart for good."}, {Value: "into-other", Text: "One infant: AB-2026-0041 stays"}}}
		p.Reason = Field{ID: "reason", Label: "What shows it", Kind: "area", Rows: 2}
		p.Twins = Field{ID: "twins", Label: "How it is known that they are not twins", Optional: true, Width: "w20"}
		return p
	}
	samples["merge-which"] = func() Page {
		p := sampleMerge()
		p.Other = Field{ID: "with", Label: "Reference of the other case", Hint: "Like AB-2026-0042", Width: "w14", NoSpell: true}
		return p
	}
}
