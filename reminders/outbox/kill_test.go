package outbox_test

import (
	"context"
	"os"
	"os/exec"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/cases/store"
	"dunlin/reminders/outbox"
)

const childStore = "DUNLIN_OUTBOX_CHILD_STORE"

// stuck writes down that it was asked, and never answers.
type stuck struct{ mark string }

func (s stuck) Send(context.Context, outbox.Parcel) error {
	os.WriteFile(s.mark, []byte("asked"), 0o600)
	time.Sleep(time.Minute)
	return nil
}

// TestChildSends is the program that TestKilledWhileSending kills.
func TestChildSends(t *testing.T) {
	path := os.Getenv(childStore)
	if path == "" {
		t.Skip("the child of TestKilledWhileSending")
	}
	db, err := store.Open(path, store.Options{Now: func() time.Time { return noon.Add(10 * time.Second) }, MustExist: true})
	if err != nil {
		t.Fatal(err)
	}
	k, err := outbox.New(outbox.Options{Store: db, Protocol: cases.DefaultProtocol, Now: func() time.Time { return noon.Add(10 * time.Second) }, Email: stuck{path + ".asked"}})
	if err != nil {
		t.Fatal(err)
	}
	k.Run(ctx)
}

// TestKilledWhileSending kills a program that waits for the server's answer: the
// message becomes uncertain and is not sent again; one that was not begun is sent.
func TestKilledWhileSending(t *testing.T) {
	w := newWorld(t)
	first := w.queue(cases.MessageNudge, "call 2", cases.ByEmail)
	second := w.queue(cases.MessageNudge, "call 3", cases.ByEmail)
	if err := w.db.Close(); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0], "-test.run", "^TestChildSends$")
	cmd.Env = append(os.Environ(), childStore+"="+w.path)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for began := time.Now(); ; time.Sleep(5 * time.Millisecond) {
		if _, err := os.Stat(w.path + ".asked"); err == nil {
			break
		}
		if time.Since(began) > 30*time.Second {
			cmd.Process.Kill()
			t.Fatal("the child never began to send")
		}
	}
	cmd.Process.Kill()
	cmd.Wait()
	w.open()
	w.wantState(first.ID, cases.OutSending)
	w.pass(time.Minute) // it starts later than the one that was killed
	mail := &fake{}
	got := w.run(w.worker(mail, nil))
	w.wantState(first.ID, cases.OutUncertain)
	w.wantState(second.ID, cases.OutSent)
	if got.Uncertain != 1 || got.Sent != 1 || mail.taken() != 1 || mail.got[0].Outgoing.ID != second.ID {
		t.Errorf("%v, %d sent", got, mail.taken())
	}
}
