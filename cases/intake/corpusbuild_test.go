package intake_test

import (
	"fmt"
	"strings"
)

// The pieces of the made-up messages. Numbers n choose an invented infant.

// babies are invented families of Alder Bay.
var babies = []struct{ family, given, mother, sex string }{
	{"Alderman", "Wren", "Thessaly", "F"}, {"Saltmarsh", "Piper", "Odile", "F"}, {"Quillfeather", "BABYBOY", "Maren", "M"},
	{"Tidewater", "GIRL", "Ysolde", "F"}, {"Plovermere", "Rook", "Isaura", "M"}, {"Sandspit", "Baby Girl", "Corisande", "F"},
	{"Heronsgate", "Merle", "Bryony", "M"}, {"Kelpwick", "Linnet", "Oriel", "F"}, {"Driftwood-Lowe", "BOY", "Zinnia", "M"},
	{"O'Shoal", "Teal", "Anouk", "F"}, {"Brackwater", "Finch", "Sunniva", "M"}, {"Gullrock", "BG", "Petra", "F"},
}

// bornOn gives the birth date of infant n, in March 2026.
func bornOn(n int) string { return fmt.Sprintf("202603%02d", 1+n%12) }

// message joins segments as the standard says: each ends with a carriage return.
func message(segs ...string) string { return strings.Join(segs, "\r") + "\r" }

// flat puts lists of segments behind each other.
func flat(lists ...[]string) (out []string) {
	for _, l := range lists {
		out = append(out, l...)
	}
	return out
}

// fields writes a segment from numbered fields: fields("OBR", 1, "1", 4, "code").
func fields(name string, pairs ...any) string {
	var f []string
	for i := 0; i+1 < len(pairs); i += 2 {
		n := pairs[i].(int)
		for len(f) < n {
			f = append(f, "")
		}
		f[n-1] = pairs[i+1].(string)
	}
	return name + "|" + strings.Join(f, "|")
}

func msh(kind, version string, n int) string {
	return fmt.Sprintf(`MSH|^~\&|NBSLAB|Alder Bay Public Health Laboratory|DUNLIN|CF Follow-up|20260320101500||%s|AB%04d|P|%s`, kind, n, version)
}

func oru(n int) string { return msh("ORU^R01^ORU_R01", "2.5.1", n) }

func pid(n int) string {
	b := babies[n%len(babies)]
	return fields("PID", 1, "1", 3, fmt.Sprintf("MRN%05d^^^Alder Bay General&1.2.3&ISO^MR", n), 5, b.family+"^"+b.given+"^^^^^L",
		7, bornOn(n)+"0415", 8, b.sex, 11, "7 Jetty Row^^Alder Bay^AB^00001", 24, "N")
}

func nk1(n int) string {
	b := babies[n%len(babies)]
	return fields("NK1", 1, "1", 2, b.family+"^"+b.mother, 3, "MTH^Mother^HL70063", 4, "7 Jetty Row^^Alder Bay^AB^00001",
		5, fmt.Sprintf("^PRN^PH^^^555^555%04d", n), 16, "19960412")
}

func orc(n int) string {
	return fields("ORC", 1, "RE", 2, fmt.Sprintf("P%04d^Alder Bay General", n), 3, fmt.Sprintf("F%04d^Alder Bay Public Health Laboratory", n))
}

func obr(n int, code string) string {
	return fields("OBR", 1, "1", 2, fmt.Sprintf("P%04d^Alder Bay General", n), 3, fmt.Sprintf("F%04d^Alder Bay Public Health Laboratory", n),
		4, code, 7, "202603140630", 14, "202603160900", 22, "202603190900", 25, "F")
}

// obx writes a final result.
func obx(typ, code, value string) string {
	return fields("OBX", 1, "1", 2, typ, 3, code, 5, value, 11, "F")
}

// stated writes a result with a state of its own.
func stated(typ, code, value, state string) string {
	return fields("OBX", 1, "1", 2, typ, 3, code, 5, value, 11, state)
}

// measured writes a result with unit, range and flag.
func measured(typ, code, value, unit, rng, flag string) string {
	return fields("OBX", 1, "1", 2, typ, 3, code, 5, value, 6, unit, 7, rng, 8, flag, 11, "F")
}

func nte(text string) string { return fields("NTE", 1, "1", 3, text) }

// Codes as they stand in messages.
const (
	cSummary = "57128-1^Newborn screening report summary panel^LN"
	cCard    = "57717-1^Newborn screen card data panel^LN"
	cCF      = "54078-1^Cystic fibrosis newborn screening panel^LN"
	cInterp  = "46769-6^Cystic fibrosis newborn screen interpretation^LN"
	cIRT     = "48633-2^Trypsinogen I Free [Mass/volume] in Dried blood spot^LN"
	cVar     = "21654-9^CFTR gene mutations found [Identifier] in Blood or Tissue by Molecular genetics method Nominal^LN"
	cComment = "57707-2^Cystic fibrosis newborn screening comment/discussion^LN"
	cOverall = "57130-7^Newborn screening report - overall interpretation^LN"
	cPos     = "57131-5^Newborn conditions with positive markers [Identifier] in Dried blood spot^LN"
	cEq      = "57720-5^Newborn conditions with equivocal markers [Identifier] in Dried blood spot^LN"
	cTested  = "57719-7^Conditions tested for in this newborn screening study [Identifier] in Dried blood spot^LN"
	cQuality = "57718-9^Sample quality of Dried blood spot^LN"
	cCardNo  = "57723-9^Unique bar code number of Current sample^LN"
	cWeight  = "8339-4^Birth weight Measured^LN"
	cReport  = "57129-9^Full newborn screening summary report for display or printing^LN"
	cStory   = "57724-7^Newborn screening short narrative summary^LN"

	aIn   = "LA18592-8^In range^LN"
	aOut  = "LA18593-6^Out of range^LN"
	aNow  = "LA25817-0^Out of range requiring immediate referral^LN"
	aNone = "LA137-2^None^LN"
)

// head is what stands before the cystic fibrosis panel in a whole report.
func head(n int) []string {
	return []string{oru(n), pid(n), nk1(n), orc(n), obr(n, cSummary), obx("CWE", cQuality, "LA12432-3^Acceptable^LN"),
		obr(n, cCard), obx("ST", cCardNo, fmt.Sprintf("AB2026%06d", n)), measured("NM", cWeight, "3120", "g", "", "")}
}

// otherPanel is a panel for another disorder.
func otherPanel(n int, answer string) []string {
	return []string{obr(n, "54090-6^Thyroid newborn screening panel^LN"), obx("CWE", "46762-1^Congenital hypothyroidism newborn screen interpretation^LN", answer)}
}

// panel is a whole message with the given results in the cystic fibrosis panel.
func panel(n int, results ...string) string {
	return message(flat(head(n), []string{obr(n, cCF)}, results, otherPanel(n, aIn))...)
}

// interp is an answer to the cystic fibrosis interpretation.
func interp(answer string) string { return obx("CWE", cInterp, answer) }

// list writes lines of a text file.
func list(lines ...string) string { return strings.Join(lines, "\n") + "\n" }
