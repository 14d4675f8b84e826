package reminders

import "dunlin/cases"

// OrderRule is printed under the list.
const OrderRule = "Urgent classes come first, then the most days late, then the older infant, then the reference. " +
	"What is due today comes last in its class. Twins stand together at the place of the earlier one."

// Class says an urgency class in words; "" for the ordinary class.
func Class(urgency int) string {
	switch urgency {
	case 3:
		return "Presumptive CF, or a value in the CF range"
	case 2:
		return "A value does not fit, or is just below the CF range"
	}
	return ""
}

// Reason is why a case is on the list, in the program's vocabulary.
func Reason(a *cases.Assessment) string {
	switch n := &a.Next; n.Step {
	case cases.StepReferAtOnce:
		return "Two variants, refer now"
	case cases.StepVerify:
		return "Does not fit"
	case cases.StepRecordResult:
		return "Result not in"
	case cases.StepDecide:
		return "Ready to close"
	case cases.StepAwaitTest:
		return "Booked"
	case cases.StepRepeatTest:
		return repeatReason(n.Cause)
	case cases.StepTellPrimary:
		return "Primary care not told"
	case cases.StepReachFamily:
		return "Family not reached"
	case cases.StepClearHold:
		return "On hold: " + holdWords[n.Cause]
	case cases.StepReweigh:
		return "Weight check due"
	case cases.StepBookTest:
		if n.Cause == "missed" {
			return "Missed appointment"
		}
		return "No test booked"
	case cases.StepLookAgain:
		return "Time to look again"
	case cases.StepClosed:
		return "Closed: " + determinationWords[a.ClosedAs]
	}
	return string(a.Next.Step)
}

func repeatReason(cause string) string {
	switch cause {
	case string(cases.QNS):
		return "QNS, repeat due"
	case string(cases.Intermediate):
		return "Intermediate, repeat due"
	case string(cases.ArmsDisagree):
		return "Arms disagree, repeat due"
	case string(cases.Unverified):
		return "Value not plausible, repeat due"
	case string(cases.VoidTest):
		return "Test void, repeat due"
	}
	return "Does not fit, repeat due"
}

// Action is what a person does about it, verb first.
func Action(a *cases.Assessment) string {
	switch n := &a.Next; n.Step {
	case cases.StepReferAtOnce:
		return "Call the CF center and primary care"
	case cases.StepVerify:
		return "Check the value, then repeat"
	case cases.StepRecordResult:
		return "Ask the site for the result"
	case cases.StepDecide:
		return "Decide and close"
	case cases.StepAwaitTest:
		if n.Due <= a.On+1 {
			return "Confirm the booking"
		}
		return "None until the day"
	case cases.StepRepeatTest:
		return "Book a repeat test"
	case cases.StepTellPrimary:
		return "Call primary care"
	case cases.StepReachFamily:
		return "Call the family"
	case cases.StepClearHold:
		return "Ask whether the hold is over"
	case cases.StepReweigh:
		return "Get a new weight"
	case cases.StepBookTest:
		return "Book a test"
	case cases.StepLookAgain:
		if n.Cause == "lost" {
			return "Try the family"
		}
		return "Arrange the re-test"
	}
	return "None"
}

var holdWords = map[string]string{
	"": "no reason given", "oxygen": "oxygen", "acute-illness": "acute illness", "oedema": "edema", "dehydration": "dehydration",
	"steroids": "steroids", "skin": "skin", "implanted-device": "implanted device", "seizures": "seizures",
	"inpatient": "inpatient", "other": "other",
}

var determinationWords = map[string]string{
	"cf": "CF", "crms-cfspid": "CRMS/CFSPID", "carrier": "Carrier", "not-affected": "Not affected", "other-diagnosis": "Other diagnosis",
	"lost": "Lost to follow-up", "refused": "Declined", "died": "Died", "moved": "Moved, accepted elsewhere", "duplicate": "Referred in error",
}
