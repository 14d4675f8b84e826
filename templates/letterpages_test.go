package templates

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func init() {
	parts := []Tab{{"/letters", "Letters", 0, false, true}, {"/letters/returned", "Returned mail", 0, false, false}}
	words := LetterPreview{From: []string{"Alder Bay newborn screening follow-up"}, To: []string{"Parent or guardian", "14 Curlew Lane"}, Date: "March 5, 2026", Number: "K7Q2M3AB",
		Blocks: []LetterBlock{{LetterHeading, "Your baby needs one more test"}, {LetterParagraph, "Please call us."}}, Grade: "Reading grade 1.8"}
	samples["letter-run"] = func() Page {
		track := Field{ID: "tracking-01L2", Label: "Tracking number", Optional: true}
		return &LetterRunPage{Base: sampleBase("Print run 2026-03-05-a", "letters"), Run: "2026-03-05-a", Lead: "3 letters.", Parts: parts, PDF: "/letters/runs/2026-03-05-a/pdf", Action: "/letters/runs/2026-03-05-a", Open: 2, Day: Field{ID: "day", Label: "Day of mailing"},
			Rows:      []RunLetter{{ID: "01L1", N: 1, Number: "K7Q2M3AB", Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", Kind: "First notice", State: Tag{"page", "Printed"}, Pick: true, Picked: true, Href: "/letters"}},
			Certified: []RunLetter{{ID: "01L2", N: 2, Number: "K7Q2M3AC", Name: "WREN, Ada", Reference: "AB-2026-0113", Kind: "We could not reach you", State: Tag{"page", "Printed"}, Pick: true, Href: "/letters", Tracking: &track}},
			Out:       []RunLetter{{ID: "01L3", N: 3, Number: "K7Q2M3AD", Name: "QUILLON, Sabine", Kind: "Appointment", State: Tag{"hold", "Held"}, Note: "Held: the infant died; take it out of the stack.", Href: "/letters"}}}
	}
	samples["returned-mail"] = func() Page {
		return &ReturnedPage{Base: sampleBase("Returned mail", "letters"), Parts: parts, Number: Field{ID: "number", Label: "Number of the letter", Hint: "Scan or type", Error: "The last sign does not fit"},
			Back: []ReturnedRow{{"K7Q2M3AB", "AB-2026-0112", "Came back. Not at this address", "Find a new address"}}}
	}
	samples["returned-mail-found"] = func() Page {
		return &ReturnedPage{Base: sampleBase("Returned mail", "letters"), Parts: parts, Number: Field{ID: "number", Label: "Number of the letter"},
			Found: &ReturnedLetter{ID: "01L1", Number: "K7Q2M3AB", About: "AB-2026-0112", Href: "/letters", Kind: "First notice", To: "Family", Mailed: "Mailed 2 Mar 2026", Why: Choice{ID: "back-why", Legend: "What the envelope says", Options: []Option{{Value: "refused", Text: "Refused"}, {Value: "nothing", Text: "It does not say"}}}, Note: Field{ID: "note", Label: "Anything else", Optional: true}}}
	}
	samples["letter-sheet"] = func() Page {
		return &LetterSheetPage{Base: sampleBase("Letter to print from the browser", "letters"), Lead: "This letter is to be printed.", Letter: words, Code: "K7Q2M3ABC", Back: "/letters?state=due", Mail: "/letters?state=printed", Action: "/letters/page", Key: "AB-2026-0112/repeat-needed/test 1", Button: "Make this letter and print it"}
	}
	samples["letter-edit"] = func() Page {
		who, licence := Field{ID: "read-by", Label: "Who read them"}, Field{ID: "licence", Label: "Licensed as"}
		confirm := Choice{ID: "confirm", Legend: "Go on?", Options: []Option{{Value: "x", Text: "I have read this"}}}
		return &LetterEditPage{Base: sampleBase("Change the words", "letters"), Head: "Change the words of this letter", Lead: "What was made is kept.", Action: "/letters/01L1/edit", Back: "/letters", Restore: "/letters/01L1/restore", Seen: "abc",
			Words: Field{ID: "words", Label: "Words", Kind: "area", Rows: 20, Value: "## Head\n\nText"}, Why: Field{ID: "why", Label: "Why?"}, Reader: &who, Licence: &licence, Original: words, Doubts: []string{"It reads at grade 9."}, LeftOut: []string{"In an emergency, call 911."}, Confirm: &confirm,
			Edited: "Wren Castellano on 5 Mar 2026: asked.", Cautions: []string{"Change no clinical meaning."}}
	}
	samples["letter-release"] = func() Page {
		licence := Field{ID: "licence", Label: "Licensed as"}
		return &ReleasePage{Base: sampleBase("Release a letter", "infants"), Head: "Release: Result within normal limits", Lead: "This letter says a result.", Action: "/infants/AB-2026-0112/letters/release", Back: "/infants/AB-2026-0112", Letter: words, Stopped: "No address is on record.",
			Tests: []Fact{{Name: "Sweat test, 5 Mar 2026", Text: "CF unlikely"}}, Evidence: []string{"Not affected"}, By: Field{ID: "by", Label: "Who releases it"}, Licence: &licence, Read: Choice{ID: "read", Legend: "Before", Options: []Option{{Value: "yes", Text: "Read"}}}, Cautions: []string{"Salt loss."}}
	}
	samples["messages"] = func() Page {
		as := Choice{ID: "as", Legend: "What becomes of it", Options: []Option{{Value: "again", Text: "Send it again"}}}
		why := Field{ID: "reason", Label: "How do you know?"}
		row := MessageRow{ID: "01M1", Name: "OYELARAN, Tobias", Reference: "AB-2026-0112", Kind: "Reminder the day before", By: "Text", To: "Family", State: Tag{"late", "Uncertain"}, When: "08:40", Href: "/messages", Current: true}
		return &MessagesPage{Base: sampleBase("E-mails and texts", "letters"), Lead: "What goes out.", Parts: parts, Tabs: []Tab{{"/messages", "To decide", 1, true, true}}, Head: "To decide", Rows: []MessageRow{row},
			Chosen: &MessageView{MessageRow: row, Address: "555-0187", Subject: "Your appointment tomorrow", Body: []string{"Your appointment is tomorrow.", "Call us."}, Lang: "en", Number: "M7Q2M3AB", Help: "Nobody knows.", Note: "The program stopped.", Tries: 1, Phone: "/infants/AB-2026-0112/contacts/new",
				Letter: "/letters/01L1/pdf", Steps: []LetterStepRow{{"Queued", "06:00", "Dunlin", ""}}, Action: "/messages/01M1", As: &as, Why: &why}}
	}
	samples["letter-texts"] = func() Page {
		return &LetterTextsPage{Base: sampleBase("Letter texts", "settings"), Lead: "What letters say.", Gate: "Held to grade 6.", Faults: []string{"vi/booking.txt:1: the translation is missing"}, Envelope: "No. 10", Sheet: "/settings/letter-texts/envelope.pdf",
			Rows: []LetterTextRow{{"Repeat test needed", "qns", "Family", "Spanish", "es", "Su bebé necesita otra prueba", "1", "Draft for review", "INFLESZ 70", Tag{"done", "Easy enough"}, "Ships with Dunlin", "es/repeat-needed-qns.txt", "/settings/letter-texts/es/repeat-needed~qns/sample.pdf"}}}
	}
	samples["contact-plan"] = func() Page {
		return &ContactPlanPage{Base: sampleBase("Contact plan", "settings"), Lead: "In order.", Source: "Proposed.", Differs: true, Then: "Then the checklist of closing.",
			Rows: []RungRow{{"Calls", "Family", "Phone", "0, 1, 3", "0, 0, 1", "Coordinator", "Call on three days.", []string{"Letter: First notice"}}}}
	}
	samples["messages-none"] = func() Page {
		return &MessagesPage{Base: sampleBase("E-mails and texts", "letters"), Lead: "What goes out.", Head: "To decide", None: "No message waits for a person."}
	}
}

// What a person reads in the text area is what the letter says: words survive the way
// there and back.
func TestMarkedWordsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		marks := []LetterMark{LetterParagraph, LetterHeading, LetterStrong, LetterItem, LetterLine}
		word := rapid.StringMatching(`[A-Za-zéß’][A-Za-z0-9éß’.,;:?!-]{0,12}`)
		var blocks []LetterBlock
		for range rapid.IntRange(1, 12).Draw(t, "blocks") {
			text := strings.Join(rapid.SliceOfN(word, 1, 8).Draw(t, "words"), " ")
			blocks = append(blocks, LetterBlock{rapid.SampledFrom(marks).Draw(t, "mark"), text})
		}
		got, err := ParseWords(MarkedWords(blocks))
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(blocks, got); d != "" {
			t.Fatal(d)
		}
	})
}

func TestParseWordsRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"":                   "no words",
		" \n\n ":             "no words",
		"Call {phone}":       "{ or }",
		"a }":                "{ or }",
		"Hello\n\n-\n\nmore": "mark without words",
		"##":                 "mark without words",
	} {
		if _, err := ParseWords(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// A wrapped paragraph is one; a changed sentence counts as left out, and those beside it
// do not.
func TestLeftOutNamesSentences(t *testing.T) {
	before := []LetterBlock{{LetterParagraph, "Call us today. Do not wait for the test."}, {LetterItem, "has a fever"}, {LetterItem, "has a fever"}}
	after, err := ParseWords("Call us today.\nWait for the test.\n\n- has a fever")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"Do not wait for the test.", "has a fever"}, LeftOut(before, after)); d != "" {
		t.Error(d)
	}
	if LeftOut(before, before) != nil {
		t.Error("the same words leave nothing out")
	}
}

func TestWordsThatNoFamilyLetterSays(t *testing.T) {
	for text, want := range map[string]string{"She may be a carrier.": "carrier", "Fibrosis quística": "Fibrosis", "Your baby is well.": "", "the genes say": "genes", "a general day": ""} {
		if got := NamesCondition(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
	for text, want := range map[string]string{"The screen was positive.": "positive", "We tell the police": "police", "Give a dose": "dose", "Please call.": ""} {
		if got := SoundsHarsh(text); got != want {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
