package cases

// The kinds of letters.
const (
	LetterFirstNotice  = "first-notice"
	LetterBooking      = "booking"
	LetterReminder     = "reminder"
	LetterMissed       = "missed"
	LetterRepeatNeeded = "repeat-needed"
	LetterResult       = "result"     // within normal limits
	LetterCarrier      = "carrier"    // information for carriers
	LetterNoContact    = "no-contact" // by certified mail
	LetterReferral     = "doctor-referral"
	LetterDoctorResult = "doctor-result"
	LetterCannotReach  = "doctor-cannot-reach"
	LetterClinicDay    = "clinic-day" // of a test site and a day, of no case
)

// To whom a letter goes.
const (
	ToFamily      = "family"
	ToPrimaryCare = "primary-care"
	ToClinic      = "clinic"
)

// LetterKind says of one kind of letter to whom it goes and what people call it.
type LetterKind struct {
	Kind, To, Word string
	// Released tells that it says a result, so that a named licensed person must let
	// each one out first.
	Released  bool
	Certified bool
}

// LetterKinds are all kinds, in the order in which a case meets them.
var LetterKinds = []LetterKind{
	{Kind: LetterFirstNotice, To: ToFamily, Word: "First notice"},
	{Kind: LetterBooking, To: ToFamily, Word: "Appointment"},
	{Kind: LetterReminder, To: ToFamily, Word: "Reminder before the test"},
	{Kind: LetterMissed, To: ToFamily, Word: "Missed test"},
	{Kind: LetterRepeatNeeded, To: ToFamily, Word: "Repeat test needed"},
	{Kind: LetterResult, To: ToFamily, Word: "Result within normal limits", Released: true},
	{Kind: LetterCarrier, To: ToFamily, Word: "Carrier information", Released: true},
	{Kind: LetterNoContact, To: ToFamily, Word: "We could not reach you", Certified: true},
	{Kind: LetterReferral, To: ToPrimaryCare, Word: "Referral, to primary care"},
	{Kind: LetterDoctorResult, To: ToPrimaryCare, Word: "Result, to primary care"},
	{Kind: LetterCannotReach, To: ToPrimaryCare, Word: "Family not reached, to primary care"},
	{Kind: LetterClinicDay, To: ToClinic, Word: "List of the day, to the test site"},
}

// LetterKindOf is a kind by its key; one that is not known goes to the family, with
// the key as its word.
func LetterKindOf(kind string) LetterKind {
	for _, k := range LetterKinds {
		if k.Kind == kind {
			return k
		}
	}
	return LetterKind{Kind: kind, To: ToFamily, Word: kind}
}
