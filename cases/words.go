package cases

import (
	"fmt"
	"strconv"
	"strings"
)

// The words of this file are those that people see everywhere: pages, letters,
// commands and the log say the same.

var determinationWords = map[string]string{
	"cf": "CF", crmsCFSPID: "CRMS/CFSPID", "carrier": "Carrier", "not-affected": "Not affected",
	"other-diagnosis": "Other diagnosis", "lost": "Lost to follow-up", "refused": "Declined", "died": "Died",
	"moved": "Moved, accepted elsewhere", "duplicate": "Referred in error",
}

// DeterminationWord says a closure's reason as people read it.
func DeterminationWord(as string) string { return wordOr(determinationWords, as) }

var outcomeWords = map[string]string{
	string(Unlikely): "CF unlikely", string(Intermediate): "Intermediate", string(ConsistentCF): "In the CF range",
	string(QNS): "QNS", string(ArmsDisagree): "Arms disagree", string(Unverified): "Value not plausible",
	string(NotResulted): "No result yet", string(ScreeningOnly): "Conductivity, screening only", string(VoidTest): "Void, not counted",
}

// Word says an outcome as people read it; it never says that CF is likely.
func (o Outcome) Word() string { return wordOr(outcomeWords, string(o)) }

var holdWords = map[string]string{
	"oxygen": "oxygen", "acute-illness": "acute illness", "oedema": "edema", "dehydration": "dehydration",
	"steroids": "steroids", "skin": "skin", "implanted-device": "implanted device", "seizures": "seizures",
	"inpatient": "inpatient", "other": "other reason",
}

// HoldWord says a hold's reason as people read it.
func HoldWord(reason string) string {
	if reason == "" {
		return "no reason given"
	}
	return wordOr(holdWords, reason)
}

func wordOr(m map[string]string, key string) string {
	if w, ok := m[key]; ok {
		return w
	}
	return key
}

// repeatWord heads a repeat by its cause.
func repeatWord(because string) string {
	switch because {
	case string(QNS), string(Intermediate), string(ArmsDisagree), string(Unverified):
		return Outcome(because).Word() + ", repeat due"
	case string(VoidTest):
		return "Test void, repeat due"
	}
	return "Does not fit, repeat due"
}

// ListWord says why a case is on the overdue list.
func (a *Assessment) ListWord() string {
	switch n := &a.Next; n.Step {
	case StepReferAtOnce:
		return "Two variants, refer now"
	case StepVerify:
		return "Does not fit"
	case StepRecordResult:
		return "Result not in"
	case StepDecide:
		return "Ready to close"
	case StepAwaitTest:
		return "Booked"
	case StepRepeatTest:
		return repeatWord(n.Cause)
	case StepTellPrimary:
		return "Primary care not told"
	case StepReachFamily:
		return "Family not reached"
	case StepClearHold:
		return "On hold: " + HoldWord(n.Cause)
	case StepReweigh:
		return "Weight check due"
	case StepBookTest:
		if n.Cause == "missed" {
			return "Missed appointment"
		}
		return "No test booked"
	case StepLookAgain:
		return "Time to look again"
	case StepClosed:
		return "Closed: " + DeterminationWord(n.Cause)
	}
	return string(a.Next.Step)
}

// ActionWord says what to do next, verb first.
func (a *Assessment) ActionWord() string {
	switch n := &a.Next; n.Step {
	case StepReferAtOnce:
		return "Call the CF center and primary care"
	case StepVerify:
		if n.Cause == "poly-t" {
			return "Ask the laboratory for the poly-T"
		}
		return "Check the value, then repeat"
	case StepRecordResult:
		if n.Cause == "genotype" {
			return "Ask the laboratory for the sequencing report"
		}
		return "Ask the site for the result"
	case StepDecide:
		return "Decide and close"
	case StepAwaitTest:
		if n.Due > a.On+1 {
			return "None until the day"
		}
		return "Confirm the booking"
	case StepRepeatTest:
		return "Book a repeat test"
	case StepTellPrimary:
		return "Call primary care"
	case StepReachFamily:
		return "Call the family"
	case StepClearHold:
		return "Ask whether the hold is over"
	case StepReweigh:
		return "Get a new weight"
	case StepBookTest:
		return "Book a test"
	case StepLookAgain:
		if n.Cause == "lost" {
			return "Try the family"
		}
		return "Arrange the re-test"
	}
	return "None"
}

// Word says whether and from when the infant can be tested.
func (r *Readiness) Word() string {
	switch {
	case r.Ready:
		return "Ready now"
	case r.WaitingFor&^(WaitAge|WaitGestation) == 0:
		return "Ready from " + Say(r.Earliest)
	}
	var w []string
	for _, x := range r.WaitingFor.Words() {
		if x == "gestation" {
			x = "corrected age"
		}
		w = append(w, x)
	}
	return "Waits for " + strings.Join(w, " and ")
}

var languageWords = map[string]string{"en": "English", "es": "Spanish", "fr": "French", "ar": "Arabic", "zh": "Chinese",
	"vi": "Vietnamese", "ht": "Haitian Creole", "so": "Somali", "pt": "Portuguese", "ru": "Russian"}

// LanguageWord names the language of a tag such as es or en-US; an unknown tag stays.
func LanguageWord(tag string) string {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	if w, ok := languageWords[base]; ok {
		return w
	}
	return tag
}

// Say writes a day for people: 5 Mar 2026.
func Say(d Day) string {
	if d == 0 {
		return "no date"
	}
	return d.Time().Format("2 Jan 2006")
}

// ScreenReason says in words why the infant was referred; never "high risk".
func (c *Case) ScreenReason(g *GenotypeRead) string {
	switch c.Referral.Route {
	case "meconium-ileus":
		return "Meconium ileus"
	case "sibling", "prenatal":
		return "Family history"
	case "clinical":
		return "Symptoms"
	}
	switch g.Alleles.counting() + g.Alleles.NonCausing {
	case 0:
		return "Raised IRT only"
	case 1:
		return "One variant"
	}
	return "Two variants"
}

// Explain composes the one plain sentence behind the next step.
func (a *Assessment) Explain(c *Case) string {
	n := &a.Next
	switch n.Step {
	case StepReferAtOnce:
		return "Two CF-causing variants are known since " + Say(a.KnownOn) + " and the CF center has not been reached; care does not wait for the sweat test."
	case StepVerify:
		return a.explainVerify()
	case StepRecordResult:
		switch n.Cause {
		case "genotype":
			return "Two intermediate tests end the repeats; the sequencing report is awaited."
		case "not-resulted":
			return "Sweat was collected on " + Say(n.Due) + " and a value is not in."
		}
		return "A test was booked for " + Say(n.Due) + " and nothing is recorded since."
	case StepDecide:
		return a.explainDecide()
	case StepAwaitTest:
		return "A test is booked for " + Say(n.Due) + "."
	case StepRepeatTest:
		return "The test on " + Say(a.Repeat.After) + " was: " + becauseWord(a.Repeat.Because) + ". Attempt " + strconv.Itoa(a.Repeat.Attempt) + " is due by " + Say(a.Repeat.Due) + "."
	case StepTellPrimary:
		return "Referred on " + Say(c.Referral.On) + "; neither primary care nor the family has been reached."
	case StepReachFamily:
		return "Referred on " + Say(c.Referral.On) + "; the family has not been reached."
	case StepClearHold:
		return "A hold is open: " + HoldWord(n.Cause) + "."
	case StepReweigh:
		return a.explainReweigh()
	case StepBookTest:
		return a.explainBook()
	case StepLookAgain:
		return "Closed as " + DeterminationWord(n.Cause) + "; the day to look again has come."
	}
	return "Closed as " + DeterminationWord(n.Cause) + " on " + Say(a.ClosedOn) + "."
}

func becauseWord(because string) string {
	if because == becauseMisfit {
		return "does not fit"
	}
	return Outcome(because).Word()
}

func (a *Assessment) explainVerify() string {
	switch a.Next.Cause {
	case "poly-t":
		return "R117H was found with a second variant and its poly-T is not known; the test cannot be read yet."
	case string(Unverified):
		return "A chloride value is above the plausible limit and nobody has checked it."
	case string(ArmsDisagree):
		return "The two arms differ by more than the protocol allows and nobody has checked them."
	}
	return "The latest test is below the band and does not fit what is known; identity and value are to be checked."
}

func (a *Assessment) explainDecide() string {
	switch a.Next.Cause {
	case "died":
		return "The infant died; the case is to be closed and nothing is sent."
	case "refused":
		return "The family declined the test."
	case "moved":
		return "Another program has accepted the infant."
	case "judge":
		return "The tests are in and the protocol leaves them to a person to judge."
	}
	var w []string
	for _, s := range a.Supports.Words() {
		w = append(w, DeterminationWord(s))
	}
	return "The recorded evidence would support: " + strings.Join(w, ", ") + "."
}

func (a *Assessment) explainReweigh() string {
	w := &a.Readiness.Latest
	if w.On == 0 {
		return "No weight is recorded."
	}
	return fmt.Sprintf("The latest weight, %.0f g on %s, is not enough for a test.", w.G, Say(w.On))
}

func (a *Assessment) explainBook() string {
	switch n := &a.Next; n.Cause {
	case "missed":
		return "The appointment on " + Say(n.Booking.On) + " was missed and no other is booked."
	case "cancelled":
		return "The booking for " + Say(n.Booking.On) + " was cancelled and no other is booked."
	case "conductivity":
		return "Only a conductivity screening test is recorded; a quantitative chloride test is owed."
	}
	return "No test is booked. " + a.Readiness.Word() + "."
}

// Routes are the ways in which a case can come, in the order shown.
var Routes = []string{"screen", "clinical", "sibling", "prenatal", "meconium-ileus"}

var routeWords = map[string]string{"screen": "Newborn screen", "clinical": "Symptoms", "sibling": "Sibling with CF", "prenatal": "Before birth", "meconium-ileus": "Meconium ileus"}

// RouteWord is the way in which a case came, in words.
func RouteWord(route string) string { return wordOr(routeWords, route) }
