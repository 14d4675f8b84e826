package mailbox

import (
	"fmt"
	"time"
)

// Tally counts the messages of a poll by what became of them: Found is the sum of
// the others.
type Tally struct {
	Found    int // in the folder and not dealt with before
	Taken    int // stored, and every item in it read
	Again    int // the same bytes were here before
	TooLarge int // left in the mailbox; a person is told
	Trouble  int // stored with something that cannot be read, or not to be fetched; a person is told
	Left     int // for the next poll
}

// String is the tally in one line, for the ledger of jobs.
func (t Tally) String() string {
	if t.Found == 0 {
		return "no new mail"
	}
	s := fmt.Sprintf("%d found: %d taken in", t.Found, t.Taken)
	for _, p := range []struct {
		n     int
		words string
	}{{t.Again, "here before"}, {t.TooLarge, "too large"}, {t.Trouble, "with trouble"}, {t.Left, "left for the next time"}} {
		if p.n > 0 {
			s += fmt.Sprintf(", %d %s", p.n, p.words)
		}
	}
	return s
}

// Status is how the mailbox stands since the program started, for the page that
// people watch.
type Status struct {
	Tried   time.Time // newest poll; zero before the first
	Good    time.Time // newest poll that ended well; zero without one
	Last    Tally     // of the newest poll
	Said    string    // the tally of the newest good poll, in one line
	Problem string    // why the newest poll failed; "" when it went well
}
