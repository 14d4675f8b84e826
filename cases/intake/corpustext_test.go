package intake_test

import (
	"encoding/base64"
	"testing"

	"dunlin/cases"
)

// textSamples: reports that are only words, and reports as files in the message.
func textSamples() []sample {
	rep := func(segs ...string) string {
		return message(flat([]string{`MSH|^~\&|ABLIS|ABPHL|||20260320101500||ORU^R01|T1|P|2.3.1`, "PID|||50050^^^ABG||Plovermere^Rook||20260304|M", "OBR|1|P50|F50|NBSR^Newborn Screening Report^L|||202603080900|||||||||||||||202603120900|||F"}, segs)...)
	}
	pdf := base64.StdEncoding.EncodeToString([]byte("%PDF-1.4 not a real file"))
	return []sample{
		{id: "text-notes-out", raw: rep(nte("NEWBORN SCREENING REPORT"), nte("PKU .......... NORMAL"), nte("CYSTIC FIBROSIS .......... OUT OF RANGE"), nte("IRT 118 ng/mL")),
			want: "review", says: []string{"NTE", "CYSTIC FIBROSIS"}, not: []string{"no newborn screen"}},
		{id: "text-notes-normal", raw: rep(nte("PKU .......... NORMAL"), nte("CYSTIC FIBROSIS .......... NORMAL")), want: "review", says: []string{"NTE", "CYSTIC FIBROSIS"}, not: []string{"no newborn screen"}},
		{id: "text-lines-out", raw: rep("OBX|1|TX|RPT^Report^L||NEWBORN SCREENING REPORT||||||F", "OBX|2|TX|RPT^Report^L||CYSTIC FIBROSIS: OUT OF RANGE. SWEAT TEST ADVISED.||||||F"),
			want: "review", says: []string{"OBX[2]-5", "CYSTIC FIBROSIS"}, not: []string{"no newborn screen"}},
		{id: "text-formatted-out", raw: rep(`OBX|1|FT|RPT^Report^L||\.ce\NEWBORN SCREENING\.br\PKU: normal\.br\Cystic fibrosis: ABNORMAL\.br\Refer||||||F`), want: "review", says: []string{"OBX[1]-5", "Cystic fibrosis"}, not: []string{"no newborn screen"}},
		{id: "text-repeats-out", raw: rep(`OBX|1|TX|RPT^Report^L||NEWBORN SCREENING~PKU normal~CF abnormal, IRT 130||||||F`), want: "review", says: []string{"OBX[1]-5"}, not: []string{"no newborn screen"}},
		{id: "text-no-cf-word", raw: rep("OBX|1|TX|RPT^Report^L||Please call the laboratory about this infant.||||||F"), want: "review", not: []string{"no newborn screen and"}},
		{id: "text-under-known-panel", raw: panel(51, nte("OUT OF RANGE")), want: "review", says: []string{"46769-6"}},
		{id: "text-report-contradicts", raw: panel(51, interp(aIn), obx("FT", cReport, "Cystic fibrosis: OUT OF RANGE. Refer for sweat test.")), want: "review", says: []string{"OUT OF RANGE"}},
		{id: "text-story-contradicts", raw: message(flat(head(51), []string{obx("ST", cStory, `SUMMARY: Abnormal\.br\Cystic fibrosis: out of range`), obr(51, cCF), interp(aIn)})...), want: "review", says: []string{"out of range"}},
		{id: "text-story-agrees", raw: message(flat(head(51), []string{obx("ST", cStory, `SUMMARY: Abnormal\.br\Amino acids: out of range\.br\Cystic fibrosis: Normal\.br\Thyroid: Normal`), obr(51, cCF), interp(aIn)})...), want: "no-case"},
		{id: "file-pdf-beside-in-range", raw: panel(52, interp(aIn), obx("ED", cReport, "LAB^Application^PDF^Base64^"+pdf)), want: "no-case"},
		{id: "file-pdf-beside-out", raw: panel(52, interp(aOut), obx("ED", cReport, "LAB^Application^PDF^Base64^"+pdf)), want: "opened"},
		{id: "file-empty-data-beside-in-range", raw: panel(52, interp(aIn), obx("ED", cReport, "^TEXT^HTML^Base64^")), want: "no-case"},
		{id: "file-pdf-only", raw: rep("OBX|1|ED|PDF^Display format in PDF^AUSPDI||ABLIS^application^pdf^Base64^" + pdf + "||||||F"), want: "review", says: []string{"file"}, not: []string{"no newborn screen and"}},
		{id: "file-pdf-wrapped-base64", raw: rep("OBX|1|ED|PDF^Report^L||ABLIS^application^pdf^Base64^JVBERi0xLjQgbm90\nIGEgcmVhbCBmaWxl||||||F"), want: "review", says: []string{"not the start of a segment"}},
		{id: "file-reference-pointer", raw: rep(`OBX|1|RP|RPT^Report^L||report.pdf^ABLIS^Application^PDF||||||F`), want: "review", says: []string{"file"}, not: []string{"no newborn screen and"}},
	}
}

// severalSamples: several infants, twins, results in two messages, batches.
func severalSamples() []sample {
	infant := func(n int, results ...string) []string {
		return flat([]string{pid(n), nk1(n), orc(n), obr(n, cCF)}, results)
	}
	twin := func(n int, letter, order, answer string) string {
		return message(oru(n), fields("PID", 3, "TW"+letter+"^^^ABG^MR", 5, "Shoreline^BABYGIRL "+letter, 7, "20260305", 8, "F", 24, "Y", 25, order),
			fields("NK1", 1, "1", 2, "Shoreline^Gwendolen", 3, "MTH", 5, "^PRN^PH^^^555^5550777"), fields("OBR", 3, "FTW"+letter, 4, cCF, 25, "F"), interp(answer))
	}
	own := func(t *testing.T, cs []cases.Case) {
		for _, c := range cs {
			if c.Genotype != nil && len(c.Genotype.Variants) > 0 && c.Infant.Family != babies[0].family {
				t.Errorf("%s got the variants of another infant", c.Infant.Family)
			}
		}
	}
	split := message(flat(head(62), []string{obx("CWE", cOverall, "LA16204-2^One or more tests pending^LN")}, otherPanel(62, aIn))...)
	return []sample{
		{id: "several-two-infants", raw: message(flat([]string{oru(60)}, infant(60, obx("ST", cVar, "F508del"), interp(aOut)), infant(61, interp(aIn)))...), want: "opened no-case", check: own},
		{id: "several-two-infants-both-out", raw: message(flat([]string{oru(60)}, infant(60, obx("ST", cVar, "F508del"), interp(aOut)), infant(61, interp(aOut)))...), want: "opened opened", check: own},
		{id: "several-second-without-answer", raw: message(flat([]string{oru(60)}, infant(60, interp(aIn)), []string{pid(61), obr(61, "54090-6^Thyroid^LN")})...), want: "review review"},
		{id: "several-same-number", raw: message(flat([]string{oru(60)}, infant(60, interp(aIn)), []string{pid(61), obr(60, cCF), interp(aOut)})...), want: "review review", says: []string{"2 infants"}},
		{id: "several-pid-after-orc", raw: message(oru(60), pid(60), orc(60), pid(61), obr(61, cCF), interp(aIn)), want: "review review"},
		{id: "several-pid-repeated", raw: message(oru(60), pid(60), pid(60), obr(60, cCF), interp(aOut)), want: "opened|review opened|review"},
		{id: "several-pid-repeated-in-range", raw: message(oru(60), pid(60), pid(60), obr(60, cCF), interp(aIn)), want: "review review"},
		{id: "several-fifty-infants", raw: message(flat([]string{oru(60)}, func() (out []string) {
			for n := range 50 {
				b := infant(n, interp(aIn))
				out = append(out, b...)
			}
			return out
		}())...), want: repeat("no-case|review", 50)},
		{id: "several-twins", raw: twin(63, "A", "1", aIn) + twin(64, "B", "2", aOut), want: "no-case opened"},
		{id: "several-twins-both-out", raw: twin(63, "A", "1", aOut) + twin(64, "B", "2", aOut), want: "opened opened"},
		{id: "several-twins-no-order", raw: twin(63, "", "", aOut) + twin(64, " ", "", aOut), want: "opened duplicate|review|attached"},
		{id: "several-split-first", raw: split, want: "review"},
		{id: "several-split-second", before: []string{split}, raw: message(oru(63), pid(62), nk1(62), obr(62, cCF), interp(aOut)), want: "opened"},
		{id: "several-out-then-variants", before: []string{panel(64, interp(aOut))}, raw: message(oru(65), pid(64), nk1(64), obr(64, cCF), obx("ST", cVar, "F508del"), obx("ST", cVar, "G551D")), want: "review|attached", says: []string{"F508del"}},
		{id: "several-out-then-in-range", before: []string{panel(65, interp(aOut))}, raw: message(oru(66), pid(65), nk1(65), obr(65, cCF), interp(aIn)), want: "review", says: []string{"stays open"}},
		{id: "several-out-again-other-number", before: []string{panel(65, interp(aOut))}, raw: message(flat([]string{oru(66)}, head(65)[1:], []string{obr(65, cCF), interp(aOut)}, otherPanel(65, aIn))...), want: "duplicate"},
		{id: "several-same-bytes", before: []string{panel(65, interp(aOut))}, raw: panel(65, interp(aOut)), want: "duplicate"},
		{id: "several-in-range-then-out", before: []string{panel(65, interp(aIn))}, raw: message(oru(66), pid(65), nk1(65), obr(65, cCF), interp(aOut)), want: "opened"},
		{id: "batch-with-counts", raw: message(flat([]string{`FHS|^~\&|AB`, `BHS|^~\&|AB`}, lines(panel(66, interp(aIn))), lines(panel(67, interp(aOut))), []string{"BTS|2", "FTS|1"})...), want: "no-case opened", not: []string{"trailer"}},
		{id: "batch-wrong-count", raw: message(flat([]string{`FHS|^~\&|AB`, `BHS|^~\&|AB`}, lines(panel(66, interp(aIn))), []string{"BTS|9", "FTS|4"})...), want: "no-case", says: []string{"BTS-1", "says 9, found 1", "FTS-1"}},
		{id: "batch-no-trailers", raw: message(flat([]string{`FHS|^~\&|AB`, `BHS|^~\&|AB`}, lines(panel(66, interp(aOut))))...), want: "opened", says: []string{"no trailer"}},
		{id: "batch-two-batches", raw: message(flat([]string{`FHS|^~\&|AB`, `BHS|^~\&|AB`}, lines(panel(66, interp(aIn))), []string{"BTS|1", `BHS|^~\&|AB`}, lines(panel(67, interp(aOut))), []string{"BTS|1", "FTS|2"})...), want: "no-case opened", not: []string{"trailer"}},
		{id: "batch-only-bhs", raw: message(flat([]string{`BHS|^~\&|AB`}, lines(panel(66, interp(aOut))), []string{"BTS|1"})...), want: "opened"},
		{id: "batch-empty", raw: message(`FHS|^~\&|AB`, `BHS|^~\&|AB`, "BTS|0", "FTS|1"), want: "review", says: []string{"no message"}},
		{id: "batch-one-bad", raw: message(flat([]string{`BHS|^~\&|AB`}, lines(panel(66, interp(aOut))), []string{`MSH||||`, "PID|1", "BTS|2"})...), want: "opened review"},
		{id: "batch-mixed-kinds", raw: panel(66, interp(aOut)) + message(msh("ADT^A01", "2.3", 1), pid(67)) + panel(68, interp(aIn)), want: "opened refused no-case"},
		{id: "several-text-reports-differ", before: []string{message(oru(62), pid(62), obr(62, "NBS^Newborn Screen^L"), nte("Thyroid: normal"))},
			raw: message(oru(63), pid(62), obr(62, "NBS^Newborn Screen^L"), nte("Please call the laboratory")), want: "review"},
		{id: "several-no-numbers-no-dates", raw: message(oru(62), "PID|1||||Alderman^Wren", obr(62, cCF), interp(aOut), "PID|2||||Saltmarsh^Piper", obr(63, cCF), interp(aOut)), want: "review review"},
		{id: "several-pid-lost", raw: message(flat([]string{oru(60)}, infant(60, obx("ST", cVar, "F508del"), interp(aOut)), infant(61, obx("ST", cVar, "G551D"), interp(aOut))[1:])...), want: "review", says: []string{"NK1[2]", "may be missing"}},
		{id: "several-message-outside-frame", raw: "\x0b" + message(msh("ADT^A08", "2.3", 1), pid(7)) + "\x1c\r" + panel(66, interp(aOut)), want: "refused opened"},
		{id: "several-lines-before-header", raw: interp(aOut) + "\r" + pid(67) + "\r" + panel(66, interp(aIn)), want: "no-case review"},
		{id: "batch-lost-header", raw: message(flat([]string{oru(66), pid(66), obr(66, cCF), interp(aIn)}, lines(panel(67, interp(aOut)))[1:])...), want: "no-case opened"}, // as the standard allows

	}
}

func repeat(word string, n int) (out string) {
	for range n {
		out += word + " "
	}
	return out
}
