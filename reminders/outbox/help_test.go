package outbox_test

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net/http/httptest"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/reminders/outbox"
)

var (
	ctx   = context.Background()
	noon  = time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	clerk = cases.Actor{ID: "ina", Name: "Ina Reed", Role: cases.Coordinator, Via: "test"}
)

// world is a store with a clock and one case that may get messages.
type world struct {
	tb   testing.TB
	path string
	db   *store.DB
	mu   sync.Mutex
	now  time.Time
	c    cases.Case
}

func newWorld(tb testing.TB) *world {
	tb.Helper()
	w := &world{tb: tb, path: filepath.Join(tb.TempDir(), "dunlin.db"), now: noon}
	w.open()
	w.c = w.put(willing())
	return w
}

func (w *world) open() {
	w.tb.Helper()
	db, err := store.Open(w.path, store.Options{Now: w.clock, Scratch: true})
	if err != nil {
		w.tb.Fatal(err)
	}
	w.db = db
	w.tb.Cleanup(func() { db.Close() })
}

func (w *world) clock() time.Time {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.now
}

func (w *world) pass(d time.Duration) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.now = w.now.Add(d)
}

// willing is a case whose family agreed to messages, with a booking on the next day.
func willing() cases.Case {
	on := cases.DayOf(noon)
	return cases.Case{Infant: cases.Infant{Given: "Ada", Family: "Wren", Born: on - 19}, Referral: cases.Referral{On: on - 12, Route: "screen"},
		Family: &cases.Family{Language: "es", Guardians: []cases.Guardian{{Family: "Wren", Email: "ina@family.example", Phones: []cases.Phone{{Number: "(555) 555-0101", Kind: "mobile"}}}},
			Consents: []cases.Consent{{Channel: cases.ByEmail, On: on - 10}, {Channel: cases.ByText, On: on - 10}}},
		Bookings:    []cases.Booking{{On: on + 1, At: "09:30", State: "booked"}},
		PrimaryCare: &cases.PrimaryCare{Name: "Dr Heron", Email: "heron@practice.example"}}
}

func (w *world) put(c cases.Case) (out cases.Case) {
	w.tb.Helper()
	w.update(func(tx cases.Writer) (err error) {
		out, err = cases.OpenCase(tx, cases.DefaultProtocol(), c, cases.Event{Kind: "opened"})
		return err
	})
	return out
}

func (w *world) update(f func(cases.Writer) error) {
	w.tb.Helper()
	if err := w.db.Update(ctx, clerk, f); err != nil {
		w.tb.Fatal(err)
	}
}

// change changes the case as a person would.
func (w *world) change(f func(*cases.Case)) {
	w.tb.Helper()
	w.update(func(tx cases.Writer) (err error) {
		w.c, err = cases.ChangeIn(tx, cases.DefaultProtocol(), w.c.ID, 0, cases.Event{Kind: "changed"}, func(c *cases.Case, _ cases.Day) error { f(c); return nil })
		return err
	})
}

// queue puts a message of a kind into the outbox.
func (w *world) queue(kind, occasion, by string) (o cases.Outgoing) {
	w.tb.Helper()
	w.pass(time.Second) // messages are in the order of their times
	if kind == cases.MessageNudge {
		occasion = w.c.Referral.On.String() + " " + occasion // from when the family was sought
	}
	o = cases.Outgoing{Kind: kind, Occasion: occasion, By: by, ToWhom: cases.LetterKindOf(kind).To, Language: "es", Subject: "Llámenos, por favor", Body: "Llámenos, por favor.\n555-0142\n"}
	if by == cases.ByText {
		o.Subject = ""
	}
	w.update(func(tx cases.Writer) (err error) {
		c, err := tx.Case(w.c.ID)
		if err == nil {
			o, err = cases.QueueMessage(tx, cases.DefaultProtocol(), &c, o)
		}
		return err
	})
	return o
}

func (w *world) get(id string) (o cases.Outgoing) {
	w.tb.Helper()
	if err := w.db.View(ctx, func(r cases.Reader) (err error) { o, err = r.Outgoing(id); return err }); err != nil {
		w.tb.Fatal(err)
	}
	return o
}

func (w *world) worker(email, text outbox.Channel) *outbox.Worker {
	w.tb.Helper()
	k, err := outbox.New(w.options(email, text))
	if err != nil {
		w.tb.Fatal(err)
	}
	return k
}

func (w *world) options(email, text outbox.Channel) outbox.Options {
	return outbox.Options{Store: w.db, Protocol: cases.DefaultProtocol, Now: w.clock, Email: email, Text: text, Domain: "alderbay.example"}
}

func (w *world) run(k *outbox.Worker) outbox.Tally {
	w.tb.Helper()
	t, err := k.Run(ctx)
	if err != nil {
		w.tb.Fatal(err)
	}
	return t
}

func (w *world) wantState(id, state string) cases.Outgoing {
	w.tb.Helper()
	o := w.get(id)
	if o.State != state {
		w.tb.Errorf("message %s %s stands as %s (%s), want %s", o.Kind, o.Occasion, o.State, o.Note, state)
	}
	return o
}

// fake is a channel that does as it is told.
type fake struct {
	mu   sync.Mutex
	got  []outbox.Parcel
	says func(outbox.Parcel) error
}

func (f *fake) Send(_ context.Context, p outbox.Parcel) error {
	var err error
	if f.says != nil {
		err = f.says(p)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if err == nil {
		f.got = append(f.got, p)
	}
	return err
}

func (f *fake) taken() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return len(f.got)
}

var errDown = errors.New("no route to the server")

// certificate is one for 127.0.0.1, with who vouches for it.
func certificate(tb testing.TB) (*tls.Config, *x509.CertPool) {
	tb.Helper()
	s := httptest.NewTLSServer(nil)
	defer s.Close()
	pool := x509.NewCertPool()
	pool.AddCert(s.Certificate())
	return &tls.Config{Certificates: s.TLS.Certificates}, pool
}

func parcel(to string) outbox.Parcel {
	return outbox.Parcel{Attempt: 2, ID: "letter-ABCD2345.2@alderbay.example", Outgoing: cases.Outgoing{Number: "ABCD2345", Kind: "nudge", By: cases.ByEmail, ToWhom: cases.ToFamily,
		To: to, Language: "es", Subject: "Llámenos, por favor", Body: "Llámenos.\n.\nWren Castellano, 555-0142\n", Changed: noon, Tries: 2}}
}
