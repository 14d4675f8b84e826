package intake_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// variantSamples: IRT and CFTR variants in the spellings and places of laboratories.
func variantSamples() []sample {
	names := func(want ...string) func(*testing.T, []cases.Case) {
		return func(t *testing.T, cs []cases.Case) { wantNames(t, oneCase(t, cs), want...) }
	}
	sub := func(n, value string) string {
		return fields("OBX", 2, "ST", 3, cVar, 4, n, 5, value, 11, "F")
	}
	irt := func(value, text string) func(*testing.T, []cases.Case) {
		return func(t *testing.T, cs []cases.Case) {
			s := oneCase(t, cs).Referral.Screen
			if s.IRTNgML != nil {
				t.Errorf("the IRT became the number %g", *s.IRTNgML)
			}
			if !strings.Contains(s.IRTText, value) {
				t.Errorf("the IRT text %q lacks %q", s.IRTText, value)
			}
		}
	}
	return []sample{
		{id: "variant-repeats", raw: panel(30, obx("ST", cVar, "F508del~G542X"), interp(aOut)), want: "opened", check: names("F508del", "G542X")},
		{id: "variant-sub-ids", raw: panel(30, sub("1", "deltaF508"), sub("2", "c.1624G>T"), interp(aOut)), want: "opened", check: names("F508del", "G542X")},
		{id: "variant-same-twice-sub-ids", raw: panel(30, sub("1", "F508del"), sub("2", "F508del"), interp(aOut)), want: "opened", check: names("F508del", "F508del")},
		{id: "variant-same-twice-no-sub-id", raw: panel(30, obx("ST", cVar, "F508del"), obx("ST", cVar, "F508del"), interp(aOut)), want: "review", says: []string{"named twice"}},
		{id: "variant-pair", raw: panel(30, obx("ST", cVar, "F508del/G551D"), interp(aOut)), want: "opened", check: names("F508del", "G551D")},
		{id: "variant-coded", raw: panel(30, obx("CWE", cVar, "^F508del^L"), interp(aOut)), want: "opened", check: names("F508del")},
		{id: "variant-homozygous", raw: panel(30, obx("ST", cVar, "Homozygous"), interp(aOut)), want: "review", says: []string{"presumptive CF"}},
		{id: "variant-greek-delta", raw: panel(31, obx("ST", cVar, "ΔF508"), interp(aOut)), want: "opened", check: names("F508del")},
		{id: "variant-poly-t", raw: panel(31, obx("ST", cVar, "R117H;5T"), interp(aOut)), want: "opened", check: names("R117H;5T")},
		{id: "variant-unlisted", raw: panel(31, obx("ST", cVar, "c.3705T>G"), interp(aOut)), want: "opened", says: []string{"not in the table"}},
		{id: "variant-none-detected", raw: panel(31, obx("ST", cVar, "No variants detected in panel"), interp(aOut)), want: "opened", check: names()},
		{id: "variant-pending", raw: panel(31, obx("ST", cVar, "Pending"), interp(aOut)), want: "opened", says: []string{"not in yet"}},
		{id: "variant-sentence", raw: panel(31, obx("TX", cVar, "Two copies of the F508del variant were detected."), interp(aOut)), want: "opened|review"},
		{id: "variant-hgvs-escaped", raw: panel(31, obx("ST", cVar, `NM_000492.4:c.1521_1523del (p.Phe508del)`), interp(aOut)), want: "opened"},
		{id: "variant-no-interpretation", raw: panel(32, measured("NM", cIRT, "130", "ng/mL", "<60", "H"), obx("ST", cVar, "F508del")), want: "review", says: []string{"46769-6"}},
		{id: "variant-two-no-interpretation", raw: panel(32, obx("ST", cVar, "F508del"), obx("ST", cVar, "W1282X")), want: "review", says: []string{"presumptive CF", "F508del"}},
		{id: "variant-in-comment", raw: panel(32, interp(aOut), obx("TX", cComment, `Compound heterozygous for F508del and an unnamed variant.`)), want: "review", says: []string{"two alleles"}},
		{id: "variant-local-code", raw: panel(32, obx("ST", "CFTR1^CFTR allele 1^L", "F508del"), obx("ST", "CFTR2^CFTR allele 2^L", "G551D"), interp(aOut)), want: "review", says: []string{"CFTR1", "F508del"}},
		{id: "irt-comparator-sn", raw: panel(33, obx("SN", cIRT, ">^250"), interp(aOut)), want: "opened", check: irt(">250", "")},
		{id: "irt-comparator-st", raw: panel(33, measured("ST", cIRT, ">250", "ng/mL", "", "H"), interp(aOut)), want: "opened", check: irt(">250", "")},
		{id: "irt-comparator-nm", raw: panel(33, measured("NM", cIRT, ">250", "ng/mL", "", "H"), interp(aOut)), want: "opened", check: irt(">250", "")},
		{id: "irt-comma", raw: panel(33, measured("NM", cIRT, "118,4", "ng/mL", "", "H"), interp(aOut)), want: "opened", says: []string{"comma"}, check: irt("118,4", "")},
		{id: "irt-percentile", raw: panel(33, measured("ST", cIRT, "Top 4%", "", "< Daily 4%", "H"), interp(aOut)), want: "opened", check: irt("Top 4%", "")},
		{id: "irt-microgram", raw: panel(33, measured("NM", cIRT, "118.4", "ug/L", "<60", "H"), interp(aOut)), want: "opened",
			check: func(t *testing.T, cs []cases.Case) {
				if s := oneCase(t, cs).Referral.Screen; s.IRTNgML == nil || *s.IRTNgML != 118.4 {
					t.Error("ug/L is the same number as ng/mL")
				}
			}},
		{id: "irt-other-unit", raw: panel(33, measured("NM", cIRT, "4.9", "nmol/L", "<2.5", "H"), interp(aOut)), want: "opened", says: []string{"nmol/L"}, check: irt("4.9 nmol/L", "")},
		{id: "irt-no-unit", raw: panel(33, measured("NM", cIRT, "118", "", "<60", "H"), interp(aOut)), want: "opened", says: []string{"no unit"}, check: irt("118", "")},
		{id: "irt-twice", raw: panel(33, measured("NM", cIRT, "118", "ng/mL", "<60", "H"), measured("NM", cIRT, "104", "ng/mL", "<60", "H"), interp(aOut)), want: "opened", check: irt("118", "")},
		{id: "irt-unit-in-value", raw: panel(33, obx("ST", cIRT, "118.4 ng/mL"), interp(aOut)), want: "opened"},
		{id: "irt-words", raw: panel(33, obx("ST", cIRT, "high"), interp(aOut)), want: "opened", check: irt("high", "")},
		{id: "irt-only-high", raw: panel(34, measured("NM", cIRT, "118.4", "ng/mL", "<60", "H")), want: "review", says: []string{"46769-6"}},
		{id: "irt-only-low", raw: panel(34, measured("NM", cIRT, "21.4", "ng/mL", "<60", "N")), want: "review", says: []string{"46769-6"}},
		{id: "irt-exponent", raw: panel(34, measured("NM", cIRT, "1.184E2", "ng/mL", "<60", "H"), interp(aOut)), want: "opened", check: irt("1.184E2", "")},
	}
}
