package intake

import "dunlin/cases"

// Moment is a date or time as it was sent: the text, the civil day and the wall
// clock written in it, how precise it was, and its offset if one was written. The
// wall clock is never moved to another zone.
type Moment struct {
	Text      string      `json:"text,omitempty"`
	Day       cases.Day   `json:"day,omitempty"`
	Clock     cases.Clock `json:"clock,omitempty"`
	Precision string      `json:"precision,omitempty"` // year month day hour minute second
	Offset    string      `json:"offset,omitempty"`    // "+hhmm", "-hhmm" or ""
	Bad       string      `json:"bad,omitempty"`       // why it cannot be used
	Doubt     string      `json:"doubt,omitempty"`     // the day can be used, its time of day cannot
	At        Problem     `json:"at,omitzero"`         // its place
}

// Identifier is a number with the authority that gave it, both as text: leading
// zeroes count.
type Identifier struct {
	Number    string `json:"number,omitempty"`
	Authority string `json:"authority,omitempty"`
}

// Answer is one coded answer: the LOINC answer code if one was sent, and the text.
type Answer struct {
	Code   string  `json:"code,omitempty"` // LA code, SNOMED code, or "" for text alone
	System string  `json:"system,omitempty"`
	Text   string  `json:"text,omitempty"`
	Other  string  `json:"other,omitempty"`  // local code or text sent beside it
	Status string  `json:"status,omitempty"` // OBX-11
	Flag   string  `json:"flag,omitempty"`   // OBX-8, shown and never decided on
	Last   bool    `json:"last,omitempty"`   // stands in the last segment of the message
	At     Problem `json:"at,omitzero"`
}

// Measure is a number with its comparator and unit, and the text it came from.
// Value is nil when the text is not a number; Doubt says why a person must look.
type Measure struct {
	Text       string   `json:"text,omitempty"`
	Value      *float64 `json:"value,omitempty"`
	Comparator string   `json:"comparator,omitempty"` // "<" ">" "<=" ">=" or ""
	Unit       string   `json:"unit,omitempty"`
	Range      string   `json:"range,omitempty"`
	Flag       string   `json:"flag,omitempty"`
	Status     string   `json:"status,omitempty"`
	Doubt      string   `json:"doubt,omitempty"`
	At         Problem  `json:"at,omitzero"`
}

// VariantText is one report of CFTR variants as the laboratory wrote it.
type VariantText struct {
	Text   string  `json:"text"`
	Code   string  `json:"code,omitempty"` // the test; the same variant by two tests counts once
	Sub    string  `json:"sub,omitempty"`  // which variant of the test it is (OBX-4, or the column)
	Status string  `json:"status,omitempty"`
	At     Problem `json:"at,omitzero"`
}

// Unknown is a result in the cystic fibrosis panel whose code is not known.
type Unknown struct {
	Code    string  `json:"code"`
	Name    string  `json:"name,omitempty"`
	Text    string  `json:"text,omitempty"`
	Suggest string  `json:"suggest,omitempty"` // the code that was probably meant
	Outside bool    `json:"outside,omitempty"` // stands outside the panel, and its name says what it is about
	At      Problem `json:"at,omitzero"`
}

// Person is a mother or guardian as sent.
type Person struct {
	Family    string         `json:"family,omitempty"`
	Given     string         `json:"given,omitempty"`
	Relation  string         `json:"relation,omitempty"` // table 0063: MTH FTH GRD FCH CGV ...
	Born      cases.Day      `json:"born,omitempty"`
	Phones    []cases.Phone  `json:"phones,omitempty"`
	Email     string         `json:"email,omitempty"`
	Address   *cases.Address `json:"address,omitempty"`
	Language  string         `json:"language,omitempty"`
	NullPhone bool           `json:"null_phone,omitempty"` // the message asks to delete the phone
	NullAddr  bool           `json:"null_address,omitempty"`
}

// Infant is who the item is about, as sent. Weights are grams.
type Infant struct {
	Family      string             `json:"family,omitempty"`
	Given       string             `json:"given,omitempty"`
	Generic     bool               `json:"generic,omitempty"` // a place-holder name such as BABYGIRL
	Born        Moment             `json:"born"`
	Sex         string             `json:"sex,omitempty"` // female male other unknown or ""
	Multiple    string             `json:"multiple,omitempty"`
	Order       int                `json:"order,omitempty"`
	Plurality   int                `json:"plurality,omitempty"`
	Records     []Identifier       `json:"records,omitempty"`
	MotherID    Identifier         `json:"mother_id"`
	Gestation   cases.Gestation    `json:"gestation,omitempty"`
	BirthWeight float64            `json:"birth_weight_g,omitempty"`
	CardWeight  float64            `json:"card_weight_g,omitempty"` // when the card was filled
	WeightText  string             `json:"weight_text,omitempty"`   // a birth weight that cannot be used
	Deceased    bool               `json:"deceased,omitempty"`
	Died        Moment             `json:"died,omitzero"`
	Facility    string             `json:"facility,omitempty"`
	Care        *cases.PrimaryCare `json:"care,omitempty"`
}

// Referral is what one item says in neutral form, whatever format it came in.
type Referral struct {
	Sender      string     `json:"sender,omitempty"`
	Program     string     `json:"program,omitempty"` // the sending application
	ControlID   string     `json:"control_id,omitempty"`
	Processing  string     `json:"processing,omitempty"` // P, or D, T for a test message
	Sent        Moment     `json:"sent"`
	Referred    Moment     `json:"referred,omitzero"` // a referral day that the row itself gives
	Accession   Identifier `json:"accession"`
	Order       Identifier `json:"order"`
	Card        string     `json:"card,omitempty"`
	FirstCard   string     `json:"first_card,omitempty"`
	Infant      Infant     `json:"infant"`
	Mother      Person     `json:"mother"`
	Maiden      string     `json:"maiden,omitempty"`
	Guardians   []Person   `json:"guardians,omitempty"`
	Home        *Person    `json:"home,omitempty"` // phone and address of the infant's own record
	Ordering    string     `json:"ordering,omitempty"`
	ListNoCodes bool       `json:"list_no_codes,omitempty"` // a line list: answers are words

	Collected Moment `json:"collected,omitzero"`
	Received  Moment `json:"received,omitzero"`
	Reported  Moment `json:"reported,omitzero"`

	Interpretation []Answer      `json:"interpretation,omitempty"`
	Overall        []Answer      `json:"overall,omitempty"`
	Positive       []Answer      `json:"positive,omitempty"`
	Equivocal      []Answer      `json:"equivocal,omitempty"`
	Quality        []Answer      `json:"quality,omitempty"`
	Factors        []Answer      `json:"factors,omitempty"`
	Transfused     Moment        `json:"transfused,omitzero"`
	IRT            []Measure     `json:"irt,omitempty"`
	Variants       []VariantText `json:"variants,omitempty"`
	Comments       []string      `json:"comments,omitempty"`
	Mentions       []Mention     `json:"mentions,omitempty"` // what is said of cystic fibrosis in words
	Files          []Problem     `json:"files,omitempty"`    // reports that are files within the message
	About          Problem       `json:"about,omitzero"`     // the first order or result, when it is none of a screen
	Unknown        []Unknown     `json:"unknown,omitempty"`
	Screen         bool          `json:"is_screen,omitempty"`
	SweatTest      bool          `json:"is_sweat,omitempty"`
	Sites          []Site        `json:"sites,omitempty"`
	LabReads       string        `json:"lab_reads,omitempty"` // the laboratory's interpretation of the sweat test as a whole
	Corrected      bool          `json:"corrected,omitempty"`
	Deleted        bool          `json:"deleted,omitempty"` // some result was taken back
	Preliminary    bool          `json:"preliminary,omitempty"`
	WrongPatient   bool          `json:"wrong_patient,omitempty"`
	CheckSpelling  bool          `json:"check_spelling,omitempty"`
}

// Test reports whether the message was marked as a test by its processing id.
func (r *Referral) Test() bool { return r.Processing != "" && r.Processing != "P" }
