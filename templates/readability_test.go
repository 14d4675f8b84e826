package templates

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// readRows reads a CSV file of testdata without its comments and its head.
func readRows(t *testing.T, name string, least int) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cr := csv.NewReader(f)
	cr.Comment = '#'
	rows, err := cr.ReadAll()
	if err != nil || len(rows) <= least {
		t.Fatalf("%s: %d rows, err %v", name, len(rows), err)
	}
	return rows[1:]
}

func number(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }

func near(a, b float64) bool { return math.Abs(a-b) <= 0.0001 }

// The formulas against published and recomputed values; see the head of
// testdata/english_formulas.csv.
func TestReadabilityFormulas(t *testing.T) {
	for _, row := range readRows(t, "english_formulas.csv", 9) {
		n := func(i int) int { return int(number(row[i])) }
		r := Readability{Words: n(0), Sentences: n(1), Syllables: n(2), Polysyllables: n(3)}
		for name, pair := range map[string][2]float64{"ease": {r.Ease(), number(row[4])}, "grade": {r.Grade(), number(row[5])}, "SMOG": {r.SMOG(), number(row[6])}} {
			if !near(pair[0], pair[1]) {
				t.Errorf("%v: %s = %.4f, want %.4f", row[:4], name, pair[0], pair[1])
			}
		}
	}
}

// Fernández Huerta as corrected by Law (2011), and Szigriszt-Pazos; see the head of
// testdata/spanish_formulas.csv.
func TestSpanishFormulas(t *testing.T) {
	for _, row := range readRows(t, "spanish_formulas.csv", 6) {
		r := Readability{Words: int(number(row[0])), Sentences: int(number(row[1])), Syllables: int(number(row[2]))}
		if !near(r.FernandezHuerta(), number(row[3])) || !near(r.INFLESZ(), number(row[5])) {
			t.Errorf("%v: %.4f and %.4f", row, r.FernandezHuerta(), r.INFLESZ())
		}
	}
}

func readTexts[T any](t *testing.T, name string, least int) map[string]T {
	t.Helper()
	src, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var ref struct{ Texts map[string]T }
	if err := json.Unmarshal(src, &ref); err != nil || len(ref.Texts) < least {
		t.Fatalf("%s: %d texts, err %v", name, len(ref.Texts), err)
	}
	return ref.Texts
}

// Words and sentences are counted exactly as in the reference; syllables come from
// a rule and may differ from the dictionary by 2 in a hundred.
func TestReadEnglishOnTheReferenceTexts(t *testing.T) {
	type text struct {
		Text             string
		Sentences, Words int
		Syllables        int     `json:"syllables_dictionary"`
		Grade            float64 `json:"flesch_kincaid_grade"`
		Ease             float64 `json:"flesch_reading_ease"`
		SMOG             float64
	}
	for name, want := range readTexts[text](t, "english_texts.json", 6) {
		got := ReadEnglish(want.Text)
		if got.Words != want.Words || got.Sentences != want.Sentences {
			t.Errorf("%s: %d words in %d sentences, want %d in %d", name, got.Words, got.Sentences, want.Words, want.Sentences)
		}
		off := math.Abs(float64(got.Syllables - want.Syllables))
		if off > 0.02*float64(want.Syllables) {
			t.Errorf("%s: %d syllables, want %d", name, got.Syllables, want.Syllables)
		}
		if off == 0 && (!near(got.Grade(), want.Grade) || !near(got.Ease(), want.Ease)) {
			t.Errorf("%s: grade %.4f and ease %.4f, want %.4f and %.4f", name, got.Grade(), got.Ease(), want.Grade, want.Ease)
		}
		if !near(got.SMOG(), want.SMOG) {
			t.Errorf("%s: SMOG %.2f, want %.2f", name, got.SMOG(), want.SMOG)
		}
		t.Logf("%s: grade %.2f, reference %.2f; SMOG %.2f, reference %.2f", name, got.Grade(), want.Grade, got.SMOG(), want.SMOG)
	}
}

// Spanish is counted by the rules of its spelling, so every count is exact.
func TestReadSpanishOnTheReferenceTexts(t *testing.T) {
	type text struct {
		Text                        string
		Sentences, Words, Syllables int
		FernandezHuerta             float64 `json:"fernandez_huerta"`
		INFLESZ                     float64 `json:"inflesz_szigriszt"`
		Band                        string  `json:"inflesz_band"`
	}
	bands := map[string]string{"muy facil": "very easy", "muy dificil": "very difficult"}
	for name, want := range readTexts[text](t, "spanish_texts.json", 2) {
		got := Read("es", want.Text)
		if got.Words != want.Words || got.Sentences != want.Sentences || got.Syllables != want.Syllables {
			t.Errorf("%s: %d words, %d sentences, %d syllables, want %d, %d, %d", name, got.Words, got.Sentences, got.Syllables, want.Words, want.Sentences, want.Syllables)
		}
		if !near(got.FernandezHuerta(), want.FernandezHuerta) || !near(got.INFLESZ(), want.INFLESZ) || Band(got.INFLESZ()) != bands[want.Band] {
			t.Errorf("%s: %.4f, %.4f %s, want %.4f, %.4f %s", name, got.FernandezHuerta(), got.INFLESZ(), Band(got.INFLESZ()), want.FernandezHuerta, want.INFLESZ, want.Band)
		}
	}
}

// The bands of Barrio-Cantalejo et al., An Sist Sanit Navar 2008;31(2).
func TestBand(t *testing.T) {
	for score, want := range map[float64]string{39: "very difficult", 40: "very difficult", 41: "somewhat difficult", 55.5: "normal", 65: "normal", 65.1: "quite easy", 80: "quite easy", 81: "very easy"} {
		if got := Band(score); got != want {
			t.Errorf("%.1f: %s, want %s", score, got, want)
		}
	}
}

func TestSyllablesOfTheReferenceWords(t *testing.T) {
	for _, row := range readRows(t, "syllables_english.csv", 60) {
		if n := strconv.Itoa(syllables(strings.ToLower(row[0]))); !strings.Contains("|"+row[1]+"|", "|"+n+"|") {
			t.Errorf("%s: %s syllables, want %s", row[0], n, row[1])
		}
	}
	for _, row := range readRows(t, "syllables_spanish.csv", 60) {
		if n := strconv.Itoa(syllablesES(strings.ToLower(row[0]))); n != row[1] {
			t.Errorf("%s: %s syllables, want %s", row[0], n, row[1])
		}
	}
}

// A doctor's title ends no sentence; another language is counted without syllables.
func TestReadCountsSentences(t *testing.T) {
	r := ReadEnglish("We ask Dr. Finch to help us. Call us today!")
	if r.Sentences != 2 || r.Words != 10 || r.Longest != 7 || r.PerSentence() != 5 {
		t.Errorf("%+v", r)
	}
	if r := Read("vi", "Xin hãy gọi cho chúng tôi."); r.Words != 6 || r.Syllables != 0 {
		t.Errorf("%+v", r)
	}
	if r := Read("es", "Inmediatamente y gratis."); r.Long != 1 || r.Polysyllables != 1 {
		t.Errorf("%+v", r)
	}
}

// The words of the shipped letters have the syllables of the dictionary, so that their
// grades do not rest on the rule.
func TestSyllablesOfTheLetters(t *testing.T) {
	known := map[string]string{}
	for _, row := range readRows(t, "syllables_letters.csv", 400) {
		known[row[0]] = row[1]
		if n := strconv.Itoa(syllables(row[0])); !strings.Contains("|"+row[1]+"|", "|"+n+"|") {
			t.Errorf("%s: %s syllables, want %s", row[0], n, row[1])
		}
	}
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	words, missing := 0, map[string]bool{}
	for _, text := range set.All() {
		if text.Language != "en" {
			continue
		}
		f, rows := set.Sample(text)
		blocks, err := text.Fill(f, rows...)
		if err != nil {
			t.Fatal(err)
		}
		for _, token := range strings.Fields(Plain(blocks)) {
			for _, w := range splitWords(token) {
				if words++; known[strings.ReplaceAll(w, "’", "'")] == "" {
					missing[w] = true
				}
			}
		}
	}
	t.Logf("%d words; not in the dictionary or new: %v", words, missing)
	if len(missing) > 30 {
		t.Errorf("%d words of the letters are not in testdata/syllables_letters.csv", len(missing))
	}
}

// Headings and list items count as sentences; without them the letters to families
// still pass, with every value and with what may be missing left out.
func TestRunningTextOfTheLettersPassesAlone(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	for _, text := range set.All() {
		if !ForFamily(text.Kind) {
			continue
		}
		all, _ := set.Sample(text)
		least := LetterFields{}
		for _, field := range LetterFieldsOf(text.Kind, text.Language) {
			if !field.Maybe {
				least[field.Name] = all[field.Name]
			}
		}
		for _, f := range []LetterFields{all, least} {
			blocks, err := text.Fill(f)
			if err != nil {
				t.Fatal(err)
			}
			var running []LetterBlock
			for _, b := range blocks {
				if b.Mark == LetterParagraph || b.Mark == LetterStrong {
					running = append(running, b)
				}
			}
			r := ReadLetterIn(text.Language, running)
			if text.Language == "en" && r.Grade() > LetterGrade || text.Language == "es" && r.INFLESZ() < LetterINFLESZ {
				t.Errorf("%s: grade %.1f, INFLESZ %.0f", text.File, r.Grade(), r.INFLESZ())
			}
			t.Logf("%s: grade %.1f, INFLESZ %.0f, %.1f words a sentence", text.File, r.Grade(), r.INFLESZ(), r.PerSentence())
		}
	}
}
