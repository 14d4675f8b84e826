package mailbox

import (
	"testing"
	"time"
)

// BenchmarkThousandMessages takes 1,000 referrals in from a Dovecot on loopback into a
// store on disk: fetched, opened as cases, recorded, marked as seen and moved. Wanted:
// below 10 s.
func BenchmarkThousandMessages(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		d, w := newDovecot(b), newBench(b)
		d.create("Handled", "Trouble")
		for n := range 1000 {
			d.deliver(referral(n))
		}
		box := d.box(w, func(o *Options) { o.PollLimit = 4 * time.Minute })
		b.StartTimer()
		tally := w.poll(box)
		b.StopTimer()
		if tally != (Tally{Found: 1000, Taken: 1000}) {
			b.Fatal(tally)
		}
		opened := 0
		for _, it := range w.items() {
			if it.Outcome == "opened" {
				opened++
			}
		}
		if all, unseen := d.count("Handled"); all != 1000 || unseen != 0 || opened < 900 {
			b.Fatalf("%d moved, %d unseen, %d cases opened", all, unseen, opened)
		}
		b.StartTimer()
	}
}
