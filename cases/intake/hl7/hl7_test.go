package hl7

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases/intake"
)

// TestCheckDigits: the LOINC check digit and the worked-out rule for answer codes
// hold for the code tables of the exchange page, and only for the right ones.
func TestCheckDigits(t *testing.T) {
	for _, file := range []string{"loinc.csv", "answers.csv"} {
		f, err := os.Open(filepath.Join("testdata", file))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil || len(rows) < 30 {
			t.Fatalf("%d rows, %v", len(rows), err)
		}
		for _, r := range rows[1:] {
			code, ok, check := r[0], r[4] == "yes", Mistyped
			if file == "answers.csv" {
				code, ok, check = r[2], r[5] == "yes", mistypedAnswer
			}
			if right, wrong := check(code); wrong == ok || ok && right != code {
				t.Errorf("%s: right %s, wrong %v", code, right, wrong)
			}
			if ok {
				last := code[len(code)-1]
				typo := code[:len(code)-1] + string('0'+(last-'0'+1)%10)
				if right, wrong := check(typo); !wrong || right != code {
					t.Errorf("%s: suggested %s", typo, right)
				}
			}
		}
	}
}

func field(raw string) Value {
	m := newMessage([]byte(`MSH|^~\&|A`), 1)
	m.finish("")
	return Value{raw: raw, msg: m}
}

func TestTimes(t *testing.T) {
	for text, want := range map[string]string{
		"20260301":                 "2026-03-01  day  ",
		"2026030104":               "2026-03-01  hour  ",
		"202603010415":             "2026-03-01 04:15 minute  ",
		"20260301041500":           "2026-03-01 04:15 second  ",
		"20260301041500.1234-0600": "2026-03-01 04:15 second -0600 ",
		"202603010415+0000":        "2026-03-01 04:15 minute +0000 ",
		"20260301041500-0600^S":    "2026-03-01 04:15 second -0600 ",
		"20240229":                 "2024-02-29  day  ",
		"20170229":                 "  day  is not a day of the calendar",
		"202603":                   "  month  gives no day, only a month",
		"2026":                     "  year  gives no day, only a year",
		"220241021055726":          "    is not a date that can be read",
		"February 4 2024":          "    is not a date that can be read",
		"2026-03-01":               "    is not a date that can be read",
		"":                         "    ",
		"20260301-0600":            "2026-03-01  day -0600 ",
		"202603012515":             "2026-03-01  day  ",
	} {
		m := Time(field(text))
		if got := fmt.Sprintf("%s %s %s %s %s", m.Day, m.Clock, m.Precision, m.Offset, m.Bad); got != want {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
}

func TestPhonesAndNames(t *testing.T) {
	for raw, want := range map[string]string{
		"^PRN^PH^^1^555^5550101":            "555-555-0101 home",
		"^PRN^CP^^1^555^5550101^22":         "555-555-0101 x22 mobile",
		"(206)3345232":                      "(206)3345232 ",
		"^^PH^^^763^5555555^^(763)555-5555": "763-555-5555 ",
		"^^PH^^^^^^^^^7635555555":           "7635555555 ",
		"17275555555^PRN^^a@b.example":      "17275555555 home",
		"^NET^Internet^x@y.example":         " ",
		"^WPN^PH^^1^555^5550199":            "555-555-0199 work",
	} {
		if p, _ := Phone(field(raw)); p.Number+" "+p.Kind != want {
			t.Errorf("%s: %q, want %q", raw, p.Number+" "+p.Kind, want)
		}
	}
	if _, mail := Phone(field("^NET^Internet^x@y.example")); mail != "x@y.example" {
		t.Errorf("mail %q", mail)
	}
	if a := Address(field("1 Way&Way&1^Flat 2^Springfield^EX^00001^USA^BA")); !a.Bad || strings.Join(a.Lines, "|") != "1 Way|Flat 2" || a.Postal != "00001" {
		t.Errorf("%+v", a)
	}
	// XAD.9 is the county (HL7 v2 data types, from memory): a code, or a code with its text.
	for raw, want := range map[string]string{"1 Way^^Springfield^EX^00001^USA^H^^Tern Valley": "Tern Valley", "1 Way^^Springfield^EX^00001^USA^H^^017&Tern Valley&L": "Tern Valley",
		"1 Way^^Springfield^EX^00001^USA^H^^017": "017", "1 Way^^Springfield": ""} {
		if a := Address(field(raw)); a.County != want {
			t.Errorf("%s: county %q, want %q", raw, a.County, want)
		}
	}
	if a := Address(field("1234 GPCS WAY MONTGOMERY")); len(a.Lines) != 1 {
		t.Errorf("%+v", a)
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		typ, raw, want string
		doubt          bool
	}{
		{"NM", "118.4", "118.4", false}, {"NM", "0065.88", "65.88", false}, {"NM", " 31.00 ", "31", false},
		{"NM", "118,4", "none", true}, {"NM", ">250", "> 250", true}, {"ST", "<10", "< 10", false},
		{"SN", ">^250", "> 250", false}, {"SN", "^182", "182", false}, {"SN", "^1^:^128", "none", true},
		{"NM", "high", "none", true}, {"NM", "1e3", "none", true}, {"NM", "2100^g^LN", "2100", false},
	} {
		m := Measured(c.typ, field(c.raw))
		got := "none"
		if m.Value != nil {
			got = strings.TrimSpace(fmt.Sprintf("%s %g", m.Comparator, *m.Value))
		}
		if got != c.want || (m.Doubt != "") != c.doubt {
			t.Errorf("%s %s: %q %q, want %q", c.typ, c.raw, got, m.Doubt, c.want)
		}
	}
}

// TestBatchCounts: trailers are compared with what came; a wrong or missing one is
// a warning, and every message still stands alone.
func TestBatchCounts(t *testing.T) {
	raw, err := os.ReadFile(filepath.Join("testdata", "messages", "d05-nbs-in-range.hl7"))
	if err != nil {
		t.Fatal(err)
	}
	msg := strings.TrimRight(string(raw), "\r") + "\r"
	const f, b = "FHS|^~\\&|A\r", "BHS|^~\\&|A\r"
	for _, c := range []struct {
		text     string
		messages int
		says     string
	}{
		{f + b + msg + msg + "BTS|2\rFTS|1\r", 2, ""},
		{b + msg + "BTS|1\r", 1, ""},
		{f + b + msg + "BTS|1\r" + b + msg + msg + "BTS|2\rFTS|2\r", 3, ""},
		{f + b + msg + "BTS|1\r" + b + msg + "BTS|1\rFTS|1\r", 2, "found 2 batches"},
		{f + b + msg + "BTS|3\rFTS|1\r", 1, "The trailer says 3, found 1 messages"},
		{f + b + msg, 1, "The batch has no trailer"},
		{f + b + msg + "BTS|1\r", 1, "The file has no trailer"},
		{f + b + msg + "BTS|x\rFTS|1\r", 1, "The trailer says x"},
		{f + b + msg + "BTS\rFTS\r", 1, ""},
		{f + b + "BTS|0\rFTS|1\r", 0, ""},
		{msg + msg, 2, ""},
		{"hello\r" + msg, 1, ""},
	} {
		p := Parse([]byte(c.text))
		var says []string
		for _, q := range p.Problems {
			says = append(says, q.String())
		}
		if text := strings.Join(says, "\n"); len(p.Messages) != c.messages || !strings.Contains(text, c.says) || c.says == "" && text != "" {
			t.Errorf("%d messages, %q; want %d, %q", len(p.Messages), says, c.messages, c.says)
		}
	}
}

//asvs:15.2.2
func TestLimits(t *testing.T) {
	head := "MSH|^~\\&|A|B|C|D|20260309||ORU^R01|1|P|2.5.1\rPID|1||1||A^B||20260301\r"
	long := head + strings.Repeat("OBX|1|ST|x||y\r", MaxSegments+5)
	if it := (Format{}).Read([]byte(long), settings).Items[0]; it.Kind != intake.Unreadable || !strings.Contains(it.Problems[0].Text, "too long") {
		t.Errorf("%v", it.Problems)
	}
	wide := head + "OBR|1||F|54078-1^^LN\rOBX|1|CWE|46769-6^x^LN||" + strings.Repeat("LA18593-6^Out of range^LN~", MaxRepeats+5) + "||||||F\r"
	it := (Format{}).Read([]byte(wide), settings).Items[0]
	if !slices.ContainsFunc(it.Problems, func(p intake.Problem) bool {
		return strings.Contains(p.Text, "too many repeats") && p.Where() == "OBX[1]-5"
	}) {
		t.Errorf("%v", it.Problems)
	}
	big := head + "OBX|1|TX|x||" + strings.Repeat("a", MaxMessage) + "||||||F\r"
	if it := (Format{}).Read([]byte(big), settings).Items[0]; it.Kind != intake.Unreadable {
		t.Error("a message above the limit was read")
	}
}

// TestSeveralPatients: whole groups stand alone; groups that share a number do not.
func TestSeveralPatients(t *testing.T) {
	one := "PID|1||M1^^^H^MR||WREN^ADA||20260301|F\rORC|RE||F1^L\rOBR|1||F1^L|54078-1^CF^LN\rOBX|1|CWE|46769-6^CF^LN||LA18593-6^Out of range^LN||||||F\r"
	two := strings.NewReplacer("M1", "M2", "ADA", "BEA", "F1", "F2").Replace(one)
	head := "MSH|^~\\&|A|B|C|D|20260309||ORU^R01|1|P|2.5.1\r"
	its := (Format{}).Read([]byte(head+one+two), settings).Items
	if len(its) != 2 || intake.Worst(its[0].Problems) == intake.Fault || its[1].Referral.Infant.Given != "BEA" || its[1].Referral.Accession.Number != "F2" {
		t.Fatalf("%+v", its)
	}
	its = (Format{}).Read([]byte(head+one+strings.ReplaceAll(two, "F2", "F1")), settings).Items
	if len(its) != 2 || intake.Worst(its[0].Problems) != intake.Fault || intake.Worst(its[1].Problems) != intake.Fault {
		t.Error("two infants with one laboratory number were not held")
	}
}

// TestEscapedComesBack: text that was escaped by the rules of the standard is read
// again, and text without escapes is never changed.
func TestEscapedComesBack(t *testing.T) {
	esc := strings.NewReplacer(`\`, `\E\`, `|`, `\F\`, `^`, `\S\`, `&`, `\T\`, `~`, `\R\`, "\n", `\.br\`)
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringOfN(rapid.SampledFrom([]rune(`ab|^&~\é ZX41.`+"\n")), 0, 30, -1).Draw(t, "text")
		if got := field(esc.Replace(s)).Text(); got != strings.TrimSpace(s) {
			t.Fatalf("%q became %q", s, got)
		}
	})
	for in, want := range map[string]string{`a\b`: `a\b`, `\Z99\`: `\Z99\`, `a \ b \T\ c`: `a \ b & c`, `\X4142\`: "AB", `\X4G\`: `\X4G\`, `\H\x\N\`: "x"} {
		if got := field(in).Text(); got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
	}
}

func FuzzRead(f *testing.F) {
	dirs := []string{filepath.Join("testdata", "messages"), filepath.Join("testdata", "malformed")}
	n := 0
	for _, d := range dirs {
		files, _ := os.ReadDir(d)
		for _, e := range files {
			raw, err := os.ReadFile(filepath.Join(d, e.Name()))
			if err != nil || filepath.Ext(e.Name()) == ".json" {
				continue
			}
			f.Add(raw)
			n++
		}
	}
	if n < 40 {
		f.Fatalf("only %d seeds", n)
	}
	f.Fuzz(func(t *testing.T, raw []byte) {
		format := Format{}
		format.Sniff(raw)
		r := format.Read(raw, settings)
		if len(r.Items) == 0 {
			t.Fatal("no item")
		}
		for i := range r.Items {
			v := intake.Decide(&r.Items[i], settings)
			if v.Outcome == "" {
				t.Fatal("an item without an outcome")
			}
			if v.Outcome == intake.Review && len(v.Reasons) == 0 {
				t.Fatalf("a review item without a reason: %q", r.Items[i].Text)
			}
			if v.Outcome == intake.NoCase && len(r.Items[i].Referral.Interpretation) == 0 {
				t.Fatal("no case without an interpretation")
			}
		}
	})
}

// TestHostileSizes: inputs made to be slow or large give few items and end soon.
func TestHostileSizes(t *testing.T) {
	for name, in := range map[string]string{
		"start blocks": strings.Repeat("\x0b", 1<<20), "end blocks": strings.Repeat("\x0bMSH\x1c", 1<<16),
		"headers": strings.Repeat("MSH|\r", 200_000), "escapes": "MSH|^~\\&|" + strings.Repeat(`\`, 1<<20),
		"quotes": strings.Repeat("> ", 1<<19), "trailers": "FHS|^~\\&\r" + strings.Repeat("BHS|^~\\&\rBTS|1\r", 1<<15),
	} {
		r := (Format{}).Read([]byte(in), settings)
		if n := len(r.Items); n == 0 || n > MaxMessages+1 {
			t.Errorf("%s: %d items", name, n)
		}
	}
}
