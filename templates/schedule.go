package templates

import "html/template"

// SchedulePage is the nurse's page: who has no booking yet and what each waits
// for, what happens today, and what is booked.
type SchedulePage struct {
	Base
	Today    Date
	Waiting  int // infants without a booking
	Repeat   []ToBook
	Ready    []ToBook
	NotReady []ToBook
	Weigh    []WeighRow
	Retests  []RetestRow     // of infants closed as CRMS/CFSPID
	Day      []Appointment   // today's, and earlier ones not recorded yet
	Booked   []Appointment   // after today
	Stranded []Appointment   // ahead, without a session to come to; Why says the reason
	Clinics  []ClinicDay     // sessions of the next two weeks
	Cuts     map[string]*Cut // tables that show only their first rows, by id
	MayBook  bool            // may book, move and cancel
	MayWeigh bool            // may add weights
	MayTest  bool            // may record a test, kept or missed
	Scale    Scale
}

// File names the template.
func (*SchedulePage) File() string { return "schedule" }

// Axis is the head of the column of age strips.
func (p *SchedulePage) Axis() template.HTML { return StripAxis(p.Scale) }

// Groups are the three tables of infants without a booking, in their order.
func (p *SchedulePage) Groups() []ToBookGroup {
	return []ToBookGroup{
		{"repeat", "Due for repeat", "late", "without a booking", "No repeat is due.", p.Repeat},
		{"ready", "Ready for a first test", "ready", "without a booking", "No infant is ready and without a booking.", p.Ready},
		{"not-ready", "Not ready yet", "hold", "waiting", "No infant waits to become ready.", p.NotReady},
	}
}

// Total is how many rows a table has, also those that are not shown.
func (p *SchedulePage) Total(id string, shown int) int {
	if k := p.Cuts[id]; k != nil {
		return k.Of
	}
	return shown
}

// Cut says that a table shows its first rows only.
type Cut struct {
	Shown, Of int
	All       string // address of the page with all rows
}

// ClinicDay is one session of a test site ahead.
type ClinicDay struct {
	On           Date
	Time         string // 09:30 to 12:10
	Site, Places string // places in words: 2 of 4 free, 1 kept for repeats
	Href         string // the session
}

// ToBookGroup is one table of the schedule page.
type ToBookGroup struct {
	ID, Head, Kind, Noun, None string
	Rows                       []ToBook
}

// ToBook is an infant without a booking.
type ToBook struct {
	Who
	Strip      Strip
	Why        string // "QNS on 14 Feb, due 21 Feb"
	Weight     string // "3.59 kg" or "Not known"
	WeightNote string // "measured 4 Mar" or "estimate, weigh on the day"
	Earliest   string // "Now", "Fri 6 Mar 2026", "Weigh first"
	Waits      string // "waits for age"
	Late       string // "3 days late"; empty when on time
	Repeat     *RepeatPart
	Button     string // "Book" or "Get a new weight"
	Href       string
}

// Appointment is one booking in a list.
type Appointment struct {
	Who
	On       Date
	At, Site string
	Why      string // "First test" or "Repeat, QNS on 14 Feb"
	State    Tag
	Open     bool   // still to be recorded, kept, missed, moved or cancelled
	Past     bool   // its day is before today
	Came     bool   // kept: only the test is still to be recorded
	Path     string // address of the booking: /infants/AB-2026-0042/bookings/2026-03-18T09:30
	Record   string // address for recording the test; empty when one is recorded
	Rev      uint64
	Clinic   string // address of the session; empty when the site is not known
}

// BookPage books a sweat test for one infant, or moves a booking.
type BookPage struct {
	Base
	Head      string // "Book a sweat test for Ada"
	Lead      string
	Action    string
	Back      string // address of Cancel
	Button    string // "Book" or "Move"
	Moving    string // "Mon 9 Mar 2026, 13:00, Alder Bay CF Clinic"; empty when booking
	State     Tag    // "Ready now", "Ready from Thu 12 Mar 2026"
	Mets      []Met
	Estimate  string // "1.98 kg on Thu 12 Mar 2026: estimate, weigh on the day"
	Notes     []Notice
	On, At    Field
	Site      Choice
	Sibling   *SiblingBooking
	GoOn      GoOn
	Over      *OverridePart // asks who decided, when something speaks against the day; nil before
	Why       *Field        // reason of a move
	Cautions  []string
	Scheduled []string // bookings that stand for this infant

	Places *PlacesPart // places of sessions; nil when the program has no sessions
	ByHand bool        // a site without sessions is booked by hand
}

// PlacesPart offers places of sessions, each with its reasons and a button.
type PlacesPart struct {
	Action string
	Offers []PlaceOffer
	None   string // why nothing fits
	Note   string // about a twin
	Button string
	Twin   uint64 // revision of the twin that is booked too; 0 for none
	Pick   Choice // every free place
	Held   *HeldPlace
}

// PlaceOffer is one place, or one for each twin.
type PlaceOffer struct {
	Value string // how the place is sent
	Say   string // Wed 18 Mar 2026, 09:30, Alder Bay
	Far   string // the way
	Late  Tag    // past the due day
	Why   []string
}

// HeldPlace is the place that was asked for and needs a word more before it is booked.
type HeldPlace struct {
	Value, Say, Button string
	GoOn               GoOn
	Why                *Field // reason of a move
	Refused            string // what speaks against the day
	By, Reason         Field  // who decided all the same, and why; shown with Refused
}

// OverridePart asks for a named person's word, and why.
type OverridePart struct {
	Refused    string // what speaks against the day
	By, Reason Field
}

// SiblingBooking offers the other infant of a birth a time of its own.
type SiblingBooking struct {
	Name, Reference string
	Booked          string // its booking in words; empty when it has none
	Tick            bool   // book it too
	At              Field
	Note            string // readiness of the sibling
	Rev             uint64
}

// File names the template.
func (*BookPage) File() string { return "book" }

// CancelBookingPage asks why a booking is cancelled, or was missed.
type CancelBookingPage struct {
	Base
	Head    string
	Booking string
	Action  string
	Back    string
	Reason  Choice
	Words   Field
	Note    string // what follows
	Button  string // "Cancel booking"
	Keep    string // words of the link back: "Keep the booking"
}

// File names the template.
func (*CancelBookingPage) File() string { return "cancel-booking" }
