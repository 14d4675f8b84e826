package cases_test

import (
	"testing"

	"dunlin/cases"
)

// The words are those of the program's vocabulary.
func TestListAndActionWords(t *testing.T) {
	tests := []struct {
		next           cases.Next
		reason, action string
	}{
		{cases.Next{Step: cases.StepReferAtOnce}, "Two variants, refer now", "Call the CF center and primary care"},
		{cases.Next{Step: cases.StepVerify}, "Does not fit", "Check the value, then repeat"},
		{cases.Next{Step: cases.StepRecordResult}, "Result not in", "Ask the site for the result"},
		{cases.Next{Step: cases.StepDecide}, "Ready to close", "Decide and close"},
		{cases.Next{Step: cases.StepAwaitTest, Due: mustDay(t, "2026-03-21")}, "Booked", "Confirm the booking"},
		{cases.Next{Step: cases.StepAwaitTest, Due: mustDay(t, "2026-03-22")}, "Booked", "None until the day"},
		{cases.Next{Step: cases.StepRepeatTest, Cause: "qns"}, "QNS, repeat due", "Book a repeat test"},
		{cases.Next{Step: cases.StepRepeatTest, Cause: "intermediate"}, "Intermediate, repeat due", "Book a repeat test"},
		{cases.Next{Step: cases.StepRepeatTest, Cause: "arms-disagree"}, "Arms disagree, repeat due", "Book a repeat test"},
		{cases.Next{Step: cases.StepRepeatTest, Cause: "does-not-fit"}, "Does not fit, repeat due", "Book a repeat test"},
		{cases.Next{Step: cases.StepTellPrimary}, "Primary care not told", "Call primary care"},
		{cases.Next{Step: cases.StepReachFamily}, "Family not reached", "Call the family"},
		{cases.Next{Step: cases.StepClearHold, Cause: "oxygen"}, "On hold: oxygen", "Ask whether the hold is over"},
		{cases.Next{Step: cases.StepReweigh}, "Weight check due", "Get a new weight"},
		{cases.Next{Step: cases.StepBookTest}, "No test booked", "Book a test"},
		{cases.Next{Step: cases.StepBookTest, Cause: "missed"}, "Missed appointment", "Book a test"},
		{cases.Next{Step: cases.StepLookAgain, Cause: "crms-cfspid"}, "Time to look again", "Arrange the re-test"},
		{cases.Next{Step: cases.StepClosed, Cause: "carrier"}, "Closed: Carrier", "None"},
	}
	for _, tt := range tests {
		a := &cases.Assessment{On: mustDay(t, "2026-03-20"), Next: tt.next}
		if a.ListWord() != tt.reason || a.ActionWord() != tt.action {
			t.Errorf("%s: %q, %q, want %q, %q", tt.next.Step, a.ListWord(), a.ActionWord(), tt.reason, tt.action)
		}
	}
}
