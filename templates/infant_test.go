package templates

func init() {
	samples["infant"] = func() Page {
		p := &InfantPage{
			Base: sampleBase("OYELARAN, Tobias, AB-2026-0112", "infants"), Reference: "AB-2026-0112", Short: "Tobias",
			Tag: Tag{"late", "QNS, repeat due"}, Lead: "15 days past day 28. Case open since 30 Jan 2026.",
			Main: Link{"/infants/AB-2026-0112/book", "Book a repeat test"}, Acts: []Link{{"/infants/AB-2026-0112/contacts/new", "Log contact"}, {"/infants/AB-2026-0112/tests/new", "Record test"}},
			Record: []Link{{"/infants/AB-2026-0112/holds/new", "Place a hold"}}, Export: Link{"/infants/AB-2026-0112/export", "Export as FHIR"}, Notes: []Fact{{Name: "1 Mar 2026", Text: "Moves in April.", Note: "Wren Castellano"}}, Close: Link{"/infants/AB-2026-0112/close", "Close case"},
			Stop: []Note{{"late", "No voicemail.", "Until the family says otherwise."}},
			Next: NextStep{Do: "Book a repeat test", Because: "The test of 14 Feb 2026 had not enough sweat on either arm.", By: "By Sat 21 Feb 2026", State: Tag{"late", "12 days late"}},
			Repeat: &RepeatPart{Head: "Repeat test", Cause: "QNS on 14 Feb 2026.", Window: "From 15 Feb 2026, due 21 Feb 2026.", State: Tag{"late", "12 days late"}, Count: "Test 3.",
				Consider: "2 tests gave no result. Consider, besides or instead of one more:", Instead: []string{"Tell the supervisor"}},
			Retests: &RetestPart{Due: DateOf("2026-07-21"), State: Tag{Text: "on time"}, Next: "After it the protocol lists 21 Jan 2027.", Book: Link{"/infants/AB-2026-0112/book", "Book the re-test"},
				Series: []RetestMark{{"6 months", DateOf("2026-07-21"), Tag{}}, {"12 months", DateOf("2027-01-21"), Tag{"done", "tested 2 Feb 2027"}}}},
			Plan: &ContactPart{Since: DateOf("2026-02-16"), Why: "The family was not reached yet.", Rung: "Letter", Owed: []RungAttempt{{"Calls, by phone, 3 of 3", "Coordinator", DateOf("2026-02-19"), Tag{"late", "14 days late"}}},
				Next: &RungAttempt{"Visit", "Public-health nurse", DateOf("2026-03-06"), Tag{}}, Log: Link{"/infants/AB-2026-0112/contacts/new", "Log contact"}},
			Ready: Tag{"ready", "Ready now"},
			Checks: []Met{{Met: true, Name: "Age", Value: "43 days", Note: "Needs 14 days or more. Reached 4 Feb 2026"},
				{Met: true, Name: "Weight", Value: "3.02 kg", Note: "Needs 2.00 kg or more. Weighed 14 Feb 2026"}},
			Clocks:   []Clock{{Name: "First test", Due: DateOf("2026-02-18"), State: Tag{"done", "met on 14 Feb 2026"}}},
			Evidence: []string{"Nothing yet"}, ToDo: []string{"Order CFTR sequencing"},
			Line: Timeline{Born: DateOf("2026-01-21"), Age: 43, Desc: "Referred on day 9. Sweat test on day 24: QNS. Today is day 43, 15 days past day 28.",
				Events: []Event{{1, LaneScreen, "Specimen", "", false}, {9, LaneScreen, "Referred", "", false}, {9, LaneContacts, "Family", "", false}, {24, LaneTests, "QNS", DropQNS, false}, {47, LaneTests, "Booked, 9 Mar", "", true}}},
			Strip:   Strip{Age: 43, Tests: []Mark{{24, DropQNS, "QNS"}}},
			Events:  []EventLine{{24, DateOf("2026-02-14"), "Sweat test: QNS"}, {0, DateOf("2026-01-21"), "Born"}},
			Tests:   []TestRow{{N: 1, On: DateOf("2026-02-14"), Day: 24, Site: "Alder Bay CF Clinic", Arm: "Left", Minutes: "30 minutes", Amount: "8 µL", Value: "Not analyzed", Drop: DropQNS, Overall: "QNS", Outcome: "QNS", Skin: "None"}, {Arm: "Right", Minutes: "30 minutes", Amount: "11 µL", Value: "Not analyzed", Outcome: "QNS", Skin: "Redness", Lab: &LabWord{Says: "Normal", Details: "Marlow Creek Lab, reported 15 Feb 2026. Range <30", Comment: "Collected twice", Differs: "The laboratory reads a value that the program does not use: the amount is under 15 µL."}}},
			Books:   []BookingRow{{On: DateOf("2026-03-09"), At: "13:00", Site: "Alder Bay CF Clinic", State: Tag{"book", "Booked"}, Acts: []Link{{"/infants/AB-2026-0112/bookings/0/cancel", "Cancel booking"}}}},
			Came:    []IntakeItem{{ID: "01J3", From: "Mailbox, Newborn screening laboratory", Came: "30 Jan 2026, 06:14", State: Tag{"plus", "Opened"}}},
			Contact: []ContactRow{{On: DateOf("2026-02-27"), At: "09:40", How: "Phone", Who: "Family", What: "Left message, no health detail", By: "Castellano"}, {On: DateOf("2026-01-30"), How: "Phone", Who: "Family", What: "Talked, understood", Reached: true}},
			Letters: []InfantLetter{{Name: "Result within normal limits", To: "Family", Language: "Not made", State: Tag{"half", "Waits for release"}, On: DateOf("2026-02-14"), Release: "/infants/AB-2026-0112/letters/release"},
				{Name: "First notice", To: "Family", Language: "English", State: Tag{"out", "Mailed"}, On: DateOf("2026-02-03"), Href: "/letters?state=mailed", PDF: "/letters/01L1/pdf", Number: "K7Q2M3AB", Edited: "Words changed by Wren Castellano on 2 Feb 2026: asked.", Steps: []LetterStepRow{{"To print", "2 Feb 2026, 06:00", "Daily job", ""}, {"Mailed", "3 Feb 2026, 16:50", "Wren Castellano", "by hand"}}}},
			Screen:  []Fact{{Name: "IRT", Text: "96.4 ng/mL"}, {Name: "Variants", Text: "F508del"}, {Name: "Collected", On: DateOf("2026-01-22")}},
			Family:  []Fact{{Name: "Mother", Text: "OYELARAN, Ruth"}, {Name: "Phone", Phone: "555-0187"}, {Name: "Language"}},
			ToCheck: []Fact{{Name: "Birth weight", Text: "2310 lb", Note: "The unit is not one of weight for infants"}},
			History: []HistoryRow{{On: DateOf("2026-02-27"), At: "09:42", Who: "Wren Castellano, coordinator", What: "Contact added", Before: "None", Now: "Phone, left message"}},
			More:    "Show all 24 entries", MoreAt: "/infants/AB-2026-0112?history=all", CanLog: true, CanTest: true, CanName: true,
			Cautions: []string{"Poor feeding, vomiting, lethargy, poor weight gain or wheeze: medical care today."},
		}
		p.Banner = sampleBanner()
		p.Rev = 7
		p.Flash = &Notice{Kind: "good", Head: "Contact saved", Text: "for OYELARAN, Tobias."}
		return p
	}
}
