package intake_test

import (
	"strings"
)

// labSamples: results that have nothing to do with a newborn screen or a sweat test.
// They wait, with a plain reason that says what they are about.
func labSamples() []sample {
	adult := "PID|1||A1^^^AB^MR||Pierhead^Cornelius||19610712|M"
	lab := func(order string, results ...string) string {
		return message(flat([]string{oru(110), adult, "PV1|1|O", "ORC|RE|1|2", "OBR|1|1|2|" + order + "|||202603280900|||||||||||||||202603281200|||F"}, results)...)
	}
	baby := func(order string, results ...string) string {
		return message(flat([]string{oru(111), pid(111), "OBR|1|1|2|" + order + "|||202603280900|||||||||||||||202603281200|||F"}, results)...)
	}
	plain := []string{"OBR[1]-4", "no newborn screen", "no sweat test"}
	var ss []sample
	add := func(id, raw string, says ...string) {
		ss = append(ss, sample{id: "lab-" + id, raw: raw, want: "review|refused", says: append(says, plain...)})
	}
	add("blood-count", lab("58410-2^CBC panel^LN", measured("NM", "718-7^Hemoglobin^LN", "13.2", "g/dL", "12-16", "N")), "CBC panel")
	add("serum-chloride", lab("24321-2^Basic metabolic panel^LN", measured("NM", "2075-0^Chloride [Moles/volume] in Serum or Plasma^LN", "103", "mmol/L", "98-107", "N")), "metabolic")
	add("urine-chloride", lab("CHEM^Urine chemistry^L", measured("NM", "2078-4^Chloride [Moles/volume] in Urine^LN", "150", "mmol/L", "", "H")))
	add("culture", lab("630-4^Bacteria identified in Urine by Culture^LN", obx("CWE", "630-4^Bacteria identified^LN", "112283007^Escherichia coli^SCT"), nte("No growth of other organisms.")))
	add("pathology-text", lab("11529-5^Surgical pathology study^LN", obx("FT", "22637-3^Diagnosis^LN", `Skin, shave:\.br\Benign nevus.`)))
	add("radiology", lab("36643-5^Chest X-ray^LN", obx("TX", "36643-5^Chest X-ray^LN", "Lungs are clear. No pleural effusion.")))
	add("covid", lab("94500-6^SARS-CoV-2 RNA^LN", obx("CWE", "94500-6^SARS-CoV-2 RNA^LN", "260373001^Detected^SCT")))
	add("newborn-bilirubin", baby("BILI^Bilirubin^L", measured("NM", "1975-2^Bilirubin.total^LN", "11.2", "mg/dL", "", "H")))
	add("newborn-blood-group", baby("882-1^ABO and Rh group^LN", obx("CWE", "882-1^ABO group^LN", "278149003^A positive^SCT")))
	add("lead", lab("LEAD^Lead, capillary^L", measured("NM", "77307-7^Lead^LN", "2.1", "ug/dL", "", "N")))
	add("drug-screen", lab("DRUG^Drug screen^L", obx("ST", "AMP^Amphetamine screen^L", "Negative")))
	add("vital-signs", lab("VS^Vital signs^L", measured("NM", "8867-4^Heart rate^LN", "72", "/min", "", "")))
	add("waveform-device", lab("GLU^Glucose^L", measured("NM", "2345-7^Glucose^LN", "101", "mg/dL", "", "")))
	add("no-results", lab("58410-2^CBC panel^LN"))
	ss = append(ss,
		sample{id: "lab-hearing-screen", raw: baby("54111-0^Newborn hearing loss panel^LN", obx("CWE", "54109-4^Newborn hearing screen of Ear - right^LN", "LA10392-1^Pass^LN")), want: "review|refused", says: []string{"OBR[1]-4", "hearing"}},
		sample{id: "lab-cchd-screen", raw: baby("73700-7^CCHD newborn screening panel^LN", obx("CWE", "73700-7^CCHD newborn screening interpretation^LN", "LA18592-8^Pass^LN")), want: "review|refused", says: []string{"OBR[1]-4"}},
		sample{id: "lab-carrier-test-adult", raw: lab("38404-0^CFTR gene mutation analysis^LN", obx("ST", cVar, "F508del heterozygous")), want: "review", says: []string{"F508del"}},
		sample{id: "lab-carrier-test-adult-negative", raw: lab("CFCAR^Cystic fibrosis carrier screen^L", obx("ST", "CFCAR^Cystic fibrosis carrier screen^L", "Negative")), want: "review", says: []string{"carrier"}},
		sample{id: "lab-no-order", raw: message(oru(110), adult, measured("NM", "718-7^Hemoglobin^LN", "13.2", "g/dL", "", "N")), want: "review|refused", says: []string{"OBX[1]-3", "no newborn screen"}},
		sample{id: "lab-only-pid", raw: message(oru(110), adult), want: "review|refused", says: []string{"no newborn screen"}},
		sample{id: "lab-heel-stick-glucose", raw: baby("GLUH^Glucose, heel stick^L", measured("NM", "GLUH^Glucose, heel stick^L", "61", "mg/dL", "", "")), want: "review|refused", says: plain},
	)
	return ss
}

// typeSamples: messages of other types. They are refused with what they are; what
// holds a result about cystic fibrosis is never refused, whatever it calls itself.
func typeSamples() []sample {
	var ss []sample
	for kind, word := range map[string]string{
		"ADT^A01": "admission", "ADT^A08^ADT_A01": "admission", "ADT^A31": "admission", "ORM^O01^ORM_O01": "order", "OML^O21^OML_O21": "order",
		"SIU^S12": "appointment", "SIU^S15": "appointment", "VXU^V04^VXU_V04": "vaccination", "DFT^P03": "charge", "BAR^P01": "BAR", "MFN^M02": "master file",
		"MDM^T02": "document", "ACK": "answer", "ACK^R01": "answer", "QBP^Q11": "", "RSP^K11": "", "QRY^A19": "query", "RDE^O11": "", "PPR^PC1": "", "RAS^O17": "",
		"NMD^N02": "", "XYZ^Z01": "another type", "CRM^C01": "", "SRM^S01": "", "RGV^O15": "",
	} {
		ss = append(ss, sample{id: "type-" + kind, raw: message(msh(kind, "2.5.1", 120), "EVN|A01|20260320", pid(120), "PV1|1|I|NUR^1^2"), want: "refused", says: []string{"MSH-9", word, kind}})
	}
	holds := []string{pid(121), nk1(121), obr(121, cCF), interp(aOut)}
	for _, kind := range []string{"OUL^R21^OUL_R21", "OUL^R22", "ORU^R30", "ORU^R32", "ORU^R03", "ORU^W01", "ORF^R04", "MDM^T02", "ORM^O01", "OML^O21", "ADT^A01", "REF^I12", "XYZ^Z01", "ORU^R40", "RSP^Z90"} {
		ss = append(ss, sample{id: "type-holds-cf-" + kind, raw: message(append([]string{msh(kind, "2.5.1", 121)}, holds...)...), want: "opened|review", says: []string{"MSH-9"}})
	}
	return append(ss,
		sample{id: "type-holds-cf-in-words", raw: message(msh("MDM^T02^MDM_T02", "2.5.1", 122), pid(122), "TXA|1|NBS|TX", "OBX|1|TX|RPT^Report^L||CYSTIC FIBROSIS SCREEN: OUT OF RANGE||||||F"), want: "review", says: []string{"MSH-9", "OBX[1]"}},
		sample{id: "type-holds-cf-in-note", raw: message(msh("MDM^T02^MDM_T02", "2.5.1", 122), pid(122), "TXA|1|NBS|TX", nte("Cystic fibrosis newborn screen abnormal, IRT 140")), want: "review", says: []string{"MSH-9", "NTE[1]"}},
		sample{id: "type-referral", raw: message(msh("REF^I12^REF_I12", "2.5.1", 122), "RF1|A|R|", "PRD|RP|Reed^Alma", pid(122), "DG1|1||P09.4^Abnormal findings on neonatal screening for cystic fibrosis^I10"), want: "review", says: []string{"MSH-9", "referral"}},
		sample{id: "type-order-for-screen", raw: message(msh("OML^O21^OML_O21", "2.5.1", 122), pid(122), "ORC|NW|P1", "OBR|1|P1||54089-8^Newborn screening panel^LN", obx("ST", cCardNo, "AB1")), want: "refused", says: []string{"order"}},
		sample{id: "type-order-for-sweat-test", raw: message(msh("ORM^O01", "2.3", 122), pid(122), "ORC|NW|P1", "OBR|1|P1||"+cSweat), want: "refused", says: []string{"order"}},
		sample{id: "type-admission-history-cf", raw: message(msh("ADT^A04", "2.5.1", 122), pid(122), "DG1|1||Z84.81^Family history of carrier^I10"), want: "refused"},
		sample{id: "type-sweat-in-oul", raw: message(msh("OUL^R22", "2.5.1", 122), pid(122), sweatOrder("1", cSweat), measured("NM", cChloride, "71", "mmol/L", "", "H")), want: "review", says: []string{"MSH-9"}},
		sample{id: "type-lab-in-oul", raw: message(msh("OUL^R22", "2.5.1", 122), "PID|1||A1||Pierhead^Cornelius||19610712|M", "OBR|1|||58410-2^CBC panel^LN", measured("NM", "718-7^Hemoglobin^LN", "13.2", "g/dL", "", "N")), want: "refused|review", says: []string{"OUL"}},
		sample{id: "type-immunization-history", raw: message(msh("VXU^V04", "2.5.1", 122), pid(122), "ORC|RE||1", "RXA|0|1|20260320|20260320|08^Hep B^CVX|0.5|mL", obx("CE", "64994-7^Eligibility^LN", "V02^Medicaid^HL70064")), want: "refused", says: []string{"vaccination"}},
	)
}

// documentSamples: documents of other formats. None is lost, and each says what it is.
func documentSamples() []sample {
	var ss []sample
	add := func(id, raw string, says ...string) {
		ss = append(ss, sample{id: "document-" + id, raw: raw, want: "review", says: says})
	}
	add("empty", "", "empty")
	add("blank", " \r\n\t\r\n", "empty")
	add("only-bom", "\ufeff", "empty")
	add("utf16-bom-only", "\xff\xfe", "empty")
	add("xml-v2", `<?xml version="1.0"?><ORU_R01 xmlns="urn:hl7-org:v2xml"><MSH><MSH.1>|</MSH.1></MSH></ORU_R01>`, "XML")
	add("xml-cda", "\ufeff<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<ClinicalDocument xmlns=\"urn:hl7-org:v3\"><title>Newborn screen</title></ClinicalDocument>", "XML")
	add("xml-no-head", "<Bundle xmlns=\"http://hl7.org/fhir\"><type value=\"collection\"/></Bundle>", "XML")
	add("fhir-bundle", `{"resourceType":"Bundle","type":"message","entry":[{"resource":{"resourceType":"DiagnosticReport"}}]}`, "FHIR")
	add("fhir-report", "\n {\n \"resourceType\" : \"DiagnosticReport\", \"status\":\"final\"}", "FHIR")
	add("json", `[{"mrn":"1","cf":"abnormal"}]`, "JSON")
	add("html", "<!DOCTYPE html><html><body><table><tr><td>CF</td><td>Out of range</td></tr></table></body></html>", "web page")
	add("letter", "Alder Bay Public Health Laboratory\n\nRe: infant Saltmarsh, Piper, born 2026-03-02\n\nThe cystic fibrosis screen was out of range.\n", "by hand")
	add("report-with-bars", "NAME | Saltmarsh, Piper\nDOB | 2026-03-02\nCF | OUT OF RANGE\n")
	add("msh-in-prose", "The MSH segment was missing from your last message|please resend.\n")
	add("msh-word", "MSHA safety report\nnothing here\n")
	add("pdf", "%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "PDF")
	add("png", "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "picture")
	add("jpeg", "\xff\xd8\xff\xe0\x00\x10JFIF", "picture")
	add("tiff-fax", "II*\x00\x08\x00\x00\x00", "picture")
	add("zip", "PK\x03\x04\x14\x00\x00\x00F0001.hl7", "packed")
	add("xlsx", "PK\x03\x04\x14\x00\x06\x00[Content_Types].xml......xl/workbook.xml", "spreadsheet")
	add("docx", "PK\x03\x04\x14\x00\x06\x00[Content_Types].xml......word/document.xml", "office")
	add("xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1\x00", "office")
	add("rtf", `{\rtf1\ansi CF out of range}`, "office")
	add("gzip", "\x1f\x8b\x08\x00\x00\x00\x00\x00", "packed")
	add("calendar", "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nEND:VCALENDAR\r\n", "calendar")
	add("program", "MZ\x90\x00\x03\x00\x00\x00\x04", "by hand")
	add("zeroes", strings.Repeat("\x00", 4096), "empty")
	add("random", "\x8f\x02\xfe\xb1\x00\x9c\xee\x11\x7f\x1b[2J\x07\xd8\x00\xdc\x00")
	add("x12", "ISA*00*          *00*          *ZZ*SENDER         *ZZ*RECEIVER       *260320*1015*^*00501*000000001*0*P*:~GS*HC*", "by hand")
	add("edifact", "UNA:+.? 'UNB+UNOA:1+SENDER+RECEIVER+260320:1015+1'", "by hand")
	add("astm", "H|\\^&|||NBSLAB|||||||P|1\rP|1||MRN1\rR|1|^^^IRT|118|ng/mL\rL|1|N\r", "by hand")
	add("hl7-header-twice-bar", "MSH|^^&|NBS|AB|||20260320||ORU^R01|1|P|2.5.1\rPID|1\r", "does not say how the message is divided")
	add("hl7-header-three-characters", "MSH|^~&|NBS|AB|||20260320||ORU^R01|1|P|2.5.1\rPID|1\r", "MSH-2")
	add("hl7-header-empty", "MSH\r", "header")
	add("hl7-header-bar-only", "MSH|\r", "MSH-2")
	add("hl7-doubled-escape", `MSH|^~\\&|NBS|AB|||20260320||ORU^R01|1|P|2.5.1`+"\r"+pid(1)+"\r", "doubled")
	add("hl7-letters-as-separators", "MSHabcdefghij\r", "by hand")
	add("hl7-without-header", pid(1)+"\r"+obr(1, cCF)+"\r"+interp(aOut)+"\r", "MSH")
	add("hl7-without-header-lf", "PID|1||123\nOBR|1|||54078-1\nOBX|1|CWE|46769-6||LA18593-6\n", "MSH")
	return ss
}
