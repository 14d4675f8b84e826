package cases

import "testing"

// The table of working days says what the rule of the federal holidays says, also at
// and beyond its ends.
func TestTheTableOfWorkingDaysIsTheRule(t *testing.T) {
	for d := tableFrom - 800; d < tableTo+800; d++ {
		if got, want := (Calendar{}).Working(d), !weekend(d) && !FederalHoliday(d); got != want {
			t.Fatalf("%s: working %v, want %v", d, got, want)
		}
	}
}

// A list shows what an assessment says, but for letters, messages and contact plan.
func TestAssessStepIsTheAssessmentWithoutWhatIsOwed(t *testing.T) {
	p := DefaultProtocol()
	c := Case{Reference: "AB-2026-0001", Infant: Infant{Born: MakeDay(2026, 3, 1)}, Referral: Referral{On: MakeDay(2026, 3, 8), Route: "screen"},
		Contacts: []Contact{{On: MakeDay(2026, 3, 9), With: ToFamily, By: "phone"}, {On: MakeDay(2026, 3, 10), With: ToFamily, By: "phone"}}}
	whole, step := p.Assess(&c, MakeDay(2026, 3, 20)), p.AssessStep(&c, MakeDay(2026, 3, 20))
	if len(whole.LettersDue) == 0 || len(whole.DoctorLettersDue) == 0 || whole.ContactPlan == nil {
		t.Fatalf("nothing is owed: %+v", whole)
	}
	if step.LettersDue != nil || step.DoctorLettersDue != nil || step.ContactPlan != nil || step.Next != whole.Next || step.Overdue.Days != whole.Overdue.Days || step.Clocks != whole.Clocks || step.Actions != whole.Actions {
		t.Errorf("%+v\n%+v", step, whole)
	}
}
