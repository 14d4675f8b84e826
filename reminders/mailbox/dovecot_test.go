package mailbox

import (
	"testing"
)

// TestDovecot takes mail in over TLS and over STARTTLS.
func TestDovecot(t *testing.T) {
	d, b := newDovecot(t), newBench(t)
	d.create("Handled", "Trouble")
	c := d.client()
	for n := range 30 {
		appendTo(t, c, "INBOX", referral(n))
	}
	appendTo(t, c, "INBOX", message(1))
	box := d.box(b)
	box.sink = bodies{b.in}
	if got := b.poll(box); got != (Tally{Found: 31, Taken: 30, Trouble: 1}) {
		t.Fatal(got)
	}
}
