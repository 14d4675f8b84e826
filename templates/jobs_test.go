package templates

func init() {
	samples["jobs"] = func() Page {
		return &JobsPage{Base: sampleBase("Jobs and mailbox", "settings"), Lead: "What the program does by itself.", MayRun: true,
			Links: []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/jobs", Text: "Jobs and mailbox", Current: true}},
			Mail:  Note{"late", "No mail since 08:10.", "The server did not answer in time. New referrals may be waiting there."},
			Box:   []Fact{{Name: "Account and folder", Text: "referrals@alderbay.example/INBOX"}, {Name: "Read", Text: "Every 5 minutes"}},
			Rows: []JobRow{{Name: "daily", Title: "Overdue list and letters", State: Tag{"done", "In order"}, When: "Each day at 06:00", Last: "5 Mar 2026, 06:00", Outcome: "23 on the list, 4 letters", Good: "2 hours ago", Next: "6 Mar 2026, 06:00"},
				{Name: "mailbox", Title: "Reading the mailbox", State: Tag{"late", "Look at this"}, Warning: "The last run failed: no answer", When: "Every 5 minutes", Last: "5 Mar 2026, 08:35", Outcome: "Failed: no answer", Good: "31 minutes ago", Next: "5 Mar 2026, 08:45"}}}
	}
	samples["jobs-none"] = func() Page {
		return &JobsPage{Base: sampleBase("Jobs and mailbox", "settings"), Lead: "What the program does by itself.", Mail: Note{"", "No mailbox is set up.", ""}}
	}
}
