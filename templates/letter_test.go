package templates

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

const goodHead = "kind: booking\nlanguage: en\nversion: 1\ntitle: T\nstatus: draft\n---\n"

// letterValues are invented values for every field.
func letterValues() LetterFields {
	return LetterFields{
		"infant": "Ada Wren", "infant_born": "March 1, 2026", "program": "Alder Bay Screening Follow-up",
		"contact": "Rosa Teal", "phone": "555-0142", "hours": "Monday to Friday, 8 in the morning to 4 in the afternoon",
		"emergency": "911", "doctor": "Dr. Finch", "site": "Alder Bay Test Site", "site_address": "200 Causeway Road, Alder Bay",
		"site_phone": "555-0150", "site_note": "Park behind the house", "visit_day": "Wednesday, March 18, 2026",
		"visit_time": "9:30 in the morning", "test_day": "Monday, March 9, 2026",
	}
}

func TestParseLetterTextNamesEveryFaultWithItsLine(t *testing.T) {
	tests := []struct{ name, src, want string }{
		{"unknown field", goodHead + "Dear {infnt},", "x.txt:7: unknown field {infnt}"},
		{"unknown field in second line of a paragraph", goodHead + "Dear\n{infnt},", "x.txt:8: unknown field {infnt}"},
		{"unknown condition", goodHead + "?pet - Bring it", `x.txt:7: unknown field "pet"`},
		{"open brace", goodHead + "Dear {infant", "x.txt:7: the brace of {infant is not closed"},
		{"closing brace", goodHead + "Dear infant}", "x.txt:7: a closing brace"},
		{"empty mark", goodHead + "Hello\n\n- \n", ""},
		{"no head end", "kind: booking\n", "x.txt:2: the head does not end"},
		{"missing key", "kind: booking\n---\nHello", `x.txt:2: the head has no "language" line`},
		{"unknown key", "colour: red\n" + goodHead + "Hello", "x.txt:1: expected one of kind, language"},
		{"twice", "kind: a\n" + goodHead + "Hello", `x.txt:2: "kind" stands in the head twice`},
		{"no text", goodHead, "x.txt:6: the letter has no text"},
		{"bytes", goodHead + "\xff", "x.txt:1: the file is not UTF-8"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ParseLetterText("x.txt", []byte(tt.src))
			if tt.want == "" {
				if err != nil {
					t.Fatalf("err = %v, want none", err)
				}
				return
			}
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Fatalf("err = %v, want %q", err, tt.want)
			}
		})
	}
	_, err := ParseLetterText("x.txt", []byte(goodHead+"{a}\n\n{b}"))
	if err == nil || strings.Count(err.Error(), "unknown field") != 2 {
		t.Errorf("err = %v, want both faults", err)
	}
}

func TestFillNamesTheFieldThatHasNoValue(t *testing.T) {
	text, err := ParseLetterText("x.txt", []byte(goodHead+"Dear {infant},\n\n?site_phone Call {site_phone}.\n\n- {visit_day}\n- {phone}"))
	if err != nil {
		t.Fatal(err)
	}
	_, err = text.Fill(LetterFields{"infant": "Ada {phone}", "visit_day": " "})
	if err == nil {
		t.Fatal("no error for missing values")
	}
	for _, want := range []string{"x.txt:11: the field {visit_day} has no value", "x.txt:12: the field {phone} has no value"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("err = %v, want %q", err, want)
		}
	}
	if _, err = text.Fill(LetterFields{"infant": "Ada", "visit_day": "a\nb", "phone": "1"}); err == nil {
		t.Error("a value of two lines was taken")
	}
	blocks, err := text.Fill(LetterFields{"infant": "Ada {phone}", "visit_day": "Monday", "phone": "555"})
	if err != nil {
		t.Fatal(err)
	}
	// A value is never read for fields again, and the optional paragraph is gone.
	if got, want := Plain(blocks), "Dear Ada {phone},\n\n- Monday\n- 555"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestParseLettersRefusesTwoOfOneKindAndTheWrongFolder(t *testing.T) {
	src := &fstest.MapFile{Data: []byte(goodHead + "Hello")}
	_, err := ParseLettersFS(fstest.MapFS{"en/a.txt": src, "en/b.txt": src, "es/c.txt": src})
	if err == nil || !strings.Contains(err.Error(), "en/b.txt:1: the same letter") || !strings.Contains(err.Error(), `es/c.txt:1: the same letter`) {
		t.Errorf("err = %v", err)
	}
	_, err = ParseLettersFS(fstest.MapFS{"es/c.txt": src})
	if err == nil || !strings.Contains(err.Error(), `language is "en"`) {
		t.Errorf("err = %v", err)
	}
}

// Readable for most: grade 6 or lower is the goal of printed patient information
// (5th to 6th grade, Am Fam Physician 2015;92:118-124).
func TestLettersAreComplete(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	want := []letterKey{
		{"en", "first-notice", ""}, {"en", "booking", ""}, {"en", "repeat-needed", "qns"},
		{"en", "repeat-needed", "intermediate"}, {"en", "repeat-needed", "unclear"},
	}
	if len(set.All()) != len(want) {
		t.Errorf("%d texts, want %d", len(set.All()), len(want))
	}
	for _, key := range want {
		text := set.Text(key.language, key.kind, key.variant)
		if text == nil {
			t.Errorf("no text for %v", key)
			continue
		}
		blocks, err := text.Fill(letterValues())
		if err != nil {
			t.Errorf("%v", err)
			continue
		}
		checkLetter(t, text, blocks)
	}
}

// notInLetters are words that no letter of these kinds holds: a result, a variant
// or a diagnosis in a letter is read alone, at home, without anyone to ask.
var notInLetters = regexp.MustCompile(`(?i)\b(cystic|fibrosis|CF|CFTR|CRMS|CFSPID|carrier|variants?|mutations?|genes?|genetic|positive|negative|abnormal|IRT|trypsinogen|chloride|disease|disorder|failed|bad|quantity|QNS|mmol|dose|teaspoon)\b`)

func checkLetter(t *testing.T, text *LetterText, blocks []LetterBlock) {
	t.Helper()
	plain := Plain(blocks)
	if word := notInLetters.FindString(plain); word != "" {
		t.Errorf("%s names %q", text.File, word)
	}
	r := ReadLetter(blocks)
	t.Logf("%s: grade %.1f, ease %.0f, SMOG %.1f, %d words", text.File, r.Grade(), r.Ease(), r.SMOG(), r.Words)
	if r.Grade() > 6 {
		t.Errorf("%s reads at grade %.1f, want 6 or lower", text.File, r.Grade())
	}
	if first := strings.Index(plain, letterValues()["phone"]); first < 0 || first > len(plain)/3 {
		t.Errorf("%s: the phone number is not in the first third", text.File)
	}
	if last := blocks[len(blocks)-1].Text; !strings.Contains(last, letterValues()["phone"]) {
		t.Errorf("%s: the last line %q does not name the phone number", text.File, last)
	}
	for _, must := range []string{
		"Ada Wren, born March 1, 2026", "If your baby is ill, get care today", "do not wait for the test",
		"feeds poorly", "very sleepy", "does not gain weight", "wheezes", "lose too much salt", "call 911", "follow your doctor", "interpreter",
	} {
		if !strings.Contains(plain, must) {
			t.Errorf("%s does not say %q", text.File, must)
		}
	}
	if !strings.Contains(text.Status, "Draft for review") {
		t.Errorf("%s is not marked as a draft for review: %q", text.File, text.Status)
	}
}

func TestBookingLetterTellsHowToGetReady(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	blocks, err := set.Text("en", "booking", "").Fill(letterValues())
	if err != nil {
		t.Fatal(err)
	}
	plain := Plain(blocks)
	for _, must := range []string{
		"cream, oil, lotion", "24 hours", "Feed your baby as you always do", "warm", "one hour", "no needles", "five minutes",
		"red for a while", "burn is rare", "oxygen", "seizures", "implant", "stay in the building",
		"Wednesday, March 18, 2026, at 9:30 in the morning", "200 Causeway Road", "not enough sweat",
	} {
		if !strings.Contains(plain, must) {
			t.Errorf("the booking letter does not say %q", must)
		}
	}
}

// The formulas against published and recomputed values; see the head of
// testdata/english_formulas.csv.
func TestReadabilityFormulas(t *testing.T) {
	f, err := os.Open("testdata/english_formulas.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cr := csv.NewReader(f)
	cr.Comment = '#'
	rows, err := cr.ReadAll()
	if err != nil || len(rows) < 10 {
		t.Fatalf("%d rows, err %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		n := func(i int) int { v, _ := strconv.Atoi(row[i]); return v }
		v := func(i int) float64 { v, _ := strconv.ParseFloat(row[i], 64); return v }
		r := Readability{Words: n(0), Sentences: n(1), Syllables: n(2), Polysyllables: n(3)}
		for name, pair := range map[string][2]float64{"ease": {r.Ease(), v(4)}, "grade": {r.Grade(), v(5)}, "SMOG": {r.SMOG(), v(6)}} {
			if math.Abs(pair[0]-pair[1]) > 0.0001 {
				t.Errorf("%v: %s = %.4f, want %.4f", row[:4], name, pair[0], pair[1])
			}
		}
	}
}

// Words and sentences are counted exactly as in the reference; syllables come from
// a rule and may differ from the dictionary by 2 in a hundred.
func TestReadEnglishOnTheReferenceTexts(t *testing.T) {
	src, err := os.ReadFile("testdata/english_texts.json")
	if err != nil {
		t.Fatal(err)
	}
	var ref struct {
		Texts map[string]struct {
			Text             string
			Sentences, Words int
			Syllables        int     `json:"syllables_dictionary"`
			Grade            float64 `json:"flesch_kincaid_grade"`
		}
	}
	if err := json.Unmarshal(src, &ref); err != nil || len(ref.Texts) < 6 {
		t.Fatalf("%d texts, err %v", len(ref.Texts), err)
	}
	for name, want := range ref.Texts {
		got := ReadEnglish(want.Text)
		if got.Words != want.Words || got.Sentences != want.Sentences {
			t.Errorf("%s: %d words in %d sentences, want %d in %d", name, got.Words, got.Sentences, want.Words, want.Sentences)
		}
		if math.Abs(float64(got.Syllables-want.Syllables)) > 0.02*float64(want.Syllables) {
			t.Errorf("%s: %d syllables, want %d", name, got.Syllables, want.Syllables)
		}
		t.Logf("%s: grade %.2f, reference %.2f", name, got.Grade(), want.Grade)
	}
}

func TestSyllablesOfTheReferenceWords(t *testing.T) {
	f, err := os.Open("testdata/syllables_english.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cr := csv.NewReader(f)
	cr.Comment = '#'
	rows, err := cr.ReadAll()
	if err != nil || len(rows) < 60 {
		t.Fatalf("%d rows, err %v", len(rows), err)
	}
	for _, row := range rows[1:] {
		if n := strconv.Itoa(syllables(strings.ToLower(row[0]))); !strings.Contains("|"+row[1]+"|", "|"+n+"|") {
			t.Errorf("%s: %s syllables, want %s", row[0], n, row[1])
		}
	}
}

func FuzzParseLetterText(f *testing.F) {
	set, err := ParseLetters()
	if err != nil {
		f.Fatal(err)
	}
	for _, text := range set.All() {
		src, err := letterFiles.ReadFile("letters/" + text.File)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	f.Add([]byte(goodHead + "?site - {site}"))
	f.Fuzz(func(t *testing.T, src []byte) {
		text, err := ParseLetterText("x.txt", src)
		if err != nil {
			return
		}
		// What parses can be filled when every field has a value.
		if _, err := text.Fill(letterValues()); err != nil {
			t.Errorf("parsed, but cannot be filled: %v", err)
		}
	})
}
