package web

import (
	"encoding/json"
	"net/http"
	"sync"
	"time"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// answerFor says what became of a document. For bytes that came before it tells what
// became of them then, so that a sender which asks twice is told the same.
func (s *server) answerFor(c Ctx, res *intake.Result) (apiAnswer, int, error) {
	items := res.Items
	if res.Again {
		err := s.view(c, func(r cases.Reader) (err error) {
			items, err = firstItems(r, res)
			return err
		})
		if err != nil {
			return apiAnswer{}, 0, err
		}
	}
	a := apiAnswer{Hash: res.Hash, Format: res.Format, Again: res.Again, Counts: map[string]int{}, Items: make([]apiItem, len(items))}
	status := http.StatusOK
	for i := range items {
		it := &items[i]
		a.Counts[it.Outcome]++
		a.Items[i] = apiItem{Position: it.Position, Outcome: it.Outcome, Reference: it.Reference, Reasons: faultsOf(it)}
		if intake.Outcome(it.Outcome) == intake.Review {
			status = http.StatusAccepted
		}
	}
	for _, w := range res.Warnings {
		a.Warnings = append(a.Warnings, w.String())
	}
	return a, status, nil
}

// firstItems gives, for each item of bytes that came before, what became of it the
// first time.
func firstItems(r cases.Reader, res *intake.Result) ([]cases.Item, error) {
	all, err := r.ItemsOf(res.Hash)
	if err != nil {
		return nil, err
	}
	first := map[string]cases.Item{}
	for _, it := range all {
		was, ok := first[it.Position]
		if !ok || was.Outcome == string(intake.Duplicate) && it.Outcome != was.Outcome { // later deliveries give duplicates only
			first[it.Position] = it
		}
	}
	items := make([]cases.Item, len(res.Items))
	for i, it := range res.Items {
		items[i] = it
		if was, ok := first[it.Position]; ok {
			items[i] = was
		}
	}
	return items, nil
}

// faultsOf lists what is wrong with an item as it was sent. Why it waits may have to
// do with another infant, and is not told.
func faultsOf(it *cases.Item) (out []string) {
	if intake.Outcome(it.Outcome) == intake.Refused {
		return it.Reasons
	}
	var rec intake.Record
	if len(it.Read) == 0 || json.Unmarshal(it.Read, &rec) != nil {
		return nil
	}
	for _, p := range rec.Problems {
		if p.Severity >= intake.Check {
			out = append(out, p.String())
		}
	}
	return out
}

// tries counts requests without a valid key, by address and minute.
type tries struct {
	mu    sync.Mutex
	since time.Time
	n     map[string]int
}

// Failures that one address may make in a minute, and addresses that are told apart.
const (
	mostTries   = 10
	mostAddress = 10_000
)

// many counts a failure and tells whether there were too many.
func (t *tries) many(address string, now time.Time) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	if age := now.Sub(t.since); t.n == nil || age < 0 || age >= time.Minute {
		t.since, t.n = now, map[string]int{}
	}
	if _, ok := t.n[address]; !ok && len(t.n) >= mostAddress {
		address = "" // all further ones together
	}
	t.n[address]++
	return t.n[address] > mostTries
}
