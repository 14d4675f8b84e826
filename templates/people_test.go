package templates

func init() {
	tabs := []Tab{{Href: "/settings/protocol", Text: "Protocol"}, {Href: "/settings/users", Text: "Users", Current: true}}
	code := Field{ID: "code", Label: "Code", Width: "w14", Complete: "one-time-code", NoSpell: true}
	open := func(name string) Base {
		return Base{Name: name, CSRF: "token", MadeUp: true, LetterKeys: true, Program: "Alder Bay newborn screening follow-up"}
	}
	sessions := []SignedInRow{{ID: "s1", Browser: "Firefox on Linux", From: "192.0.2.1", Since: "5 Mar 2026, 08:02", Used: "5 Mar 2026, 08:41", Second: true, Own: true},
		{ID: "s2", Browser: "Safari on iPhone", From: "203.0.113.9", Since: "4 Mar 2026, 17:30", Used: "4 Mar 2026, 17:44"}}
	samples["code"] = func() Page {
		p := &CodePage{Base: open("Enter your code"), Code: code, Next: "/overdue"}
		p.Code.Error, p.Problems = "The code is not right", []Problem{{"code", "The code is not right"}}
		return p
	}
	samples["factor"] = func() Page {
		return &FactorPage{Base: sampleBase("Set up a second factor", ""), Lead: "You need your phone each time you sign in.", Action: "/me/second-factor", Back: "/me", QR: QR{29, "M0 0h7v1h-7z"}, Secret: "GEZD GNBV GY3T QOJQ", Code: code}
	}
	samples["codes"] = func() Page {
		return &CodesPage{Base: sampleBase("Keep your recovery codes", ""), Codes: []string{"GEZD-GNBV-GY3T-QOJQ-GEZD-GNBV", "MZXW-6YTB-OI3D-EMRT-GQ2T-MNZY"}, Next: "/me"}
	}
	samples["password"] = func() Page {
		const text = "Password must be at least 15 characters. It is 5"
		p := &PasswordPage{Base: open("Choose a password"), Head: "Choose a password", Lead: "For Dagny Achterberg.", Action: "/set-password/x", ID: "dagny@alder-bay.example", Least: 15, Submit: "Set password",
			Password: Field{ID: "password", Label: "New password", Complete: "new-password", Error: text}}
		p.Problems = []Problem{{"password", text}}
		return p
	}
	samples["password-first"] = func() Page {
		return &PasswordPage{Base: open("First administrator"), Head: "Make the first administrator", Lead: "There is no account yet.", Action: "/first/x", Least: 15, Submit: "Make the account",
			Email: &Field{ID: "email", Label: "Work email"}, FullName: &Field{ID: "name", Label: "Your name"}, Password: Field{ID: "password", Label: "New password", Complete: "new-password"}}
	}
	samples["prove"] = func() Page {
		return &ProvePage{Base: sampleBase("Password again", ""), Action: "/reports/exports/cases", Method: "post", What: "Your password", Fields: []Hidden{{"l_reason", "<b>review</b>"}},
			Password: Field{ID: "prove", Label: "Password", Complete: "current-password"}}
	}
	samples["prove-service"] = func() Page {
		return &ProvePage{Base: sampleBase("Password again", ""), Action: "/reports/exports/cases", Method: "post", What: "A code", Fields: []Hidden{{"l_reason", "moved"}},
			Password: Field{ID: "prove", Label: "Code of your second factor", Complete: "current-password"}, Service: &ServiceLink{Name: "Alder Bay staff account", Href: "/sign-in/service?again=1"}}
	}
	samples["users"] = func() Page {
		return &UsersPage{Base: sampleBase("Users", "settings"), Lead: "Who may sign in.", Links: tabs,
			Rows: []UserRow{{Href: "/settings/users/1", Name: "Wren Castellano", Email: "wren@alder-bay.example", Role: "Coordinator", State: Tag{"done", "In use"}, Factor: "Set up", Last: "5 Mar 2026, 08:02"},
				{Href: "/settings/users/2", Name: "Dagny <b>Achterberg</b>", Email: "dagny@alder-bay.example", Role: "Nurse", Sites: "Heron Point", State: Tag{"half", "Invited"}, Factor: "Due at the next sign-in", Last: "Never"}},
			Roles: Choice{ID: "roles", Legend: "Roles that must have a second factor", Options: []Option{{"coordinator", "Coordinator", "", false}, {"administrator", "Administrator", "", true}}}}
	}
	role := Choice{ID: "role", Legend: "Role", Down: true, Options: []Option{{"nurse", "Nurse", "Tests and schedule", true}, {"manager", "Manager", "Figures", false}}}
	places := Choice{ID: "sites", Legend: "Test sites of a nurse", Options: []Option{{"heron", "Heron Point", "", true}}}
	samples["user"] = func() Page {
		return &UserPage{Base: sampleBase("User, Dagny Achterberg", "settings"), Head: "Dagny Achterberg", Links: tabs, Action: "/settings/users/2", State: Tag{"half", "Invited"}, Role: role, Sites: places,
			Facts: []Fact{{Name: "Work email", Text: "dagny@alder-bay.example"}}, Link: &LinkShown{"https://dunlin.alder-bay.example/set-password/abc", "8 Mar 2026, 08:41", "Dagny Achterberg"},
			Acts:   []UserAct{{Do: "factor-off", Text: "Take the second factor away", Sub: "For a lost phone.", Reason: true}, {Do: "disable", Text: "Disable account", Sub: "Ends every session at once."}},
			Reason: &Field{ID: "reason", Label: "Reason"}, Sessions: sessions[1:], EndAction: "/settings/users/2/end-sessions"}
	}
	samples["user-new"] = func() Page {
		return &UserPage{Base: sampleBase("Invite a person", "settings"), Head: "Invite a person", Links: tabs, Action: "/settings/users/new", New: true, Role: role, Sites: places,
			Person: Field{ID: "name", Label: "Name"}, Email: Field{ID: "email", Label: "Work email"}}
	}
	me := samples["me"]
	samples["me"] = func() Page {
		p := me().(*MePage)
		p.Account, p.Factor, p.HasCodes, p.MayDrop, p.Sessions = []Fact{{Name: "Work email", Text: "wren@alder-bay.example"}}, "A second factor is asked for at each sign-in. 9 recovery codes are left.", true, true, sessions
		return p
	}
}
