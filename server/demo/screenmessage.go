package demo

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// screen is one newborn-screen result as the Alder Bay laboratory sends it.
type screen struct {
	control   string
	accession string
	card      string
	sent      cases.Day
	collected cases.Day
	reported  cases.Day
	person    person
	irt       float64
	variants  []string
	answer    answer
	comment   string
	badCard   bool // the card was not usable
}

// answer is a coded answer of the cystic fibrosis interpretation, LOINC answer
// list LL840-0.
type answer struct{ code, text string }

// The answers the scenario uses.
var (
	urgentReferral = answer{"LA25817-0", "Out of range requiring immediate referral"}
	outOfRange     = answer{"LA18593-6", "Out of range"}
	inRange        = answer{"LA18592-8", "In range"}
	furtherCard    = answer{"LA12430-7", "Out of range requiring further dried blood spot testing for at least one condition"}
	secondTier     = answer{"LA12431-5", "Out of range requiring immediate second-tier testing for at least one condition"}
	borderline     = answer{"LA4259-3", "Borderline"}
	inconclusive   = answer{"LA9663-1", "Inconclusive"}
	unsatisfactory = answer{"LA16205-9", "Specimen unsatisfactory for at least one condition"}
)

// The laboratory and the program, with identifiers under the HL7 example arc.
const (
	laboratory = "Alder Bay Newborn Screening Laboratory"
	labID      = laboratory + "^2.16.840.1.113883.19.55^ISO"
	labApp     = "ABNBS^2.16.840.1.113883.19.55.1^ISO"
	programID  = "DUNLIN^2.16.840.1.113883.19.56.1^ISO|Alder Bay CF Follow-up^2.16.840.1.113883.19.56^ISO"
	profiles   = "LRI_NG_FRN_PROFILE^^2.16.840.1.113883.9.195.3.4^ISO~LRI_NDBS_COMPONENT^^2.16.840.1.113883.9.195.3.6^ISO"
)

// escape keeps HL7's separators out of a value.
var escape = strings.NewReplacer(`\`, `\E\`, "|", `\F\`, "^", `\S\`, "&", `\T\`, "~", `\R\`)

// stamp writes a day, and a time "HHMM" if any, as HL7 does; no offset, as most
// laboratories send it.
func stamp(d cases.Day, at string) string {
	return strings.ReplaceAll(d.String(), "-", "") + at
}

// segments collects the lines of a message; every line ends in a carriage return.
type segments struct {
	strings.Builder
	obx int
	s   screen
}

func (m *segments) line(format string, args ...any) {
	fmt.Fprintf(m, format, args...)
	m.WriteByte('\r')
}

// message writes the result as one ORU^R01 message.
func (s screen) message() string {
	m := &segments{s: s}
	p := s.person
	m.line(`MSH|^~\&|%s|%s|%s|%s||ORU^R01^ORU_R01|%s|P|2.5.1|||AL|AL||UNICODE UTF-8|||%s`,
		labApp, labID, programID, stamp(s.sent, "0005"), s.control, profiles)
	address := fmt.Sprintf("%s^^%s^AB^%s^USA^H^^%s", escape.Replace(p.street), p.place.name, p.place.postal, p.place.county)
	hospital := escape.Replace(p.hospital.name)
	multiple, order := "N", ""
	if p.plurality > 1 {
		multiple, order = "Y", fmt.Sprint(p.order)
	}
	m.line("PID|1||%s^^^%s&%s&ISO^MR||%s^%s^^^^^L|%s|%s|%s|||%s||||||||||M%s^^^%s&%s&ISO^MR|||%s|%s",
		p.record, hospital, p.hospital.oid, escape.Replace(p.family), escape.Replace(p.given),
		escape.Replace(p.mother.maiden), stamp(p.born, p.bornAt), p.sexCode(), address,
		p.motherRecord, hospital, p.hospital.oid, multiple, order)
	m.line("NK1|1|%s^%s^^^^^L|MTH^Mother^HL70063|%s|^PRN^PH^^1^555^%s|||||||||||||||%s^%s^ISO639",
		escape.Replace(p.mother.family), escape.Replace(p.mother.given), address, p.phone, p.language, languages[p.language])

	m.group(1, "54089-8^Newborn screening panel American Health Information Community (AHIC)^LN",
		"57128-1^Newborn screening report summary panel^LN")
	m.coded("57721-3^Reason for lab test in Dried blood spot", "LA12421-6", "Initial screen", "")
	quality, overall, positive := answer{"LA12432-3", "Acceptable"}, answer{"LA18944-1", "Screen is out of range for at least one condition"}, answer{"LA22202-8", "Cystic fibrosis"}
	none := answer{"LA137-2", "None"}
	switch {
	case s.badCard:
		quality, overall, positive = answer{"LA20627-8", "Specimen has uneven saturation"}, unsatisfactory, none
	case s.answer == inRange:
		overall, positive = answer{"LA12428-1", "All screening is in range for the conditions tested"}, none
	}
	m.coded("57718-9^Sample quality of Dried blood spot", quality.code, quality.text, "")
	m.coded("57130-7^Newborn screening report - overall interpretation", overall.code, overall.text, "A")
	m.coded("57131-5^Newborn conditions with positive markers [Identifier] in Dried blood spot", positive.code, positive.text, "")
	m.line("SPM|1|%s^%s||440500007^Blood spot specimen^SCT|||||||||||||%s|%s", m.subID("P"), m.subID("F"),
		stamp(s.collected, "0630"), stamp(s.collected+2, "0930"))

	m.group(2, "54089-8^Newborn screening panel American Health Information Community (AHIC)^LN",
		"57717-1^Newborn screen card data panel^LN")
	m.plain("ST", "57723-9^Unique bar code number of Current sample", s.card)
	if p.birthWeightG > 0 { // left blank on some cards
		m.number("8339-4^Birth weight Measured", fmt.Sprint(p.birthWeightG), "g^gram^UCUM", "", "")
		m.number("58229-6^Body weight Measured --when specimen taken", fmt.Sprint(p.birthWeightG*97/100), "g^gram^UCUM", "", "")
	}
	m.number("57714-8^Obstetric estimation of gestational age", fmt.Sprint(p.weeks), "wk^week^UCUM", "", "")
	if p.plurality > 1 {
		m.coded("57722-1^Birth plurality of Pregnancy", "LA12412-5", "Twins", "")
	} else {
		m.coded("57722-1^Birth plurality of Pregnancy", "LA12411-7", "Singleton", "")
	}
	m.plain("TX", "62330-6^Birth hospital facility name", p.hospital.name)
	m.plain("TX", "62324-9^Post-discharge provider name", p.care.name)
	m.plain("TX", "62326-4^Post-discharge provider practice name", p.care.practice)
	m.line("OBX|%d|XTN|62328-0^Post-discharge provider practice telephone number^LN||^WPN^PH^^1^555^%s||||||F", m.next(), p.care.phone)

	m.group(3, "57794-0^Newborn screening test results panel in Dried blood spot^LN",
		"54078-1^Cystic fibrosis newborn screening panel^LN")
	if !s.badCard {
		flag := "H"
		if s.irt < 60 {
			flag = "N"
		}
		m.number("48633-2^Trypsinogen I Free [Mass/volume] in Dried blood spot", fmt.Sprintf("%.1f", s.irt), "ng/mL^nanogram per milliliter^UCUM", "<60", flag)
	}
	for i, v := range s.variants {
		m.line("OBX|%d|ST|21654-9^CFTR gene mutations found [Identifier] in Blood or Tissue by Molecular genetics method Nominal^LN|%d|%s|||A|||F",
			m.next(), i+1, escape.Replace(v))
	}
	m.coded("46769-6^Cystic fibrosis newborn screen interpretation", s.answer.code, s.answer.text, "")
	m.plain("TX", "57707-2^Cystic fibrosis newborn screening comment/discussion", s.comment)
	return m.String()
}

// group opens an order group: ORC and OBR with the order and filler numbers.
func (m *segments) group(n int, panel, code string) {
	m.obx = 0
	placer := fmt.Sprintf("P%s^%s^%s^ISO", m.s.accession, escape.Replace(m.s.person.hospital.name), m.s.person.hospital.oid)
	filler := m.s.accession + "^" + labID
	m.line("ORC|RE|%s|%s||||||%s|||%s|||||||||%s^L||||||||||%s", placer, filler, stamp(m.s.reported, "0900"),
		provider(m.s.person.care), escape.Replace(m.s.person.hospital.name), panel)
	m.line("OBR|%d|%s|%s|%s|||%s|||||||||%s||||||%s|||F", n, placer, filler, code,
		stamp(m.s.collected, "0630"), provider(m.s.person.care), stamp(m.s.reported, "1000"))
}

// subID is an order or filler number as a specimen segment writes it.
func (m *segments) subID(kind string) string {
	if kind == "P" {
		return fmt.Sprintf("P%s&%s&%s&ISO", m.s.accession, escape.Replace(m.s.person.hospital.name), m.s.person.hospital.oid)
	}
	return m.s.accession + "&" + strings.ReplaceAll(labID, "^", "&")
}

// provider writes the infant's doctor as an ordering provider.
func provider(c practice) string {
	given, family, _ := strings.Cut(strings.TrimPrefix(c.name, "Dr. "), " ")
	return fmt.Sprintf("9999999999^%s^%s^^^Dr^^^NPI&2.16.840.1.113883.4.6&ISO^L^^^NPI", escape.Replace(family), escape.Replace(given))
}

func (m *segments) next() int { m.obx++; return m.obx }

func (m *segments) coded(code, answer, text, flag string) {
	m.line("OBX|%d|CWE|%s^LN||%s^%s^LN|||%s|||F|||%s|||||%s||||%s", m.next(), code, answer, escape.Replace(text), flag,
		stamp(m.s.collected, "0630"), stamp(m.s.reported, "0800"), laboratory)
}

func (m *segments) plain(kind, code, text string) {
	m.line("OBX|%d|%s|%s^LN||%s||||||F", m.next(), kind, code, escape.Replace(text))
}

func (m *segments) number(code, value, unit, limits, flag string) {
	m.line("OBX|%d|NM|%s^LN||%s|%s|%s|%s|||F", m.next(), code, value, unit, limits, flag)
}

// batch wraps the messages of one day in one file, as the laboratory sends them.
func batch(day cases.Day, messages []string) []byte {
	if len(messages) == 1 {
		return []byte(messages[0])
	}
	var b strings.Builder
	name := stamp(day, "")
	fmt.Fprintf(&b, "FHS|^~\\&|ABNBS|%s|||%s||nbs-%s.hl7||F%s\r", laboratory, stamp(day, "0005"), name, name)
	fmt.Fprintf(&b, "BHS|^~\\&|ABNBS|%s|||%s||||B%s\r", laboratory, stamp(day, "0005"), name)
	for _, m := range messages {
		b.WriteString(m)
	}
	fmt.Fprintf(&b, "BTS|%d\rFTS|1\r", len(messages))
	return []byte(b.String())
}
