package intake_test

import (
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// oldSamples: older versions with a laboratory's own codes only, one result for each
// analyte, and Z segments.
func oldSamples() []sample {
	old := func(version, kind string) string {
		return `MSH|^~\&|ABLIS|ABPHL|||20260320101500||` + kind + `|O1|P|` + version
	}
	own := func(segs ...string) string {
		return message(flat([]string{old("2.3.1", "ORU^R01"), "PID|||40040^^^ABG||Sandspit^Baby Girl||20260306|F", "PV1||I",
			"ORC|RE|P40|F40", "OBR|1|P40|F40|NBS^Newborn Screen^L|||202603080900|||||||202603090900||^Reed^Alma|||||202603120900|||F"}, segs)...)
	}
	codes := intake.Settings{Codes: map[string]string{"CFI": "46769-6", "CFIRT": "48633-2", "CFDNA": "21654-9"}}
	return []sample{
		{id: "old-own-codes-abnormal", raw: own("OBX|1|ST|PKU^Phenylketonuria^L||Normal||||||F", "OBX|2|ST|CF^Cystic Fibrosis^L||Abnormal||||||F"), want: "review", says: []string{"OBX[2]-3", "Abnormal"}},
		{id: "old-own-codes-normal", raw: own("OBX|1|ST|PKU^Phenylketonuria^L||Normal||||||F", "OBX|2|ST|CF^Cystic Fibrosis^L||Normal||||||F"), want: "review", says: []string{"OBX[2]-3", "Normal"}},
		{id: "old-own-codes-short-name", raw: own("OBX|1|ST|PKU^PKU^L||Normal||||||F", "OBX|2|ST|CF^CF^L||ABNORMAL||||||F"), want: "review", says: []string{"OBX[2]-3", "ABNORMAL"}, not: []string{"no newborn screen"}},
		{id: "old-own-codes-no-name", raw: own("OBX|1|ST|PKU||Normal||||||F", "OBX|2|ST|CF||ABNORMAL||||||F"), want: "review", says: []string{"OBX[2]-3", "ABNORMAL"}, not: []string{"no newborn screen"}},
		{id: "old-own-codes-irt", raw: own("OBX|1|NM|IRT^IRT^L||118|ng/mL|<60|H|||F"), want: "review", says: []string{"IRT", "118"}, not: []string{"no newborn screen"}},
		{id: "old-own-codes-trypsinogen", raw: own("OBX|1|NM|4711^Immunoreactive trypsinogen^L||118|ng/mL|<60|H|||F"), want: "review", says: []string{"4711", "118"}, not: []string{"no newborn screen"}},
		{id: "old-own-codes-no-cf", raw: own("OBX|1|ST|PKU^Phenylketonuria^L||Normal||||||F"), want: "review", says: []string{"no cystic fibrosis"}, not: []string{"no newborn screen and"}},
		{id: "old-own-codes-known-out", set: codes, raw: own("OBX|1|ST|CFI^CF^L||Abnormal||||||F", "OBX|2|NM|CFIRT^IRT^L||118|ng/mL|<60|H|||F", "OBX|3|ST|CFDNA^DNA^L||F508del||||||F"), want: "opened",
			check: func(t *testing.T, cs []cases.Case) { wantNames(t, oneCase(t, cs), "F508del") }},
		{id: "old-own-codes-known-in", set: codes, raw: own("OBX|1|CE|CFI^CF^L||LA18592-8^In range^LN||||||F", "OBX|2|NM|CFIRT^IRT^L||18|ng/mL|<60|N|||F"), want: "no-case"},
		{id: "old-own-codes-known-words-in", set: codes, raw: own("OBX|1|ST|CFI^CF^L||Normal||||||F", "OBX|2|NM|CFIRT^IRT^L||18|ng/mL|<60|N|||F"), want: "review", says: []string{"only in words"}},
		{id: "old-z-segments", raw: own("ZNB|1|something", "OBX|1|CE|"+cInterp+"||"+aOut+"||||||F", "ZZZ|end"), want: "opened"},
		{id: "old-z-segments-in-range", raw: own("ZNB|1|something", "OBX|1|CE|"+cInterp+"||"+aIn+"||||||F", "ZZZ|end"), want: "no-case"},
		{id: "old-z-segment-holds-cf", raw: own("OBX|1|ST|PKU^Phenylketonuria^L||Normal||||||F", "ZCF|1|CYSTIC FIBROSIS|ABNORMAL"), want: "review", says: []string{"ZCF"}},
		{id: "old-z-segment-beside-in-range", raw: own("OBX|1|CE|"+cInterp+"||"+aIn+"||||||F", "ZCF|1|CYSTIC FIBROSIS|ABNORMAL - REFER"), want: "review", says: []string{"ZCF"}},
		{id: "old-2.1", raw: message(`MSH|^~\&|ABLIS|ABPHL|||20260320||ORU|O2|P|2.1`, "PID|||41||Sandspit^Baby Girl||20260306|F", "OBR|1||F41|54078-1^CF panel^LN", "OBX|1|CE|46769-6^CF interp^LN||"+aOut+"||||||F"), want: "opened"},
		{id: "old-2.2-in-range", raw: message(`MSH|^~\&|ABLIS|ABPHL|||20260320||ORU^R01|O2|P|2.2`, "PID|||41||Sandspit^Baby Girl||20260306|F", "OBR|1||F41|54078-1^CF panel^LN", "OBX|1|CE|46769-6^CF interp^LN||"+aIn+"||||||F"), want: "no-case"},
		{id: "old-no-version", raw: message(`MSH|^~\&|ABLIS|ABPHL|||20260320||ORU^R01|O2`, "PID|||41||Sandspit^Baby Girl||20260306|F", "OBR|1||F41|54078-1^CF panel^LN", "OBX|1|CE|46769-6^CF interp^LN||"+aOut+"||||||F"), want: "opened"},
		{id: "old-2.7-truncation-character", raw: message(`MSH|^~\&#|ABLIS|ABPHL|||20260320||ORU^R01^ORU_R01|O3|P|2.7`, pid(42), obr(42, cCF), interp(aOut)), want: "opened"},
		{id: "old-2.8-truncation-character-in-range", raw: message(`MSH|^~\&#|ABLIS|ABPHL|||20260320||ORU^R01^ORU_R01|O3|P|2.8.2`, pid(42), obr(42, cCF), interp(aIn)), want: "no-case"},
		{id: "old-version-three", raw: message(old("3.0", "ORU^R01"), pid(42), obr(42, cCF), interp(aOut)), want: "review", says: []string{"MSH-12"}},
		{id: "old-version-with-country", raw: message(old("2.5.1^USA^^1", "ORU^R01"), pid(42), obr(42, cCF), interp(aOut)), want: "opened"},
		{id: "old-type-one-component", raw: message(old("2.4", "ORU_R01"), pid(42), obr(42, cCF), interp(aOut)), want: "opened|review"},
		{id: "old-type-lower-case", raw: message(old("2.4", "oru^r01"), pid(42), obr(42, cCF), interp(aOut)), want: "opened"},
		{id: "old-type-missing", raw: message(old("2.4", ""), pid(42), obr(42, cCF), interp(aOut)), want: "review", says: []string{"MSH-9"}},
		{id: "old-delimiters", raw: message("MSH*#%!$*ABLIS*ABPHL***20260320**ORU#R01*O4*P*2.3", "PID***43**Gullrock#BG**20260308*F", "OBR*1**F43*54078-1#CF panel#LN", "OBX*1*CE*46769-6#CF interp#LN**LA18593-6#Out of range#LN******F"), want: "opened"},
		{id: "old-nothing-but-header", raw: message(old("2.3", "ORU^R01")), want: "review", says: []string{"PID"}},
		{id: "old-optional-fields-empty", raw: message(`MSH|^~\&|||||||ORU^R01|||2.5.1`, "PID|||||Gullrock^BG||20260308", "OBR||||54078-1", "OBX|||46769-6||LA18593-6"), want: "opened"},
		{id: "old-optional-fields-empty-in-range", raw: message(`MSH|^~\&|||||||ORU^R01|||2.5.1`, "PID|||||Gullrock^BG||20260308", "OBR||||54078-1", "OBX|||46769-6||LA18592-8||||||F"), want: "no-case"},
	}
}
