package templates

// NotDonePage records that an infant came for a sweat test and was not tested.
type NotDonePage struct {
	Base
	Head, Lead string
	Action     string
	Back       string

	On, Words  Field
	Why        Choice
	Weight     Field
	Until      Field // first day without the hold
	Look       Field // day to ask again
	Talk       Choice
	Person     Field
	Booking    string // the booking of that day; "" for none
	GoOn       GoOn
	Cautions   []string
	MissedHint string // where a family that did not come is recorded
}

// File names the template.
func (*NotDonePage) File() string { return "not-done" }

// AfterTestPage is shown once a visit is recorded: what is owed next, with the
// earliest places where that is a test, and the tasks that cannot wait.
type AfterTestPage struct {
	Base
	Head, Lead string
	Back       string

	Drop  Drop   // of the latest test
	Word  string // its outcome; "" when there is none
	On    Date
	Lines []string // its arms and what is unusual about it, in words
	Next  NextStep
	Tasks []Link   // what is owed today, each with its page
	Also  []string // further actions, in words, where no repeat says them

	Repeat  *RepeatPart // nil when no repeat is owed
	Places  *PlacesPart
	NoPlace string // why no place is offered here; "" when places are
	ByHand  string // address of the booking page for sites without sessions
	PutOff  *PutOff
	Notes   []Notice
	Links   []Link
}

// File names the template.
func (*AfterTestPage) File() string { return "after-test" }

// PutOff is the form that says why no date is set for a repeat.
type PutOff struct {
	Action        string
	By, Why, Look Field
}
