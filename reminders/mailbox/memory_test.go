package mailbox

import (
	"context"
	"strings"
	"testing"
	"time"
)

// TestTakesEachMessageOnce polls three times, with a resend between.
func TestTakesEachMessageOnce(t *testing.T) {
	b, m := newBench(t), newMemory(t, true, nil, "Handled")
	for n := range 7 {
		m.put("INBOX", message(n))
	}
	box := b.box(m.addr, func(o *Options) { o.Handled = ""; o.Batch = 3 })
	if got := b.poll(box); got != (Tally{Found: 7, Taken: 7}) {
		t.Fatalf("first poll: %s", got)
	}
	if got := b.poll(box); got != (Tally{}) || got.String() != "no new mail" {
		t.Fatalf("second poll: %s", got)
	}
	m.put("INBOX", message(3))
	m.put("INBOX", message(100))
	if got := b.poll(b.box(m.addr, func(o *Options) { o.Trouble = "" })); got != (Tally{Found: 2, Again: 1, Taken: 1}) {
		t.Fatalf("third poll, of a program started anew: %s", got)
	}
	// The last poll was told where handled messages go, and moves the first seven too.
	if all, unseen := m.count("Handled"); all != 9 || unseen != 0 {
		t.Errorf("%d moved to Handled, %d of them unseen", all, unseen)
	}
	docs := b.received()
	if len(docs) != 8 {
		t.Errorf("%d documents stored", len(docs))
	}
	for _, d := range docs {
		if d.Source != "mailbox" || d.Sender != "results@lab.example" || !strings.HasSuffix(d.Name, " in INBOX") {
			t.Errorf("stored as %+v", d)
		}
	}
}

// TestFoldersByOutcome moves what was read to Handled and what was not to Trouble.
func TestFoldersByOutcome(t *testing.T) {
	b, m := newBench(t), newMemory(t, true, nil, "Handled", "Trouble")
	m.put("INBOX", message(1))
	m.put("INBOX", broken(1))
	m.put("INBOX", referral(1))
	if got := b.poll(b.box(m.addr)); got != (Tally{Found: 3, Taken: 2, Trouble: 1}) {
		t.Fatalf("%s\n%+v", got, b.items())
	}
	for folder, want := range map[string]uint32{"INBOX": 0, "Handled": 2, "Trouble": 1} {
		if all, unseen := m.count(folder); all != want || unseen != 0 {
			t.Errorf("%s has %d, %d unseen", folder, all, unseen)
		}
	}
}

// TestTellsAPersonAfterThreeFailures: the in-memory server gives no body for a
// message without headings. The others are taken in meanwhile.
func TestTellsAPersonAfterThreeFailures(t *testing.T) {
	b, m := newBench(t), newMemory(t, true, nil, "Handled", "Trouble")
	m.put("INBOX", []byte("MSH|^~\\&|LAB|LAB|PROG|PROG|20260329||ADT^A01|1|P|2.5.1\r"))
	m.put("INBOX", message(1))
	for i, want := range []Tally{{Found: 2, Taken: 1, Left: 1}, {Found: 1, Left: 1}, {Found: 1, Trouble: 1}, {}} {
		// Each poll by a program started anew: failures are counted in the store.
		if got := b.poll(b.box(m.addr)); got != want {
			t.Fatalf("poll %d: %s", i+1, got)
		}
	}
	if docs := b.received(); len(docs) != 2 {
		t.Errorf("%d documents", len(docs))
	}
	if all, unseen := m.count("Trouble"); all != 1 || unseen != 1 {
		t.Errorf("%d in Trouble, %d unseen: what was not fetched must stay unseen", all, unseen)
	}
}

// TestTooLargeStays tells a person of a message above the limit, once, and leaves it
// unseen.
func TestTooLargeStays(t *testing.T) {
	b, m := newBench(t), newMemory(t, true, nil, "Handled")
	m.put("INBOX", append(message(1), strings.Repeat("0123456789abcde\r\n", 100000)...))
	m.put("INBOX", message(2))
	box := b.box(m.addr)
	if got := b.poll(box); got != (Tally{Found: 2, TooLarge: 1, Taken: 1}) {
		t.Fatal(got)
	}
	if got := b.poll(box); got.Found != 0 {
		t.Fatal(got)
	}
	if all, unseen := m.count("INBOX"); all != 1 || unseen != 1 {
		t.Errorf("%d in the folder, %d unseen", all, unseen)
	}
	text := string(b.raw(b.entries(box.Name(), box.validity)[1].Hash))
	for _, want := range []string{"too large", "1.6 MB", "The limit is 1.0 MB", "results@lab.example", "<m1@lab.example>", "in parts"} {
		if !strings.Contains(text, want) {
			t.Errorf("a person is not told of %q:\n%s", want, text)
		}
	}
}

// TestFinishesLater marks and moves what an earlier poll took in and could not move,
// and brings back what a person moved back as a duplicate.
func TestFinishesLater(t *testing.T) {
	b, m := newBench(t), newMemory(t, true, nil)
	m.put("INBOX", message(1))
	box := b.box(m.addr)
	b.poll(box)
	if err := m.user.Create("Handled", nil); err != nil {
		t.Fatal(err)
	}
	if got := b.poll(box); got.Found != 0 {
		t.Fatal(got)
	}
	if in, _ := m.count("INBOX"); in != 0 {
		t.Errorf("%d still in the folder", in)
	}
	for _, e := range b.entries(box.Name(), box.validity) {
		if e.Moved != "Handled" || !e.Seen || e.Outcome != TakenIn || !e.At.Equal(today) {
			t.Errorf("entry %+v", e)
		}
	}
}

// TestWrongPassword is told in words, is not tried again and again, and is forgiven
// at once when another password is there.
func TestWrongPassword(t *testing.T) {
	b, m := newBench(t), newMemory(t, false, nil)
	pw := "wrong"
	asked := 0
	box := b.box(m.addr, func(o *Options) { o.Password = func() (string, error) { asked++; return pw, nil } })
	var said []string
	for range 30 {
		_, err := box.Poll(context.Background())
		if err == nil {
			t.Fatal("a wrong password was accepted")
		}
		said = append(said, err.Error())
		b.now = b.now.Add(5 * time.Minute)
	}
	tried := 0
	for _, s := range said {
		if strings.HasPrefix(s, "the mail server refused the sign-in of "+account) {
			tried++
		} else if !strings.Contains(s, "the next try is in ") {
			t.Errorf("said %q", s)
		}
		if strings.Contains(s, pw) && !strings.Contains(s, "rong pass") {
			t.Errorf("the password is in %q", s)
		}
	}
	if tried < 4 || tried > 8 {
		t.Errorf("%d tries in 150 minutes: %q", tried, said)
	}
	if st := box.Status(); st.Problem == "" || !st.Good.IsZero() {
		t.Errorf("status %+v", st)
	}
	pw = secret
	b.poll(box)
	if st := box.Status(); st.Problem != "" || !st.Good.Equal(b.now) {
		t.Errorf("status %+v", st)
	}
}
