package templates

func init() {
	tabs := []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/senders", Text: "Senders", Current: true}}
	samples["senders"] = func() Page {
		return &SendersPage{Base: sampleBase("Senders, 1 known", "settings"), Lead: "Who sends referrals and results.", Links: tabs,
			Rows:    []SenderRow{{Href: "/settings/senders/0", Name: "Alder Bay screening laboratory", Signs: "ABNSL, @lab.alderbay.example", Choices: "Dates day first", Contact: "Ana Ruiz, 555-0119", State: Tag{"done", "Confirmed"}, Note: "Wren Castellano, 1 Mar 2026"}},
			Unknown: []UnknownSender{{Name: "MARLOW <CREEK>", Href: "/settings/senders/new?item=01J1", N: 3, Last: "5 Mar 2026, 06:14"}}}
	}
	samples["senders-none"] = func() Page {
		return &SendersPage{Base: sampleBase("Senders", "settings"), Lead: "Who sends referrals and results.", Links: tabs}
	}
	samples["sender"] = func() Page {
		p := &SenderPage{Base: sampleBase("Sender, Marlow Creek Lab", "settings"), Head: "Marlow Creek Lab", Action: "/settings/senders/1", Was: "4f",
			Fields: []Field{{ID: "name", Label: "Name"}, {ID: "signs", Label: "Signs as", Kind: "area"}},
			Dates:  Choice{ID: "dates", Legend: "Dates in numbers", Options: []Option{{Value: "", Text: "As the program", Chosen: true}, {Value: "day-month-year", Text: "Day first"}}},
			Commas: Choice{ID: "commas", Legend: "A comma in a number", Options: []Option{{Value: "no", Text: "Separates thousands, or is a fault"}}},
			Cards:  Choice{ID: "cards", Legend: "Another card wanted", Options: []Option{{Value: "", Text: "As the program"}}}, Codes: Field{ID: "codes", Label: "Its own result codes", Kind: "area"}}
		p.Confirm = &ConfirmSender{Action: "/settings/senders/1/confirm", Came: sampleItems(), Tick: Choice{ID: "compared", Legend: "Confirm", Options: []Option{{Value: "yes", Text: "I compared a real message with what was read"}}}}
		return p
	}
}
