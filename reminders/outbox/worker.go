package outbox

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"dunlin/cases"
)

// Options is what a Worker needs. Store, Protocol and Now are required.
type Options struct {
	Store    cases.Store
	Protocol func() *cases.Protocol // the values in force
	Now      func() time.Time       // the program's clock, in its zone
	Log      *slog.Logger           // may be nil; gets no names and no addresses
	Email    Channel                // nil: no mail server is set up, and e-mail waits
	Text     Channel                // nil: no text service is set up, and texts wait
	Domain   string                 // of Message-IDs
	// Attach gives what goes with the message of a letter; nil attaches nothing.
	Attach func(cases.Letter) ([]File, error)
	// Nowhere says why nobody can come to a booking, as a reason; "" when one can. No
	// message calls a family there. nil: every booking can be kept.
	Nowhere func(cases.Reader, *cases.Booking) (string, error)
	// Journal remembers, beside the store, what was handed over; nil remembers nothing.
	Journal *Journal
	// From and Until bound the hours in which messages to families go out, as 09:00.
	// Both empty means 09:00 to 19:00 (common practice: no family is woken by a reminder).
	From, Until cases.Clock
}

// AtOnce is how many messages one run sends at most; the next run goes on.
const AtOnce = 200

// Worker sends what waits.
type Worker struct {
	o     Options
	began time.Time

	running sync.Mutex // one run at a time
	mu      sync.Mutex
	trouble map[string]string // by channel: why the last attempt did not work
	good    time.Time
}

// New makes a worker. What an earlier one left as being sent becomes uncertain in its
// first run.
func New(o Options) (*Worker, error) {
	if o.Store == nil || o.Protocol == nil || o.Now == nil {
		return nil, errors.New("outbox: store, protocol and clock are required")
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.From == "" && o.Until == "" {
		o.From, o.Until = "09:00", "19:00"
	}
	return &Worker{o: o, began: o.Now(), trouble: map[string]string{}}, nil
}

// actor is who sends.
var actor = cases.Actor{ID: "outbox", Name: "Dunlin", Role: cases.System, Via: "job outbox"}

// Tally is what one run did.
type Tally struct {
	Sent, Later, Failed, Held, Uncertain int
	Waiting                              int // queued and not tried: no server is set up, or it is not the hour
}

// String is the tally in one line, for the ledger of jobs.
func (t Tally) String() string {
	s := fmt.Sprintf("%d sent", t.Sent)
	for _, x := range []struct {
		n    int
		word string
	}{{t.Later, "to be tried again"}, {t.Held, "held"}, {t.Failed, "failed"}, {t.Uncertain, "uncertain: a person must look"}, {t.Waiting, "waiting"}} {
		if x.n > 0 {
			s += fmt.Sprintf(", %d %s", x.n, x.word)
		}
	}
	return s
}

// Run sends what is due, one after the other, and is safe to run again at any time, also
// beside another run: the store gives each message to one of them. One message's trouble
// never stops the others, but a server that cannot be reached is not asked again in the
// same run. An error is returned only when the store itself fails.
func (w *Worker) Run(ctx context.Context) (Tally, error) {
	w.running.Lock()
	defer w.running.Unlock()
	var t Tally
	if err := w.recover(ctx, &t); err != nil {
		return t, fmt.Errorf("outbox: what was left: %w", err)
	}
	due, err := w.due(ctx, &t)
	if err != nil {
		return t, fmt.Errorf("outbox: reading what waits: %w", err)
	}
	down := map[string]bool{}
	for _, o := range due {
		if ctx.Err() != nil || t.Sent+t.Failed+t.Uncertain >= AtOnce {
			break
		}
		if down[o.By] {
			t.Waiting++
			continue
		}
		reached, err := w.one(ctx, o.ID, &t)
		if err != nil {
			return t, fmt.Errorf("outbox: keeping what became of message %s: %w", o.Number, err)
		}
		down[o.By] = !reached
	}
	w.o.Log.Info("outbox", "sent", t.Sent, "later", t.Later, "held", t.Held, "failed", t.Failed, "uncertain", t.Uncertain, "waiting", t.Waiting)
	return t, nil
}

// due lists the queued messages whose time has come.
func (w *Worker) due(ctx context.Context, t *Tally) (due []cases.Outgoing, err error) {
	err = w.o.Store.View(ctx, func(r cases.Reader) error {
		due = nil
		for o, err := range r.Outgoings(cases.OutQueued) {
			switch {
			case err != nil:
				return err
			case w.channel(o.By) == nil, w.tooEarly(&o, r.Now()):
				t.Waiting++
			case ripe(&o, r.Now()):
				due = append(due, o)
			}
		}
		return nil
	})
	return due, err
}

// ripe tells whether a message's time has come. A time further ahead than any pause is
// from a clock that was wrong.
func ripe(o *cases.Outgoing, now time.Time) bool {
	return !o.Next.After(now) || o.Next.Sub(now) > longest
}

// tooEarly keeps messages to families within the hours of the day.
func (w *Worker) tooEarly(o *cases.Outgoing, now time.Time) bool {
	clock := cases.Clock(now.Format("15:04"))
	return o.ToWhom == cases.ToFamily && (clock < w.o.From || clock >= w.o.Until)
}

func (w *Worker) channel(by string) Channel {
	if by == cases.ByText {
		return w.o.Text
	}
	return w.o.Email
}

// one sends one message. It reports whether the server could be reached.
func (w *Worker) one(ctx context.Context, id string, t *Tally) (reached bool, err error) {
	p, err := w.claim(ctx, id, t)
	if err != nil || p == nil {
		return true, err
	}
	// From here on the message is written down as being sent; what is begun is ended,
	// also while the program stops.
	ctx = context.WithoutCancel(ctx)
	sent := w.channel(p.By).Send(ctx, *p)
	if err := w.o.Journal.add(p, sent, w.o.Now()); err != nil {
		w.o.Log.Error("outbox: the journal of sent messages cannot be written", "err", err)
	}
	w.remember(p.By, sent)
	return knows(sent), w.keep(ctx, p, sent, t)
}

// knows tells whether an outcome came from the server itself.
func knows(sent error) bool {
	var no *Refused
	return sent == nil || errors.As(sent, &no)
}

// remember keeps how a channel stands, for the page of jobs.
func (w *Worker) remember(by string, sent error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.trouble, by)
	if sent == nil {
		w.good = w.o.Now()
	}
	if !knows(sent) {
		w.trouble[by] = cases.Printable(sent.Error())
	}
}
