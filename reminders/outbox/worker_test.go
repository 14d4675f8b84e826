package outbox_test

import (
	"errors"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/reminders/outbox"
)

const tomorrow = "2026-03-21 09:30" // the booking of willing

func TestWorkerSendsWhatIsDue(t *testing.T) {
	w := newWorld(t)
	mail, text := &fake{}, &fake{}
	k := w.worker(mail, text)
	nudge := w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
	remind := w.queue(cases.LetterReminder, tomorrow, cases.ByText)
	doctor := w.queue(cases.LetterReferral, "2026-03-08", cases.ByEmail)
	if got := w.run(k); got.Sent != 3 || got.String() != "3 sent" {
		t.Errorf("%v", got)
	}
	for _, id := range []string{nudge.ID, remind.ID, doctor.ID} {
		if o := w.wantState(id, cases.OutSent); o.Tries != 1 || len(o.History) != 3 || o.History[1].State != cases.OutSending {
			t.Errorf("%+v", o.History)
		}
	}
	if len(mail.got) != 2 || len(text.got) != 1 || mail.got[0].ID != "letter-"+nudge.Number+".1@alderbay.example" || text.got[0].To != "(555) 555-0101" {
		t.Errorf("%+v %+v", mail.got, text.got)
	}
	if got := w.run(k); got != (outbox.Tally{}) {
		t.Errorf("a second run: %v", got)
	}
	// The nudge and the word to the doctor are attempts; the reminder is none.
	w.update(func(tx cases.Writer) error {
		c, err := tx.Case(w.c.ID)
		if len(c.Contacts) != 2 || c.Contacts[0].With != "family" || c.Contacts[0].Reached || c.Contacts[0].Outcome != "left message, no health detail" || c.Contacts[1].With != "primary-care" {
			t.Errorf("%+v", c.Contacts)
		}
		h, herr := tx.History(w.c.ID)
		sent := 0
		for _, e := range h {
			if e.Event.Kind == "message-sent" {
				sent++
			}
		}
		if sent != 3 {
			t.Errorf("%d entries in the trail", sent)
		}
		return errors.Join(err, herr)
	})
}

func TestPausesGrowAndEnd(t *testing.T) {
	w := newWorld(t)
	mail := &fake{says: func(outbox.Parcel) error { return errDown }}
	k := w.worker(mail, nil)
	o := w.queue(cases.LetterReferral, "2026-03-08", cases.ByEmail) // to a doctor: at any hour
	var tries []time.Duration
	for at := time.Duration(0); at < 6*24*time.Hour; at += time.Minute {
		if n := w.run(k); n.Later+n.Failed == 1 {
			tries = append(tries, at)
		}
		if w.get(o.ID).State == cases.OutFailed {
			break
		}
		w.pass(time.Minute)
	}
	want := []time.Duration{0, 2, 12, 42, 102, 222, 462, 702}
	for i, m := range want {
		if i >= len(tries) || tries[i] != m*time.Minute {
			t.Fatalf("tried after %v, want minutes %v ...", tries, want)
		}
	}
	last := tries[len(tries)-1]
	got := w.wantState(o.ID, cases.OutFailed)
	if last < 4*24*time.Hour || last > 4*24*time.Hour+4*time.Hour || !strings.Contains(got.Note, "Phone or post") {
		t.Errorf("given up after %v: %s", last, got.Note)
	}
}

func TestAnswersOfTheServer(t *testing.T) {
	for name, x := range map[string]struct {
		says        error
		state, note string
	}{
		"later":    {&outbox.Refused{Code: 451, Text: "Try later"}, cases.OutQueued, "451 Try later"},
		"for good": {&outbox.Refused{Code: 550, Permanent: true, Text: "No such mailbox"}, cases.OutFailed, "Check the address"},
		"unsure":   {&outbox.Unsure{Err: errors.New("EOF")}, cases.OutUncertain, "may or may not"},
		"down":     {errDown, cases.OutQueued, "no route"},
	} {
		w := newWorld(t)
		mail := &fake{says: func(outbox.Parcel) error { return x.says }}
		k := w.worker(mail, nil)
		o := w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
		w.run(k)
		if got := w.wantState(o.ID, x.state); !strings.Contains(got.Note, x.note) {
			t.Errorf("%s: %q", name, got.Note)
		}
		mail.says = nil
		w.pass(time.Hour)
		w.run(k)
		if again := x.state == cases.OutQueued; again != (mail.taken() == 1) {
			t.Errorf("%s: %d sent afterwards", name, mail.taken())
		}
	}
}

func TestADownServerIsAskedOnceInARun(t *testing.T) {
	w := newWorld(t)
	asked := 0
	mail := &fake{says: func(outbox.Parcel) error { asked++; return errDown }}
	k := w.worker(mail, nil)
	for _, occasion := range []string{"a", "b", "c"} {
		w.queue(cases.MessageNudge, occasion, cases.ByEmail)
	}
	if got := w.run(k); asked != 1 || got.Later != 1 || got.Waiting != 2 {
		t.Errorf("asked %d times: %v", asked, got)
	}
}

// TestStoppedIsNeverSent changes the case between queueing and sending.
func TestStoppedIsNeverSent(t *testing.T) {
	today := cases.DayOf(noon)
	for name, change := range map[string]func(*cases.Case){
		"died":        func(c *cases.Case) { c.Infant.Died, c.Infant.DiedReported = today, today },
		"declined":    func(c *cases.Case) { c.Declined = &cases.Declined{On: today} },
		"moved":       func(c *cases.Case) { c.Handover = &cases.Handover{To: "Heron Point", On: today, AcceptedOn: today} },
		"custody":     func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "custody", From: today}} },
		"consent":     func(c *cases.Case) { c.Family.Consents[0].Withdrawn = today },
		"address":     func(c *cases.Case) { c.Family.Guardians[0].Email = "new@family.example" },
		"appointment": func(c *cases.Case) { c.Bookings[0].State = "cancelled" },
		"closed as lost": func(c *cases.Case) {
			c.Closures = []cases.Closure{{On: today, As: "lost", By: "Ina", AgreedBy: "Ola", AgreedOn: today, Reason: "Not found", LookAgain: today + 90}}
		},
	} {
		w := newWorld(t)
		mail := &fake{}
		k := w.worker(mail, nil)
		o := w.queue(cases.LetterReminder, tomorrow, cases.ByEmail)
		w.change(change)
		w.wantState(o.ID, cases.OutHeld) // at once, with the change
		w.run(k)
		if mail.taken() > 0 {
			t.Errorf("%s: sent", name)
		}
		// Also where the change went by the store alone.
		w = newWorld(t)
		k = w.worker(mail, nil)
		o = w.queue(cases.LetterReminder, tomorrow, cases.ByEmail)
		w.update(func(tx cases.Writer) error {
			c, err := tx.Case(w.c.ID)
			if err == nil {
				c = c.Clone()
				change(&c)
				_, err = tx.PutCase(c, cases.Event{Kind: "changed"})
			}
			return err
		})
		if got := w.run(k); got.Held != 1 || mail.taken() > 0 {
			t.Errorf("%s: %v", name, got)
		}
		if got := w.wantState(o.ID, cases.OutHeld); got.Tries != 0 {
			t.Errorf("%s: tried", name)
		}
	}
}

// TestReminderOfThePastIsNotSent comes back after days without a server.
func TestReminderOfThePastIsNotSent(t *testing.T) {
	w := newWorld(t)
	mail := &fake{}
	k := w.worker(mail, nil)
	o := w.queue(cases.LetterReminder, tomorrow, cases.ByEmail)
	w.pass(48 * time.Hour)
	w.run(k)
	w.wantState(o.ID, cases.OutHeld)
	if mail.taken() > 0 {
		t.Error("sent after the appointment")
	}
}

func TestFamiliesAreNotWokenUp(t *testing.T) {
	w := newWorld(t)
	text, mail := &fake{}, &fake{}
	k := w.worker(mail, text)
	w.change(func(c *cases.Case) { c.Bookings[0].On++ })
	o := w.queue(cases.LetterReminder, "2026-03-22 09:30", cases.ByText)
	w.queue(cases.LetterReferral, "2026-03-08", cases.ByEmail)
	w.pass(8 * time.Hour) // 20:00
	if got := w.run(k); got.Sent != 1 || got.Waiting != 1 || text.taken() > 0 {
		t.Errorf("in the evening: %v", got)
	}
	w.wantState(o.ID, cases.OutQueued)
	w.pass(12*time.Hour + 59*time.Minute) // 08:59 of the day before the appointment
	if w.run(k); text.taken() > 0 {
		t.Error("early in the morning")
	}
	w.pass(time.Minute)
	if w.run(k); text.taken() != 1 {
		t.Error("not sent at 9")
	}
}

func TestNoServerMeansWaiting(t *testing.T) {
	w := newWorld(t)
	o := w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
	if got := w.run(w.worker(nil, nil)); got.Waiting != 1 {
		t.Errorf("%v", got)
	}
	w.wantState(o.ID, cases.OutQueued)
}

func TestTwoWorkersSendOnce(t *testing.T) {
	w := newWorld(t)
	mail := &fake{says: func(outbox.Parcel) error { time.Sleep(time.Millisecond); return nil }}
	for i := range 20 {
		w.queue(cases.MessageNudge, string(rune('a'+i)), cases.ByEmail)
	}
	var all sync.WaitGroup
	for range 4 {
		k := w.worker(mail, nil)
		all.Go(func() {
			if _, err := k.Run(ctx); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	seen := map[string]int{}
	for _, p := range mail.got {
		seen[p.Outgoing.ID]++
	}
	if len(mail.got) != 20 || len(seen) != 20 {
		t.Errorf("%d sent of %d messages", len(mail.got), len(seen))
	}
}

func TestClockSetBackDelaysNothingForLong(t *testing.T) {
	w := newWorld(t)
	mail := &fake{}
	k := w.worker(mail, nil)
	w.pass(10 * 365 * 24 * time.Hour)
	o := w.queue(cases.LetterReferral, "2026-03-08", cases.ByEmail)
	w.pass(-10 * 365 * 24 * time.Hour)
	w.run(k)
	w.wantState(o.ID, cases.OutSent)
}

// TestPersonDecides takes each decision about a message that did not simply go out.
func TestPersonDecides(t *testing.T) {
	w := newWorld(t)
	desk := cases.NewDesk(w.db, cases.DefaultProtocol())
	mail := &fake{says: func(outbox.Parcel) error { return &outbox.Unsure{Err: errDown} }}
	k := w.worker(mail, nil)
	var ids []string
	for _, occasion := range []string{"a", "b", "c"} {
		ids = append(ids, w.queue(cases.MessageNudge, occasion, cases.ByEmail).ID)
		w.run(k)
	}
	for i, x := range []struct{ as, state string }{{cases.SendAgain, cases.OutQueued}, {cases.TakeAsSent, cases.OutSent}, {cases.DropMessage, cases.OutDropped}} {
		if err := desk.DecideMessage(ctx, clerk, ids[i], x.as, ""); cases.KindOf(err) != cases.Invalid {
			t.Errorf("%s without a reason: %v", x.as, err)
		}
		nurse := cases.Actor{ID: "x", Name: "X", Role: cases.Administrator}
		if err := desk.DecideMessage(ctx, nurse, ids[i], x.as, "why"); cases.KindOf(err) != cases.Forbidden {
			t.Errorf("%s by an administrator: %v", x.as, err)
		}
		if err := desk.DecideMessage(ctx, clerk, ids[i], x.as, "The mother was asked."); err != nil {
			t.Errorf("%s: %v", x.as, err)
		}
		if o := w.wantState(ids[i], x.state); o.History[len(o.History)-1].By != "Ina Reed" {
			t.Errorf("%s: %+v", x.as, o.History)
		}
	}
	mail.says = nil
	w.run(k)
	if o := w.wantState(ids[0], cases.OutSent); mail.taken() != 1 || o.Again != "Ina Reed" || mail.got[0].Attempt != 2 {
		t.Errorf("%d sent, %+v", mail.taken(), o)
	}
	if err := desk.DecideMessage(ctx, clerk, ids[0], cases.SendAgain, "once more"); cases.KindOf(err) != cases.Refused {
		t.Errorf("sent once more: %v", err)
	}
	// One that was held goes to the address that is on record now, or not at all.
	o := w.queue(cases.MessageNudge, "d", cases.ByEmail)
	w.change(func(c *cases.Case) { c.Family.Guardians[0].Email = "new@family.example" })
	if err := desk.DecideMessage(ctx, clerk, o.ID, cases.SendAgain, "New address."); err != nil {
		t.Error(err)
	}
	if got := w.wantState(o.ID, cases.OutQueued); got.To != "new@family.example" {
		t.Errorf("to %s", got.To)
	}
	w.change(func(c *cases.Case) { c.Infant.Died, c.Infant.DiedReported = cases.DayOf(noon), cases.DayOf(noon) })
	if err := desk.DecideMessage(ctx, clerk, o.ID, cases.SendAgain, "x"); cases.KindOf(err) != cases.Refused || !strings.Contains(err.Error(), "died") {
		t.Errorf("after a death: %v", err)
	}
}

// TestRestoredBackup takes the store back to before a message was queued and sent.
func TestRestoredBackup(t *testing.T) {
	w := newWorld(t)
	journal := filepath.Join(t.TempDir(), "sent")
	backup := filepath.Join(t.TempDir(), "backup.db")
	if _, err := w.db.Backup(ctx, backup); err != nil {
		t.Fatal(err)
	}
	mail := &fake{}
	worker := func() *outbox.Worker {
		j, err := outbox.OpenJournal(journal)
		if err != nil {
			t.Fatal(err)
		}
		o := w.options(mail, nil)
		o.Journal = j
		k, err := outbox.New(o)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
	w.run(worker())
	w.db.Close()
	w.path = backup
	w.open()
	again := w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
	other := w.queue(cases.MessageNudge, "call 3", cases.ByEmail)
	w.run(worker())
	w.wantState(other.ID, cases.OutSent)
	if o := w.wantState(again.ID, cases.OutUncertain); mail.taken() != 2 || !strings.Contains(o.Note, "backup") {
		t.Errorf("%d sent; %s", mail.taken(), o.Note)
	}
	// A person who has asked may have it sent.
	if err := cases.NewDesk(w.db, cases.DefaultProtocol()).DecideMessage(ctx, clerk, again.ID, cases.SendAgain, "It did not come."); err != nil {
		t.Fatal(err)
	}
	w.run(worker())
	w.wantState(again.ID, cases.OutSent)
}
