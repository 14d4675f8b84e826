package hl7

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases/intake"
)

const (
	sweatHead = "MSH|^~\\&|LIS|Marlow Creek Laboratory|||20260323161500||ORU^R01|1|P|2.5.1\rPID|1||C1^^^H^MR||WREN^ADA||20260301|F\r"
	sweatOBR  = "OBR|1|S1|F1|86964003^Cystic fibrosis sweat test^SCT|||202603231330|202603231400||||||||||||||202603231600|||F\r"
)

// sitesText writes down what was read of each site.
func sitesText(r *intake.Referral) string {
	var out []string
	for i := range r.Sites {
		s := &r.Sites[i]
		value := "none"
		switch {
		case s.QNS:
			value = "QNS"
		case s.Chloride.Value != nil:
			value = s.Chloride.Comparator + fmt.Sprint(*s.Chloride.Value)
		}
		amount := ""
		if s.Quantity.Value != nil {
			amount = s.Quantity.Comparator + fmt.Sprint(*s.Quantity.Value) + s.Quantity.Unit
		}
		line := []string{s.Side, s.Limb, amount, fmt.Sprint(s.Minutes), value, s.Status, s.Accession, s.Reads}
		if s.Screening {
			line = append(line, "screening")
		}
		out = append(out, strings.Join(line, " "))
	}
	if r.LabReads != "" {
		out = append(out, "whole: "+r.LabReads)
	}
	return strings.Join(out, " | ")
}

// TestSweatShapes: the shapes in which laboratories send sweat results. No published
// sweat message was found; these are made up from the base standard and from what one
// catalogue lists (site, volume and value as parts of the test).
func TestSweatShapes(t *testing.T) {
	spm := func(n, site, amount string) string {
		return "SPM|" + n + "|||122569007^Sweat specimen^SCT||||" + site + "||||" + amount + "|||||202603231330^202603231400\r"
	}
	cl := func(n, sub, value string) string {
		return "OBX|" + n + "|NM|2077-6^Chloride in Sweat^LN|" + sub + "|" + value + "|mmol/L|<30|N|||F\r"
	}
	for _, c := range []struct{ name, body, want, fault string }{
		{"one order, sub-identifiers, two specimens", sweatOBR + cl("1", "1", "14") + cl("2", "2", "16") + spm("1", "LLFA", "42^uL") + spm("2", "RLFA", "38^uL"),
			"left forearm 42uL 30 14 F F1  | right forearm 38uL 30 16 F F1 ", ""},
		{"one order, specimens between", sweatOBR + cl("1", "", "14") + spm("1", "LLFA", "42^uL") + cl("2", "", "16") + spm("2", "RLFA", "38^uL"),
			"left forearm 42uL 30 14 F F1  | right forearm 38uL 30 16 F F1 ", ""},
		{"one order, specimen before its result", sweatOBR + spm("1", "LLFA", "42^uL") + cl("1", "", "14") + spm("2", "RLFA", "38^uL") + cl("2", "", "16"),
			"left forearm 42uL 30 14 F F1  | right forearm 38uL 30 16 F F1 ", ""},
		{"lines of their own, by sub-identifier", sweatOBR +
			"OBX|1|ST|SITE^Collection site^L|1|Left forearm||||||F\rOBX|2|NM|VOL^Sweat volume^L|1|42|uL|||||F\r" + cl("3", "1", "14") +
			"OBX|4|ST|SITE^Collection site^L|2|Right forearm||||||F\rOBX|5|NM|VOL^Sweat volume^L|2|38|uL|||||F\r" + cl("6", "2", "16"),
			"left forearm 42uL 30 14 F F1  | right forearm 38uL 30 16 F F1 ", ""},
		{"lines of their own, one after the other", sweatOBR +
			"OBX|1|ST|SITE^Collection site^L||Left forearm||||||F\rOBX|2|NM|WT^Sweat weight^L||96|mg|||||F\r" + cl("3", "", "14") +
			"OBX|4|ST|SITE^Collection site^L||Right forearm||||||F\rOBX|5|NM|WT^Sweat weight^L||88|mg|||||F\r" + cl("6", "", "16"),
			"left forearm 96mg 30 14 F F1  | right forearm 88mg 30 16 F F1 ", ""},
		{"the side in the names", sweatOBR + "OBX|1|NM|2077-6^Left arm chloride^LN||14|mmol/L|||||F\rOBX|2|NM|2077-6^Right arm chloride^LN||16|mmol/L|||||F\r" +
			"OBX|3|NM|V^Left arm sweat volume^L||42|uL|||||F\rOBX|4|NM|V^Right arm sweat volume^L||38|uL|||||F\r" +
			"OBX|5|NM|T^Left arm collection time^L||30|min|||||F\r",
			"left  42uL 30 14 F F1  | right  38uL 30 16 F F1 ", ""},
		{"minutes as a result", strings.Replace(sweatOBR, "202603231400", "", 1) + cl("1", "", "14") + "OBX|2|NM|T^Collection time^L||25|min|||||F\r" + "SPM|1|||SWT||||LLFA||||42^uL\r",
			"left forearm 42uL 25 14 F F1 ", ""},
		{"a start sent twice gives no minutes", strings.Replace(sweatOBR, "202603231400", "202603231330", 1) + cl("1", "", "14") + strings.Replace(spm("1", "LLFA", "42^uL"), "^202603231400", "^202603231330", 1),
			"left forearm 42uL 0 14 F F1 ", ""},
		{"a start sent twice beside an end in the order", sweatOBR + cl("1", "", "14") + strings.Replace(spm("1", "LLFA", "42^uL"), "^202603231400", "^202603231330", 1),
			"left forearm 42uL 30 14 F F1 ", ""},
		{"the older places of amount and site", "OBR|1|S1|F1|SWT^Sweat chloride^L|||202603231330|202603231400|42^uL||||||^^^LLFA&Left forearm|||||||202603231600|||F\r" + cl("1", "", "14"),
			"left forearm 42uL 30 14 F F1 ", ""},
		{"an amount and unit in one", sweatOBR + cl("1", "", "14") + spm("1", "^Left arm", "42 uL"), "left forearm 42uL 30 14 F F1 ", ""},
		{"too little to be measured", sweatOBR + "OBX|1|ST|2077-6^Chloride^LN||QNS||||||F\r" + spm("1", "RT", "<5^uL"), "right upper-leg <5uL 30 QNS F F1 ", ""},
		{"QNS without any result", sweatOBR + "SPM|1|||SWT||||LLFA||||9^uL|||||202603231330^202603231400||||QS^Quantity not sufficient\r", "left forearm 9uL 30 QNS F F1 ", ""},
		{"QNS in a note of the order", sweatOBR + "NTE|1||Specimen insufficient for analysis\r" + spm("1", "LLFA", "9^uL"), "left forearm 9uL 30 QNS F F1 ", ""},
		{"interpretation as its own order", sweatOBR + cl("1", "", "14") + spm("1", "LLFA", "42^uL") +
			"OBR|2|S1|F2|SWI^Sweat test interpretation^L|||202603231330|||||||||||||||202603231600|||F\rOBX|1|TX|SWI^Interpretation^L||Normal||||||F\r",
			"left forearm 42uL 30 14 F F1  | whole: Normal", ""},
		{"interpretation beside two sites", sweatOBR + cl("1", "1", "14") + cl("2", "2", "16") + "OBX|3|TX|SWI^Interpretation^L||Normal||||||F\r" + spm("1", "LLFA", "42^uL") + spm("2", "RLFA", "38^uL"),
			"left forearm 42uL 30 14 F F1  | right forearm 38uL 30 16 F F1  | whole: Normal", ""},
		{"conductivity", sweatOBR + "OBX|1|NM|COND^Sweat conductivity^L||40|mmol/L|||||F\r" + spm("1", "LLFA", "42^uL"), "left forearm 42uL 30 none F F1  screening", "screening test"},
		{"a chloride by a code nobody knows", sweatOBR + "OBX|1|NM|XCL9^Sweat chloride^L||14|mmol/L|||||F\r" + spm("1", "LLFA", "42^uL"), "left forearm 42uL 30 14 F F1 ", "XCL9"},
		{"sodium is kept and not used", sweatOBR + cl("1", "", "14") + "OBX|2|NM|2954-6^Sodium in Sweat^LN||20|mmol/L|||||F\r" + spm("1", "LLFA", "42^uL"), "left forearm 42uL 30 14 F F1 ", ""},
		{"a weight of the infant is no amount of sweat", sweatOBR + cl("1", "", "14") + "OBX|2|NM|BW^Patient weight^L||3500|g|||||F\r" + spm("1", "LLFA", "42^uL"), "left forearm 42uL 30 14 F F1 ", ""},
		{"a clock that is set forward", "OBR|1|S1|F1|SWT^Sweat test^L|||202603080145-0600|202603080315-0500||||||||||||||202603081600|||F\r" + cl("1", "", "14"), "   30 14 F F1 ", ""},
		{"a result under another order", "OBR|1|S1|F1|BMP^Panel^L|||202603231330|202603231400||||||||||||||202603231600|||F\r" + cl("1", "", "14") + "NTE|1||Interpretation: negative\r", "   30 14 F F1 Interpretation: negative", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			its := (Format{}).Read([]byte(sweatHead+c.body), settings).Items
			it := its[0]
			if got := sitesText(&it.Referral); len(its) != 1 || got != c.want {
				t.Errorf("read %q, want %q", got, c.want)
			}
			var faults []string
			for _, p := range it.Problems {
				if p.Severity == intake.Fault {
					faults = append(faults, p.String())
				}
			}
			if text := strings.Join(faults, "\n"); !strings.Contains(text, c.fault) || c.fault == "" && text != "" {
				t.Errorf("faults %q, want %q", text, c.fault)
			}
			if !it.Referral.SweatTest || it.Referral.Screen {
				t.Error("not a sweat result")
			}
		})
	}
}

// TestSendersOwnCodes: a code of the sender's table means what the table says, also
// what has no LOINC code.
func TestSendersOwnCodes(t *testing.T) {
	set := intake.Settings{Senders: []intake.Sender{{Name: "Marlow Creek", Signs: []string{"Marlow Creek Laboratory"},
		Codes: map[string]string{"XCL9": "2077-6", "A1": "sweat amount", "M1": "sweat minutes", "P1": "sweat site", "SCR": "56448-4", "I1": "sweat interpretation"}}}}
	body := "OBR|1|S1|F1|SW^Sweat^L|||20260323|||||||||||||||202603231600|||F\rOBX|1|ST|P1^^L||Left forearm||||||F\rOBX|2|NM|^^^A1||42|uL|||||F\r" +
		"OBX|3|NM|M1||30|min|||||F\rOBX|4|NM|XCL9^Chlor^L||14|mmol/L|||||F\rOBX|5|TX|I1||Normal||||||F\r"
	it := (Format{}).Read([]byte(sweatHead+body), set).Items[0]
	if got := sitesText(&it.Referral); got != "left forearm 42uL 30 14 F F1 Normal" || intake.Worst(it.Problems) == intake.Fault {
		t.Errorf("%q %v", got, it.Problems)
	}
	other := strings.Replace(sweatHead, "Marlow Creek Laboratory", "Another Laboratory", 1)
	it = (Format{}).Read([]byte(other+body), set).Items[0]
	if got := sitesText(&it.Referral); strings.Contains(got, "42uL") || strings.Contains(got, " 14 ") {
		t.Errorf("another sender's codes were read: %q", got)
	}
	it = (Format{}).Read([]byte(sweatHead+strings.Replace(body, "XCL9^Chlor", "SCR^Chlor", 1)), set).Items[0]
	if !it.Referral.Sites[0].Screening {
		t.Error("a code that means a screening method was read as the diagnostic one")
	}
	screen, err := os.ReadFile(filepath.Join("testdata", "malformed", "m09-wrong-check-digit-and-unknown-code.hl7"))
	if err != nil {
		t.Fatal(err)
	}
	own := intake.Settings{Codes: map[string]string{"CFTRX": "21654-9"}}
	before := (Format{}).Read(screen, settings).Items[0].Referral
	after := (Format{}).Read(screen, own).Items[0].Referral
	if len(after.Unknown) != len(before.Unknown)-1 || len(after.Variants) != len(before.Variants)+1 {
		t.Errorf("unknown %d then %d, variants %d then %d", len(before.Unknown), len(after.Unknown), len(before.Variants), len(after.Variants))
	}
}

// BenchmarkSweat parses and maps one sweat result of two sites.
func BenchmarkSweat(b *testing.B) { benchmarkORU(b, "d08-sweat-normal-two-sites.hl7") }

// BenchmarkScreen parses and maps one newborn-screen result.
func BenchmarkScreen(b *testing.B) { benchmarkORU(b, "d01-nbs-cf-two-variants.hl7") }

func benchmarkORU(b *testing.B, file string) {
	raw, err := os.ReadFile(filepath.Join("testdata", "messages", file))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		r := (Format{}).Read(raw, settings)
		if v := intake.Decide(&r.Items[0], settings); v.Outcome == "" {
			b.Fatal("no outcome")
		}
	}
}
