package intake_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// want is what one made-up file leads to. Sources: the README of the made-up
// files and the table of malformed inputs of this project's exchange page.
type want struct {
	file     string
	outcomes string   // of its items, in order
	says     []string // parts of the reasons, warnings or values to check
	top      bool
	blank    int
	check    func(t *testing.T, c cases.Case)
}

const (
	msgs  = "hl7/testdata/messages/"
	bad   = "hl7/testdata/malformed/"
	lists = "csvfile/testdata/"
)

var goldens = []want{
	{file: msgs + "d01-nbs-cf-two-variants.hl7", outcomes: "opened", check: fullCase},
	{file: msgs + "d02-nbs-cf-one-variant-r117h.hl7", outcomes: "opened", says: []string{"lies before the birth"},
		check: func(t *testing.T, c cases.Case) {
			wantNames(t, c, "R117H", "7T", "9T")
			eq(t, "given", c.Infant.Given, "BOY OF ANA")
		}},
	{file: msgs + "d03-nbs-irt-only-premature-transfused.hl7", outcomes: "review", says: []string{"LA12430-7", "card is wanted", "Blood was given before"}},
	{file: msgs + "d04-nbs-unsatisfactory.hl7", outcomes: "review", says: []string{"new card is needed"}},
	{file: msgs + "d05-nbs-in-range.hl7", outcomes: "no-case"},
	{file: msgs + "d06-nbs-twins-batch.hl7", outcomes: "no-case opened", check: func(t *testing.T, c cases.Case) {
		eq(t, "given", c.Infant.Given, "BABYGIRL B")
		eq(t, "order", c.Infant.BirthOrder, 2)
		eq(t, "plurality", c.Infant.Plurality, 2)
	}},
	{file: msgs + "d07-nbs-corrected-to-in-range.hl7", outcomes: "review", says: []string{"corrected result"}},
	{file: msgs + "d08-sweat-normal-two-sites.hl7", outcomes: "review", says: []string{"chloride 14 mmol/L", "chloride 16 mmol/L", "Left Lower Forearm"}},
	{file: msgs + "d09-sweat-intermediate.hl7", outcomes: "review", says: []string{"chloride 41", "chloride 44"}},
	{file: msgs + "d10-sweat-qns-both-sites.hl7", outcomes: "review", says: []string{"QNS", "9 uL", "7 uL"}},
	{file: msgs + "d11-sweat-one-site-qns-one-positive.hl7", outcomes: "review", says: []string{"chloride 92", "QNS"}},
	{file: msgs + "d12-sweat-weight-method.hl7", outcomes: "review", says: []string{"96 mg"}},
	{file: msgs + "d13-sweat-corrected.hl7", outcomes: "review", says: []string{"chloride 61", "corrected"}},
	{file: msgs + "d14-sweat-local-code-meq-text.hl7", outcomes: "review", says: []string{"<10 meq/L"}},
	{file: msgs + "d15-sweat-qns-as-text.hl7", outcomes: "review", says: []string{"QNS"}},
	{file: msgs + "d16-two-mllp-frames.bin", outcomes: "review opened"},
	{file: msgs + "d17-latin1-declared.hl7", outcomes: "opened", check: func(t *testing.T, c cases.Case) {
		eq(t, "name", c.Infant.Family+" "+c.Infant.Given, "PEÑA JOSÉ")
		noCheck(t, c)
	}},
	{file: msgs + "d18-utf8-declared.hl7", outcomes: "opened", check: func(t *testing.T, c cases.Case) {
		eq(t, "name", c.Infant.Family+" "+c.Infant.Given, "Łukasz Zoë")
		noCheck(t, c)
	}},
	{file: msgs + "d19-escapes.hl7", outcomes: "opened", check: func(t *testing.T, c cases.Case) {
		eq(t, "result", c.Referral.Screen.Result, "Out of range & under review")
		if c.Genotype != nil {
			t.Error("a genotype although none was reported")
		}
	}},
	{file: msgs + "d20-null-deletes-phone-address.hl7", outcomes: "opened", says: []string{"NK1[1]-4", "NK1[1]-5", "asks to delete"},
		check: func(t *testing.T, c cases.Case) { eq(t, "a person picks", c.Family.PickOne, true) }},
	{file: msgs + "d21-foster-guardian.hl7", outcomes: "opened", says: []string{"beside the mother"}, check: func(t *testing.T, c cases.Case) {
		for _, g := range c.Family.Guardians {
			eq(t, "letters to the "+g.Relation, g.Letters, g.Relation == "guardian")
		}
		eq(t, "language", c.Family.Language, "en")
	}},
	{file: msgs + "d22-deceased.hl7", outcomes: "opened", says: []string{"infant died"}, check: func(t *testing.T, c cases.Case) {
		eq(t, "died", c.Infant.Died.String(), "2026-03-09")
	}},
	{file: msgs + "d23-lf-line-ends.hl7", outcomes: "opened", check: fullCase},
	{file: msgs + "d24-crlf-line-ends.hl7", outcomes: "opened", check: fullCase},
	{file: msgs + "d25-odd-delimiters.hl7", outcomes: "opened", check: fullCase},
	{file: msgs + "ack-aa.hl7", outcomes: "refused", says: []string{"MSH-9", "ACK"}},
	{file: msgs + "ack-ae-required-field.hl7", outcomes: "refused", says: []string{"MSH-9"}},
	{file: msgs + "ack-ar-unsupported-type.hl7", outcomes: "refused", says: []string{"MSH-9"}},

	{file: bad + "m01-empty.hl7", outcomes: "review", says: []string{"The file is empty."}},
	{file: bad + "m02-forwarded-quoted.txt", outcomes: "review", says: []string{"quoted in a mail", "Please ask for the original file"}},
	{file: bad + "m03-duplicate-delimiters.hl7", outcomes: "review", top: true, says: []string{"MSH-2", "The header does not say how the message is divided"}},
	{file: bad + "m04-truncated-mllp.bin", outcomes: "review", says: []string{"cut off"}, top: true},
	{file: bad + "m05-wrapped-at-76.txt", outcomes: "review", says: []string{"MSH: Line 2 is not the start of a segment"}},
	{file: bad + "m06-impossible-dates.hl7", outcomes: "review", says: []string{"PID[1]-7", "20260230041500-0600", "not a day of the calendar"}, top: true},
	{file: bad + "m06b-collected-before-birth.hl7", outcomes: "opened", says: []string{"OBR[3]-7", "lies before the birth"}, check: func(t *testing.T, c cases.Case) {
		eq(t, "collected", c.Referral.Screen.Collected.String(), "")
	}},
	{file: bad + "m07-number-not-a-number.hl7", outcomes: "opened", says: []string{"OBX[15]-5", "118,4", "comma", "OBX[16]-5", "comparator", "not a number"}, check: func(t *testing.T, c cases.Case) {
		if c.Referral.Screen.IRTNgML != nil {
			t.Error("a number was made of four that disagree")
		}
		for _, part := range []string{"118,4", ">250", "high"} {
			if !strings.Contains(c.Referral.Screen.IRTText, part) {
				t.Errorf("IRT text %q lacks %q", c.Referral.Screen.IRTText, part)
			}
		}
	}},
	{file: bad + "m08-code-and-text-disagree.hl7", outcomes: "review", says: []string{"OBX[16]-5", "LA18592-8", "Out of range"}},
	{file: bad + "m09-wrong-check-digit-and-unknown-code.hl7", outcomes: "review", top: true,
		says: []string{"3 results in the CF panel are not known", "Did the sender mean 48633-2?", "Did the sender mean 46769-6?", "CFTRX"}},
	{file: bad + "m10-charset-lie.hl7", outcomes: "opened", says: []string{"Check the spelling of names"}, check: func(t *testing.T, c cases.Case) {
		eq(t, "name", c.Infant.Family+" "+c.Infant.Given, "PEÑA JOSÉ")
	}},
	{file: bad + "m11-second-pid.hl7", outcomes: "review review", says: []string{"holds 2 infants"}, top: true},
	{file: bad + "m12-same-control-id-a.hl7", outcomes: "opened"},
	{file: bad + "m12-same-control-id-b-different.hl7", outcomes: "no-case"},
	{file: bad + "m13-sweat-units.hl7", outcomes: "review", says: []string{"OBX[1]-6", "58 has no unit", "mg/mL", "OBX[3]-5", "580 mmol/L is not plausible"}},
	{file: bad + "m14-batch-count-and-bad-member.hl7", outcomes: "no-case review", says: []string{"The trailer says 3, found 2", "PID[1]-5"}, top: true},

	{file: lists + "c01-line-list-utf8.csv", outcomes: "opened opened opened", check: func(t *testing.T, c cases.Case) {
		if c.Infant.Family == "Twinfam" {
			wantNames(t, c, "F508del", "5T;TG12")
			eq(t, "address", strings.Join(c.Family.Guardians[0].Address.Lines, "|"), `5 Example Avenue|"Unit 2"`)
		}
	}},
	{file: lists + "c02-line-list-utf8-bom-semicolon.csv", outcomes: "review", says: []string{"row 2, dob", "day/month or month/day", "comma"}},
	{file: lists + "c03-line-list-windows1252.csv", outcomes: "opened", says: []string{"Check the spelling of names"}, check: func(t *testing.T, c cases.Case) {
		eq(t, "name", c.Infant.Family+" "+c.Infant.Given, "Peña José")
		wantNames(t, c, "F508del")
	}},
	{file: lists + "m15-line-list-damaged.csv", outcomes: "opened review duplicate review", blank: 1,
		says: []string{"12 values where the heading has 23", "row 3, card_serial", "scientific notation", "row 6, card_serial", "like a formula"}},
}

func TestEveryMadeUpFile(t *testing.T) {
	for _, w := range goldens {
		t.Run(filepath.Base(w.file), func(t *testing.T) {
			b := newBench(t, intake.Settings{})
			r := b.file(w.file)
			var got, text []string
			top := false
			for _, it := range r.Items {
				got = append(got, it.Outcome)
				text = append(text, it.Reasons...)
				top = top || it.Top
				if it.Outcome == "review" {
					eq(t, "due", it.Due.String(), map[bool]string{true: "2026-03-30", false: "2026-04-06"}[it.Top])
				}
				if it.Outcome == "review" && len(it.Reasons) == 0 {
					t.Errorf("%s waits without a reason", it.Position)
				}
			}
			for _, p := range r.Warnings {
				text = append(text, p.String())
			}
			for _, c := range b.all() {
				for _, k := range c.ToCheck {
					text = append(text, k.Field+": "+k.Text+" "+k.Reason)
				}
				if w.check != nil {
					w.check(t, c)
				}
				if c.TestMessage != strings.Contains(w.file, "hl7/") {
					t.Errorf("test message: %v", c.TestMessage)
				}
			}
			eq(t, "outcomes", strings.Join(got, " "), w.outcomes)
			eq(t, "top", top, w.top)
			eq(t, "blank rows", r.Blank, w.blank)
			for _, part := range w.says {
				if !strings.Contains(strings.Join(text, "\n"), part) {
					t.Errorf("nothing says %q in\n%s", part, strings.Join(text, "\n"))
				}
			}
			if n := strings.Count(w.outcomes, "opened"); n != len(b.all()) {
				t.Errorf("%d cases, want %d", len(b.all()), n)
			}
		})
	}
}

// TestNoFileForgotten: every made-up file is in the table.
func TestNoFileForgotten(t *testing.T) {
	for _, dir := range []string{msgs, bad, lists} {
		es, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range es {
			if x := filepath.Ext(e.Name()); x == ".json" || x == ".md" || e.IsDir() {
				continue
			}
			if !slices.ContainsFunc(goldens, func(w want) bool { return w.file == dir+e.Name() }) {
				t.Errorf("%s is not tested", dir+e.Name())
			}
		}
	}
}

func fullCase(t *testing.T, c cases.Case) {
	t.Helper()
	eq(t, "born", c.Infant.Born.String()+" "+string(c.Infant.BornAt), "2026-03-01 04:15")
	eq(t, "weight", c.Infant.BirthWeightG, 3120.0)
	eq(t, "gestation", c.Infant.Gestation.String(), "39w0d")
	eq(t, "plurality", c.Infant.Plurality, 1)
	eq(t, "referral", c.Referral.On.String(), "2026-03-09")
	s := c.Referral.Screen
	eq(t, "screen", fmt.Sprint(*s.IRTNgML, s.Accession, s.CardSerial, s.Collected, s.Reported), "118.4F0001EX2026000123"+"2026-03-02 2026-03-09")
	eq(t, "laboratory", s.Laboratory, "Example State Public Health Laboratory")
	wantNames(t, c, "F508del", "G551D")
	eq(t, "guardian", c.Family.Guardians[0].Phones[0].Number, "555-555-0101")
	eq(t, "language", c.Family.Language, "es")
	eq(t, "primary care", c.PrimaryCare.Name+" "+c.PrimaryCare.Phone, "PRIMARY, PAT 555-555-0150")
	a := cases.DefaultProtocol().Assess(&c, c.Referral.On)
	eq(t, "presumptive", a.PresumptiveCF, true)
	noCheck(t, c)
}

func noCheck(t *testing.T, c cases.Case) {
	t.Helper()
	if len(c.ToCheck) > 0 {
		t.Errorf("to check: %v", c.ToCheck)
	}
}

func wantNames(t *testing.T, c cases.Case, names ...string) {
	t.Helper()
	var got []string
	if c.Genotype != nil {
		for _, v := range c.Genotype.Variants {
			got = append(got, v.Name)
		}
	}
	if !slices.Equal(got, names) {
		t.Errorf("variants %q, want %q", got, names)
	}
}

func eq[T comparable](t *testing.T, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}
