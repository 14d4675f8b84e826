package templates

import (
	"strings"
	"testing"
)

func sampleItems() []IntakeItem {
	return []IntakeItem{
		{ID: "01J1", Title: "No infant found in the message", From: "Saltmarsh Birth Center", Came: "4 Mar 2026, 15:52", State: Tag{"blank", "Cannot be read"}, Reason: "The birth date is not a date.", Where: "PID-7", Due: DateOf("2026-03-04"), Late: "1 day late", Current: true},
		{ID: "01J2", Title: "DRUMMOND, Baby girl B", From: "Newborn screening laboratory", Came: "5 Mar 2026, 06:14", State: Tag{"two", "Possible twin"}, Reason: "Same mother and birth date as AB-2026-0139.", Due: DateOf("2026-03-12")},
	}
}

func sampleCompare() *Compare {
	a, b := Differences("26-0447182", "26-0447181")
	return &Compare{Head: "Compare with the infants on file", Warning: "This looks like a twin. Do not decide by the name alone.",
		On: []CompareInfant{{Reference: "AB-2026-0139", Name: "DRUMMOND, Baby girl A", Words: "1 of 3 fields agrees, 1 differs, 1 is not on both sides.", Why: "The same mother and birth date.", Weights: []Fact{{Name: "Birth date", Text: "+8.1"}, {Name: "Together", Text: "11.4"}}},
			{Reference: "AB-2026-0140", Name: "DRUMMOND, Baby girl B", State: "closed", Words: "2 of 3 fields agree."}},
		Rows: []CompareRow{{Name: "Birth date", New: Whole("9 Feb 2026", false), On: []CompareCell{{"AB-2026-0139", Whole("9 Feb 2026", false), "same"}, {"AB-2026-0140", Whole("9 Feb 2026", false), "same"}}},
			{Name: "Specimen number", New: a, Differs: true, On: []CompareCell{{"AB-2026-0139", b, "differs"}, {"AB-2026-0140", Whole("26-0447182", false), "same"}}},
			{Name: "Phone", New: Whole("Not sent", false), On: []CompareCell{{"AB-2026-0139", Whole("555-0164", false), "missing"}, {"AB-2026-0140", Whole("Not known", false), "missing"}}}}}
}

func sampleItemPage() *IntakeItemPage {
	return &IntakeItemPage{Base: sampleBase("Intake, No infant found in the message", "intake"), Item: sampleItems()[0], Waiting: sampleItems(), More: "All 24 that wait", Waits: true, Why: []string{"PID-7: The birth date is not a date.", "OBX[3]-5: The IRT is not a number."},
		Faults: []IntakeProblem{{"PID-7", "2026-13-45", "The birth date is not a date"}}, Read: []Fact{{Name: "Sender", Text: "Saltmarsh"}}, Raw: "MSH|^~\\&|<LAB>\rPID|1||", RawNote: "Line ends are shown as lines.", RawLinks: []Link{{"/intake/01J1/raw", "Download as it arrived"}},
		Compare: sampleCompare(),
		Action:  "/intake/01J1", MayAct: true, Decision: Choice{ID: "as", Legend: "What is to be done with it?", Down: true, Options: []Option{{Value: "open", Text: "Open a case"}, {Value: "set-aside", Text: "Set aside"}}},
		Case: &Field{ID: "case", Label: "Case number", Optional: true}, Reason: Field{ID: "reason", Label: "Reason", Kind: "area"}, Opens: true, Open: []Field{{ID: "family", Label: "Family name", NoSpell: true}},
		Sex: Choice{ID: "sex", Legend: "Sex", Options: []Option{{Value: "female", Text: "Girl"}}}, Route: Choice{ID: "route", Legend: "Referred by", Options: []Option{{Value: "screen", Text: "Newborn screen"}}},
		Return: &SendBack{To: "Saltmarsh Birth Center, fax 555-0119.", Text: "A document could not be taken in.\n- PID-7: <not> a date\n", Mail: "mailto:lab@saltmarsh.example?subject=Message%2026-1"}, Cautions: []string{"Not a diagnosis."}}
}

func sampleSweatItem() *IntakeItemPage {
	p := &IntakeItemPage{Base: sampleBase("Intake, TAMASESE, Lolo", "intake"), Item: sampleItems()[1], Waits: true, Top: true, Why: []string{"More to come."}, Raw: "MSH|", Action: "/intake/01J2", MayAct: true,
		Decision: Choice{ID: "as", Legend: "What is to be done with it?", Down: true, Options: []Option{{Value: "same AB-2026-0139", Text: "Add the result to AB-2026-0139"}}}, Reason: Field{ID: "reason", Label: "Reason", Kind: "area"}}
	p.About = Link{"/intake/01J1", "TAMASESE, Lolo, message 1"}
	p.Mail, p.MailText = []Fact{{Name: "From", Text: "Marlow Creek <lab@marlow.example>"}, {Name: "Part", Text: "attachment 1, r.hl7", Note: "4 KB"}}, "Result <attached>\nRegards"
	p.Sweat = &SweatEntry{Day: Field{ID: "sweat-day", Label: "Day of collection", Width: "w14"}, Sites: []SweatSite{{Head: "Site 1", As: "left forearm, 42 uL, 58 mmol/L",
		Side: Choice{ID: "side-1", Legend: "Side", Options: []Option{{Value: "left", Text: "Left", Chosen: true}}}, Place: Choice{ID: "place-1", Legend: "Place", Options: []Option{{Value: "forearm", Text: "Forearm"}}},
		Unit: Choice{ID: "unit-1", Legend: "Unit", Options: []Option{{Value: "uL", Text: "µL"}}}, Minutes: Field{ID: "minutes-1", Label: "Minutes"}, Amount: Field{ID: "amount-1", Label: "Amount"}, Chloride: Field{ID: "chloride-1", Label: "Chloride", Unit: "mmol/L"}}}}
	return p
}

func init() {
	samples["intake"] = func() Page {
		return &IntakePage{Base: sampleBase("Intake, 2 waiting", "intake"), Lead: "2 items wait for a person.", MayDecide: true, Waits: 2, Waiting: sampleItems(),
			Mail: Note{"good", "Last good poll of the mailbox 4 minutes ago.", "2 messages taken in."}, On: DateOf("2026-03-05"), Today: true,
			Earlier: Link{"/intake?day=2026-03-04", "The day before"}, Day: Field{ID: "day", Label: "Another day", Width: "w14"},
			Counts: []IntakeCount{{"Items in", "", 41}, {"Opened", "new case", 30}, {"For a person", "", 2}}, Sum: "41 items in = 30 opened + 2 for a person + 9 other.",
			Chips: []Chip{{Text: "All", Href: "/intake?day=2026-03-05", N: 41, Current: true}, {Text: "Opened", Href: "/intake?day=2026-03-05&show=opened", N: 30}, {Text: "For a person", Href: "/intake?day=2026-03-05&show=review", N: 2}},
			Came:  []IntakeItem{{ID: "01J3", Title: "EASTERLY, Baby boy", From: "Mailbox, Newborn screening laboratory", Name: "batch <7>.hl7", Where: "message 3", Came: "5 Mar 2026, 06:14", At: "06:14", State: Tag{"plus", "Opened"}, Reference: "AB-2026-0151"}},
			Pager: Pager{Page: 1, Pages: 2, Next: "/intake?day=2026-03-05&page=2"}}
	}
	samples["intake-empty"] = func() Page {
		return &IntakePage{Base: sampleBase("Intake, nothing waiting", "intake"), Lead: "Nothing waits.", Mail: Note{"late", "No mail since 08:10.", "The server did not answer. New referrals may be waiting there."},
			On: DateOf("2026-03-04"), Earlier: Link{"/intake?day=2026-03-03", "The day before"}, Later: Link{"/intake?day=2026-03-05", "The day after"}, Day: Field{ID: "day", Label: "Another day"},
			Counts: []IntakeCount{{"Items in", "", 0}}, Sum: "0 items in."}
	}
	samples["intake-item"] = func() Page { return sampleItemPage() }
	samples["intake-item-sweat"] = func() Page { return sampleSweatItem() }
	samples["intake-item-done"] = func() Page {
		return &IntakeItemPage{Base: sampleBase("Intake, OYELARAN, Tobias", "intake"), Item: IntakeItem{ID: "01J3", Title: "OYELARAN, Tobias", From: "Mailbox, Marlow Creek Lab", Name: "r.hl7", Came: "5 Mar 2026, 06:15", State: Tag{"into", "Attached"}, Reference: "AB-2026-0112"},
			Done: "Added to AB-2026-0112 by the program.", Why: []string{"Added: IRT."}, Raw: "MSH|", Undo: &UndoForm{Action: "/intake/01J3/undo", Reference: "AB-2026-0112", Reason: Field{ID: "undo-reason", Label: "Why does it not belong there?"}}}
	}
	samples["same-infant"] = func() Page {
		return &SameInfantPage{Base: sampleBase("Put this message on AB-2026-0139?", "intake"), Head: "Put this message on DRUMMOND, Baby girl A?", Lead: "You chose the same infant as AB-2026-0139.", Reference: "AB-2026-0139",
			Rows: []CompareRow{{Name: "Time of birth", New: Whole("04:37", true), Differs: true, On: []CompareCell{{"AB-2026-0139", Whole("04:12", true), "differs"}}}},
			Who:  Field{ID: "who-said", Label: "Who at the birth place said that it is this infant?", Width: "w20"}, Action: "/intake/01J1", Back: "/intake/01J1", Kept: []Hidden{{"as", "same AB-2026-0139"}}}
	}
	samples["upload"] = func() Page {
		return &UploadPage{Base: sampleBase("Upload a file", "intake"), Upload: Field{ID: "file", Label: "File", Kind: "file", Accept: ".hl7,.csv,.txt"}}
	}
	samples["upload-result"] = func() Page {
		return &UploadPage{Base: sampleBase("Upload a file", "intake"), Upload: Field{ID: "file", Label: "File", Kind: "file"},
			Result: &UploadResult{Name: "batch.hl7", Counts: []IntakeCount{{"Items in", "", 2}}, Sum: "2 items in = 2 opened.", Opened: []Sibling{{"DRUMMOND, Baby girl B", "AB-2026-0151"}}, Faults: []IntakeProblem{{"OBX[3]-5", "IRT", "not a number"}}}}
	}
}

func TestIntakeItemShowsTheMessageAsItCame(t *testing.T) {
	page := render(t, sampleItemPage())
	if !strings.Contains(page, "MSH|^~\\&amp;|&lt;LAB&gt;") {
		t.Error("the message is not shown escaped and whole")
	}
	if strings.Contains(page, `name="as" value="open" checked`) || strings.Contains(page, `value="set-aside" checked`) {
		t.Error("a decision is chosen beforehand")
	}
}
