package cases

// Assessment is what a case and the protocol imply on one day. It is derived
// anew each time and never stored as truth.
type Assessment struct {
	Reference     string        `json:"reference"`
	On            Day           `json:"on"`
	Readiness     Readiness     `json:"readiness"`
	PresumptiveCF bool          `json:"presumptive_cf"`
	Genotype      GenotypeRead  `json:"genotype"`
	Tests         []TestReading `json:"tests"`
	Repeat        *Repeat       `json:"repeat"`
	Next          Next          `json:"next"`
	Clocks        Clocks        `json:"clocks"`
	Overdue       Overdue       `json:"overdue"`
	Supports      Supports      `json:"supports"`
	Provisional   *string       `json:"provisional"`
	Actions       Actions       `json:"actions"`
	LettersDue    []LetterDue   `json:"letters_due"` // to the family

	// What follows is left out of the document where it is empty.
	DoctorLettersDue []LetterDue   `json:"doctor_letters_due,omitempty"`
	LettersToRelease []LetterDue   `json:"letters_to_release,omitempty"` // due once a named person releases them
	MessagesDue      []MessageDue  `json:"messages_due,omitempty"`
	ContactPlan      *ContactState `json:"contact_plan,omitempty"` // nil while the family need not be reached

	// Closed tells whether a closure stands and nothing reopened the case.
	Closed bool `json:"-"`
	// ClosedOn and ClosedAs belong to the closure that stands.
	ClosedOn Day    `json:"-"`
	ClosedAs string `json:"-"`
	// Proposed is the closure that waits for agreement, nil without one.
	Proposed *Closure `json:"-"`
	// ReopenedOn is the day of the fact that reopened a closed case.
	ReopenedOn Day `json:"-"`
	// KnownOn is the day presumptive CF became known.
	KnownOn Day `json:"-"`
	// LookAgain is the day to look again of a closure that stands; 0 without one.
	LookAgain Day `json:"-"`
	// CallBy is the day until which a letter made on the day of assessment asks a family
	// that could not be reached to call.
	CallBy Day `json:"-"`
	// WeighBy is the day by which a weight is wanted while the action reweigh is owed,
	// else 0.
	WeighBy Day `json:"-"`
}

// Readiness says from when the infant can be tested and what it waits for.
type Readiness struct {
	Ready      bool           `json:"ready"`
	Earliest   Day            `json:"earliest"`
	WaitingFor Waits          `json:"waiting_for"`
	Flags      ReadinessFlags `json:"flags"`
	Weight     WeightState    `json:"weight"`

	AgeFrom       Day    `json:"-"` // first day old enough
	GestationFrom Day    `json:"-"` // first day at the least corrected gestation; 0 when unknown
	Latest        Weight `json:"-"` // the weight that decides; On is 0 without one
}

// WeightState is met, likely, short or unknown, with a projection when short.
type WeightState struct {
	State    string    `json:"state"`
	Estimate *Estimate `json:"estimate"`
}

// GenotypeRead counts alleles by class.
type GenotypeRead struct {
	Alleles  Alleles `json:"alleles"`
	Reported bool    `json:"-"`
	Scope    string  `json:"-"`
	PolyT    bool    `json:"-"` // an R117H has no poly-T with it
}

// Alleles counts alleles, not variants.
type Alleles struct {
	CFCausing  int `json:"cf-causing"`
	Varying    int `json:"varying"`
	Unknown    int `json:"unknown"`
	NonCausing int `json:"non-causing"`
}

// TestReading is one sweat test as the protocol reads it.
type TestReading struct {
	On       Day        `json:"on"`
	Outcome  Outcome    `json:"outcome"`
	Deciding *float64   `json:"deciding"` // mmol/L, the higher usable arm
	Flags    TestFlags  `json:"flags"`
	Arms     ArmsRead   `json:"arms"`
	Test     *SweatTest `json:"-"`
	Index    int        `json:"-"` // place in Case.SweatTests
}

// ArmRead says whether an arm had enough sweat, and how much it needed (µL or mg).
type ArmRead struct {
	Side   string  `json:"side"`
	Usable bool    `json:"usable"`
	Needed float64 `json:"needed"`
}

// Outcome is the reading of a sweat test.
type Outcome string

// The outcomes. The first three are graded.
const (
	Unlikely       Outcome = "unlikely"
	Intermediate   Outcome = "intermediate"
	ConsistentCF   Outcome = "consistent-with-cf"
	QNS            Outcome = "qns"
	ArmsDisagree   Outcome = "arms-disagree"
	Unverified     Outcome = "unverified"
	NotResulted    Outcome = "not-resulted"
	ScreeningOnly  Outcome = "screening-only"
	VoidTest       Outcome = "void"
	becauseMisfit          = "does-not-fit"
	crmsCFSPID             = "crms-cfspid"
	exceptionNoDay         = "not ready by day "
)

// Graded tells whether the outcome is a reading by the bands.
func (o Outcome) Graded() bool {
	return o == Unlikely || o == Intermediate || o == ConsistentCF
}

// Repeat is a further test that is owed.
type Repeat struct {
	Because string `json:"because"`
	Due     Day    `json:"due"`
	Attempt int    `json:"attempt"`
	After   Day    `json:"-"` // the day of the test it follows
}

// Step is what is owed next.
type Step string

// The steps of vocabulary.md.
const (
	StepLookAgain    Step = "look-again"
	StepClosed       Step = "closed"
	StepDecide       Step = "decide"
	StepReferAtOnce  Step = "refer-at-once"
	StepVerify       Step = "verify"
	StepRecordResult Step = "record-result"
	StepTellPrimary  Step = "tell-primary-care"
	StepReachFamily  Step = "reach-family"
	StepClearHold    Step = "clear-hold"
	StepAwaitTest    Step = "await-test"
	StepRepeatTest   Step = "repeat-test"
	StepReweigh      Step = "reweigh"
	StepBookTest     Step = "book-test"
)

// Next is the one step owed, why, and by when.
type Next struct {
	Step        Step   `json:"step"`
	Because     string `json:"because"` // one plain sentence, composed by Explain
	Due         Day    `json:"due"`
	DaysOverdue int    `json:"days_overdue"`
	Urgency     int    `json:"urgency"`

	Cause   string   `json:"-"` // finer reason within the step: qns, missed, oxygen ...
	Booking *Booking `json:"-"` // the booking the step is about, if any
}

// ClockRun is one clock: due, met, and days late so far.
type ClockRun struct {
	Due       Day    `json:"due"`
	MetOn     Day    `json:"met_on"`
	DaysLate  int    `json:"days_late"`
	Exception string `json:"exception,omitempty"`
	Running   bool   `json:"-"` // unmet and not stopped
}

// Clocks holds the clocks of a case; RepeatTest is nil while no repeat is open.
type Clocks struct {
	PrimaryCareTold ClockRun  `json:"primary-care-told"`
	FamilyReached   ClockRun  `json:"family-reached"`
	FirstTest       ClockRun  `json:"first-test"`
	RepeatTest      *ClockRun `json:"repeat-test,omitempty"`
	Determination   ClockRun  `json:"determination"`
}

// Overdue is counted from the oldest due day of the step and the running clocks.
type Overdue struct {
	Days  int     `json:"days"`
	Since Day     `json:"since"`
	By    *string `json:"by"`
}

// OnList tells whether the case belongs on that day's overdue list.
func (a *Assessment) OnList() bool { return a.Overdue.Since != 0 }

// LetterDue is one letter that is owed; to whom follows from its kind.
type LetterDue struct {
	Kind     string `json:"kind"`
	Occasion string `json:"occasion"`
	Due      Day    `json:"due"`
}

// To is who gets the letter: ToFamily, ToPrimaryCare or ToClinic.
func (l *LetterDue) To() string { return LetterKindOf(l.Kind).To }
