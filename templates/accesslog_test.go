package templates

func init() {
	tabs := []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/access", Text: "Access log", Current: true}}
	samples["access-log"] = func() Page {
		return &AccessLogPage{Base: sampleBase("Access log", "settings"), Lead: "Who saw what.", Links: tabs, Asks: true, All: true, Listed: true,
			Reviews: []LookToReview{{Seq: 91, When: "5 Mar 2026, 02:12", Who: "Dagny Achterberg", Infant: Link{Text: "AB-2026-0042"}, Why: "Called by the emergency department", Word: Field{ID: "word-91", Name: "word", Label: "What you found", Width: "w20"}},
				{Seq: 92, When: "5 Mar 2026, 02:20", Who: "Ines Okafor-Lund", Infant: Link{Href: "/infants/AB-2026-0043", Text: "AB-2026-0043"}, Why: "Asked by the hospital for a name", Own: true}},
			Infant: Field{ID: "infant", Label: "Case", Width: "w14"}, From: Field{ID: "from", Label: "From", Width: "w14"}, To: Field{ID: "to", Label: "To", Width: "w14"},
			Person: Choice{ID: "person", Legend: "Person", Options: []Option{{Text: "Everybody"}, {Value: "wren@x.example", Text: "Wren Castellano"}}}, Act: Choice{ID: "act", Legend: "Did", Options: []Option{{Text: "Anything"}, {Value: "view", Text: "Looked at"}}},
			Rows: []AccessRow{{When: "5 Mar 2026, 08:41:07", Who: "Wren Castellano", Role: "Coordinator", Did: "Looked at an infant", Infants: []Link{{Href: "/infants/AB-2026-0042", Text: "AB-2026-0042"}}, Outcome: Tag{"done", "Done"}, Where: "192.0.2.7, session 5f3a9c01, D-7F3K-2290"},
				{When: "5 Mar 2026, 08:40:59", Who: "Theo Marsh", Role: "Administrator", Did: "Listed infants", Outcome: Tag{"late", "Refused"}, Where: "192.0.2.9"},
				{When: "5 Mar 2026, 08:40:12", Who: "Wren Castellano", Role: "Coordinator", Did: "Exported", What: "Line list of cases", Why: "Handover", Infants: []Link{{Text: "AB-2026-0001"}}, More: "and 14 more", Outcome: Tag{"done", "Done"}, Where: "192.0.2.7"}},
			Older: "/settings/access?before=x", CSV: "/settings/access.csv", Whole: []Fact{{Name: "Lines", Text: "12,031"}, {Name: "End", Text: "0f3a9c11"}}}
	}
	samples["access-log-none"] = func() Page {
		return &AccessLogPage{Base: sampleBase("Access log", "settings"), Lead: "Who saw what.", Links: tabs, Listed: true, None: "No line fits."}
	}
}
