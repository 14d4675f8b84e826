package hl7

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

func testAnswer(id string) AnswerOptions {
	return AnswerOptions{Now: time.Date(2026, 3, 9, 10, 15, 1, 0, time.FixedZone("", -5*3600)), ID: func() string { return id }}
}

func readTest(t testing.TB, path string) []byte {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("testdata", path))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// parts splits an answer into segments and fields.
func parts(raw []byte) (out [][]string) {
	for _, l := range strings.Split(strings.TrimRight(string(raw), "\r\n"), "\r") {
		out = append(out, strings.Split(l, "|"))
	}
	return out
}

// TestAnswersLikeTheReference: the answers have the form of the made-up ones of the
// exchange page, field by field. Only the wording of sentences is this program's:
// MSA-3 and ERR-8 of the second and third.
func TestAnswersLikeTheReference(t *testing.T) {
	other := strings.NewReplacer("ORU^R01^ORU_R01", "ADT^A08^ADT_A01", "D01-0001", "X-1").Replace(string(readTest(t, "messages/d01-nbs-cf-two-variants.hl7")))
	for _, tc := range []struct {
		file, id string
		raw      []byte
	}{
		{"ack-aa.hl7", "ACK-D01-0001", readTest(t, "messages/d01-nbs-cf-two-variants.hl7")},
		{"ack-ae-required-field.hl7", "ACK-M06-0001", readTest(t, "malformed/m06-impossible-dates.hl7")},
		{"ack-ar-unsupported-type.hl7", "ACK-X-1", []byte(other)},
	} {
		a := AnswerTo(tc.raw, testAnswer(tc.id))
		want, got := readTest(t, "messages/"+tc.file), a.Raw
		if tc.file == "ack-aa.hl7" {
			if !bytes.Equal(bytes.TrimSpace(got), bytes.TrimSpace(want)) {
				t.Errorf("%s:\n%q\n%q", tc.file, got, want)
			}
			continue
		}
		w, g := parts(want), parts(got)
		if len(g) < len(w) {
			t.Fatalf("%s: %q", tc.file, got)
		}
		for i := range w {
			if i == 1 {
				w[i][3], g[i][3] = "", ""
			}
			if i == 2 {
				if g[i][8] == "" {
					t.Errorf("%s: ERR-8 is empty", tc.file)
				}
				w[i][8], g[i][8] = "", ""
			}
			if d := cmp.Diff(w[i], g[i]); d != "" {
				t.Errorf("%s, segment %d (-reference +answer):\n%s", tc.file, i+1, d)
			}
		}
	}
}

// TestAnswerCodes: what cannot be read is an error, what a person can read is
// accepted whatever else is wrong with it, and another type, version or mark is
// rejected. err is ERR-2 and the number of ERR-3 of the first ERR.
func TestAnswerCodes(t *testing.T) {
	swap := func(file string, pairs ...string) []byte {
		return []byte(strings.NewReplacer(pairs...).Replace(string(readTest(t, file))))
	}
	const d01 = "messages/d01-nbs-cf-two-variants.hl7"
	for _, tc := range []struct {
		name      string
		raw       []byte
		live      bool
		code, err string
	}{
		{"m01", readTest(t, "malformed/m01-empty.hl7"), false, "AE", " 100"},
		{"m02", readTest(t, "malformed/m02-forwarded-quoted.txt"), false, "AE", " 100"},
		{"m03", readTest(t, "malformed/m03-duplicate-delimiters.hl7"), false, "AE", "MSH^1^2 102"},
		{"m05", readTest(t, "malformed/m05-wrapped-at-76.txt"), false, "AE", "MSH^1 100"},
		{"m06", readTest(t, "malformed/m06-impossible-dates.hl7"), false, "AE", "PID^1^7 102"},
		{"m06b", readTest(t, "malformed/m06b-collected-before-birth.hl7"), false, "AA", "OBR^3^7 102"},
		{"m07", readTest(t, "malformed/m07-number-not-a-number.hl7"), false, "AA", ""},
		{"m08", readTest(t, "malformed/m08-code-and-text-disagree.hl7"), false, "AA", ""},
		{"m10", readTest(t, "malformed/m10-charset-lie.hl7"), false, "AA", "MSH^1^18 103"},
		{"m11", readTest(t, "malformed/m11-second-pid.hl7"), false, "AA", ""},
		{"m12a", readTest(t, "malformed/m12-same-control-id-a.hl7"), false, "AA", ""},
		{"m12b", readTest(t, "malformed/m12-same-control-id-b-different.hl7"), false, "AA", ""},
		{"in range", readTest(t, "messages/d05-nbs-in-range.hl7"), false, "AA", ""},
		{"sweat", readTest(t, "messages/d08-sweat-normal-two-sites.hl7"), false, "AA", ""},
		{"no type", swap(d01, "ORU^R01^ORU_R01", ""), false, "AE", "MSH^1^9 101"},
		{"other event", swap(d01, "ORU^R01^ORU_R01", "ORU^R40^ORU_R40"), false, "AR", "MSH^1^9 201"},
		{"other version", swap(d01, "|T|2.5.1|", "|T|3.0|"), false, "AR", "MSH^1^12 203"},
		{"no version", swap(d01, "|T|2.5.1|", "|T||"), false, "AA", ""},
		{"old version", swap(d01, "|T|2.5.1|", "|T|2.3|"), false, "AA", ""},
		{"test on a live program", readTest(t, d01), true, "AR", "MSH^1^11 202"},
		{"mark that is not known, live", swap(d01, "|T|2.5.1|", "|N|2.5.1|"), true, "AR", "MSH^1^11 202"},
		{"production on a live program", swap(d01, "|T|2.5.1|", "|P|2.5.1|"), true, "AA", ""},
		{"no birth date", swap(d01, "|20260301041500-0600|F|", "||F|"), false, "AE", "PID^1^7 101"},
		{"no patient", []byte("MSH|^~\\&|A|B|C|D|20260309||ORU^R01|1|P|2.5.1\r"), false, "AE", "PID^1 100"},
		{"character set", swap(d01, "|AL|AL|||||", "|AL|AL||BIG-5|||", "MARIA", "MAR\xcdA"), false, "AE", "MSH^1^18 103"},
		{"bytes", []byte{0, 1, 2, 0xFF}, false, "AE", " 100"},
	} {
		o := testAnswer("1")
		o.Live = tc.live
		a := AnswerTo(tc.raw, o)
		if len(a.Codes) != 1 || a.Codes[0] != tc.code {
			t.Errorf("%s: %v, want %s: %s", tc.name, a.Codes, tc.code, a.Raw)
			continue
		}
		segs := parts(a.Raw)
		if segs[1][0] != "MSA" || segs[1][1] != tc.code {
			t.Errorf("%s: %s", tc.name, a.Raw)
		}
		first := ""
		if len(segs) > 2 {
			code, _, _ := strings.Cut(segs[2][3], "^")
			first = segs[2][2] + " " + code
		}
		if tc.err != "" && first != tc.err {
			t.Errorf("%s: first error %q, want %q: %s", tc.name, first, tc.err, a.Raw)
		}
		for _, s := range segs[2:] {
			if want := map[string]string{"AA": "W", "AE": "EW", "AR": "F"}[tc.code]; !strings.Contains(want, s[4]) {
				t.Errorf("%s: severity %s with %s", tc.name, s[4], tc.code)
			}
		}
	}
}

// TestAnswerWanted: HL7 table 0155, with both conditions empty in the original mode.
func TestAnswerWanted(t *testing.T) {
	for _, tc := range []struct{ receipt, application, onAccept, onError string }{
		{"", "", "AA", "AE"},
		{"AL", "AL", "AA", "AE"},
		{"AL", "NE", "CA", "CE"},
		{"AL", "", "CA", "CE"},
		{"NE", "AL", "AA", "AE"},
		{"NE", "NE", "", ""},
		{"NE", "", "", ""},
		{"", "NE", "", ""},
		{"ER", "NE", "", "CE"},
		{"SU", "NE", "CA", ""},
		{"AL", "ER", "CA", "AE"},
		{"AL", "SU", "AA", "CE"},
		{"NE", "SU", "AA", ""},
		{"NE", "ER", "", "AE"},
		{"??", "", "CA", "CE"},
	} {
		for file, want := range map[string]string{"messages/d01-nbs-cf-two-variants.hl7": tc.onAccept, "malformed/m06-impossible-dates.hl7": tc.onError} {
			raw := strings.Replace(string(readTest(t, file)), "|T|2.5.1|||AL|AL|", "|T|2.5.1|||"+tc.receipt+"|"+tc.application+"|", 1)
			a, got := AnswerTo([]byte(raw), testAnswer("1")), ""
			if a.Raw != nil {
				got = parts(a.Raw)[1][1]
			}
			if got != want {
				t.Errorf("MSH-15 %q, MSH-16 %q, %s: %q, want %q", tc.receipt, tc.application, file, got, want)
			}
		}
	}
}

// TestAnswerNotStored: a refusal that does not depend on the message is given to
// every message, also to one that would have been accepted.
func TestAnswerNotStored(t *testing.T) {
	o := testAnswer("1")
	o.Instead = &Refusal{Code: Rejected, Error: 207, Text: "Not stored. Keep it."}
	segs := parts(AnswerTo(readTest(t, "messages/d01-nbs-cf-two-variants.hl7"), o).Raw)
	if segs[1][1] != "AR" || segs[1][2] != "D01-0001" || segs[2][3] != "207^Application internal error^HL70357" || segs[2][8] != "Not stored. Keep it." {
		t.Errorf("%v", segs)
	}
}

// TestAnswerSeparatorsAndSets: an answer has the separators and the character set of
// the message, and what it repeats cannot divide it.
func TestAnswerSeparatorsAndSets(t *testing.T) {
	a := AnswerTo(readTest(t, "messages/d25-odd-delimiters.hl7"), testAnswer("1"))
	m := Parse(a.Raw)
	if len(m.Messages) != 1 || m.Messages[0].Header().Field(9).Comp(1).Text() != "ACK" || m.Messages[0].Segments[1].Field(2).Text() != a.IDs[0] || m.Messages[0].Sep == standard {
		t.Errorf("odd separators: %q", a.Raw)
	}
	for set, want := range map[string]string{"8859/1": "L\xe5b", "UNICODE UTF-8": "Låb", "": "Låb"} {
		in := "L\xe5b"
		if set != "8859/1" {
			in = "Låb"
		}
		raw := "MSH|^~\\&|" + in + "|B|C|D|20260309||ADT^A08|N1|P|2.5.1||||||" + set + "\r"
		a := AnswerTo([]byte(raw), testAnswer("1"))
		if h := parts(a.Raw)[0]; h[4] != want || len(h) > 17 && h[17] != set || set != "" && len(h) < 18 {
			t.Errorf("set %q: %q", set, a.Raw)
		}
	}
	hostile := "MSH|^~\\&|A\x1c\x0b|B|C|D|20260309||XX|^Z\r\x0bX|N\x1c1|P|2.5.1\r"
	if a := AnswerTo([]byte(hostile), testAnswer("1")); bytes.ContainsAny(a.Raw, "\x0b\x1c\n") {
		t.Errorf("%q", a.Raw)
	}
	long := "MSH|^~\\&|A|B|C|D|20260309||ADT^A08|" + strings.Repeat("9", 100_000) + "|P|2.5.1\r"
	if a := AnswerTo([]byte(long), testAnswer("1")); len(a.Raw) > 2000 {
		t.Errorf("%d bytes of answer", len(a.Raw))
	}
}

// TestAnswerOldVersion: a sender of version 2.3 finds place and code in ERR-1.
func TestAnswerOldVersion(t *testing.T) {
	raw := strings.Replace(string(readTest(t, "malformed/m06-impossible-dates.hl7")), "|T|2.5.1|", "|T|2.3|", 1)
	segs := parts(AnswerTo([]byte(raw), testAnswer("1")).Raw)
	if segs[0][11] != "2.3" || segs[2][1] != "PID^1^7^102&Data type error&HL70357" {
		t.Errorf("%v", segs)
	}
}

// TestAnswerBatch: several messages in one frame are answered one by one, as a batch.
func TestAnswerBatch(t *testing.T) {
	a := AnswerTo(readTest(t, "malformed/m14-batch-count-and-bad-member.hl7"), testAnswer("1"))
	segs := parts(a.Raw)
	var names []string
	for _, s := range segs {
		names = append(names, s[0])
	}
	if names[0] != "BHS" || names[len(names)-1] != "BTS" || segs[len(segs)-1][1] != "2" || !slices.Equal(a.Codes, []string{"AA", "AE"}) {
		t.Errorf("%v %s", a.Codes, strings.ReplaceAll(string(a.Raw), "\r", "\n"))
	}
}

// FuzzAnswer: any bytes give an answer that reads as one ACK for each message, twice
// the same, without frame bytes.
func FuzzAnswer(f *testing.F) {
	for _, dir := range []string{"messages", "malformed"} {
		files, err := filepath.Glob(filepath.Join("testdata", dir, "*"))
		if err != nil || len(files) < 10 {
			f.Fatal(err, len(files))
		}
		for _, name := range files {
			f.Add(readTest(f, filepath.Join(dir, filepath.Base(name))), true)
		}
	}
	f.Fuzz(func(t *testing.T, raw []byte, live bool) {
		o := testAnswer("1")
		o.Live = live
		a := AnswerTo(raw, o)
		if again := AnswerTo(raw, o); !bytes.Equal(again.Raw, a.Raw) {
			t.Fatalf("%q then %q", a.Raw, again.Raw)
		}
		if len(a.Codes) == 0 || len(a.Codes) != len(a.IDs) {
			t.Fatalf("%v %v", a.Codes, a.IDs)
		}
		if a.Raw == nil {
			return
		}
		if bytes.ContainsAny(a.Raw, "\x0b\x1c\n") {
			t.Fatalf("%q", a.Raw)
		}
		ms := Parse(a.Raw).Messages
		if len(ms) == 0 || len(ms) > len(a.Codes) {
			t.Fatalf("%d answers to %d messages: %q", len(ms), len(a.Codes), a.Raw)
		}
		for _, m := range ms {
			if len(m.Segments) < 2 || m.Segments[1].Name != "MSA" {
				t.Fatalf("%q", a.Raw)
			}
		}
	})
}
