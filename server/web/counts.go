package web

import (
	"strings"
	"sync"
	"time"

	"dunlin/cases"
)

// tally keeps the numbers of the navigation for a minute, or until something
// is written, so that no page counts the whole list only for its menu.
type tally struct {
	mu     sync.Mutex
	on     cases.Day
	at     time.Time
	counts map[string]int
	bound  map[string]boundTally // by the sites of those who see only some
}

type boundTally struct {
	on     cases.Day
	at     time.Time
	counts map[string]int
}

const tallyFor = time.Minute

func (t *tally) forget() {
	t.mu.Lock()
	t.counts, t.bound = nil, nil
	t.mu.Unlock()
}

// counts is the numbers of the navigation: infants on the overdue list, items
// of intake that wait, letters to print.
func (s *server) counts(c Ctx) map[string]int {
	now := s.Now()
	t := &s.tally
	t.mu.Lock()
	defer t.mu.Unlock()
	who, key := userOf(c), ""
	if who.Bound() {
		key = strings.Join(who.Sites, "\n")
		if b, ok := t.bound[key]; ok && b.on == s.today() && now.Sub(b.at) < tallyFor {
			return b.counts
		}
	} else if t.counts != nil && t.on == s.today() && now.Sub(t.at) < tallyFor {
		return t.counts
	}
	n := map[string]int{}
	err := s.view(c, func(r cases.Reader) error {
		for k, err := range r.DueThrough(s.today()) {
			if err != nil {
				return err
			}
			if a := s.Protocol.AssessStep(&k, s.today()); a.OnList() {
				n["overdue"]++
			}
		}
		items, err := r.ItemsWaiting()
		if err != nil {
			return err
		}
		n["intake"] = len(items)
		_, n["letters"], err = r.LatestLetters("to-print", nil, 0)
		return err
	})
	if err != nil {
		s.Log.Error("counts of the navigation", "request", requestOf(c), "err", err)
		return nil
	}
	if key != "" {
		if t.bound == nil {
			t.bound = map[string]boundTally{}
		}
		t.bound[key] = boundTally{s.today(), now, n}
		return n
	}
	t.on, t.at, t.counts = s.today(), now, n
	return n
}
