package hl7

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases/intake"
)

// TestMixed: each sign that a PID was lost between two infants, and the same message as
// one infant would have it. What is allowed is from HL7 version 2.5.1, chapter 7, and
// from the real messages, all of which must be free of signs (TestRealNotMixed).
func TestMixed(t *testing.T) {
	const (
		pid = "PID|1||M1||Alderman^Wren||20260301|F"
		cf  = "OBR|1|P1|F1|54078-1^Cystic fibrosis newborn screening panel^LN"
		sum = "OBR|1|P1|F1|57128-1^Newborn screening report summary panel^LN"
	)
	obx := func(set, code, sub, value string) string {
		return "OBX|" + set + "|ST|" + code + "^x^LN|" + sub + "|" + value + "||||||F"
	}
	answer := func(set, sub string) string { return obx(set, "46769-6", sub, "LA18593-6") }
	for name, c := range map[string]struct {
		segs []string
		sign string // part of what is said, "" for nothing
	}{
		"family after an order":         {[]string{"ORC|RE|P1|F1", "NK1|1|Alderman^Odile", cf, answer("1", "")}, "person of the family"},
		"family before":                 {[]string{"NK1|1|Alderman^Odile", "ORC|RE|P1|F1", cf, answer("1", "")}, ""},
		"visit after results":           {[]string{cf, answer("1", ""), "PV1|1|N"}, "care of an infant"},
		"visit before":                  {[]string{"PD1|", "PV1|1|N", cf, answer("1", "")}, ""},
		"two orders without a request":  {[]string{"ORC|RE|P1|F1", "ORC|RE|P2|F2", cf, answer("1", "")}, "follow each other"},
		"an order for each":             {[]string{"ORC|RE|P1|F1", sum, "ORC|RE|P1|F1", cf, answer("1", "")}, ""},
		"two answers":                   {[]string{cf, answer("1", ""), answer("2", "")}, "two cystic fibrosis interpretations"},
		"two answers with numbers":      {[]string{cf, answer("1", "1"), answer("2", "2")}, ""},
		"an answer again, empty":        {[]string{cf, answer("1", ""), obx("2", "46769-6", "", "")}, ""},
		"two orders with one number":    {[]string{sum, answer("1", ""), cf, answer("1", "")}, ""},
		"two orders with two numbers":   {[]string{sum, answer("1", ""), strings.Replace(cf, "F1", "F2", 1), answer("1", "")}, "two orders"},
		"two orders without numbers":    {[]string{strings.Replace(sum, "F1", "", 1), answer("1", ""), strings.Replace(cf, "F1", "", 1), answer("1", "")}, "two orders"},
		"two panels with two numbers":   {[]string{cf, answer("1", ""), strings.Replace(cf, "F1", "F2", 1), obx("1", "48633-2", "", "90")}, "two cystic fibrosis panels"},
		"variants of two panels":        {[]string{strings.Replace(sum, "F1", "", 1), obx("1", "21654-9", "", "F508del"), strings.Replace(cf, "F1", "", 1), obx("1", "21654-9", "", "G551D")}, "two orders"},
		"variants with numbers":         {[]string{cf, obx("1", "21654-9", "1", "F508del"), obx("2", "21654-9", "2", "G551D"), answer("3", "1")}, ""},
		"variants without numbers":      {[]string{cf, obx("1", "21654-9", "", "F508del"), obx("2", "21654-9", "", "G551D"), answer("3", "")}, ""},
		"repeated measure":              {[]string{cf, obx("1", "48633-2", "", "90"), obx("2", "48633-2", "", "91"), answer("3", "")}, ""},
		"numbers begin again":           {[]string{cf, obx("1", "48633-2", "", "90"), obx("2", "21654-9", "", "F508del"), obx("1", "57707-2", "", "x")}, "begin again"},
		"numbers begin again at once":   {[]string{cf, obx("1", "48633-2", "", "90"), obx("1", "21654-9", "", "F508del"), answer("2", "")}, "begin again"},
		"all have the number 1":         {[]string{cf, obx("1", "48633-2", "", "90"), obx("1", "21654-9", "", "F508del"), answer("1", "")}, ""},
		"without numbers":               {[]string{cf, obx("", "48633-2", "", "90"), obx("", "21654-9", "", "F508del"), answer("", "")}, ""},
		"numbers for each order":        {[]string{sum, obx("1", "57718-9", "", "x"), obx("2", "57130-7", "", "x"), cf, obx("1", "48633-2", "", "90"), answer("2", "")}, ""},
		"results of the specimen":       {[]string{cf, obx("1", "48633-2", "", "90"), answer("2", ""), "SPM|1", obx("1", "57718-9", "", "x")}, ""},
		"numbers for each part":         {[]string{cf, obx("1", "48633-2", "1", "90"), obx("2", "57707-2", "1", "x"), obx("1", "48633-2", "2", "91"), obx("2", "57707-2", "2", "x")}, ""},
		"sites of sweat":                {[]string{"OBR|1|P1|F1|86964003^Sweat test^SCT", "OBX|1|NM|2077-6^x^LN||30|mmol/L|||||F", obx("2", "8251-1", "", "x"), "OBX|1|NM|2077-6^x^LN||31|mmol/L|||||F"}, ""},
		"two cards":                     {[]string{sum, obx("1", "57723-9", "", "C1"), cf, answer("1", ""), sum, obx("1", "57723-9", "", "C2")}, "two card numbers"},
		"a card twice":                  {[]string{sum, obx("1", "57723-9", "", "C1"), cf, answer("1", ""), sum, obx("1", "57723-9", "", "C1")}, ""},
		"two form numbers":              {[]string{"OBR|1|C1^FormNumber||57128-1", "OBR|2|C2^FormNumber||54078-1^^LN", answer("1", "")}, ""}, // a real message has them
		"a deleted answer beside a new": {[]string{cf, strings.Replace(answer("1", ""), "|F", "|D", 1), answer("2", "")}, ""},
	} {
		raw := `MSH|^~\&|LAB|Lab|||20260320||ORU^R01|1|P|2.5.1` + "\r" + pid + "\r" + strings.Join(c.segs, "\r") + "\r"
		said := faults(Format{}.Read([]byte(raw), intake.Settings{}))
		if c.sign == "" && said != "" || !strings.Contains(said, c.sign) {
			t.Errorf("%s: %q, want %q", name, said, c.sign)
		}
	}
}

// TestRealNotMixed: no message of one infant after the other, made up or real, has a sign.
func TestRealNotMixed(t *testing.T) {
	t.Run("made up", func(t *testing.T) { notMixed(t, filepath.Join("testdata", "messages")) })
	t.Run("real", func(t *testing.T) { notMixed(t, sharedReal(t)) })
}

func notMixed(t *testing.T, dir string) {
	files, err := filepath.Glob(filepath.Join(dir, "*.hl7"))
	if err != nil || len(files) < 20 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	for _, name := range files {
		raw, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range Parse(raw).Messages {
			for _, g := range groups(m) {
				it := intake.Item{}
				(&reading{it: &it, r: &it.Referral}).mixed(g.segs)
				for _, p := range it.Problems {
					t.Errorf("%s: %s", filepath.Base(name), p)
				}
			}
		}
	}
}

// faults joins what keeps the items of a document from being decided on.
func faults(r intake.Reading) string {
	var said []string
	for _, it := range r.Items {
		for _, p := range it.Problems {
			if p.Severity == intake.Fault {
				said = append(said, p.String())
			}
		}
	}
	return strings.Join(said, "\n")
}
