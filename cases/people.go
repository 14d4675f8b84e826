package cases

// Family is who may be told and how to reach them.
type Family struct {
	Mother      string     `json:"mother,omitempty"`
	MotherBorn  Day        `json:"mother_born,omitempty"`
	Guardians   []Guardian `json:"guardians,omitempty"`
	Language    string     `json:"language,omitempty" note:"BCP 47 tag, such as en or es"`
	Interpreter bool       `json:"interpreter,omitempty"`
	Consents    []Consent  `json:"consents,omitempty"`
	PickOne     bool       `json:"pick_guardian,omitempty" note:"several guardians were sent; a person picks before any letter"`
	Visits      *Visits    `json:"visits,omitempty" note:"what the family can do; places outside of it are not offered"`
}

// Visits is what the family said about coming to a test; zero values set no limit.
type Visits struct {
	MaxKm     float64 `json:"max_km,omitempty" min:"1" note:"straight line from the postal code"`
	Weekdays  []int   `json:"weekdays,omitempty" note:"days of the week it can come, 0 Sunday to 6 Saturday; empty: any"`
	NotBefore Clock   `json:"not_before,omitempty" note:"earliest start"`
	NotAfter  Clock   `json:"not_after,omitempty" note:"latest start"`
	Note      string  `json:"note,omitempty"`
}

// faults lists what makes no sense in a family's limits.
func (v *Visits) faults(l *faultList) {
	for i, w := range v.Weekdays {
		if w < 0 || w > 6 {
			l.add("must be 0 (Sunday) to 6 (Saturday)", "family.visits.weekdays[%d]", i)
		}
	}
	if v.NotBefore != "" && v.NotAfter != "" && v.NotAfter < v.NotBefore {
		l.add("is before not_before", "family.visits.not_after")
	}
}

// Guardian is one person who decides for the infant.
type Guardian struct {
	Given    string   `json:"given,omitempty"`
	Family   string   `json:"family,omitempty"`
	Relation string   `json:"relation,omitempty"`
	Phones   []Phone  `json:"phones,omitempty"`
	Address  *Address `json:"address,omitempty"`
	Email    string   `json:"email,omitempty"`
	Letters  bool     `json:"letters,omitempty" note:"letters go to this guardian"`
}

// Phone is a number as sent, with what is known of it.
type Phone struct {
	Number string `json:"number" req:"yes"`
	Kind   string `json:"kind,omitempty"`
	Best   string `json:"best_time,omitempty"`
}

// Address is a postal address; Bad marks one from which mail came back.
type Address struct {
	Lines   []string `json:"lines,omitempty"`
	City    string   `json:"city,omitempty"`
	County  string   `json:"county,omitempty" note:"county or parish, by name or code as sent"`
	Region  string   `json:"region,omitempty"`
	Postal  string   `json:"postal,omitempty"`
	Country string   `json:"country,omitempty"`
	Bad     bool     `json:"bad,omitempty"`
}

// Consent is permission for one channel, with its date.
type Consent struct {
	Channel     string `json:"channel" req:"yes" enum:"text email voicemail"`
	On          Day    `json:"on" req:"yes"`
	By          string `json:"by,omitempty" note:"who agreed, and how"`
	Withdrawn   Day    `json:"withdrawn_on,omitempty"`
	WithdrawnBy string `json:"withdrawn_by,omitempty" note:"who took it back, and how"`
}

// PrimaryCare is the infant's doctor.
type PrimaryCare struct {
	Name      string   `json:"name,omitempty"`
	Practice  string   `json:"practice,omitempty"`
	Phone     string   `json:"phone,omitempty"`
	Fax       string   `json:"fax,omitempty"`
	Email     string   `json:"email,omitempty"`
	Address   *Address `json:"address,omitempty"`
	Confirmed Day      `json:"confirmed_on,omitempty"`
}

// Flag restricts how the family may be contacted, from From (absent: always) to
// the day before Until.
type Flag struct {
	Kind  string `json:"kind" req:"yes" enum:"no-voicemail no-mail custody safety"`
	From  Day    `json:"from,omitempty"`
	Until Day    `json:"until,omitempty"`
	Note  string `json:"note,omitempty"`
}

// Declined says that the family refused the test, and who explained what that means.
type Declined struct {
	On          Day    `json:"on" req:"yes"`
	ByWhom      string `json:"by_whom,omitempty"`
	ExplainedBy string `json:"explained_by,omitempty"`
	WithdrawnOn Day    `json:"withdrawn_on,omitempty"`
}

// Handover passes the infant to another program; it counts from AcceptedOn.
type Handover struct {
	To         string `json:"to,omitempty"`
	On         Day    `json:"on" req:"yes"`
	AcceptedOn Day    `json:"accepted_on,omitempty"`
	AcceptedBy string `json:"accepted_by,omitempty"`
}

// LetterMade records a letter by kind and occasion: made once, whatever happens.
type LetterMade struct {
	Kind     string `json:"kind" req:"yes"`
	Occasion string `json:"occasion,omitempty"`
	MadeOn   Day    `json:"made_on,omitempty"`
	State    string `json:"state,omitempty" note:"to-print, printed, mailed, came-back, answered, signed-for, refused, unclaimed or held"`
	MailedOn Day    `json:"mailed_on,omitempty"`
	Number   string `json:"number,omitempty" note:"the number printed on the letter"`
	// Unsent marks a letter that did not arrive, so that it is made again from AgainFrom
	// on, the day on which it could go.
	Unsent    bool `json:"unsent,omitempty" note:"it came back, or the program held it"`
	AgainFrom Day  `json:"again_from,omitempty" note:"from this day on it is owed again"`
	// Outdated marks a letter that has left and whose appointment is now at another
	// place, or that went to a doctor who is not the infant's any more, so that another
	// one goes after it.
	Outdated bool `json:"outdated,omitempty" note:"it left, and what it says, or where it went, has changed since"`
}

// MessageMade records a message by text or e-mail by kind and occasion: queued once,
// whatever became of it.
type MessageMade struct {
	Kind     string `json:"kind" req:"yes"`
	Occasion string `json:"occasion,omitempty"`
	By       string `json:"by,omitempty" enum:"text email"`
	QueuedOn Day    `json:"queued_on,omitempty"`
	Number   string `json:"number,omitempty" note:"the message's own number"`
}

// Release lets one letter go out that would otherwise be held, under a name.
type Release struct {
	Kind     string `json:"kind" req:"yes"`
	Occasion string `json:"occasion,omitempty"`
	On       Day    `json:"on" req:"yes"`
	By       string `json:"by" req:"yes"`
	Licence  string `json:"licence,omitempty" note:"what By is licensed as; needed for a letter that says a result"`
}

// RepeatOrdered is the clinician's order for the repeat after an intermediate test.
type RepeatOrdered struct {
	On Day    `json:"on" req:"yes"`
	By string `json:"by,omitempty"`
}

// Note is free text; notes are only added, and struck through by a later one.
type Note struct {
	On     Day    `json:"on" req:"yes"`
	At     Clock  `json:"at,omitempty"`
	By     string `json:"by,omitempty"`
	Text   string `json:"text" req:"yes"`
	Struck string `json:"struck,omitempty" note:"why it no longer holds, and who said so"`
}

// ToCheck is a value as it was sent that the case could not take.
type ToCheck struct {
	Field  string `json:"field" req:"yes"`
	Text   string `json:"text,omitempty"`
	Reason string `json:"reason" req:"yes"`
	Done   Day    `json:"done_on,omitempty"`
	DoneBy string `json:"done_by,omitempty"`
}
