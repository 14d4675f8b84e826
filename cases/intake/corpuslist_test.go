package intake_test

import (
	"testing"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"dunlin/cases"
	"dunlin/cases/intake"
)

const listHead = "card_serial,last_name,first_name,dob,sex,interpretation,irt,variant_1,variant_2"

// listSamples: line lists of infants in the forms in which spreadsheets write them.
func listSamples() []sample {
	row := "AB100,Alderman,Wren,2026-03-02,F,Out of range,118.4,F508del,G551D"
	in := "AB101,Saltmarsh,Piper,2026-03-03,F,In range,21,,"
	words := func(word, want string) sample {
		return sample{id: "list-word-" + word, raw: list(listHead, "AB100,Alderman,Wren,2026-03-02,F,"+word+",118.4,,"), want: want}
	}
	ss := []sample{
		{id: "list-plain", raw: list(listHead, row, in), want: "opened no-case"},
		{id: "list-crlf", raw: listHead + "\r\n" + row + "\r\n" + in + "\r\n", want: "opened no-case"},
		{id: "list-cr", raw: listHead + "\r" + row + "\r" + in, want: "opened no-case"},
		{id: "list-bom", raw: "\ufeff" + list(listHead, row), want: "opened"},
		{id: "list-utf16", raw: encoded(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM), list(listHead, row)), want: "opened"},
		{id: "list-windows-1252", raw: encoded(charmap.Windows1252, list(listHead, "AB100,Nuñez,Zoë,2026-03-02,F,Out of range,118,,")), want: "opened", says: []string{"spelling"}, check: isNamed("Nuñez", "Zoë")},
		{id: "list-semicolon", raw: list("card_serial;last_name;dob;interpretation", "AB100;Alderman;2026-03-02;Out of range"), want: "opened"},
		{id: "list-tab", raw: list("card_serial\tlast_name\tdob\tinterpretation", "AB100\tAlderman\t2026-03-02\tOut of range"), want: "opened"},
		{id: "list-bar", raw: list("card_serial|last_name|dob|interpretation", "AB100|Alderman|2026-03-02|Out of range"), want: "opened"},
		{id: "list-spaced-headings", raw: list("Card Serial , LAST NAME, Date of Birth ,CF Result", "AB100, Alderman , 2026-03-02 , Out of range "), want: "opened"},
		{id: "list-quoted", raw: list(`"card_serial","last_name","dob","interpretation"`, `"AB100","Alderman","2026-03-02","Out of range"`), want: "opened"},
		{id: "list-line-break-in-cell", raw: list("card_serial,last_name,dob,interpretation,comment", "AB100,Alderman,2026-03-02,Out of range,\"two\nlines\""), want: "opened"},
		{id: "list-title-above", raw: list("Alder Bay Public Health Laboratory", "Newborn screens of March 2026", "", listHead, row), want: "opened"},
		{id: "list-title-above-with-commas", raw: list("Report of 2026-03-20,,,,,,,,", ",,,,,,,,", listHead, row), want: "opened"},
		{id: "list-total-row", raw: list(listHead, row, "Total,1,,,,,,,"), want: "opened review"},
		{id: "list-blank-rows", raw: list(listHead, "", row, ",,,,,,,,", ""), want: "opened"},
		{id: "list-headings-only", raw: list(listHead), want: "review", says: []string{"no rows"}},
		{id: "list-same-row-twice", raw: list(listHead, row, row), want: "opened duplicate"},
		{id: "list-ragged", raw: list(listHead, "AB100,Alderman,Wren,2026-03-02,F,Out of range"), want: "review", says: []string{"row 2", "6 values"}},
		{id: "list-open-quote", raw: list(listHead, `AB100,"Alderman,Wren,2026-03-02,F,Out of range,1,,`, in), want: "review no-case", says: []string{"quotation mark"}},
		{id: "list-date-two-ways", raw: list(listHead, "AB100,Alderman,Wren,03/04/2026,F,Out of range,118,,"), want: "review", says: []string{"row 2, dob", "day/month"}},
		{id: "list-date-order-known", set: intake.Settings{DateOrder: intake.MonthDay}, raw: list(listHead, "AB100,Alderman,Wren,03/04/2026,F,Out of range,118,,"), want: "opened"},
		{id: "list-date-in-words", raw: list(listHead, "AB100,Alderman,Wren,4 Mar 2026,F,Out of range,118,,"), want: "opened"},
		{id: "list-date-number", raw: list(listHead, "AB100,Alderman,Wren,46085,F,Out of range,118,,"), want: "review", says: []string{"46085"}},
		{id: "list-date-impossible", raw: list(listHead, "AB100,Alderman,Wren,2026-02-30,F,Out of range,118,,"), want: "review", says: []string{"calendar"}},
		{id: "list-date-missing", raw: list(listHead, "AB100,Alderman,Wren,,F,Out of range,118,,"), want: "review", says: []string{"birth date"}},
		{id: "list-date-missing-in-range", raw: list(listHead, "AB100,Alderman,Wren,,F,In range,18,,"), want: "no-case|review"},
		{id: "list-scientific-card", raw: list(listHead, "1.23457E+11,Alderman,Wren,2026-03-02,F,Out of range,118,,"), want: "review", says: []string{"scientific"}},
		{id: "list-formula", raw: list(listHead, "=1+1,Alderman,Wren,2026-03-02,F,Out of range,118,,"), want: "review", says: []string{"formula"}},
		{id: "list-comma-irt", raw: list("card_serial;last_name;dob;interpretation;irt", "AB100;Alderman;2026-03-02;Out of range;118,4"), want: "opened", says: []string{"comma"}},
		{id: "list-in-range-with-variant", raw: list(listHead, "AB100,Alderman,Wren,2026-03-02,F,In range,118,F508del,"), want: "review", says: []string{"F508del"}},
		{id: "list-in-range-comment-contradicts", raw: list(listHead+",comment", "AB100,Alderman,Wren,2026-03-02,F,In range,118,,,Abnormal. Refer for sweat test."), want: "review", says: []string{"comment"}},
		{id: "list-in-range-unsatisfactory", raw: list(listHead+",quality", "AB100,Alderman,Wren,2026-03-02,F,In range,118,,,Unsatisfactory"), want: "review", says: []string{"not acceptable"}},
		{id: "list-code-and-words-disagree", raw: list("card_serial,last_name,dob,interpretation_code,interpretation", "AB100,Alderman,2026-03-02,LA18592-8,Out of range"), want: "review"},
		{id: "list-code-only", raw: list("card_serial,last_name,dob,interpretation_code", "AB100,Alderman,2026-03-02,LA18593-6"), want: "opened"},
		{id: "list-irt-only", raw: list("card_serial,last_name,dob,irt", "AB100,Alderman,2026-03-02,118"), want: "review", says: []string{"no interpretation"}},
		{id: "list-nobody", raw: list(listHead, ",,,,,Out of range,118,,"), want: "review"},
		{id: "list-nobody-in-range", raw: list(listHead, ",,,,,In range,18,,"), want: "review"},
		words("Abnormal", "opened"), words("POSITIVE", "opened"), words("Screen positive", "opened"), words("Refer", "opened"), words("Presumptive", "opened"),
		words("Normal", "no-case"), words("negative", "no-case"), words("WNL", "no-case"), words("Screen Negative", "no-case"),
		words("Borderline", "review"), words("Inconclusive", "review"), words("", "review"), words("Repeat card", "review"), words("Pending", "review"),
		words("Not normal", "review"), words("Normal?", "review"), words("Normal/abnormal", "review"), words("In range but IRT high", "review"),
		words("ABN", "review"), words("N", "review"), words("NORMAL - see comment", "review"), words("QNS", "review"), words("Carrier", "review"),
		words("Elevated IRT, no variants", "review"), words("Out of range for another disorder", "review"), words("not negative", "review"),
	}
	return ss
}

// listOddSamples: tables of something else, and lists whose headings are not known.
func listOddSamples() []sample {
	var ss []sample
	add := func(id, raw string, says ...string) {
		ss = append(ss, sample{id: "table-" + id, raw: raw, want: "review", says: append(says, "by hand"),
			check: func(t *testing.T, cs []cases.Case) { eq(t, "cases", len(cs), 0) }})
	}
	add("inventory", list("item,quantity,price", "gloves,20,3.50"))
	add("addresses", list("name,street,city", "Alma Reed,7 Jetty Row,Alder Bay"))
	add("unknown-headings", list("A1,B2,C3", "AB100,Alderman,Out of range"))
	add("no-headings", list("AB100,Alderman,Wren,2026-03-02,F,Out of range,118.4"))
	add("german-headings", list("Kartennummer;Nachname;Geburtsdatum;Ergebnis", "AB100;Alderman;02.03.2026;auffällig"))
	add("numbers", list("1,2,3", "4,5,6"))
	return append(ss,
		sample{id: "table-blood-counts", raw: list("mrn,last_name,dob,test,result", "1,Pierhead,1961-07-12,Hemoglobin,13.2"), want: "review"},
		sample{id: "table-thyroid", raw: list("card_serial,last_name,dob,test,result", "AB1,Alderman,2026-03-02,TSH,Normal"), want: "review"},
		sample{id: "table-one-row-for-each-test", raw: list("card_serial,last_name,dob,test,result", "AB1,Alderman,2026-03-02,TSH,Normal", "AB1,Alderman,2026-03-02,CF,Abnormal"), want: "review review|opened"},
		sample{id: "table-result-column-twice", raw: list("card_serial,last_name,dob,result,result", "AB1,Alderman,2026-03-02,Normal,Abnormal"), want: "review", says: []string{"result"}},
		sample{id: "table-sweat-results", raw: list("mrn,last_name,dob,sweat_chloride_left,sweat_chloride_right,result", "1,Alderman,2026-03-02,71,74,Abnormal"), want: "opened|review"},
		sample{id: "table-sweat-results-normal", raw: list("mrn,last_name,dob,sweat_chloride_left,sweat_chloride_right,result", "1,Alderman,2026-03-02,71,74,Normal"), want: "review", says: []string{"sweat"}},
		sample{id: "table-vaccinations", raw: list("patient_id,last_name,dob,vaccine,date_given", "1,Alderman,2026-03-02,Hep B,2026-03-03"), want: "review"},
	)
}
