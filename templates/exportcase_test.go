package templates

func init() {
	samples["export-case"] = func() Page {
		return &ExportCasePage{Base: onePage("Export the case, AB-2026-0118", "infants"), Head: "Export the case of Marigold", Lead: "One file.",
			Warn: []string{"Contact flags of this family: No mail."}, Holds: []Fact{{Name: "Goes out", Text: "Infant and family"}, {Name: "Stays here", Text: "Contacts"}},
			Reason: Field{ID: "reason", Label: "Reason", Value: "", Error: "Enter who gets the file, and why"},
			Action: "/infants/AB-2026-0118/export", Back: "/infants/AB-2026-0118", Button: "Export as FHIR"}
	}
}
