package web

import (
	"dunlin/cases"
	"dunlin/templates"
)

// diagnosisChoice offers the diagnosis codes. None is chosen beforehand, whatever the
// laboratory said: the person who closes the case codes it, or leaves it.
func diagnosisChoice() templates.Choice {
	c := templates.Choice{ID: "diagnosis", Legend: "Diagnosis code (optional)", Hint: "ICD-10-CM, as the clinician coded it. It goes out when the case is exported",
		Options: []templates.Option{{Text: "No code"}}}
	for _, k := range cases.DiagnosisCodes {
		c.Options = append(c.Options, templates.Option{Value: k.Code, Text: determinationWord(k.As) + ": " + k.Code + ", " + k.Title})
	}
	return c
}

// diagnosis reads the code; it must be one of those offered for the determination.
func (f *form) diagnosis(as string) string {
	code := f.typed("diagnosis")
	if code == "" || as == "" {
		return code
	}
	if !cases.CodeFits(as, code) {
		f.fail("diagnosis", "Diagnosis code does not belong to %s. Select another, or no code", determinationWord(as))
	}
	return code
}
