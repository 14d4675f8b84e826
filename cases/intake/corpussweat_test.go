package intake_test

import (
	"testing"

	"dunlin/cases"
)

// Codes of sweat tests as they stand in messages.
const (
	cSweat    = "86964003^Cystic fibrosis sweat test^SCT"
	cChloride = "2077-6^Chloride [Moles/volume] in Sweat^LN"
)

func sweatHead(n int) []string {
	return []string{`MSH|^~\&|LIS|Alder Bay General Laboratory|||20260329101500||ORU^R01^ORU_R01|SW1|P|2.5.1`, pid(n), nk1(n)}
}

func sweatOrder(n, code string) string {
	return fields("OBR", 1, n, 2, "S"+n, 3, "SW"+n, 4, code, 7, "202603280900", 8, "202603280930", 22, "202603281500", 25, "F")
}

func sweatSpecimen(site, amount, state string) string {
	return fields("SPM", 1, "1", 4, "122569007^Sweat specimen^SCT", 8, site, 12, amount, 17, "202603280900^202603280930", 21, state)
}

// site is one site in the style of one order for each.
func site(n, place, amount, value, unit string) []string {
	return []string{sweatOrder(n, cSweat), measured("NM", cChloride, value, unit, "<30", ""), sweatSpecimen(place, amount, "")}
}

// sweatSamples: results of sweat tests in several styles. On an empty store no case is
// known, so each waits for a person with its values; on a case the plain ones attach.
func sweatSamples() []sample {
	left, right := "LLFA^Left Lower Forearm^HL70163", "RLFA^Right Lower Forearm^HL70163"
	two := message(flat(sweatHead(100), site("1", left, "42^uL", "71", "mmol/L"), site("2", right, "38^uL", "74", "mmol/L"))...)
	one := message(flat(sweatHead(100), []string{sweatOrder("1", cSweat),
		fields("OBX", 2, "NM", 3, cChloride, 4, "1", 5, "71", 6, "mmol/L", 11, "F"), fields("OBX", 2, "NM", 3, cChloride, 4, "2", 5, "74", 6, "mmol/L", 11, "F"),
		sweatSpecimen(left, "42^uL", ""), sweatSpecimen(right, "38^uL", "")})...)
	three := message(flat(sweatHead(100), []string{sweatOrder("1", "SWT^Sweat Test^L"),
		obx("ST", "SWSITE^Collection site^L", "Left forearm"), measured("NM", "SWVOL^Sweat volume^L", "42", "uL", "", ""), measured("NM", cChloride, "71", "mmol/L", "<30", "H")})...)
	tests := func(n int) func(t *testing.T, cs []cases.Case) {
		return func(t *testing.T, cs []cases.Case) { eq(t, "sweat tests", len(oneCase(t, cs).SweatTests), n) }
	}
	referral := []string{panel(100, interp(aOut))}
	return []sample{
		{id: "sweat-order-for-each-site", raw: two, want: "review", says: []string{"chloride 71 mmol/L", "chloride 74 mmol/L", "42 uL", "No case is known"}},
		{id: "sweat-one-order-sub-ids", raw: one, want: "review", says: []string{"chloride 71 mmol/L", "chloride 74 mmol/L", "No case is known"}},
		{id: "sweat-three-lines", raw: three, want: "review", says: []string{"chloride 71 mmol/L", "42 uL", "Left forearm"}},
		{id: "sweat-on-case", before: referral, raw: two, want: "attached", check: tests(1)},
		{id: "sweat-on-case-sub-ids", before: referral, raw: one, want: "attached", check: tests(1)},
		{id: "sweat-on-case-again", before: append(referral, two), raw: two, want: "duplicate", check: tests(1)},
		{id: "sweat-other-infant", before: referral, raw: message(flat([]string{sweatHead(101)[0], pid(101), nk1(101)}, site("1", left, "42^uL", "71", "mmol/L"))...), want: "review", says: []string{"No case is known"}, check: tests(0)},
		{id: "sweat-weight", raw: message(flat(sweatHead(100), site("1", left, "96^mg", "71", "mmol/L"))...), want: "review", says: []string{"96 mg"}},
		{id: "sweat-meq", raw: message(flat(sweatHead(100), site("1", left, "42^uL", "22", "mEq/L"))...), want: "review", says: []string{"chloride 22 mEq/L"}, not: []string{"not mmol/L"}},
		{id: "sweat-no-unit", before: referral, raw: message(flat(sweatHead(100), site("1", left, "42^uL", "58", ""))...), want: "review", says: []string{"no unit", "OBX[1]-6"}, check: tests(0)},
		{id: "sweat-mg-per-ml", before: referral, raw: message(flat(sweatHead(100), site("1", left, "42^uL", "2.1", "mg/mL"))...), want: "review", says: []string{"mg/mL"}, check: tests(0)},
		{id: "sweat-implausible", before: referral, raw: message(flat(sweatHead(100), site("1", left, "42^uL", "580", "mmol/L"))...), want: "review", says: []string{"not plausible"}, check: tests(0)},
		{id: "sweat-negative", before: referral, raw: message(flat(sweatHead(100), site("1", left, "42^uL", "-5", "mmol/L"))...), want: "review", says: []string{"not plausible"}, check: tests(0)},
		{id: "sweat-comparator", before: referral, raw: message(flat(sweatHead(100), []string{sweatOrder("1", cSweat), measured("ST", cChloride, "<10", "mmol/L", "", ""), sweatSpecimen(left, "42^uL", "")})...), want: "review|attached", says: []string{"<10"}},
		{id: "sweat-qns-specimen", raw: message(flat(sweatHead(100), []string{sweatOrder("1", cSweat), stated("NM", cChloride, "", "X"), sweatSpecimen(left, "9^uL", "QS^Quantity not sufficient^HL70490")})...), want: "review", says: []string{"QNS"}},
		{id: "sweat-qns-text", raw: message(flat(sweatHead(100), []string{sweatOrder("1", cSweat), obx("ST", cChloride, "QNS")})...), want: "review", says: []string{"QNS"}},
		{id: "sweat-qns-note", raw: message(flat(sweatHead(100), []string{sweatOrder("1", cSweat), nte("Quantity not sufficient, please repeat.")})...), want: "review", says: []string{"QNS"}},
		{id: "sweat-no-result", raw: message(flat(sweatHead(100), []string{sweatOrder("1", cSweat), sweatSpecimen(left, "42^uL", "")})...), want: "review"},
	}
}

// sweatOddSamples: sweat results that must never reach a case by themselves, and
// chlorides that are of something else.
func sweatOddSamples() []sample {
	left := "LLFA^Left Lower Forearm^HL70163"
	referral := []string{panel(100, interp(aOut))}
	with := func(segs ...string) string { return message(flat(sweatHead(100), segs)...) }
	none := func(t *testing.T, cs []cases.Case) {
		for _, c := range cs {
			eq(t, "sweat tests", len(c.SweatTests), 0)
		}
	}
	state := func(s string) string {
		return with(sweatOrder("1", cSweat), fields("OBX", 2, "NM", 3, cChloride, 5, "71", 6, "mmol/L", 11, s), sweatSpecimen(left, "42^uL", ""))
	}
	return []sample{
		{id: "sweat-preliminary", before: referral, raw: state("P"), want: "review", says: []string{"preliminary"}, check: none},
		{id: "sweat-wrong-patient", before: referral, raw: state("W"), want: "review", says: []string{"another patient"}, check: none},
		{id: "sweat-taken-back", before: referral, raw: state("D"), want: "review", says: []string{"took back"}, check: none},
		{id: "sweat-no-state", before: referral, raw: state(""), want: "review|attached", says: []string{}},
		{id: "sweat-conductivity", before: referral, raw: with(sweatOrder("1", cSweat), measured("NM", "COND^Sweat conductivity^L", "92", "mmol/L", "", "")), want: "review", says: []string{"screening test"}, check: none},
		{id: "sweat-screen-method", before: referral, raw: with(sweatOrder("1", cSweat), measured("NM", "56448-4^Chloride [Moles/volume] in Sweat by screen method^LN", "92", "mmol/L", "", "")), want: "review", says: []string{"screening method"}, check: none},
		{id: "sweat-local-code", before: referral, raw: with(sweatOrder("1", "SWCL^Sweat chloride^L"), measured("NM", "SWCL^Sweat chloride^L", "92", "mmol/L", "", "H")), want: "review", says: []string{"SWCL", "92"}, check: none},
		{id: "sweat-without-order-code", before: referral, raw: with("OBR|1||SW1|LAB^Laboratory^L", measured("NM", cChloride, "92", "mmol/L", "", "H")), want: "review|attached"},
		{id: "sweat-text-only", before: referral, raw: with("OBR|1||SW1|RPT^Report^L", obx("TX", "RPT^Report^L", "SWEAT CHLORIDE left 71 mmol/L, right 74 mmol/L")), want: "review", says: []string{"OBX[1]-5", "SWEAT CHLORIDE"}, not: []string{"no sweat test"}, check: none},
		{id: "sweat-note-only", before: referral, raw: with("OBR|1||SW1|RPT^Report^L", nte("SWEAT CHLORIDE left 71 mmol/L, right 74 mmol/L")), want: "review", says: []string{"NTE[1]-3", "SWEAT CHLORIDE"}, not: []string{"no sweat test"}, check: none},
		{id: "sweat-and-screen", before: referral, raw: message(flat(sweatHead(100), site("1", left, "42^uL", "71", "mmol/L"), []string{obr(100, cCF), interp(aOut)})...), want: "review|attached|duplicate", says: []string{"71"}},
		{id: "sweat-and-screen-in-range", raw: message(flat(sweatHead(101), site("1", left, "42^uL", "71", "mmol/L"), []string{obr(101, cCF), interp(aIn)})...), want: "review", says: []string{"71"}},
		{id: "sweat-two-infants", before: referral, raw: message(flat(sweatHead(100), site("1", left, "42^uL", "71", "mmol/L"), []string{pid(101)}, site("2", left, "42^uL", "12", "mmol/L"))...), want: "attached|review review"},
		{id: "sweat-other-birth-date", before: referral, raw: message(flat(sweatHead(100)[:1], []string{fields("PID", 3, "MRN00100^^^Alder Bay General&1.2.3&ISO^MR", 5, "Driftwood-Lowe^BOY", 7, "20260101", 8, "M")}, site("1", left, "42^uL", "71", "mmol/L"))...), want: "review", check: none},
		{id: "sweat-wrong-check-digit", before: referral, raw: with(sweatOrder("1", cSweat), measured("NM", "2077-5^Chloride in Sweat^LN", "92", "mmol/L", "", "H")), want: "review", says: []string{"2077-6"}, check: none},
		{id: "sweat-range-in-value", before: referral, raw: with(sweatOrder("1", cSweat), measured("ST", cChloride, "71-74", "mmol/L", "", "H"), sweatSpecimen(left, "42^uL", "")), want: "review", says: []string{"71-74"}, check: none},
		{id: "sweat-comma", before: referral, raw: with(sweatOrder("1", cSweat), measured("NM", cChloride, "71,5", "mmol/L", "", "H"), sweatSpecimen(left, "42^uL", "")), want: "review", says: []string{"comma"}, check: none},
		{id: "sweat-old-version", before: referral, raw: message(`MSH|^~\&|LIS|AB|||20260329||ORU^R01|SW9|P|2.3`, pid(100), "OBR|1||SW9|SWEAT^SWEAT TEST^L|||202603280900|202603280930|||||||||||||||||F", "OBX|1|NM|CL^CHLORIDE^L||71|mmol/L|0-29|H|||F"), want: "review", says: []string{"CHLORIDE", "71"}, check: none},
	}
}
