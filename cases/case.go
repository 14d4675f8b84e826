package cases

// DocumentName is the value of "document" in every case document.
const DocumentName = "dunlin-case/1"

// ID names a case in the store: a 26-character identifier that sorts by time.
type ID string

// Rev counts the writes of one record; it travels in every form.
type Rev uint64

// Case is everything recorded about one infant's follow-up: the case document,
// and the identity and revision that the store gives it. Struct tags drive the
// strict reader and the printed schema: req marks what a document must hold, enum
// lists the allowed words.
type Case struct {
	ID  ID  `json:"-"`
	Rev Rev `json:"-"`

	Document      string         `json:"document" req:"yes" enum:"dunlin-case/1"`
	Reference     string         `json:"reference,omitempty" note:"two letters, year, running number: AB-2026-0042"`
	Infant        Infant         `json:"infant" req:"yes"`
	Referral      Referral       `json:"referral" req:"yes"`
	Genotype      *Genotype      `json:"genotype,omitempty" note:"absent: not reported yet"`
	Holds         []Hold         `json:"holds,omitempty"`
	Contacts      []Contact      `json:"contacts,omitempty"`
	Bookings      []Booking      `json:"bookings,omitempty"`
	SweatTests    []SweatTest    `json:"sweat_tests,omitempty"`
	Closures      []Closure      `json:"closures,omitempty"`
	Family        *Family        `json:"family,omitempty"`
	PrimaryCare   *PrimaryCare   `json:"primary_care,omitempty"`
	Owner         string         `json:"owner,omitempty"`
	Siblings      []string       `json:"siblings,omitempty" note:"references of the siblings' cases"`
	Flags         []Flag         `json:"flags,omitempty"`
	Declined      *Declined      `json:"declined,omitempty"`
	Handover      *Handover      `json:"handover,omitempty"`
	Letters       []LetterMade   `json:"letters,omitempty"`
	Releases      []Release      `json:"letter_releases,omitempty"`
	Messages      []MessageMade  `json:"messages,omitempty"`
	RepeatOrdered *RepeatOrdered `json:"repeat_ordered,omitempty"`
	Notes         []Note         `json:"notes,omitempty"`
	ToCheck       []ToCheck      `json:"to_check,omitempty" note:"values that intake could not use, kept as text"`
	DuplicateOf   *DuplicateOf   `json:"duplicate_of,omitempty" note:"another case is about the same infant; once agreed, everything is there"`
	Merged        []Merged       `json:"merged,omitempty" note:"cases that were about the same infant"`
	KeptApart     []KeptApart    `json:"kept_apart,omitempty" note:"infants that a person told from this one"`
	LegalHolds    []LegalHold    `json:"legal_holds,omitempty" note:"while one stands, nothing of the case may be erased"`
	TestMessage   bool           `json:"test_message,omitempty" note:"opened by a message marked as a test"`
}

// Infant is who the case is about. Weights are in grams, gestation in days.
type Infant struct {
	Given        string     `json:"given,omitempty"`
	Family       string     `json:"family,omitempty"`
	FormerNames  []string   `json:"former_names,omitempty"`
	Sex          string     `json:"sex,omitempty" enum:"female male other unknown"`
	Born         Day        `json:"born" req:"yes"`
	BornAt       Clock      `json:"born_at,omitempty"`
	Plurality    int        `json:"plurality,omitempty" min:"1" max:"12"`
	BirthOrder   int        `json:"birth_order,omitempty" min:"1" max:"12"`
	Gestation    Gestation  `json:"gestation,omitempty"`
	BirthWeightG float64    `json:"birth_weight_g,omitempty" min:"1"`
	Weights      []Weight   `json:"weights,omitempty"`
	Died         Day        `json:"died,omitempty"`
	DiedReported Day        `json:"died_reported,omitempty"`
	Records      []RecordNo `json:"records,omitempty"`
	Facility     string     `json:"birth_facility,omitempty"`

	Former []FormerIdentity `json:"former_identity,omitempty" note:"values that were corrected, oldest first"`
}

// RecordNo is a record number with the authority that gave it.
type RecordNo struct {
	Authority string `json:"authority,omitempty"`
	Number    string `json:"number" req:"yes"`
}

// Weight is one weighing, in grams.
type Weight struct {
	On Day     `json:"on" req:"yes"`
	G  float64 `json:"g" req:"yes"`
	By string  `json:"by,omitempty"`
}

// Referral is how and when the infant reached the program.
type Referral struct {
	On     Day     `json:"on" req:"yes"`
	Route  string  `json:"route" req:"yes" enum:"screen clinical sibling prenatal meconium-ileus"`
	Screen *Screen `json:"screen,omitempty"`
}

// Screen is the newborn-screen result as the laboratory sent it; IRT in ng/mL.
type Screen struct {
	Collected  Day      `json:"collected,omitempty"`
	Reported   Day      `json:"reported,omitempty"`
	Accession  string   `json:"accession,omitempty"`
	CardSerial string   `json:"card_serial,omitempty"`
	Laboratory string   `json:"laboratory,omitempty"`
	IRTNgML    *float64 `json:"irt_ng_ml,omitempty"`
	IRTText    string   `json:"irt_text,omitempty"`
	Result     string   `json:"result,omitempty" note:"the interpretation as sent"`
	Comment    string   `json:"comment,omitempty"`
	Transfused bool     `json:"transfused,omitempty"`
}

// Genotype is the report of CFTR variants: one entry per variant and allele.
type Genotype struct {
	Reported Day       `json:"reported,omitempty"`
	Scope    string    `json:"scope,omitempty" enum:"panel sequencing none"`
	Variants []Variant `json:"variants,omitempty"`
}

// Variant is one CFTR variant on one chromosome, named as the laboratory wrote it.
type Variant struct {
	Name        string `json:"name" req:"yes"`
	Phase       string `json:"phase,omitempty" enum:"cis trans unknown"`
	Allele      int    `json:"allele,omitempty" min:"1" max:"2"`
	Reported    Day    `json:"reported,omitempty"`
	Class       string `json:"class,omitempty" enum:"cf-causing varying non-causing unknown"`
	ClassSource string `json:"class_source,omitempty"`

	read variantReading // set when the case is read; see Classify
}

// Hold is a reason not to test now; Until is the first day without it.
type Hold struct {
	Reason    string `json:"reason,omitempty" enum:"oxygen acute-illness oedema dehydration steroids skin implanted-device seizures inpatient other"`
	From      Day    `json:"from" req:"yes"`
	Until     Day    `json:"until,omitempty"`
	LookAgain Day    `json:"look_again,omitempty"`
	Note      string `json:"note,omitempty"`
}

// Contact is one attempt to reach somebody; Reached is true only for a two-way
// talk or seen at home.
type Contact struct {
	On      Day    `json:"on" req:"yes"`
	At      Clock  `json:"at,omitempty"`
	With    string `json:"with" req:"yes" enum:"family primary-care specialist public-health-nurse supervisor"`
	By      string `json:"by" req:"yes" enum:"phone letter certified-letter email text visit in-person fax"`
	Reached bool   `json:"reached" req:"yes"`
	Outcome string `json:"outcome,omitempty"`
	Staff   string `json:"staff,omitempty"`
	Person  string `json:"person,omitempty"`
	Used    string `json:"used,omitempty" note:"the number or address used"`
	Note    string `json:"note,omitempty"`
	NextTry Day    `json:"next_try,omitempty"`
}

// Booking is a planned sweat test. A moved booking is one cancelled and one booked.
type Booking struct {
	On      Day    `json:"on" req:"yes"`
	At      Clock  `json:"at,omitempty"`
	Site    string `json:"site,omitempty"`
	State   string `json:"state" req:"yes" enum:"booked kept missed cancelled"`
	Changed Day    `json:"changed,omitempty"`
	Made    Day    `json:"made_on,omitempty" note:"the day the booking was made"`
	Reason  string `json:"reason,omitempty"`
	By      string `json:"by,omitempty"`
	// A booking that takes a place of a session.
	Session string `json:"session,omitempty" note:"the session whose place it takes"`
	Minutes int    `json:"minutes,omitempty" min:"1" max:"240" note:"length of the place"`
	// The appointment in calendars: one UID for its life, the sequence raised at each
	// change (RFC 5545, 3.8.7.4).
	UID      string `json:"uid,omitempty"`
	Sequence int    `json:"sequence,omitempty" min:"1" max:"9999"`
	// Who answers for a booking that readiness speaks against, and why.
	OverrideBy     string `json:"override_by,omitempty"`
	OverrideReason string `json:"override_reason,omitempty"`
}

// Booked is a place that a booking takes: its state is booked or kept.
type Booked struct {
	Case      ID
	Reference string
	Site      string
	On        Day
	At        Clock // "" when the booking has no time
}

// SweatTest is one visit with one or two arms.
type SweatTest struct {
	On        Day       `json:"on" req:"yes"`
	At        Clock     `json:"at,omitempty"`
	Site      string    `json:"site,omitempty"`
	Collector string    `json:"collector" req:"yes" enum:"tubing pad"`
	Analyte   string    `json:"analyte,omitempty" enum:"chloride conductivity"`
	Arms      []Arm     `json:"arms" req:"yes"`
	WeightG   float64   `json:"weight_g,omitempty"`
	By        string    `json:"by,omitempty"`
	Note      string    `json:"note,omitempty"`
	Verified  *Verified `json:"verified,omitempty"`
	// Laboratory is what the laboratory itself said of a result that came as a
	// message. It is shown beside the program's reading and never decides.
	Laboratory *LabReading `json:"laboratory,omitempty"`
}

// LabReading is the laboratory's own word on a sweat test.
type LabReading struct {
	Name     string `json:"name,omitempty" note:"the laboratory as it signs its messages"`
	Reported Day    `json:"reported,omitempty"`
	Reads    string `json:"reads,omitempty" note:"its interpretation as sent"`
	Range    string `json:"range,omitempty" note:"its reference range as sent"`
	Flag     string `json:"flag,omitempty" note:"its abnormal flag as sent"`
	Comment  string `json:"comment,omitempty"`
	Differs  string `json:"differs,omitempty" note:"where its reading and the program's differ, in words"`
}

// Arm is one site of a sweat test: minutes of collection, amount in µL (tubing)
// or mg (pad), chloride in mmol/L.
type Arm struct {
	Side         string   `json:"side" req:"yes" enum:"left right"`
	Place        string   `json:"place,omitempty" enum:"forearm upper-leg"`
	Minutes      float64  `json:"minutes" req:"yes"`
	AmountUL     *float64 `json:"amount_ul,omitempty"`
	AmountMg     *float64 `json:"amount_mg,omitempty"`
	Chloride     *float64 `json:"chloride,omitempty"`
	Conductivity *float64 `json:"conductivity,omitempty"`
	Reaction     string   `json:"reaction,omitempty" enum:"none redness blister burn"`
	ReportedOn   Day      `json:"reported_on,omitempty"`
	ReportedAt   Clock    `json:"reported_at,omitempty"`
	ReportedTo   string   `json:"reported_to,omitempty" note:"who was told of a blister or burn"`
	SkinBefore   string   `json:"skin_before,omitempty" enum:"sound not-sound" note:"how the skin looked before the electrodes were put on"`
	Induced      Clock    `json:"induced,omitempty" note:"when induction began"`
	Began        Clock    `json:"began,omitempty"`
	Ended        Clock    `json:"ended,omitempty"`
	Accession    string   `json:"accession,omitempty" note:"the laboratory's number for this collection"`
}

// Verified is a named person's word on a test: "stands" reads it by the bands
// alone, "void" keeps it without counting it.
type Verified struct {
	On Day    `json:"on" req:"yes"`
	By string `json:"by" req:"yes"`
	As string `json:"as" req:"yes" enum:"stands void"`
}

// Closure is a determination, or the proposal of one.
type Closure struct {
	On        Day       `json:"on" req:"yes"`
	As        string    `json:"as" req:"yes" enum:"cf crms-cfspid carrier not-affected other-diagnosis lost refused died moved duplicate"`
	By        string    `json:"by" req:"yes"`
	AgreedBy  string    `json:"agreed_by,omitempty"`
	AgreedOn  Day       `json:"agreed_on,omitempty"`
	Clinician string    `json:"clinician,omitempty"`
	Reason    string    `json:"reason,omitempty"`
	Code      string    `json:"diagnosis_code,omitempty" note:"ICD-10-CM code that the person who closed the case chose; never set by the program"`
	LookAgain Day       `json:"look_again,omitempty"`
	RestsOn   []Day     `json:"rests_on,omitzero"`
	Reopened  *Reopened `json:"reopened,omitempty"`
}

// Reopened takes a closure back by hand.
type Reopened struct {
	On     Day    `json:"on" req:"yes"`
	By     string `json:"by" req:"yes"`
	Reason string `json:"reason,omitempty"`
}
