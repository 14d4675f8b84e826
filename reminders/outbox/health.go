package outbox

import (
	"context"
	"maps"
	"time"

	"dunlin/cases"
)

// Health is how the outbox stands: what waits, what a person must look at, and what is
// wrong with a channel.
type Health struct {
	Queued, Held               int
	Failed, Uncertain, Bounced int // for a person: phone, post, or decide
	Oldest                     time.Time
	Good                       time.Time         // the last message that a server took since the program started
	Trouble                    map[string]string // by channel: why the last attempt reached nobody
	Email, Text                bool              // set up
}

// Health counts in the store and asks the worker. Messages queued through a channel that
// is not set up count as queued.
func (w *Worker) Health(ctx context.Context) (Health, error) {
	h := Health{Email: w.o.Email != nil, Text: w.o.Text != nil}
	w.mu.Lock()
	h.Good, h.Trouble = w.good, maps.Clone(w.trouble)
	w.mu.Unlock()
	err := w.o.Store.View(ctx, func(r cases.Reader) error {
		h.Queued, h.Held, h.Failed, h.Uncertain, h.Bounced, h.Oldest = 0, 0, 0, 0, 0, time.Time{}
		for state, n := range map[string]*int{cases.OutQueued: &h.Queued, cases.OutHeld: &h.Held, cases.OutFailed: &h.Failed, cases.OutUncertain: &h.Uncertain, cases.OutBounced: &h.Bounced} {
			for o, err := range r.Outgoings(state) {
				if err != nil {
					return err
				}
				*n++
				if state == cases.OutQueued && (h.Oldest.IsZero() || o.Queued.Before(h.Oldest)) {
					h.Oldest = o.Queued
				}
			}
		}
		return nil
	})
	return h, err
}
