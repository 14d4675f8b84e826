package templates

func init() {
	samples["signin"] = func() Page {
		return &SignInPage{
			Base:     Base{Name: "Sign in", CSRF: "token", MadeUp: true, LetterKeys: true, Program: "Alder Bay newborn screening follow-up"},
			Email:    Field{ID: "email", Label: "Work email", Width: "w20", InputMode: "email", Complete: "username", NoSpell: true},
			Password: Field{ID: "password"},
			Next:     "/overdue",
			Demo:     []DemoID{{"Coordinator", "coordinator@alder-bay.example", "made-up-word-list"}},
		}
	}
	samples["signin-error"] = func() Page {
		const text = "Email or password is not right"
		return &SignInPage{
			Base:     Base{Name: "Sign in", CSRF: "token", LetterKeys: true, Problems: []Problem{{"email", text}}},
			Email:    Field{ID: "email", Label: "Work email", Value: "wren@alder-bay.example", Error: text, Width: "w20", Complete: "username"},
			Password: Field{ID: "password"},
		}
	}
	samples["signin-service"] = func() Page {
		const text = "Alder Bay staff account does not answer just now. Sign in with your password, or try again in some minutes"
		return &SignInPage{
			Base:     Base{Name: "Sign in", CSRF: "token", MadeUp: true, LetterKeys: true, Program: "Alder Bay newborn screening follow-up", Problems: []Problem{{"service", text}}},
			Email:    Field{ID: "email", Label: "Work email", Width: "w20", InputMode: "email", Complete: "username", NoSpell: true},
			Password: Field{ID: "password"}, Notice: "You are signed out of Dunlin. You may still be signed in with Alder Bay staff account.",
			Service: &ServiceLink{Name: "Alder Bay staff account", Href: "/sign-in/service", Trouble: true},
			End:     &Link{Href: "https://signin.alder-bay.example/end?client_id=dunlin", Text: "Sign out there too"},
		}
	}
	samples["unsent"] = func() Page {
		return &UnsentPage{Base: Base{Name: "Not saved yet", CSRF: "token", LetterKeys: true}, SignedOut: true, Action: "/infants/AB-2026-0112/contacts",
			Typed: []Fact{{Name: "Outcome", Text: "no answer"}}, Fields: []Hidden{{"outcome", "no answer"}, {"rev", "7"}}}
	}
	samples["problem"] = func() Page {
		return &ProblemPage{
			Base: sampleBase("There is a problem", ""), Head: "Sorry, there is a problem with Dunlin",
			Text:    []string{"Nothing was saved. Use the Back button of the browser: what you typed is still in the form.", "Try again in a few minutes."},
			Actions: []Link{{"/overdue", "Go to the overdue list"}},
			Ref:     "D-7F3K-2290", At: "5 Mar 2026, 08:47",
		}
	}
}
