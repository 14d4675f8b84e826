package templates

func init() {
	samples["exports"] = func() Page {
		format := Choice{ID: "x_format", Legend: "Format", Options: []Option{{Value: "xlsx", Text: "Workbook (XLSX)", Chosen: true}, {Value: "zip", Text: "CSV files (ZIP)"}}}
		lines := format
		lines.ID = "l_format"
		return &ExportsPage{Base: sampleBase("Exports", "reports"), Reports: sampleReports("/reports/exports"), Lead: "Files with one line a case.", Days: 30, Total: "2 files",
			Forms: []ExportForm{
				{ID: "extract", Head: "De-identified extract", Lead: "One line a case.", Notes: []string{"Only years of birth that are over."}, Action: "/reports/exports/extract", Button: "Export extract",
					Fields: []Field{{ID: "from_year", Label: "Born from year", Value: "2025", Width: "w5"}}, Format: format, Last: []Field{{ID: "x_reason", Label: "Reason", Error: "Enter the reason for the export"}}},
				{ID: "lines", Head: "Line list, with names", Lead: "One line a case.", Notes: []string{"The file names infants."}, Action: "/reports/exports/cases", Button: "Export line list",
					Fields: []Field{{ID: "l_from", Label: "Referred from", Width: "w14"}}, Format: lines, Which: Choice{ID: "l_which", Legend: "Cases", Options: []Option{{Value: "open", Text: "Open cases"}}}, Last: []Field{{ID: "l_reason", Label: "Reason"}}}},
			Recent: []ExportRow{{DateOf("2026-03-05"), "08:41", "Wren Castellano", "Line list of cases, with names as workbook (XLSX), 23 rows. Open cases.", "For the on-call nurse"}, {DateOf("2026-03-04"), "11:02", "Ines Okafor-Lund", "Closure times as CSV files (ZIP), 12 rows.", ""}}}
	}
	samples["exports-none"] = func() Page {
		return &ExportsPage{Base: sampleBase("Exports", "reports"), Reports: sampleReports("/reports/exports"), Lead: "Files with one line a case.", Days: 30, Total: "No file"}
	}
}
