package templates

func init() {
	samples["fact"] = func() Page {
		return &FactPage{Base: onePage("Place a hold, AB-2026-0118", "infants"), Head: "Place a hold for Marigold", Lead: "No test while a hold is open.", Warn: "Ask a clinician.", Known: []Fact{{Name: "Oxygen", Text: "since 3 Mar 2026"}},
			Action: "/infants/AB-2026-0118/holds/new", Back: "/infants/AB-2026-0118", Button: "Place hold",
			Parts: []FactPart{{Select: &Choice{ID: "reason", Legend: "Reason", Options: []Option{{Value: "oxygen", Text: "Oxygen"}}}}, {Field: &Field{ID: "from", Label: "From", Value: "today", Error: "From must be a real date, like 5 Mar 2026"}},
				{Radios: &Choice{ID: "kind", Legend: "Kind", Options: []Option{{Value: "a", Text: "A"}}}}}}
	}
}
