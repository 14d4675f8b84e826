package templates

func sampleLog(problem string) LogForm {
	opts := func(texts ...string) []Option {
		o := make([]Option, len(texts))
		for i, t := range texts {
			o[i] = Option{Value: t, Text: t}
		}
		return o
	}
	return LogForm{
		Caution: "On voicemail, in a text and with anyone but a guardian: name, number and a request to call back, no health detail.",
		With:    Choice{ID: "with", Legend: "Who", Options: opts("Family", "Primary care", "CF center", "Public-health nurse")}.Choose("Family"),
		By:      Choice{ID: "by", Legend: "How", Options: opts("Phone", "Letter", "Text")}.Choose("Phone"),
		Outcome: Choice{ID: "outcome", Legend: "What happened", Error: problem, Options: opts("Talked, understood", "No answer")},
		Person:  Field{ID: "person", Label: "Spoke to", Optional: true, Width: "w20"},
		Used:    Field{ID: "used", Label: "Number used", Optional: true, Width: "w14"},
		On:      Field{ID: "on", Label: "Day", Value: "today", Width: "w14", Hint: "Like 5 Mar 2026, today or yesterday"},
		At:      Field{ID: "at", Label: "Time", Value: "08:41", Width: "w4", InputMode: "numeric"},
		Note:    Field{ID: "note", Label: "Note", Optional: true, Width: "w20"},
		NextTry: Field{ID: "next_try", Label: "Next try", Optional: true, Width: "w14", Value: "Fri 6 Mar 2026", Hint: "Or +2d for two days from today"},
	}
}

func tobias() Who {
	return Who{Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", Born: DateOf("2026-01-21"), Age: "43 days", Twin: "Twin A of 2"}
}

func init() {
	samples["overdue"] = func() Page {
		return &OverduePage{
			Base: sampleBase("Overdue list, 23 infants", "overdue"),
			On:   DateOf("2026-03-05"), Total: 23, Made: "Made at 06:00 by the daily job, last updated 08:40.",
			Chips:   []Chip{{"", "All", "/overdue", 23, true}, {"repeat-qns", "QNS, repeat due", "/overdue?why=repeat-qns", 5, false}},
			Order:   "urgency first, then days late, both descending; then the older infant, then the case number. Twins stand together at the earlier place.",
			Showing: "Showing all 2.", Scale: DefaultScale, CanLog: true, Log: sampleLog(""),
			Pager: Pager{Page: 1, Pages: 1}, Earlier: Link{"/overdue/days/2026-03-04", "Yesterday's list"},
			Rows: []*OverdueRow{
				{Who: tobias(), Anchor: "row-AB-2026-0112", Rev: 7, Once: "o1", CanLog: true, Late: 15, Tag: Tag{"late", "QNS, repeat due"}, Fact: "14 Feb 2026: QNS", Due: "First test was due 18 Feb 2026",
					Strip: Strip{Age: 43, Tests: []Mark{{24, DropQNS, "QNS"}}}, Do: "Book a repeat test", By: "Nurse", Book: true, Last: "27 Feb 2026, phone, family", LastOf: "Left message, no health detail. Try 3"},
				{Who: Who{Name: "O’NEIL-<script>, Zoë", Reference: "AB-2026-0133", Born: DateOf("2026-02-05"), Age: "28 days"}, Anchor: "row-AB-2026-0133", Rev: 2, Once: "o2", CanLog: true,
					Class: "First: two variants", Tag: Tag{"soon", "Two variants, refer now"}, Strip: Strip{Age: 28, Booked: 29}, Do: "Call the CF center and primary care", Last: "None yet", Flags: "No voicemail"},
			},
			Done: []DoneRow{{Who: Who{Name: "LINDGREN, Asa", Reference: "AB-2026-0128", Born: DateOf("2026-02-02")}, What: "Repeat booked for Tue 10 Mar 2026.", When: "08:12, you."}},
		}
	}
	samples["overdue-short"] = func() Page {
		p := samples["overdue"]().(*OverduePage)
		p.ShortRows = true
		for _, r := range p.Rows {
			r.Short = true
		}
		return p
	}
	samples["overdue-empty"] = func() Page {
		return &OverduePage{Base: sampleBase("Overdue list, nothing overdue", "overdue"), On: DateOf("2026-03-05"), Scale: DefaultScale,
			Chips: []Chip{{"", "All", "/overdue", 0, true}}, Next: "Next due: TREVANION, Bo, Fri 6 Mar 2026, first test."}
	}
	samples["overdue-first"] = func() Page {
		return &OverduePage{Base: sampleBase("Overdue list, no infants yet", "overdue"), On: DateOf("2026-03-05"), NoCases: true}
	}
	samples["contact-error"] = func() Page {
		const text = "Select what happened"
		p := &LogPage{Base: sampleBase("Log a contact, AB-2026-0112", "infants"), Reference: "AB-2026-0112", Log: sampleLog(text), Back: "overdue", Go: true,
			Flags: "No voicemail", Phones: []Fact{{Name: "Mother", Phone: "555-0187"}}}
		p.Problems = []Problem{{"outcome-0", text}}
		p.Banner = sampleBanner()
		return p
	}
	samples["overdue-day"] = func() Page {
		return &DayListPage{Base: sampleBase("Overdue list of 4 March 2026", "overdue"), On: DateOf("2026-03-04"), Head: "Overdue list of Wednesday 4 March 2026",
			Lead: "Made at 06:00 by the daily job.", Printed: "Printed 5 Mar 2026, 08:41, by Wren Castellano", Order: "urgency first.",
			Rows: []DayRow{{Who: tobias(), Late: 14, Why: "QNS, repeat due", Due: "First test was due 18 Feb 2026", Do: "Book a repeat test", Phone: "555-0187", State: "Still on the list", LastContacted: "27 Feb 2026, phone"}}}
	}
}

func sampleBanner() *Banner {
	return &Banner{Name: "OYELARAN, Tobias", Born: DateOf("2026-01-21"), Age: "43 days", Sex: "Boy", Reference: "AB-2026-0112", Accession: "26-0431957",
		Gestation: "36 weeks 5 days", Twin: &Twin{Text: "Twin A of 2", Siblings: []Sibling{{"OYELARAN, Isaac", "AB-2026-0113"}}}}
}
