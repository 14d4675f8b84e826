package intake

import (
	"testing"

	"dunlin/cases"
)

func TestCaseByHandKeepsWhatWasReadAndTakesTheCorrection(t *testing.T) {
	today := cases.MakeDay(2026, 3, 5)
	irt := 88.5
	rec := Record{Referral: Referral{Screen: true, Accession: Identifier{Number: "AB26-00042"}, IRT: []Measure{{Text: "88.5", Value: &irt, Unit: "ng/mL"}},
		Infant: Infant{Family: "WREN", Born: Moment{Text: "20261345", Bad: "no such day"}, BirthWeight: 90000}}}
	c := CaseByHand(rec, Settings{}, cases.DefaultProtocol(), today, func(c *cases.Case) {
		c.Infant.Born, c.Infant.Given = cases.MakeDay(2026, 2, 20), "Ada"
	})
	if faults := c.Faults(today, cases.DefaultProtocol()); len(faults) > 0 {
		t.Fatalf("the case is refused: %v", faults)
	}
	if c.Infant.Family != "WREN" || c.Infant.Given != "Ada" || c.Referral.Screen.Accession != "AB26-00042" || *c.Referral.Screen.IRTNgML != irt {
		t.Errorf("read values are lost: %+v", c)
	}
	if c.Infant.BirthWeightG != 0 || len(c.ToCheck) == 0 {
		t.Errorf("a birth weight of 90 kg is taken over: %v, %v", c.Infant.BirthWeightG, c.ToCheck)
	}
}
