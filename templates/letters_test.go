package templates

import (
	"testing"

	"github.com/google/go-cmp/cmp"
)

func init() {
	parts := []Tab{{"/letters", "Letters", 0, false, true}, {"/letters/returned", "Returned mail", 0, false, false}}
	kinds := Choice{ID: "by-kind", Name: "kind", Legend: "Kind of letter", Options: []Option{{Text: "All kinds"}}}
	to := Choice{ID: "by-to", Name: "to", Legend: "To whom", Options: []Option{{Text: "To all"}}}
	why := Field{ID: "why", Label: "Why hold?", Optional: true}
	tabs := []Tab{{"/letters", "To print", 2, true, true}, {"/letters?state=mailed", "Mailed", 0, false, false}}
	samples["letters"] = func() Page {
		return &LettersPage{Base: sampleBase("Letters, 2 to print", "letters"), Lead: "2 letters to print.", Parts: parts, Tabs: tabs, Kind: kinds, To: to, Why: &why, Head: "To print", State: "to-print", MayAct: true, Make: true, Actions: []LetterAction{{"print", "Print run"}, {"hold", "Hold"}}, Tip: "Makes one PDF in print order, with a count sheet.",
			Rows: []ListedLetter{{ID: "01L1", Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", Kind: "Repeat needed", Language: "English", Due: "made 5 Mar 2026", State: Tag{"book", "To print"}, Href: "/letters?letter=01L1", Current: true, Pick: true, Picked: true}},
			Chosen: &LetterPreview{ID: "01L1", Title: "Repeat needed", Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", Number: "K7Q2M", From: []string{"Alder Bay newborn screening follow-up", "200 Causeway Road"}, To: []string{"Parent or guardian", "14 Curlew Lane"}, Date: "March 5, 2026",
				Blocks: []LetterBlock{{LetterParagraph, "Your baby needs one more sweat test."}, {LetterHeading, "On the day"}, {LetterItem, "Feed your baby."}, {LetterItem, "Bring a blanket."}, {LetterStrong, "Call us."}, {LetterLine, "555-0142"}},
				Grade:  "Reading grade 1.8", State: Tag{"book", "To print"}, PDF: "/letters/01L1.pdf"},
			SkippedAll: "All 1", Skipped: []SkippedLetter{{"QUILLON, Sabine", "AB-2026-0120", "First notice", "No address is on record", Link{"/infants/AB-2026-0120/family", "Enter the address"}}}}
	}
	samples["letters-printed"] = func() Page {
		return &LettersPage{Base: sampleBase("Letters, 1 printed", "letters"), Lead: "1 letter is printed and not mailed.", Parts: parts, Tabs: tabs, Kind: kinds, To: to, Why: &why, Head: "Printed", State: "printed", MayAct: true, Actions: []LetterAction{{"mailed", "Mark mailed"}, {"print", "Print again"}},
			Rows:    []ListedLetter{{ID: "01L1", Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", Kind: "Repeat needed", Language: "English", State: Tag{"page", "Printed"}, Href: "/letters?state=printed&letter=01L1", Pick: true}},
			Printed: &PrintRun{ID: "01R1", N: 1, PDF: "/letters/runs/01R1/pdf", Page: "/letters/runs/01R1"}, Runs: []PrintRun{{"01R1", "5 Mar 2026, 08:47", 1, "/letters/runs/01R1/pdf", "/letters/runs/01R1", true}},
			Chosen: &LetterPreview{ID: "01L1", Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", PDF: "/letters/01L1.pdf", Acts: []LetterForm{{Head: "Came back", Action: "/letters/01L1/came-back", Fields: []Field{{ID: "back-why", Label: "What the envelope says"}}, Button: "Came back"}}, Held: "CF is presumptive.", Edited: "Wren Castellano on 5 Mar 2026: the family asked.", MadeAs: "/letters/01L1/pdf?as=made", Steps: []LetterStepRow{{"To print", "06:00", "Daily job", ""}}}}
	}
	samples["letters-empty"] = func() Page {
		return &LettersPage{Base: sampleBase("Letters, none to print", "letters"), Lead: "No letter waits.", Parts: parts, Tabs: tabs, Kind: kinds, To: to, Why: &why, Head: "To print", State: "to-print", None: "No letter waits to be printed."}
	}
}

func TestLetterGroupsPutItemsTogether(t *testing.T) {
	p := LetterPreview{Blocks: []LetterBlock{{LetterParagraph, "a"}, {LetterParagraph, "b"}, {LetterItem, "c"}, {LetterItem, "d"}, {LetterLine, "e"}, {LetterLine, "f"}, {LetterItem, "g"}}}
	want := []LetterGroup{{LetterParagraph, []string{"a"}}, {LetterParagraph, []string{"b"}}, {LetterItem, []string{"c", "d"}}, {LetterLine, []string{"e", "f"}}, {LetterItem, []string{"g"}}}
	if d := cmp.Diff(want, p.Groups()); d != "" {
		t.Error(d)
	}
}
