package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// TestLaboratoryReadsOtherwise: where the laboratory's reading is not the program's,
// the test says so, the item says so, and a person gets an entry of its own.
func TestLaboratoryReadsOtherwise(t *testing.T) {
	under := func(what, words string) []string { // a line of words under the first order
		return []string{"SPM|1|S001", what + words + "\rSPM|1|S001"}
	}
	interp := func(words string) []string {
		return under("OBX|2|TX|SWINT^Sweat test interpretation^L||", words+"||||||F")
	}
	note := func(words string) []string { return under("NTE|1|L|", words) }
	for _, c := range []struct {
		name, file string
		pairs      []string
		says       string // of Laboratory.Differs; "" for agreement
	}{
		{"flags and bands agree", between, nil, ""},
		{"the words agree", between, interp("Intermediate"), ""},
		{"the words say normal", between, interp("Normal"), `The laboratory says "Normal" of the test; by the program's protocol it reads "Intermediate".`},
		{"a coded word", between, under("OBX|2|CWE|SWINT^Sweat test interpretation^L||", "NEG^Negative^L||||||F"), `"Negative"`},
		{"words in a note", normal, note("Interpretation: consistent with cystic fibrosis."), `"Interpretation: consistent with cystic fibrosis."`},
		{"a legend says nothing", between, note("Normal <30. Intermediate 30-59. Positive 60 and above."), ""},
		{"an earlier report says nothing", between, note("Previously reported as normal."), ""},
		{"the flag says normal", between, []string{"||41|mmol/L^millimole per liter^UCUM|<30|A|", "||41|mmol/L^millimole per liter^UCUM|<50|N|"}, `Left side: the laboratory flags it N; by the program's protocol 41 mmol/L reads "Intermediate" (the laboratory's range: <50).`},
		{"the flag says abnormal", normal, []string{leftValue, strings.Replace(leftValue, "|N|", "|A|", 1)}, `flags it A; by the program's protocol 14 mmol/L reads "CF unlikely"`},
		{"an older range and no flag", between, []string{"|<30|A|", "|<40||", "||41|", "||35|", "||44|", "||36|"}, `Left side: the laboratory has the range <40; by the program's protocol 35 mmol/L reads "Intermediate". Right side:`},
		{"a value of too little sweat", normal, []string{"|42^uL", "|9^uL"}, "Left side: the laboratory gives 14 mmol/L; the amount, 9 µL, is below the 15 needed by the program's protocol, so the value is not read."},
		{"both too little, and called normal", normal, append(interp("Normal"), "|42^uL", "|9^uL", "|38^uL", "|8^uL"), `The laboratory says "Normal" of the test; by the program's protocol it reads "QNS".`},
		{"arms that disagree, both called normal", normal, []string{leftValue, strings.Replace(leftValue, "14", "29", 1)}, `The laboratory reads it as normal; by the program's protocol the test reads "Arms disagree".`},
		{"QNS said by both", neither, interp("QNS"), ""},
		{"words of each side", normal, []string{
			"SPM|1|S001", "OBX|2|TX|SWINT^Sweat test interpretation^L||Normal||||||F\rSPM|1|S001",
			"SPM|1|S002", "OBX|2|TX|SWINT^Sweat test interpretation^L||Borderline||||||F\rSPM|1|S002"}, `Right side: the laboratory says "Borderline"; by the program's protocol 16 mmol/L reads "CF unlikely"`},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := referred(t, nil)
			it := b.receive("sweat", sweat(t, c.file, c.pairs...)).Items[0]
			eq(t, "outcome", it.Outcome, "attached")
			_, test, _ := b.one()
			d := test.Laboratory.Differs
			if !strings.Contains(d, c.says) || c.says == "" && d != "" {
				t.Errorf("differs %q, want %q", d, c.says)
			}
			w := b.waiting()
			if c.says == "" {
				eq(t, "told", len(w), 0)
				return
			}
			if len(w) != 1 {
				t.Fatalf("%d entries wait, want 1", len(w))
			}
			eq(t, "told", w[0].Kind+" "+w[0].Due.String()+" "+w[0].Position, "look at this 2026-03-30 message 1, reading")
			for _, text := range []string{strings.Join(it.Reasons, "\n"), strings.Join(w[0].Reasons, "\n")} {
				if !strings.Contains(text, d) {
					t.Errorf("the difference is not in %q", text)
				}
			}
		})
	}
}

// TestLabWords: what words mean. They are those of printed catalogues and of common
// practice.
func TestLabWords(t *testing.T) {
	for words, want := range map[string]string{
		"Normal": "normal", "NEGATIVE": "normal", "CF unlikely": "normal", "Not consistent with cystic fibrosis": "normal",
		"No evidence of cystic fibrosis": "normal", "Intermediate": "intermediate", "Borderline, repeat": "intermediate",
		"Equivocal": "intermediate", "Abnormal: intermediate": "intermediate", "Positive": "positive",
		"Consistent with CF": "positive", "Abnormal, consistent with CF": "positive", "Abnormal": "abnormal",
		"Not normal": "abnormal", "Elevated sweat chloride": "abnormal", "QNS": "QNS", "Quantity not sufficient": "QNS",
		"": "", "See report": "", "<30 normal, 30-59 intermediate, >=60 positive": "", "Normal range <30 mmol/L": "",
		"Reference: negative below 30": "", "Previously reported as normal": "", "If positive, refer": "", "Specimen received": "",
	} {
		if got := cases.ReadLabWords(words); got != want {
			t.Errorf("%q reads %q, want %q", words, got, want)
		}
	}
}

// TestReadingOfWholeTestStays: a second message about the other side does not lose
// what the first one said.
func TestReadingOfWholeTestStays(t *testing.T) {
	whole := string(sweat(t, normal, leftValue, strings.Replace(leftValue, "|N|", "|A|", 1)))
	head, rest, _ := strings.Cut(whole, "ORC|")
	first, second, _ := strings.Cut(rest, "\rORC|")
	b := referred(t, bedside(42, 38))
	b.receive("left", []byte(head+"ORC|"+first+"\r"))
	_, test, rd := b.one()
	eq(t, "half", rd.Outcome, cases.NotResulted)
	was := test.Laboratory.Differs
	b.receive("right", []byte(strings.Replace(head, "D08-0001", "D08-0002", 1)+"ORC|"+second+"\r"))
	_, test, rd = b.one()
	eq(t, "whole", rd.Outcome, cases.Unlikely)
	eq(t, "flags", test.Laboratory.Flag, "left: A; right: N")
	eq(t, "differs as before", test.Laboratory.Differs, was)
	eq(t, "told once", len(b.waiting()), 1)
}
