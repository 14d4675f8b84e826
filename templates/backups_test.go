package templates

func init() {
	tabs := []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/back-ups", Text: "Back-ups", Current: true}}
	samples["backups"] = func() Page {
		return &BackupsPage{Base: sampleBase("Back-ups", "settings"), Lead: "Copies of everything.", Links: tabs, MayMake: true,
			State:   Note{"good", "The newest verified back-up is 12 minutes old.", "It holds all 118 cases as of 08:30."},
			Trouble: []Note{{"late", "One back-up cannot be counted on.", "It is marked below."}},
			Facts:   []Fact{{Name: "Folder", Text: "/srv/back-ups"}, {Name: "Made", Text: "Every 30 minutes"}},
			Rows: []BackupRow{{Made: "5 Mar 2026, 08:30", By: "schedule", File: "program-20260305T133000Z.db.age", Size: "4.2 MB", Cases: 118, Entries: 12031, Head: "0f3a9c11d2e4", State: Tag{"done", "Verified"}},
				{Made: "5 Mar 2026, 08:00", By: "Theo Marsh", File: "program-20260305T130000Z.db.age", Size: "4.2 MB", Cases: 118, Entries: 12030, Head: "77aa9c11d2e4", State: Tag{"late", "Look at this"}, Note: "The file is gone."}},
			More: 3, Restore: "mv program.db program.db.before\ndunlin restore /srv/back-ups/program-20260305T133000Z.db.age --identity KEYFILE --to program.db"}
	}
	samples["backups-none"] = func() Page {
		return &BackupsPage{Base: sampleBase("Back-ups", "settings"), Lead: "Copies of everything.", Links: tabs, State: Note{"late", "No back-ups are made.", "Set a folder."}}
	}
}
