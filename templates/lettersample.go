package templates

import "fmt"

// LetterGrade and LetterINFLESZ are the gate for letters to families: at or below the
// grade in English (5th to 6th grade for printed patient information, Am Fam Physician
// 2015;92:118-124), at or above the score in Spanish (INFLESZ, "quite easy").
const (
	LetterGrade   = 6.0
	LetterINFLESZ = 65.0
)

// Sample gives invented values for every field of a text, for previews and for the
// reading grade: the same values for every text of a language, so that names do not
// change a text's score.
func (s *LetterSet) Sample(t *LetterText) (f LetterFields, rows []LetterFields) {
	w := s.Words(t.Language)
	born, visit, test := w.Date(2026, 3, 1), w.WeekDate(3, 2026, 3, 18), w.WeekDate(1, 2026, 3, 9)
	f = LetterFields{
		"program": "Alder Bay Follow-up", "contact": "Rosa Teal", "phone": "555-0142", "fax": "555-0143", "emergency": "911",
		"center": "Alder Bay CF Center", "center_phone": "555-0155", "counseling": "Maren Holt, 555-0144",
		"infant": "Ada Wren", "infant_born": born, "doctor": "Dr. Finch", "mother": "Lin Wren", "record": "4471 (Alder Bay Hospital)",
		"visit_day": visit, "visit_time": w.Time(9, 30), "site": "Alder Bay Test Site", "site_address": "200 Causeway Road, Alder Bay",
		"site_phone": "555-0150", "site_note": "Park behind the house",
		"next_day": w.WeekDate(5, 2026, 3, 20), "next_time": w.Time(13, 0), "next_site": "Alder Bay Test Site",
		"test_day": test, "released_by": "Dr. Holt", "released_on": w.Date(2026, 3, 10), "tried_from": w.Date(2026, 3, 9),
		"tries": "4 times by phone and 1 time by letter", "call_by": w.WeekDate(5, 2026, 3, 27),
		"screen_reason": "One CFTR variant", "irt": "81.4 ng/mL", "variants": "F508del", "laboratory": "Alder Bay Screening Laboratory", "specimen": "S-20417",
		"test_from": w.Date(2026, 3, 15), "test_by": w.Date(2026, 3, 29), "chloride": "42 mmol/L", "arms": "left 42 mmol/L, right 40 mmol/L",
		"repeat_by": w.Date(2026, 4, 6), "count": "2",
	}
	if t.Language == "en" {
		f["hours"] = "Monday to Friday, 8 in the morning to 4 in the afternoon"
	}
	rows = []LetterFields{
		{"row_time": "09:30", "row_infant": "Ada Wren", "row_born": born, "row_age": "17 days", "row_why": "First test", "row_weight": "3,400 g on " + born, "row_language": "Spanish, interpreter needed", "row_care": "twin: one infant in the room at a time"},
		{"row_time": "10:30", "row_infant": "Bo Heron", "row_born": born, "row_age": "17 days", "row_why": "Repeat 2, after QNS"},
	}
	return f, rows
}

// LetterScore is how one text reads with its sample values.
type LetterScore struct {
	Text    *LetterText
	Reading Readability
	// Gated tells that the text is held to the gate; Passes that it reads easily enough.
	Gated, Passes bool

	blocks []LetterBlock
}

// Score counts a text with its sample values.
func (s *LetterSet) Score(t *LetterText) (LetterScore, error) {
	f, rows := s.Sample(t)
	blocks, err := t.Fill(f, rows...)
	if err != nil {
		return LetterScore{}, err
	}
	score := LetterScore{Text: t, Reading: ReadLetterIn(t.Language, blocks), Passes: true, blocks: blocks}
	switch base := baseLanguage(t.Language); {
	case !ForFamily(t.Kind):
	case base == "en":
		score.Gated, score.Passes = true, score.Reading.Grade() <= LetterGrade
	case base == "es":
		score.Gated, score.Passes = true, score.Reading.INFLESZ() >= LetterINFLESZ
	}
	return score, nil
}

// ReadingLine says in words how easily a letter reads; "" in a language without a
// formula.
func ReadingLine(language string, blocks []LetterBlock) string {
	r := ReadLetterIn(language, blocks)
	switch baseLanguage(language) {
	case "en":
		return fmt.Sprintf("Reading grade %.1f", r.Grade())
	case "es":
		return fmt.Sprintf("INFLESZ %.0f, %s", r.INFLESZ(), Band(r.INFLESZ()))
	}
	return ""
}

// Blocks are the words that were counted: the text with its sample values, nothing when
// it cannot be filled.
func (s LetterScore) Blocks() []LetterBlock { return s.blocks }
