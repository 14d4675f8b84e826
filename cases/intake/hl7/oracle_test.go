package hl7

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
)

// oracle is one message as an independent reader saw it.
type oracle struct {
	Note       string              `json:"note"`
	BytesAre   string              `json:"bytes_are"`
	Segments   int                 `json:"segments"`
	MSH2       string              `json:"msh2"`
	Sender     string              `json:"sender"`
	Time       string              `json:"time"`
	Type       string              `json:"type"`
	ControlID  string              `json:"control_id"`
	Processing string              `json:"processing"`
	Version    string              `json:"version"`
	Charset    string              `json:"charset"`
	PID        []map[string]string `json:"pid"`
	NK1        []map[string]string `json:"nk1"`
	OBR        []map[string]string `json:"obr"`
	OBX        []map[string]string `json:"obx_of_interest"`
	SPM        []map[string]string `json:"spm"`
	OBXTotal   int                 `json:"obx_total"`
	BadDates   []string            `json:"bad_dates"`
}

// sharedReal finds the real messages, which are not part of the repository.
func sharedReal(t testing.TB) string {
	dir := os.Getenv("DUNLIN_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "..", "shared")
	}
	dir = filepath.Join(dir, "reference", "exchange", "real")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("DUNLIN_CI") == "1" && os.Getenv("DUNLIN_SHARED") != "" {
			t.Fatalf("the real messages are missing: set DUNLIN_SHARED (%v)", err)
		}
		t.Skip("the real messages are not here; set DUNLIN_SHARED to the shared folder to run this test")
	}
	return dir
}

func TestMadeUpMessagesAgainstOracle(t *testing.T) {
	againstOracle(t, filepath.Join("testdata", "messages"))
}

func TestRealMessagesAgainstOracle(t *testing.T) { againstOracle(t, sharedReal(t)) }

func againstOracle(t *testing.T, dir string) {
	b, err := os.ReadFile(filepath.Join(dir, "expected.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want map[string][]oracle
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) < 20 {
		t.Fatalf("only %d files in the oracle", len(want))
	}
	for name, msgs := range want {
		t.Run(name, func(t *testing.T) {
			raw, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			f := Parse(raw)
			if len(f.Messages) != len(msgs) {
				t.Fatalf("%d messages, want %d", len(f.Messages), len(msgs))
			}
			for i, w := range msgs {
				if w.Note != "" { // no usable header
					if len(f.Messages[i].Problems) == 0 {
						t.Error("no problem named")
					}
					continue
				}
				got := seenBy(f.Messages[i], w, raw)
				if d := cmp.Diff(w, got); d != "" {
					t.Errorf("message %d (-oracle +read):\n%s", i+1, d)
				}
			}
		})
	}
}

// seenBy writes down what this reader sees, in the oracle's terms.
func seenBy(m *Message, w oracle, raw []byte) oracle {
	h := m.Header()
	raws := func(v Value) string { return v.Raw() }
	o := oracle{BytesAre: "utf-8", Segments: len(m.Segments), MSH2: raws(h.Field(2)), Sender: raws(h.Field(3)),
		Time: raws(h.Field(7)), Type: raws(h.Field(9)), ControlID: raws(h.Field(10)), Processing: raws(h.Field(11)),
		Version: raws(h.Field(12)), Charset: raws(h.Field(18)),
		PID: []map[string]string{}, NK1: []map[string]string{}, OBR: []map[string]string{},
		OBX: []map[string]string{}, SPM: []map[string]string{}, BadDates: w.BadDates}
	if !utf8.Valid(raw) {
		o.BytesAre = "not utf-8"
	}
	for _, s := range m.Segments {
		switch s.Name {
		case "PID":
			o.PID = append(o.PID, map[string]string{"ids": raws(s.Field(3)), "name": raws(s.Field(5)),
				"mother_maiden": raws(s.Field(6)), "dob": raws(s.Field(7)), "dob_precision": precisionWord(s.Field(7)),
				"sex": s.Field(8).Comp(1).Raw(), "mother_ids": raws(s.Field(21)), "multiple": raws(s.Field(24)),
				"order": raws(s.Field(25)), "death": raws(s.Field(30))})
		case "NK1":
			o.NK1 = append(o.NK1, map[string]string{"name": raws(s.Field(2)), "relation": s.Field(3).Comp(1).Raw(),
				"address": raws(s.Field(4)), "phone": raws(s.Field(5))})
		case "OBR":
			o.OBR = append(o.OBR, map[string]string{"code": codeRaw(s.Field(4)), "placer": s.Field(2).Comp(1).Raw(),
				"filler": s.Field(3).Comp(1).Raw(), "collected": raws(s.Field(7)), "status": raws(s.Field(25))})
		case "OBX":
			o.OBXTotal++
			code, _, loinc := Code(s.Field(3))
			if what := oracleWords[known[code]]; loinc && what != "" {
				o.OBX = append(o.OBX, map[string]string{"what": what, "type": raws(s.Field(2)), "sub": raws(s.Field(4)),
					"value": raws(s.Field(5)), "unit": s.Field(6).Comp(1).Raw(), "range": raws(s.Field(7)),
					"flag": s.Field(8).Comp(1).Raw(), "status": raws(s.Field(11))})
			}
		case "SPM":
			o.SPM = append(o.SPM, map[string]string{"type": s.Field(4).Comp(1).Raw(), "site": s.Field(8).Comp(1).Raw(),
				"amount": raws(s.Field(12)), "collected": raws(s.Field(17)), "reject": s.Field(21).Comp(1).Raw()})
		}
	}
	return o
}

func codeRaw(v Value) string { return v.Comp(1).Raw() }

// oracleWords maps the words of the code table to those of the oracle.
var oracleWords = map[string]string{
	"reason": "reason", "quality": "quality", "overall": "overall", "positive": "positive", "equivocal": "equivocal",
	"card": "card", "birth weight": "birth_weight", "card weight": "weight_at_collection", "gestation": "gestation",
	"plurality": "plurality", "factors": "infant_factor", "facility": "birth_facility", "care name": "pcp",
	"care phone": "pcp_phone", "irt": "irt", "variants": "cftr", "interpretation": "cf_interpretation",
	"transfusion": "last_transfusion", "sweat chloride": "sweat_chloride",
}

func precisionWord(v Value) string {
	if v.Empty() {
		return "empty"
	}
	m := Time(v)
	if m.Bad != "" && m.Precision == "" {
		return "word"
	}
	if m.Offset != "" {
		return m.Precision + " offset"
	}
	return m.Precision + " no-offset"
}

// TestBadDates compares the impossible dates that the oracle names with the
// problems of this reader.
func TestBadDates(t *testing.T) {
	dir := sharedReal(t)
	raw, err := os.ReadFile(filepath.Join(dir, "nbs-oru-04-bad-obx14-cc0.hl7"))
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, it := range (Format{}).Read(raw, settings).Items {
		for _, p := range it.Problems {
			found = found || p.Segment == "OBX" && p.Field == 14 && p.Value == "220241021055726"
		}
	}
	if !found {
		t.Error("the 15-digit time in OBX-14 is not named")
	}
}

func TestEscapesAndSeparators(t *testing.T) {
	raw, _ := os.ReadFile(filepath.Join("testdata", "messages", "d19-escapes.hl7"))
	its := (Format{}).Read(raw, settings).Items
	want := "Pipe | caret ^ amp & tilde ~ backslash \\ hex AB line\nbreak bold unknown \\Z99\\ end"
	if got := its[0].Referral.Comments[0]; got != want {
		t.Errorf("comment\n got %q\nwant %q", got, want)
	}
	if got := its[0].Referral.Interpretation[0].Text; got != "Out of range & under review" {
		t.Errorf("interpretation text %q", got)
	}
	odd, _ := os.ReadFile(filepath.Join("testdata", "messages", "d25-odd-delimiters.hl7"))
	plain, _ := os.ReadFile(filepath.Join("testdata", "messages", "d23-lf-line-ends.hl7"))
	a, b := (Format{}).Read(odd, settings).Items[0].Referral, (Format{}).Read(plain, settings).Items[0].Referral
	a.ControlID, b.ControlID = "", ""
	if d := cmp.Diff(a, b); d != "" {
		t.Errorf("other separators read differently:\n%s", d)
	}
}

func TestLineEnds(t *testing.T) {
	raw, _ := os.ReadFile(filepath.Join("testdata", "messages", "d01-nbs-cf-two-variants.hl7"))
	want := (Format{}).Read(raw, settings).Items
	mixed := bytes.ReplaceAll(raw, []byte("\r"), []byte("\r\n"))
	mixed = bytes.Replace(mixed, []byte("\r\n"), []byte("\n"), 5)
	mixed = bytes.Replace(mixed, []byte("\n"), []byte("\r\r\n\n"), 3)
	for name, in := range map[string][]byte{
		"LF":    bytes.ReplaceAll(raw, []byte("\r"), []byte("\n")),
		"CRLF":  bytes.ReplaceAll(raw, []byte("\r"), []byte("\r\n")),
		"mixed": mixed,
		"BOM":   append([]byte("\xEF\xBB\xBF"), raw...),
		"frame": append(append([]byte{0x0B}, raw...), 0x1C, 0x0D),
	} {
		got := (Format{}).Read(in, settings).Items
		for i := range got {
			got[i].Text = want[i].Text
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s read differently:\n%s", name, d)
		}
	}
	if strings.Count(want[0].Text, "\n") != 29 {
		t.Errorf("%d lines of text", strings.Count(want[0].Text, "\n"))
	}
}
