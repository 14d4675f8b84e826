package templates

func init() {
	tabs := []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/sites", Text: "Test sites", Current: true}}
	row := SiteRow{Href: "/settings/sites/alder-bay", Sessions: "/settings/sites/alder-bay/sessions", Name: "Alder Bay <CF> Clinic", Key: "alder-bay", Address: "1 Harbor Way, Alder Bay", Phone: "555-0160",
		Accepts: "From 14 days of age", Opens: "Monday to Friday", Languages: "Interpreters: es", Next: "Next Fri 6 Mar 2026, 09:30; 8 in 8 weeks"}
	samples["sites"] = func() Page {
		old := row
		old.Href, old.Name, old.Key, old.Phone, old.State = "/settings/sites/old-mill", "Old Mill", "old-mill", "", Tag{"done", "Takes no new sessions"}
		return &SitesPage{Base: sampleBase("Test sites", "settings"), Lead: "Where sweat tests are done.", Links: tabs, Rows: []SiteRow{row, old}, MayEdit: true}
	}
	samples["sites-none"] = func() Page {
		return &SitesPage{Base: sampleBase("Test sites", "settings"), Lead: "Where sweat tests are done.", Links: tabs}
	}
	samples["site"] = func() Page {
		return &SitePage{Base: sampleBase("Test site, Alder Bay", "settings"), Head: "Alder Bay", Links: tabs, Action: "/settings/sites/alder-bay", Was: "4f", MayEdit: true, Sessions: "/settings/sites/alder-bay/sessions",
			Who: []Field{{ID: "name", Label: "Name", Error: "Enter the name of the site"}}, Where: []Field{{ID: "lat", Label: "Latitude"}}, Takes: []Field{{ID: "min-age", Label: "Least age", Unit: "days"}},
			Collectors: Choice{ID: "collectors", Legend: "How sweat is collected", Options: []Option{{Value: "tubing", Text: "Microbore tubing", Chosen: true}}},
			Weekdays:   Choice{ID: "weekdays", Legend: "Days of the week", Options: []Option{{Value: "1", Text: "Monday", Chosen: true}}},
			Holidays:   Choice{ID: "holidays", Legend: "Holidays", Options: []Option{{Value: "yes", Text: "It works on holidays too"}}},
			Closed:     Field{ID: "closed", Label: "Closed days", Kind: "area"}, Retired: Choice{ID: "retired", Legend: "No longer used", Options: []Option{{Value: "yes", Text: "It takes no new sessions"}}}}
	}
	samples["site-read"] = func() Page {
		return &SitePage{Base: sampleBase("Test site, Alder Bay", "settings"), Head: "Alder Bay", Links: tabs, Facts: []Fact{{Name: "Phone", Phone: "555-0160"}, {Name: "Address"}}}
	}
	samples["site-table"] = func() Page {
		return &SiteTablePage{Base: sampleBase("Import a table", "settings"), Links: tabs, Kind: Choice{ID: "kind", Legend: "What the table holds", Options: []Option{{Value: "sites", Text: "Test sites", Chosen: true}}},
			Upload: Field{ID: "file", Label: "File", Kind: "file"}, Columns: []Fact{{Name: "Test sites", Text: "key, name"}}, Faults: []IntakeProblem{{Where: "row 3, key", Text: "Alder-bay comes twice"}}}
	}
	samples["sessions"] = func() Page {
		return &SessionsPage{Base: sampleBase("Sessions, Alder Bay", "settings"), Head: "Sessions of Alder Bay", Lead: "Monday to Friday.", Ahead: "The next 8 weeks", All: "/settings/sites/alder-bay/sessions?all=1", Site: "/settings/sites/alder-bay", Links: tabs, MayEdit: true,
			New: "/settings/sites/alder-bay/sessions/new", Table: "/settings/sites/alder-bay/sessions.csv", Rows: []SessionRow{
				{Href: "/settings/sites/alder-bay/sessions/alder-bay-2026-03-06-0930", On: Date{2026, 3, 6}, Time: "09:30 to 12:10", Places: "2 of 4 free, 1 kept for repeats", Each: "40 minutes a place"},
				{On: Date{2026, 3, 13}, Time: "09:30 to 12:10", Each: "40 minutes a place", Note: "Snow", State: Tag{"done", "Cancelled"}, Stranded: []Sibling{{Name: "09:30", Reference: "AB-26-0139"}}}}}
	}
	samples["session"] = func() Page {
		return &SessionPage{Base: sampleBase("Session on Fri 6 Mar 2026", "settings"), Head: "Session on Fri 6 Mar 2026", Links: tabs, Action: "/settings/sites/alder-bay/sessions/x", Back: "/settings/sites/alder-bay/sessions", Was: "4f", Button: "Save session",
			Fields: []Field{{ID: "start", Label: "Start", Value: "09:30"}}, Booked: []SessionSeat{{At: "09:30", Reference: "AB-26-0139"}},
			Cancel: &CancelSession{Action: "/settings/sites/alder-bay/sessions/x/cancel", Reason: Field{ID: "why", Label: "Why it is cancelled"}}}
	}
	samples["session-cancelled"] = func() Page {
		return &SessionPage{Base: sampleBase("Session on Fri 6 Mar 2026", "settings"), Head: "Session on Fri 6 Mar 2026", Links: tabs, Action: "/settings/sites/alder-bay/sessions/x", Back: "/settings/sites/alder-bay/sessions", Button: "Save session",
			Fields: []Field{{ID: "start", Label: "Start"}}, Cancel: &CancelSession{Action: "/settings/sites/alder-bay/sessions/x/cancel", Cancelled: true}}
	}
}
