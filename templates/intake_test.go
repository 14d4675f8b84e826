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

func sampleItemPage() *IntakeItemPage {
	return &IntakeItemPage{Base: sampleBase("Intake, No infant found in the message", "intake"), Item: sampleItems()[0], Waiting: sampleItems(),
		Faults: []IntakeProblem{{"PID-7", "Birth date", "2026-13-45 is not a date"}}, Read: []Fact{{Name: "Sender", Text: "Saltmarsh"}}, Raw: "MSH|^~\\&|<LAB>\rPID|1||", RawNote: "Line ends are shown as lines.",
		Compare: &Compare{Reference: "AB-2026-0139", Name: "DRUMMOND, Baby girl A", Agree: 1, Of: 2, Rows: []CompareRow{{"Birth date", "9 Feb 2026", "9 Feb 2026", true}, {"Specimen number", "26-0447182", "26-0447181", false}}, Warning: "This looks like a twin."},
		Action:  "/intake/01J1", MayAct: true, Decision: Choice{ID: "as", Legend: "What is to be done with it?", Down: true, Options: []Option{{Value: "open", Text: "Open a case by hand"}, {Value: "set-aside", Text: "Set aside"}}},
		Reason: Field{ID: "reason", Label: "Reason", Kind: "area"}, Open: []Field{{ID: "family", Label: "Family name", NoSpell: true}},
		Sex: Choice{ID: "sex", Legend: "Sex", Options: []Option{{Value: "female", Text: "Girl"}}}, Route: Choice{ID: "route", Legend: "Referred by", Options: []Option{{Value: "screen", Text: "Newborn screen"}}}}
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
