package cases

import (
	"context"
	"encoding/json"
	"iter"
	"time"
)

// Role is what an account may do; see May.
type Role string

// The four roles, and the program itself for jobs and imports.
const (
	Coordinator   Role = "coordinator"
	Nurse         Role = "nurse"
	Manager       Role = "manager"
	Administrator Role = "administrator"
	System        Role = "system"
)

// Actor is who does something and through what ("web", "job daily", "import").
type Actor struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Role Role   `json:"role"`
	Via  string `json:"via,omitempty"`
}

// Event says what a write was, for the audit trail.
type Event struct {
	Kind   string `json:"kind"`             // such as "contact-logged"
	Text   string `json:"text,omitempty"`   // one line for the change history
	Reason string `json:"reason,omitempty"` // as typed, where a reason was asked for
}

// FieldChange is one value before and after, at its JSON path.
type FieldChange struct {
	Path string          `json:"path"`
	Old  json.RawMessage `json:"old,omitempty"`
	New  json.RawMessage `json:"new,omitempty"`
}

// Entry is one line of the audit trail, chained by hashes.
type Entry struct {
	Seq     uint64        `json:"seq"`
	At      time.Time     `json:"at"` // UTC
	Actor   Actor         `json:"actor"`
	Event   Event         `json:"event"`
	Case    ID            `json:"case,omitempty"`
	FromRev Rev           `json:"from_rev"`
	ToRev   Rev           `json:"to_rev"`
	Fields  []FieldChange `json:"fields,omitempty"`
	Erased  *Erasure      `json:"erased,omitempty"` // what this entry says was erased
	Prev    string        `json:"prev"`             // hex SHA-256 of the entry before
	Hash    string        `json:"hash"`
}

// Query finds infants: every given part must match. Text is matched against
// names (start of family or given name, folded), reference, record numbers,
// accession; Born narrows to one birth date.
type Query struct {
	Text          string
	Born          Day
	IncludeClosed bool
	Limit         int
}

// Letter is one letter made, kept as the data it is rendered from so that the
// same bytes can be made again. A letter is unique by case, kind and occasion.
type Letter struct {
	ID       string          `json:"id"`
	Number   string          `json:"number"` // opaque, printed on the letter
	Case     ID              `json:"case"`
	Kind     string          `json:"kind"`
	Occasion string          `json:"occasion"`
	Language string          `json:"language"`
	MadeOn   Day             `json:"made_on"`
	State    string          `json:"state"`              // to-print printed mailed came-back answered held
	By       string          `json:"by,omitempty"`       // mail (also ""), certified-letter or email
	Tracking string          `json:"tracking,omitempty"` // number of a certified letter
	History  []LetterStep    `json:"history,omitempty"`  // each change of state, oldest first
	Changed  Day             `json:"changed"`
	PrintRun string          `json:"print_run,omitempty"`
	Browser  bool            `json:"browser,omitempty"` // printed from the browser, and not as PDF
	Note     string          `json:"note,omitempty"`
	Data     json.RawMessage `json:"data"`
	// Original is Data as the letter was made, once a person has changed its words;
	// Edited says who did. Both are absent while the letter says what was made.
	Original json.RawMessage `json:"original,omitempty"`
	Edited   *LetterEdit     `json:"edited,omitempty"`
}

// LetterStep is one change of a letter's state: who made it and when.
type LetterStep struct {
	At    time.Time `json:"at"`
	By    string    `json:"by"`
	State string    `json:"state"`
	Note  string    `json:"note,omitempty"`
}

// Received is one document as it arrived, kept beside what became of it until the last
// infant it names is erased.
// What came inside a mail is a document of its own, within the mail's.
type Received struct {
	Hash   string          `json:"hash"`             // hex SHA-256 of Raw
	Source string          `json:"source"`           // import, upload, mailbox, interface, web service, demo
	Sender string          `json:"sender,omitempty"` // mail address, or the name of an interface or key
	Within string          `json:"within,omitempty"` // hash of the mail that brought it
	Name   string          `json:"name"`
	At     time.Time       `json:"at"`
	Actor  Actor           `json:"actor"`
	Counts map[string]int  `json:"counts,omitempty"` // by outcome
	Read   json.RawMessage `json:"read,omitempty"`   // what was read from it
	Raw    []byte          `json:"-"`
}

// Item is one referral or result found in a received document: what became of it
// and, while it waits for a person, why and until when.
type Item struct {
	ID        string          `json:"id"`
	Document  string          `json:"document"` // hash of the Received
	Position  string          `json:"position"` // "message 2", "row 5"
	At        time.Time       `json:"at"`
	Outcome   string          `json:"outcome"` // opened attached no-case duplicate review refused
	Kind      string          `json:"kind"`    // words of vocabulary.md: new infant, possible twin, cannot be read ...
	Title     string          `json:"title"`
	Reasons   []string        `json:"reasons,omitempty"` // one sentence each, with segment and field
	Top       bool            `json:"top,omitempty"`     // presumptive wording: first on the review list
	Due       Day             `json:"due,omitempty"`
	Case      ID              `json:"case,omitempty"`
	Reference string          `json:"reference,omitempty"`
	Related   []string        `json:"related,omitempty"` // references of cases that may be the same infant
	Read      json.RawMessage `json:"read,omitempty"`
	Key       string          `json:"key,omitempty"` // clinical key: the same result by another way
	Decided   *Decision       `json:"decided,omitempty"`
	// FromRev and ToRev are the revisions of the case before and after this item was
	// added to it, so that a wrong attachment can be undone; zero when nothing was.
	FromRev Rev    `json:"from_rev,omitempty"`
	ToRev   Rev    `json:"to_rev,omitempty"`
	Letter  string `json:"letter,omitempty"` // identifier of the letter that a notice or reply is about
}

// MailEntry is one message of a mailbox that was dealt with. A message is known by
// its mailbox, the validity of the mailbox's numbers, and its number (RFC 3501,
// section 2.3.1.1).
type MailEntry struct {
	Box      string    `json:"box"` // account and folder: referrals@example.org/INBOX
	Validity uint32    `json:"validity"`
	UID      uint32    `json:"uid"`
	Hash     string    `json:"hash,omitempty"` // of the Received; "" when the bytes could not be fetched
	At       time.Time `json:"at"`
	Outcome  string    `json:"outcome"` // "taken in", or why it was not
	Seen     bool      `json:"seen,omitempty"`
	Moved    string    `json:"moved,omitempty"` // folder it was moved to
	Tries    int       `json:"tries,omitempty"` // failures so far; while Outcome is "" it is tried again
}

// Decision is what a person did with a waiting item.
type Decision struct {
	As     string    `json:"as"` // accept, keep apart, same infant, set aside, send back
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	Reason string    `json:"reason,omitempty"`
}

// DayList is one day's overdue list as the daily job made it.
type DayList struct {
	On   Day             `json:"on"`
	Made time.Time       `json:"made"`
	Rows json.RawMessage `json:"rows"`
	N    int             `json:"n"`
}

// JobRun is one slot of a job.
type JobRun struct {
	Name    string    `json:"name"`
	Slot    time.Time `json:"slot"`
	Begun   time.Time `json:"begun"`
	Ended   time.Time `json:"ended,omitzero"`
	Outcome string    `json:"outcome,omitempty"` // "" while running; "ok ..." or the failure
}

// Reader is a consistent view of the store. Values are the caller's own.
type Reader interface {
	Now() time.Time // fixed for the transaction
	Today() Day     // Now in the program's zone

	Case(ID) (Case, error)
	ByReference(ref string) (Case, error)
	ByExternal(source, id string) (Case, error)
	ByAccession(accession string) ([]Case, error)
	ByRecord(number string) ([]Case, error)
	MatchIDs(keys []string) ([]ID, error)      // of the cases under any of the keys; see MatchKeys
	ByMatchKeys(keys []string) ([]Case, error) // the same cases, read
	// SharedKeys gives each matching key, record number and accession number that from 2
	// to most cases have. No case is read.
	SharedKeys(most int) iter.Seq[SharedKey]
	BornBetween(from, to Day) iter.Seq2[Case, error]
	DueThrough(Day) iter.Seq2[Case, error]                       // candidates: overdue_from at or before the day
	RetestsThrough(Day) iter.Seq2[Case, error]                   // closed as CRMS/CFSPID, to look again by the day
	BookedAt(site string, from, to Day) iter.Seq2[Booked, error] // places taken at a site, by day and time
	Milestones(from, to Day) iter.Seq2[Milestones, error]        // of the cases referred on from to to; no case is read
	Open() iter.Seq2[Case, error]
	All() iter.Seq2[Case, error]
	ClosedBetween(from, to Day) iter.Seq2[Case, error]
	Find(Query) ([]Case, error)
	History(ID) ([]Entry, error)
	EntriesSince(time.Time) iter.Seq2[Entry, error]
	Erasures() ([]Entry, error) // what was erased, newest first
	// Accesses gives lines of the access log, newest first, and where the next page
	// begins; "" when there is no more.
	Accesses(AccessQuery) ([]Access, string, error)
	AccessUnreviewed() ([]Access, error)      // each break-glass without a review, oldest first
	AccessInfants(a Access) ([]string, error) // the references of a line, those of a long list too

	Letter(id string) (Letter, error)
	Letters(state string) iter.Seq2[Letter, error] // "" for all, in order of making
	LettersOf(ID) ([]Letter, error)
	// LatestLetters gives up to most letters in a state whose kind fits (nil: any), those
	// changed last first, and counts all that fit.
	LatestLetters(state string, fits func(kind string) bool, most int) ([]Letter, int, error)
	LettersOfRun(run string) ([]Letter, error)      // in order of making
	LettersTracked(number string) ([]Letter, error) // with a tracking number
	LetterByNumber(number string) (Letter, error)   // by the number printed on it
	Outgoing(id string) (Outgoing, error)
	Outgoings(state string) iter.Seq2[Outgoing, error] // "" for all, in order of queueing
	OutgoingOf(ID) ([]Outgoing, error)                 // of a case, in order of queueing
	OutgoingByNumber(number string) (Outgoing, error)
	Received(hash string) (Received, error)
	ReceivedRecord(hash string) (Received, error) // without its bytes
	ReceivedLast(n int) ([]Received, error)
	Item(id string) (Item, error)
	Items(outcome string, n int) ([]Item, error)                         // newest first; "" for all
	ItemsWaiting() ([]Item, error)                                       // review, not decided; Top first, then by due day
	ItemsOf(hash string) ([]Item, error)                                 // of one document, in order
	ItemsOfCase(ID) ([]Item, error)                                      // in order
	ItemsSince(Day) iter.Seq2[Item, error]                               // that came on a day or later, oldest first
	ItemByKey(key string) (Item, bool, error)                            // by clinical key
	ItemCounts(since Day) (map[string]int, error)                        // by outcome
	MailEntries(box string, validity uint32) iter.Seq2[MailEntry, error] // by number
	DayList(Day) (DayList, error)
	DayLists(n int) ([]Day, error)
	Account(id string) (Account, error)
	Accounts() ([]Account, error)
	Setting(name string) (json.RawMessage, bool, error)
	Once(token string) (where string, ok bool)
}

// Writer changes the store inside one transaction. PutCase writes the record, its
// indexes and a hash-chained audit entry together; it compares c.Rev with the
// stored revision (0 for a new case) and returns *Changed when they differ.
type Writer interface {
	Reader
	NewID() string
	NewReference(year int) (string, error) // AB-2026-0042
	PutCase(Case, Event) (Case, error)
	PutLetter(Letter) (Letter, error)       // a new one must be unique by case, kind and occasion
	PutOutgoing(Outgoing) (Outgoing, error) // a new one must be unique by case, kind, occasion and channel
	PutReceived(Received) error
	PutItem(Item) (Item, error)
	PutMailEntry(MailEntry) error
	PutDayList(DayList) error
	PutAccount(Account) error
	PutSetting(name string, value json.RawMessage) error
	PutOnce(token, where string, expires time.Time) error
	// MoveTo gives letters, messages and items of a case to another and says which; one
	// that the other has too gets an occasion of its own. MoveBack undoes it.
	MoveTo(from, to ID) ([]Moved, error)
	MoveBack(moved []Moved, to ID) error
	// Erase removes a case and all that is kept of it, and writes that it did. It looks
	// at no rule but a standing legal hold.
	Erase(ID, Erasure, Event) (Erasure, error)
	Note(Event) error // an audit entry that belongs to no case
	// LogAccess appends a line to the access log; number and time are the store's.
	LogAccess(Access) error
}

// Store runs transactions. View gives a snapshot; Update writes all or nothing.
// Neither may be nested, and no network or rendering happens inside.
type Store interface {
	View(ctx context.Context, f func(Reader) error) error
	Update(ctx context.Context, a Actor, f func(Writer) error) error
}

// Ledger remembers what a job ran: Begin is true for one caller a slot only.
type Ledger interface {
	Begin(ctx context.Context, name string, slot time.Time, stale time.Duration) (bool, error)
	End(ctx context.Context, name string, slot time.Time, outcome string) error
	Last(ctx context.Context, name string) (JobRun, bool, error)
	Runs(ctx context.Context, name string, n int) ([]JobRun, error)
}
