package outbox_test

import (
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"

	"dunlin/cases"
	"dunlin/reminders/outbox"
)

// crash is how the property test ends a worker within a server's answer.
type crash struct{}

// TestNeverTwiceAndNoneLost draws days of servers that take, refuse, hang, lose their
// answer, and of workers that die before and after a message was taken, of clocks that
// are set, of two workers on one store and of cases that stop. Whatever happens, no
// message reaches the server twice unless a person had it sent again, none is lost, and
// none goes out once its case is stopped.
func TestNeverTwiceAndNoneLost(t *testing.T) {
	n := 0
	dir := t.TempDir()
	rapid.Check(t, func(r *rapid.T) {
		n++
		w := &world{tb: t, path: filepath.Join(dir, fmt.Sprint(n)), now: noon}
		w.open()
		defer w.db.Close()
		play(r, w)
	})
}

func play(t *rapid.T, w *world) {
	w.c = w.put(willing())
	took := map[string]int{}  // by message: how often the server took it
	asked := map[string]int{} // how often a person had it sent again
	stopped := false
	outcome := "take"
	server := &fake{says: func(p outbox.Parcel) error {
		if stopped && p.ToWhom == cases.ToFamily {
			t.Fatalf("message %s was sent after the case stopped", p.Kind)
		}
		switch outcome {
		case "take", "take and crash", "take and lose the answer":
			took[p.Outgoing.ID]++
		}
		switch outcome {
		case "take and crash", "crash":
			panic(crash{})
		case "take and lose the answer", "lose":
			return &outbox.Unsure{Err: errDown}
		case "later":
			return &outbox.Refused{Code: 451}
		case "never":
			return &outbox.Refused{Code: 550, Permanent: true}
		case "down":
			return errDown
		}
		return nil
	}}
	workers := []*outbox.Worker{w.worker(server, server), w.worker(server, server)}
	desk := cases.NewDesk(w.db, cases.DefaultProtocol())
	var ids []string
	for i := range rapid.IntRange(3, 25).Draw(t, "steps") {
		switch rapid.SampledFrom([]string{"queue", "run", "run", "run", "wait", "clock back", "again", "stop", "new worker"}).Draw(t, "step") {
		case "queue":
			if !stopped {
				by := rapid.SampledFrom([]string{cases.ByEmail, cases.ByText}).Draw(t, "by")
				ids = append(ids, w.queue(cases.MessageNudge, string(rune('a'+i)), by).ID)
			}
		case "run":
			outcome = rapid.SampledFrom([]string{"take", "take", "take and crash", "crash", "take and lose the answer", "lose", "later", "never", "down"}).Draw(t, "outcome")
			n := rapid.IntRange(0, 1).Draw(t, "worker")
			if died := runOrDie(t, workers[n]); died {
				w.pass(time.Second)
				workers[n] = w.worker(server, server)
			}
		case "wait":
			w.pass(time.Duration(rapid.IntRange(1, 300).Draw(t, "minutes")) * time.Minute)
		case "clock back":
			w.pass(-24 * time.Hour)
		case "again":
			for _, id := range ids {
				if o := w.get(id); o.State == cases.OutUncertain && desk.DecideMessage(ctx, clerk, id, cases.SendAgain, "It did not come.") == nil {
					asked[id]++
				}
			}
		case "stop":
			if !stopped && rapid.IntRange(0, 3).Draw(t, "really") == 0 {
				if now := w.clock(); now.Before(noon.AddDate(0, 0, 10)) { // the clock is right again: nothing lies ahead of it
					w.pass(noon.AddDate(0, 0, 10).Sub(now))
				}
				w.change(func(c *cases.Case) { c.Flags = []cases.Flag{{Kind: "safety"}} })
				stopped = true
			}
		case "new worker":
			workers[1] = w.worker(server, server)
		}
	}
	for _, id := range ids {
		o := w.get(id)
		if took[id] > 1+asked[id] {
			t.Fatalf("taken %d times, a person asked %d times: %+v", took[id], asked[id], o.History)
		}
		if o.State == cases.OutSent && took[id] == 0 {
			t.Fatalf("stands as sent, but the server never took it: %+v", o.History)
		}
		if o.State == cases.OutQueued && took[id] > asked[id] {
			t.Fatalf("taken, and it would be sent once more: %+v", o.History)
		}
	}
}

// runOrDie runs a worker that may die; what it held in memory is gone with it.
func runOrDie(t *rapid.T, k *outbox.Worker) (died bool) {
	defer func() {
		if x := recover(); x != nil {
			if _, ours := x.(crash); !ours {
				panic(x)
			}
			died = true
		}
	}()
	if _, err := k.Run(ctx); err != nil && !errors.Is(err, ctx.Err()) {
		t.Fatal(err)
	}
	return false
}
