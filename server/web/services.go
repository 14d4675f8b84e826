package web

import (
	"context"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
	booking "dunlin/cases/schedule"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// Services are what the form pages need beside the store.
type Services struct {
	LetterFacts func() *letters.Program // the program's own facts, with the test sites of the settings
	LetterTexts *templates.LetterSet    // to say why a letter that is due could not be made
	Press       *letters.Press          // makes letters that are due; nil offers no button
	Intake      *intake.Intake          // takes documents in, and carries out what a person decides on an item
	SignIn      SignInService           // another service through which staff may sign in; nil offers none
	Keys        Keys                    // of the web service; without keys and documents there is none
	Documents   Documents               // takes in what the web service is handed
	Jobs        JobStatus               // how the program's own work stands; nil shows none
	Mail        MailStatus              // how the mailbox is; nil when none is set up
	Out         OutboxStatus            // how messages by e-mail and text stand; nil when none is set up
	Safe        SafeStatus              // how the back-ups stand; nil shows none
	Organizer   booking.Mailbox         // of calendar files; without an address they have no method
	Centroids   booking.Centroids       // where postal codes are, for the way to test sites; nil tells no way
	Areas       []string                // first three digits of postal codes that a de-identified extract may give
	// CodesLeftOut are code systems whose codes an exported case must not carry, by the
	// names of fhir.CheckLeaveOut.
	CodesLeftOut []string
}

// JobStatus tells how the program's jobs stand, and starts one by hand.
type JobStatus interface {
	Jobs(ctx context.Context) ([]Job, error)
	// RunNow starts a job and does not wait for its end. It is false when the job
	// runs already or nothing is owed.
	RunNow(ctx context.Context, a cases.Actor, name string) (started bool, err error)
}

// Job is one job with its last and its next run.
type Job struct {
	Name    string // key in the ledger: "daily"
	Title   string // in words: "Overdue list and letters"
	Spec    string // when it runs, as it is set
	Last    cases.JobRun
	Good    cases.JobRun // newest run that ended well; zero without one
	Next    time.Time
	Running bool
	Warning string // what a person should look at; "" when all is well
}

// MailStatus tells how the mailbox is.
type MailStatus interface {
	Mailbox(ctx context.Context) (Mailbox, error)
}

// Mailbox is how the mailbox is.
type Mailbox struct {
	Name    string        // account and folder; "" when no mailbox is set up
	Good    time.Time     // last good poll; zero when there was none
	Tried   time.Time     // last poll; zero before the first
	Trouble string        // why the last poll failed; "" when it was good
	Said    string        // what the last good poll took in, on one line
	Every   time.Duration // how often it is polled
	Due     time.Time     // by when another poll should have been good; zero takes it from Every
}

// OutboxStatus tells how what goes out by e-mail and text stands.
type OutboxStatus interface {
	Outbox(ctx context.Context) (Outbox, error)
}

// Outbox is how what goes out stands.
type Outbox struct {
	SetUp                      bool
	Folder                     string // messages become files here, and nothing is sent
	Email, Text                bool   // set up
	Queued, Held               int
	Failed, Uncertain, Bounced int       // for a person
	Oldest                     time.Time // since when the longest waiting one waits
	Good                       time.Time // the last that a server took since the program started
	Trouble                    []string  // by channel: why the last attempt reached nobody
}

// SafeStatus tells how the back-ups stand, and begins one by hand.
type SafeStatus interface {
	Safe(ctx context.Context) (Safe, error)
	BackUp(ctx context.Context, a cases.Actor) error
}

// Safe is how the back-ups stand.
type Safe struct {
	SetUp     bool
	Folder    string
	Move      string // command that moves the store out of the way
	Every     string // as it is set
	Encrypted bool
	Keys      []string // public keys
	Keep      [4]int   // hours, days, weeks, months; all 0 keeps every one
	Busy      bool     // one that a person asked for is being made
	Failed    string   // why the last of those failed
	Trouble   string   // why folder or keys cannot be read
	Made      []Backup // newest first
}

// Backup is one back-up in the folder.
type Backup struct {
	File      string
	At        time.Time
	By        string
	Bytes     int64
	Encrypted bool
	Cases     int
	Entries   uint64 // of the audit trail
	Head      string // its last hash
	Verified  time.Time
	Seconds   float64
	Trouble   string // why it cannot be counted on
	Command   string // that restores it
}
