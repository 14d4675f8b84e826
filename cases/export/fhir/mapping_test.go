package fhir

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
)

// resources gives those of a kind, as Make sets them out.
func resources[T any](t *testing.T, s Source, change ...func(*Options)) (out []*T) {
	t.Helper()
	o := options(t, cases.DefaultProtocol())
	for _, f := range change {
		f(&o)
	}
	for _, e := range Make(s, o).Entry {
		if r, ok := e.Resource.(*T); ok {
			out = append(out, r)
		}
	}
	return out
}

func ptr(v float64) *float64 { return &v }

// infant is a plain case of 1 March 2026 with facts added by f, as of 1 May.
func infant(f func(c *cases.Case)) Source {
	on := cases.MakeDay(2026, 5, 1)
	c := cases.Case{Document: cases.DocumentName, Reference: "AB-2026-0042", Infant: cases.Infant{Given: "Ada", Family: "Wren", Born: cases.MakeDay(2026, 3, 1), Gestation: 39 * 7},
		Referral: cases.Referral{On: cases.MakeDay(2026, 3, 8), Route: "screen"}}
	f(&c)
	return Source{Case: c, Today: on, Made: noon(on)}
}

func arm(side string, ul, chloride *float64) cases.Arm {
	return cases.Arm{Side: side, Minutes: 30, AmountUL: ul, Chloride: chloride}
}

// TestSweatStates reads one test in each of its states: no number ever stands where the
// amount was not enough, and a number that was changed is marked as corrected.
func TestSweatStates(t *testing.T) {
	on := cases.MakeDay(2026, 3, 20)
	tests := []struct {
		name    string
		arms    []cases.Arm
		void    bool
		changed string
		states  string // of the observations
		values  string
		report  string
	}{
		{"both enough", []cases.Arm{arm("left", ptr(20), ptr(118.4)), arm("right", ptr(20), ptr(121))}, false, "", "final final", "118.4 121", "final"},
		{"one short", []cases.Arm{arm("left", ptr(20), ptr(41)), arm("right", ptr(9), nil)}, false, "", "final cancelled", "41 -", "final"},
		{"short with a value", []cases.Arm{arm("left", ptr(9), ptr(41))}, false, "", "cancelled", "-", "final"},
		{"no amount", []cases.Arm{arm("left", nil, ptr(41))}, false, "", "cancelled", "-", "final"},
		{"no result yet", []cases.Arm{arm("left", ptr(20), nil)}, false, "", "registered", "-", "registered"},
		{"one result yet", []cases.Arm{arm("left", ptr(20), ptr(17)), arm("right", ptr(20), nil)}, false, "", "final registered", "17 -", "partial"},
		{"not plausible", []cases.Arm{arm("left", ptr(20), ptr(180))}, false, "", "preliminary", "180", "preliminary"},
		{"void", []cases.Arm{arm("left", ptr(20), ptr(17))}, true, "", "entered-in-error", "17", "entered-in-error"},
		{"corrected", []cases.Arm{arm("left", ptr(20), ptr(17))}, false, "sweat_tests[0].arms[0].chloride", "corrected", "17", "corrected"},
		{"another test corrected", []cases.Arm{arm("left", ptr(20), ptr(17))}, false, "sweat_tests[1].arms[0].chloride", "final", "17", "final"},
	}
	for _, x := range tests {
		t.Run(x.name, func(t *testing.T) {
			s := infant(func(c *cases.Case) {
				c.SweatTests = []cases.SweatTest{{On: on, Collector: "tubing", Arms: x.arms}}
				if x.void {
					c.SweatTests[0].Verified = &cases.Verified{On: on, By: "M. Lark", As: "void"}
				}
			})
			s.Changes = []cases.Entry{{Fields: []cases.FieldChange{{Path: x.changed, Old: json.RawMessage("71"), New: json.RawMessage("17")}}}}
			var states, values []string
			for _, o := range resources[Observation](t, s) {
				if o.Code.Text != "Sweat chloride" {
					continue
				}
				v := "-"
				if o.ValueQuantity != nil {
					v = string(o.ValueQuantity.Value)
				}
				states, values = append(states, o.Status), append(values, v)
			}
			if got := strings.Join(states, " "); got != x.states {
				t.Errorf("states %q, want %q", got, x.states)
			}
			if got := strings.Join(values, " "); got != x.values {
				t.Errorf("values %q, want %q", got, x.values)
			}
			reports := resources[DiagnosticReport](t, s)
			if got := reports[len(reports)-1].Status; got != x.report {
				t.Errorf("report %s, want %s", got, x.report)
			}
		})
	}
}

// TestNoDiagnosisFromValues: two CF-causing variants and a chloride of 118 give no
// condition beside the reason for referral, until a person closes the case as CF.
func TestNoDiagnosisFromValues(t *testing.T) {
	facts := func(c *cases.Case) {
		c.Genotype = &cases.Genotype{Reported: c.Referral.On, Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}, {Name: "F508del"}}}
		c.SweatTests = []cases.SweatTest{{On: cases.MakeDay(2026, 3, 20), Collector: "tubing", Arms: []cases.Arm{arm("left", ptr(20), ptr(118))}}}
	}
	s := infant(facts)
	if k := resources[Condition](t, s); len(k) != 1 || k[0].Code.Coding[0].Code != "P09.4" || k[0].VerificationStatus.Coding[0].Code != "provisional" {
		t.Errorf("before closing: %+v", k)
	}
	s = infant(func(c *cases.Case) {
		facts(c)
		c.Referral.Route = "clinical"
		c.Closures = []cases.Closure{{On: cases.MakeDay(2026, 3, 25), As: "cf", By: "Wren Castellano", Clinician: "Dr. Heron"}}
	})
	k := resources[Condition](t, s)
	if len(k) != 1 || k[0].Asserter.Display != "Dr. Heron" || k[0].VerificationStatus.Coding[0].Code != "confirmed" {
		t.Fatalf("after closing: %+v", k)
	}
	for _, x := range k[0].Code.Coding {
		if x.System == systems["icd-10-cm"] {
			t.Errorf("an ICD-10-CM code that nobody chose: %s", x.Code)
		}
	}
	s.Case.Closures[0].Code = "E84.9"
	k = resources[Condition](t, s)
	if n := len(k[0].Code.Coding); n != 2 || k[0].Code.Coding[1] != (Coding{systems["icd-10-cm"], "E84.9", "Cystic fibrosis, unspecified"}) {
		t.Errorf("the code that was chosen: %+v", k[0].Code)
	}
	k = resources[Condition](t, s, func(o *Options) { o.LeaveOut = []string{"icd-10-cm", "snomed"} })
	if len(k[0].Code.Coding) != 0 || k[0].Code.Text != "CF" {
		t.Errorf("left out: %+v", k[0].Code)
	}
}

// TestLeaveOut: without a code system its codes are gone and the words remain.
func TestLeaveOut(t *testing.T) {
	s := infant(func(c *cases.Case) {
		c.SweatTests = []cases.SweatTest{{On: cases.MakeDay(2026, 3, 20), Collector: "tubing", Arms: []cases.Arm{arm("left", ptr(20), ptr(17))}}}
	})
	o := options(t, cases.DefaultProtocol())
	if !strings.Contains(string(written(t, s, o)), systems["snomed"]) {
		t.Fatal("no SNOMED CT code to leave out")
	}
	o.LeaveOut = []string{"snomed"}
	data := written(t, s, o)
	if strings.Contains(string(data), systems["snomed"]) || !strings.Contains(string(data), "Sweat test") || !strings.Contains(string(data), systems["loinc"]) {
		t.Errorf("SNOMED CT left out: %s", data)
	}
	for _, f := range checkBundle(data) {
		t.Error(f)
	}
	if err := CheckLeaveOut([]string{"snomed", "cpt"}); err == nil || !strings.Contains(err.Error(), "cpt") {
		t.Errorf("an unknown system: %v", err)
	}
}

// TestMothersNumberStaysHers: the mother's record number is not the infant's.
func TestMothersNumberStaysHers(t *testing.T) {
	s := infant(func(c *cases.Case) {
		c.Infant.Records = []cases.RecordNo{{Number: "M77", Authority: "mother, Bay Hospital"}, {Number: "I78", Authority: "Bay Hospital"}}
		c.Family = &cases.Family{Mother: "Isla Wren", Guardians: []cases.Guardian{{Given: "Rowan", Relation: "foster parent", Letters: true}}}
	})
	p := resources[Patient](t, s)[0]
	if slices.ContainsFunc(p.Identifier, func(i Identifier) bool { return i.Value == "M77" }) {
		t.Error("the mother's number stands with the infant")
	}
	people := resources[RelatedPerson](t, s)
	if len(people) != 2 || len(people[0].Identifier) != 0 || people[1].Identifier[0].Value != "M77" || people[1].Identifier[0].Assigner.Display != "Bay Hospital" {
		t.Errorf("related persons: %+v", people)
	}
}

// TestCheckLoinc: every LOINC code passes its check digit (LOINC Users' Guide: mod 10).
func TestCheckLoinc(t *testing.T) {
	n := 0
	for key, k := range codes() {
		if systems[k.system] == "" || k.display == "" {
			t.Errorf("%s: system %q, display %q", key, k.system, k.display)
		}
		if k.system != "loinc" || strings.HasPrefix(k.code, "LA") {
			continue
		}
		n++
		body, digit, _ := strings.Cut(k.code, "-")
		sum := 0
		for i := range len(body) {
			d := int(body[len(body)-1-i] - '0')
			if i%2 == 0 {
				if d *= 2; d > 9 {
					d -= 9
				}
			}
			sum += d
		}
		if want := string(rune('0' + (10-sum%10)%10)); digit != want {
			t.Errorf("%s: the check digit of %s must be %s", key, k.code, want)
		}
	}
	if n < 9 {
		t.Errorf("only %d LOINC codes", n)
	}
}

// TestOwnChecksFindFaults: the checks of these tests see what is wrong on purpose in the
// reference bundle.
func TestOwnChecksFindFaults(t *testing.T) {
	data, err := os.ReadFile("testdata/reference/f02-invalid-on-purpose.json")
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(checkBundle(data), "\n")
	for _, want := range []string{"Appointment.status", "participant is missing", "Observation: status is missing"} {
		if !strings.Contains(all, want) {
			t.Errorf("not found: %s in\n%s", want, all)
		}
	}
}
