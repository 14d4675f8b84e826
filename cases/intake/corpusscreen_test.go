package intake_test

import (
	"testing"

	"dunlin/cases"
)

// oneCase checks that one case was opened and gives it.
func oneCase(t *testing.T, cs []cases.Case) cases.Case {
	t.Helper()
	if len(cs) != 1 {
		t.Fatalf("%d cases, want 1", len(cs))
	}
	return cs[0]
}

// screenSamples are whole reports in the style of the national guides: one order for
// the summary, one for the card, one for each disorder.
func screenSamples() []sample {
	return []sample{
		{id: "screen-out-two-variants", raw: panel(1, measured("NM", cIRT, "118.4", "ng/mL", "<60", "H"), obx("ST", cVar, "F508del"), obx("ST", cVar, "G551D"), interp(aNow)),
			want: "opened", check: func(t *testing.T, cs []cases.Case) {
				c := oneCase(t, cs)
				wantNames(t, c, "F508del", "G551D")
				if c.Referral.Screen.IRTNgML == nil || *c.Referral.Screen.IRTNgML != 118.4 {
					t.Error("the IRT was not taken over")
				}
			}},
		{id: "screen-out-one-variant", raw: panel(2, obx("ST", cVar, "R117H"), interp(aOut)), want: "opened"},
		{id: "screen-in-range", raw: panel(3, measured("NM", cIRT, "21.0", "ng/mL", "<60", "N"), interp(aIn)), want: "no-case"},
		{id: "screen-in-range-comment-normal", raw: panel(4, interp(aIn), obx("FT", cComment, "Normal")), want: "no-case"},
		{id: "screen-in-range-boilerplate", raw: panel(4, interp(aIn),
			obx("TX", cComment, "IRT within normal limits. A normal screen does not exclude cystic fibrosis. If symptoms occur, sweat testing is recommended. DNA testing is performed only if the IRT is elevated.")),
			want: "no-case"},
		{id: "screen-in-range-irt-high-no-variant", raw: panel(5, measured("NM", cIRT, "66.1", "ng/mL", "<60", "H"), obx("ST", cVar, "None detected"), interp(aIn)), want: "no-case"},
		{id: "screen-in-range-other-disorder-out", raw: message(flat(head(6), []string{obx("CWE", cOverall, "LA18944-1^Screen is out of range for at least one condition^LN"),
			obx("CWE", cPos, "LA22279-6^SMA^LN"), obr(6, cCF), interp(aIn)}, otherPanel(6, aOut))...), want: "no-case"},
		{id: "screen-in-range-cf-among-tested", raw: message(flat(head(6), []string{obx("CWE", cTested, "LA12537-9^CF^LN"), obx("CWE", cPos, aNone), obr(6, cCF), interp(aIn)})...), want: "no-case"},
		{id: "screen-in-range-second-screen-old-card", raw: panel(7, obx("CWE", "57721-3^Reason for lab test^LN", "LA12425-7^Subsequent screen^LN"), obx("ST", "57711-4^First card^LN", "Not Applicable"), interp(aIn)), want: "no-case"},
		{id: "screen-cf-panel-first", raw: message(flat([]string{oru(7), pid(7), nk1(7), obr(7, cCF), interp(aOut)}, head(7)[3:], otherPanel(7, aIn))...), want: "opened"},
		{id: "screen-cf-panel-last", raw: message(flat(head(7), otherPanel(7, aIn), otherPanel(7, aOut), []string{obr(7, cCF), interp(aOut)})...), want: "opened"},
		{id: "screen-cf-panel-missing-all-in-range", raw: message(flat(head(8), []string{obx("CWE", cOverall, "LA12428-1^All screening is in range^LN")}, otherPanel(8, aIn))...),
			want: "review", says: []string{"no cystic fibrosis interpretation", "46769-6"}},
		{id: "screen-cf-panel-missing-cf-positive", raw: message(flat(head(8), []string{obx("CWE", cOverall, "LA18944-1^Screen is out of range for at least one condition^LN"), obx("CWE", cPos, "LA22202-8^Cystic fibrosis^LN")}, otherPanel(8, aIn))...), want: "opened"},
		{id: "screen-cf-equivocal-only", raw: message(flat(head(8), []string{obx("CWE", cEq, "LA22202-8^Cystic fibrosis^LN")}, otherPanel(8, aIn))...), want: "review", says: []string{"equivocal"}},
		{id: "screen-in-range-cf-positive", raw: message(flat(head(9), []string{obx("CWE", cPos, "LA22202-8^Cystic fibrosis^LN"), obr(9, cCF), interp(aIn)})...), want: "review", says: []string{"among the positive conditions"}},
		{id: "screen-in-range-cf-positive-in-text", raw: message(flat(head(9), []string{obx("TX", cPos, "PKU, CF"), obr(9, cCF), interp(aIn)})...), want: "review", says: []string{"among the positive conditions"}},
		{id: "screen-in-range-comment-contradicts", raw: panel(10, interp(aIn), obx("TX", cComment, "IRT elevated. OUT OF RANGE. Refer to CF center for sweat test.")), want: "review", says: []string{"comment"}},
		{id: "screen-in-range-note-contradicts", raw: panel(10, interp(aIn), nte("Presumptive positive for cystic fibrosis; sweat chloride testing is recommended.")), want: "review", says: []string{"sweat chloride testing"}},
		{id: "screen-in-range-flag-abnormal", raw: panel(10, fields("OBX", 2, "CWE", 3, cInterp, 5, aIn, 8, "A", 11, "F")), want: "no-case", says: []string{"flag"}},
		{id: "screen-out-flag-normal", raw: panel(10, fields("OBX", 2, "CWE", 3, cInterp, 5, aOut, 8, "N", 11, "F")), want: "opened", says: []string{"flag"}},
		{id: "screen-out-flag-other-table", raw: panel(11, fields("OBX", 2, "CWE", 3, cInterp, 5, aOut, 8, "ABN^Abnormal^HL70078~>", 11, "F")), want: "opened"},
		{id: "screen-in-range-meconium-ileus", raw: panel(11, obx("TX", "67703-9^Other factors^LN", "Meconium ileus, surgery on day 2"), interp(aIn)), want: "review", says: []string{"meconium ileus"}},
		{id: "screen-in-range-unsatisfactory", raw: panel(11, obx("CWE", cQuality, "LA20627-8^Specimen has uneven saturation^LN"), interp(aIn)), want: "review", says: []string{"not acceptable"}},
		{id: "screen-in-range-specimen-rejected", raw: message(flat(head(11), []string{obr(11, cCF), interp(aIn), fields("SPM", 1, "1", 4, "440500007^Blood spot specimen^SCT", 21, "RC^Clotting^HL70490")})...), want: "review"},
		{id: "screen-in-range-variant-named", raw: panel(12, obx("ST", cVar, "F508del"), interp(aIn)), want: "review", says: []string{"F508del"}},
		{id: "screen-premature-transfused", raw: panel(12, obx("DT", "62317-3^Date of last blood product transfusion^LN", "20260313"), interp(aOut)), want: "opened", says: []string{"Blood was given"}},
		{id: "screen-wrong-check-digit", raw: panel(13, obx("CWE", "46769-8^Cystic fibrosis newborn screen interpretation^LN", aOut)), want: "review", says: []string{"46769-6"}},
		{id: "screen-wrong-check-digit-in-range", raw: panel(13, obx("CWE", "46769-8^Cystic fibrosis newborn screen interpretation^LN", aIn)), want: "review", says: []string{"46769-6"}},
		{id: "screen-code-without-system", raw: panel(14, obx("CWE", "46769-6", aOut)), want: "opened"},
		{id: "screen-code-in-second-coding", raw: panel(14, obx("CE", "CFI^CF interp^99AB^46769-6^Cystic fibrosis newborn screen interpretation^LN", "ABN^Abnormal^99AB^LA18593-6^Out of range^LN")), want: "opened"},
		{id: "screen-code-said-local", raw: panel(14, obx("CE", "46769-6^Interpretation^L", aOut)), want: "opened|review", not: []string{"no newborn screen"}},
		{id: "screen-code-said-local-in-range-elsewhere", raw: message(oru(14), pid(14), obr(14, "NBS^Panel^L"), obx("CE", "46769-6^Interpretation^L", aOut)), want: "opened|review", not: []string{"no newborn screen"}},
		{id: "screen-panel-code-as-result", raw: message(flat(head(15), []string{obr(15, "54089-8^Newborn screening panel^LN"), obx("ST", cCF, "OUT OF RANGE")})...), want: "opened|review", says: []string{"OUT OF RANGE"}},
		{id: "screen-panel-code-as-result-beside-in-range", raw: panel(15, interp(aIn), obx("ST", cCF, "ABNORMAL - REFER")), want: "review", says: []string{"ABNORMAL"}},
		{id: "screen-died", raw: message(flat([]string{oru(16), pid(16) + "||||||Y"}, head(16)[2:], []string{obr(16, cCF), interp(aOut)})...), want: "opened", says: []string{"died"}},
		{id: "screen-no-birth-date", raw: message(oru(17), "PID|1||MRN00017^^^ABG^MR||Kelpwick^Linnet|||F", obr(17, cCF), interp(aOut)), want: "review", says: []string{"PID[1]-7", "birth date is missing"}},
		{id: "screen-no-pid", raw: message(oru(17), obr(17, cCF), interp(aOut)), want: "review", says: []string{"PID"}},
		{id: "screen-no-pid-in-range", raw: message(oru(17), obr(17, cCF), interp(aIn)), want: "review", says: []string{"PID"}},
		{id: "screen-empty-pid", raw: message(oru(17), "PID|", obr(17, cCF), interp(aIn)), want: "review", says: []string{"not identified"}},
		{id: "screen-born-in-words", raw: message(oru(18), "PID|1||M18^^^ABG^MR||Heronsgate^Merle||March 4 2026|M", obr(18, cCF), interp(aOut)), want: "review", says: []string{"PID[1]-7", "March 4 2026"}},
		{id: "screen-born-year-only", raw: message(oru(18), "PID|1||M18^^^ABG^MR||Heronsgate^Merle||2026|M", obr(18, cCF), interp(aOut)), want: "review", says: []string{"PID[1]-7"}},
		{id: "screen-born-in-future", raw: message(oru(18), "PID|1||M18^^^ABG^MR||Heronsgate^Merle||20270304|M", obr(18, cCF), interp(aOut)), want: "review", says: []string{"future"}},
		{id: "screen-born-years-ago", raw: message(oru(18), "PID|1||M18^^^ABG^MR||Heronsgate^Merle||19930304|M", obr(18, cCF), interp(aOut)), want: "review", says: []string{"years before"}},
		{id: "screen-marked-test", raw: message(flat([]string{`MSH|^~\&|NBSLAB|Alder Bay PHL|||20260320||ORU^R01|T1|T|2.5.1`}, head(19)[1:], []string{obr(19, cCF), interp(aOut)})...), want: "opened",
			check: func(t *testing.T, cs []cases.Case) { eq(t, "test message", oneCase(t, cs).TestMessage, true) }},
	}
}

// answerSamples: every answer of LL840-0, in codes and in words, and the states of
// a result (table 0085).
func answerSamples() []sample {
	ss := []sample{
		{id: "answer-in-range-code-only", raw: panel(20, interp("LA18592-8")), want: "no-case"},
		{id: "answer-screen-negative", raw: panel(20, interp("LA34518-3^Screen Negative^LN")), want: "no-case"},
		{id: "answer-in-range-beside-local", raw: panel(20, interp("N^Normal^99AB^LA18592-8^In range^LN")), want: "no-case"},
		{id: "answer-in-range-trailing-blanks", raw: panel(20, interp("LA18592-8 ^In range  ^LN ")), want: "no-case"},
		{id: "answer-in-range-as-st", raw: panel(20, obx("ST", cInterp, "LA18592-8")), want: "no-case"},
		{id: "answer-immediate", raw: panel(21, interp(aNow)), want: "opened"},
		{id: "answer-deferred", raw: panel(21, interp("LA18594-4^Out of range requiring deferred follow-up^LN")), want: "opened"},
		{id: "answer-lower-case", raw: panel(21, interp("la18593-6^out of range^ln")), want: "opened"},
		{id: "answer-further-card", raw: panel(21, interp("LA12430-7^Out of range requiring further dried blood spot testing^LN")), want: "review", says: []string{"card is wanted"}},
		{id: "answer-second-tier", raw: panel(21, interp("LA12431-5^Out of range requiring immediate second-tier testing^LN")), want: "review", says: []string{"second tier"}},
		{id: "answer-pending", raw: panel(21, interp("LA16204-2^One or more tests pending^LN")), want: "review", says: []string{"pending"}},
		{id: "answer-inconclusive", raw: panel(22, interp("LA9663-1^Inconclusive^LN")), want: "review", says: []string{"Inconclusive"}},
		{id: "answer-indeterminate", raw: panel(22, interp("LA11884-6^Indeterminate^LN")), want: "review", says: []string{"Indeterminate"}},
		{id: "answer-borderline", raw: panel(22, interp("LA4259-3^Borderline^LN")), want: "review", says: []string{"Borderline"}},
		{id: "answer-not-tested", raw: panel(22, interp("LA13538-6^Not tested^LN")), want: "review", says: []string{"not tested"}},
		{id: "answer-unsatisfactory", raw: panel(22, interp("LA16205-9^Specimen unsatisfactory^LN")), want: "review", says: []string{"new card"}},
		{id: "answer-unknown-la-code", raw: panel(22, interp("LA99999-9^Something^LN")), want: "review", says: []string{"LA99999-9"}},
		{id: "answer-wrong-check-digit", raw: panel(22, interp("LA18592-9^In range^LN")), want: "review", says: []string{"LA18592-8"}},
		{id: "answer-empty", raw: panel(22, obx("CWE", cInterp, "")), want: "review", says: []string{"empty"}},
		{id: "answer-null", raw: panel(22, obx("CWE", cInterp, `""`)), want: "review", says: []string{"empty"}},
		{id: "answer-original-text-only", raw: panel(23, interp("^^^^^^^^Abnormal")), want: "opened|review"},
		{id: "answer-code-in-text-out", raw: panel(23, interp("LA18592-8^Out of range^LN")), want: "review", says: []string{"LA18592-8"}},
		{id: "answer-code-out-text-in", raw: panel(23, interp("LA18593-6^In range^LN")), want: "review", says: []string{"LA18593-6"}},
		{id: "answer-two-that-disagree", raw: panel(23, interp(aOut), interp(aIn)), want: "review", says: []string{"disagree"}},
		{id: "answer-repeats-that-disagree", raw: panel(23, interp(aOut+"~"+aIn)), want: "review", says: []string{"disagree"}},
		{id: "answer-in-range-twice", raw: panel(23, interp(aIn), interp(aIn)), want: "review", says: []string{"two infants"}},
		{id: "answer-out-twice", raw: panel(23, interp(aOut), interp(aNow)), want: "review", says: []string{"OBX[5]-4", "two infants"}},
		{id: "answer-positive-condition", raw: panel(23, interp("190905008^Cystic fibrosis^SCT")), want: "review"},
	}
	for words, want := range map[string]string{
		"Out of range": "opened", "OUT OF RANGE": "opened", "Abnormal": "opened", "POSITIVE": "opened", "Presumptive positive": "opened",
		"Out-of-range, refer": "opened", "Normal": "review", "In Range": "review", "NEGATIVE": "review", "Borderline": "review",
		"Not out of range": "review", "Equivocal": "review", "See report": "review", "QNS": "review", "Pending second-tier": "review",
		"Possible cystic fibrosis": "review", "Elevated IRT": "review", "Screen positive": "opened", "Abnormal for another disorder": "review",
		"Probable carrier": "review", "DETECTED": "review", "1": "review", "Y": "review", "????": "review", "异常": "review",
	} {
		for _, typ := range []string{"ST", "TX", "CWE"} {
			value := words
			if typ == "CWE" {
				value = "^" + words
			}
			ss = append(ss, sample{id: "words-" + typ + "-" + words, raw: panel(24, obx(typ, cInterp, value)), want: want})
		}
	}
	for state, want := range map[string]string{
		"P": "no-case", "C": "review", "D": "review", "W": "review", "X": "review", "I": "review", "N": "review", "O": "review",
	} {
		ss = append(ss, sample{id: "state-in-range-" + state, raw: panel(25, stated("CWE", cInterp, aIn, state)), want: want})
	}
	for state, want := range map[string]string{
		"P": "opened", "C": "opened|review", "D": "review", "W": "review", "X": "review", "I": "review", "S": "opened", "U": "opened", "": "opened", "?": "opened|review",
	} {
		ss = append(ss, sample{id: "state-out-" + state, raw: panel(25, stated("CWE", cInterp, aOut, state)), want: want})
	}
	return append(ss,
		sample{id: "state-in-range-empty-last", raw: message(oru(25), pid(25), obr(25, cCF), stated("CWE", cInterp, aIn, "")), want: "review", says: []string{"final state"}},
		sample{id: "state-order-not-done", raw: message(flat(head(25), []string{fields("OBR", 4, cCF, 25, "X"), interp(aIn)})...), want: "review", says: []string{"not done"}},
		sample{id: "state-order-corrected", raw: message(flat(head(25), []string{fields("OBR", 3, "F0025", 4, cCF, 25, "C"), interp(aIn)})...), want: "review", says: []string{"corrected"}},
	)
}
