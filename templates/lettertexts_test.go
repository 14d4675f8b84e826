package templates

import (
	"regexp"
	"strings"
	"testing"
)

// Every kind and variant has an English text, and every letter to families a Spanish
// one; each can be filled, and reads easily enough for most.
func TestLettersAreComplete(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	if missing := set.Missing(); len(missing) > 0 {
		t.Errorf("missing: %v", missing)
	}
	n := 0
	for _, kind := range LetterKindNames() {
		for _, variant := range LetterVariants(kind) {
			for _, language := range []string{"en", "es"} {
				if language == "es" && !ForFamily(kind) {
					continue
				}
				n++
				text := set.Text(language, kind, variant)
				if text == nil {
					t.Errorf("no text %s %s in %s", kind, variant, language)
					continue
				}
				checkLetter(t, set, text)
			}
		}
	}
	if got := len(set.All()); got != n {
		t.Errorf("%d texts, want %d", got, n)
	}
}

// notInLetters are words that no plain letter to a family holds: a result, a variant or
// a diagnosis in a letter is read alone, at home, without anyone to ask.
var notInLetters = regexp.MustCompile(`(?i)\b(cystic|fibrosis|qu[ií]stica|CF|FQ|CFTR|CRMS|CFSPID|carriers?|portador(es|a|as)?|variants?|variantes?|mutations?|mutación|mutaciones|genes?|gen|genetic|genética|abnormal|anormal|IRT|trypsinogen|tripsinógeno|chloride|cloruro|disease|enfermedad|disorder|trastorno|failed|bad|mala|quantity|QNS|mmol)\b`)

// neverInLetters are words that no letter to a family holds, whoever released it.
var neverInLetters = regexp.MustCompile(`(?i)\b(positive|positivos?|positivas?|negative|negativos?|negativas?|failed|cured|curado|dose|dosis|teaspoon|cucharadita|mild CF|high.risk|alto riesgo|please be advised|blame|penalty|police|policía|court|corte)\b`)

// mustSay are the phrases of every letter to a family: whom to call, when to get care
// at once, and that the family's doctor goes first.
var mustSay = map[string][]string{
	"en": {"Ada Wren, born March 1, 2026", "Rosa Teal", "feeds poorly", "very sleepy", "fever", "call 911", "follow your doctor", "nterpreter"},
	"es": {"Ada Wren, fecha de nacimiento: 1 de marzo de 2026", "Rosa Teal", "come mal", "mucho sueño", "fiebre", "llame al 911", "haga lo que dice el doctor", "intérprete"},
}

// mustSayWaiting belongs in letters to families whose infant waits for a test.
var mustSayWaiting = map[string][]string{
	"en": {"If your baby is ill, get care today", "do not wait for the test", "does not gain weight", "wheezes", "lose too much salt"},
	"es": {"Si su bebé está enfermo, busque atención hoy", "no espere a la prueba", "no sube de peso", "silbidos", "pierden demasiada sal"},
}

func checkLetter(t *testing.T, set *LetterSet, text *LetterText) {
	t.Helper()
	f, rows := set.Sample(text)
	blocks, err := text.Fill(f, rows...)
	if err != nil {
		t.Error(err)
		return
	}
	plain := Plain(blocks)
	if !strings.Contains(text.Status, "Draft for review") {
		t.Errorf("%s is not marked as a draft for review: %q", text.File, text.Status)
	}
	if text.Language == "es" && !strings.Contains(text.Status, "qualified translator") {
		t.Errorf("%s does not ask for a translator's review: %q", text.File, text.Status)
	}
	if first := strings.Index(plain, f["phone"]); first < 0 || first > len(plain)*45/100 {
		t.Errorf("%s: the phone number comes late, at %d of %d", text.File, first, len(plain))
	}
	if last := plain[len(plain)*3/4:]; !strings.Contains(last, f["phone"]) {
		t.Errorf("%s: the last lines do not name the phone number", text.File)
	}
	if !ForFamily(text.Kind) {
		return
	}
	must := mustSay[text.Language]
	if SaysNoResult(text.Kind) {
		must = append(must[:len(must):len(must)], mustSayWaiting[text.Language]...)
		if word := notInLetters.FindString(plain); word != "" {
			t.Errorf("%s names %q", text.File, word)
		}
	} else if !strings.Contains(plain, f["released_by"]) {
		t.Errorf("%s does not say who released it", text.File)
	}
	if word := neverInLetters.FindString(plain); word != "" {
		t.Errorf("%s says %q", text.File, word)
	}
	for _, phrase := range must {
		if !strings.Contains(plain, phrase) {
			t.Errorf("%s does not say %q", text.File, phrase)
		}
	}
	score, err := set.Score(text)
	if err != nil || !score.Gated || !score.Passes {
		t.Errorf("%s does not read easily enough: %+v, %v", text.File, score, err)
	}
}

// What each letter must hold beside the cautions (practice report 3.1 and 3.4).
func TestLettersSayWhatTheirKindNeeds(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		language, kind, variant string
		want                    []string
	}{
		{"en", "first-notice", "", []string{"one more test, called a sweat test", "does not say that your baby is sick", "Most babies who are asked"}},
		{"en", "booking", "", []string{"cream, oil, lotion", "24 hours", "Feed your baby as you always do", "warm", "one hour", "no needles", "five minutes",
			"red for a while", "burn is rare", "oxygen", "seizures", "implant", "stay in the building",
			"Wednesday, March 18, 2026, at 9:30 in the morning", "200 Causeway Road", "not enough sweat", "Park behind the house", "555-0150"}},
		{"es", "booking", "", []string{"crema, aceite, loción", "24 horas", "Dele de comer como siempre", "una hora", "No se usan agujas", "cinco minutos", "quemadura es rara",
			"oxígeno", "convulsiones", "implante", "No salga del edificio", "El miércoles 18 de marzo de 2026, a las 9:30 de la mañana", "no hay bastante sudor"}},
		{"en", "reminder", "", []string{"Wednesday, March 18, 2026, at 9:30 in the morning", "24 hours", "Park behind the house"}},
		{"es", "reminder", "", []string{"El miércoles 18 de marzo de 2026, a las 9:30", "24 horas"}},
		{"en", "missed", "", []string{"still needs the test", "new test is on Friday, March 20, 2026", "the cost is a worry", "The test was not done that day"}},
		{"es", "missed", "", []string{"todavía necesita la prueba", "viernes 20 de marzo de 2026", "Hora: a la 1 de la tarde"}},
		{"en", "repeat-needed", "qns", []string{"not enough sweat", "no one’s fault", "does not mean that your baby is sick", "not mean that your baby is well"}},
		{"en", "repeat-needed", "intermediate", []string{"in between", "not a final answer", "how your baby feeds"}},
		{"en", "result", "", []string{"in the normal range", "not likely to have cystic fibrosis", "No test is right every time", "Dr. Holt", "March 10, 2026"}},
		{"es", "result", "", []string{"dentro de lo normal", "no es probable que su bebé tenga fibrosis quística", "Ninguna prueba acierta siempre"}},
		{"en", "carrier", "", []string{"A carrier is not sick", "1 out of every 4", "genetic counselor", "Maren Holt, 555-0144", "not likely to have cystic fibrosis"}},
		{"es", "carrier", "", []string{"Un portador no está enfermo", "1 de cada 4", "consejero genético"}},
		{"en", "no-contact", "", []string{"tried to reach you since March 9, 2026", "by Friday, March 27, 2026", "Dr. Finch", "An interpreter is free"}},
		{"en", "doctor-referral", "", []string{"One CFTR variant", "by March 29, 2026", "We told the family on", "meconium ileus, poor growth, cough", "does not rule out CF", "no diagnosis", "low sodium"}},
		{"en", "doctor-referral", "presumptive", []string{"call the CF center today", "Care does not wait for the sweat test", "told at once"}},
		{"en", "doctor-result", "unlikely", []string{"42 mmol/L", "CF unlikely", "not impossible", "genetic counseling"}},
		{"en", "doctor-result", "intermediate", []string{"no final answer", "do not end the follow-up", "by April 6, 2026"}},
		{"en", "doctor-result", "consistent-with-cf", []string{"in the CF range", "today", "We send the family no letter"}},
		{"en", "doctor-cannot-reach", "", []string{"4 times by phone and 1 time by letter", "since March 9, 2026", "other contacts"}},
		{"en", "clinic-day", "", []string{"09:30 Ada Wren, born March 1, 2026", "Repeat 2, after QNS", "one in the room at a time", "No current across the chest", "Never pool"}},
	}
	for _, tt := range tests {
		text := set.Text(tt.language, tt.kind, tt.variant)
		if text == nil {
			t.Errorf("no text for %+v", tt)
			continue
		}
		f, rows := set.Sample(text)
		blocks, err := text.Fill(f, rows...)
		if err != nil {
			t.Error(err)
			continue
		}
		plain := Plain(blocks)
		for _, want := range tt.want {
			if !strings.Contains(plain, want) {
				t.Errorf("%s does not say %q", text.File, want)
			}
		}
	}
}

// A text above the gate fails it; a doctor's letter has no gate.
func TestScoreHoldsFamilyLettersToTheGate(t *testing.T) {
	set, err := ParseLetters()
	if err != nil {
		t.Fatal(err)
	}
	hard := "Quantitative iontophoresis demonstrates incontrovertible abnormalities necessitating multidisciplinary evaluation immediately."
	for language, want := range map[string]bool{"en": true, "es": true, "vi": false} {
		text, err := ParseLetterText("x.txt", []byte(strings.Replace(headOf("first-notice"), "en", language, 1)+hard))
		if err != nil {
			t.Fatal(err)
		}
		if score, err := set.Score(text); err != nil || score.Gated != want || score.Passes == want {
			t.Errorf("%s: %+v, %v", language, score, err)
		}
	}
}

func TestReadingLine(t *testing.T) {
	b := []LetterBlock{{LetterParagraph, "Su bebé necesita una prueba más."}}
	for language, want := range map[string]string{"en": "Reading grade ", "es-MX": "INFLESZ 76, quite easy", "vi": ""} {
		if got := ReadingLine(language, b); !strings.HasPrefix(got, want) || want == "" && got != "" {
			t.Errorf("%s: %q", language, got)
		}
	}
}
