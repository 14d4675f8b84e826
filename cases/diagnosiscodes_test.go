package cases_test

import (
	"slices"
	"testing"

	"dunlin/cases"
)

// TestDiagnosisCodeOfAClosure: only a code in its form, with a determination about the
// infant's health, is taken.
func TestDiagnosisCodeOfAClosure(t *testing.T) {
	on, p := cases.MakeDay(2026, 5, 1), cases.DefaultProtocol()
	for _, x := range []struct {
		as, code string
		ok       bool
	}{{"cf", "", true}, {"cf", "E84.11", true}, {"cf", "E84.9 ", false}, {"cf", "e84.9", false}, {"cf", "mucoviscidosis", false},
		{"other-diagnosis", "Q33.9", true}, {"died", "E84.9", false}, {"not-affected", "Z14.1", false}} {
		c := cases.Case{Document: cases.DocumentName, Infant: cases.Infant{Born: cases.MakeDay(2026, 3, 1)}, Referral: cases.Referral{On: cases.MakeDay(2026, 3, 8), Route: "screen"},
			Closures: []cases.Closure{{On: on, As: x.as, By: "Wren Castellano", Code: x.code}}}
		found := slices.ContainsFunc(c.Faults(on, p), func(f cases.Fault) bool { return f.Path == "closures[0].diagnosis_code" })
		if found == x.ok {
			t.Errorf("%s with %q: refused %v", x.as, x.code, found)
		}
	}
	for _, k := range cases.DiagnosisCodes {
		if !cases.CodeFits(k.As, k.Code) || cases.CodeFits("died", k.Code) || cases.DiagnosisTitle(k.Code) != k.Title {
			t.Errorf("%+v", k)
		}
	}
}
