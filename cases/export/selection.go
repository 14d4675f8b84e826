package export

import (
	"iter"

	"dunlin/cases"
)

// Which cases a line list holds.
const (
	AllCases    = "all"
	OpenCases   = "open"
	ClosedCases = "closed"
)

// Lines chooses the cases of a line list: referred from From to To, both included
// (0: no bound). Cases opened from test messages are left out.
type Lines struct {
	From, To cases.Day
	Which    string // AllCases, OpenCases or ClosedCases
}

// Words says which cases are in the list.
func (l Lines) Words() string {
	text := map[string]string{OpenCases: "Open cases", ClosedCases: "Closed cases"}[l.Which]
	if text == "" {
		text = "All cases"
	}
	switch {
	case l.From != 0 && l.To != 0:
		return text + " referred from " + cases.Say(l.From) + " to " + cases.Say(l.To)
	case l.From != 0:
		return text + " referred from " + cases.Say(l.From) + " on"
	case l.To != 0:
		return text + " referred to " + cases.Say(l.To)
	}
	return text
}

// Each hands the chosen cases over in order of referral, one at a time.
func (l Lines) Each(r cases.Reader, p *cases.Protocol, f func(*cases.Case, *cases.Assessment) error) error {
	return marks(r.Milestones(l.From, lastDay(r, l.To)), func(m *cases.Milestones) error {
		closed := m.Closed != 0
		if l.Which == OpenCases && closed || l.Which == ClosedCases && !closed {
			return nil
		}
		k, err := r.Case(m.Case)
		if err != nil {
			return err
		}
		a := p.AssessStep(&k, r.Today())
		return f(&k, &a)
	})
}

// Read takes in the cases of the store.
func (e *Extract) Read(r cases.Reader) error {
	return marks(r.Milestones(cases.MakeDay(e.from, 1, 1), r.Today()), func(m *cases.Milestones) error {
		e.Add(m)
		return nil
	})
}

// lastDay is the last day of referral to read.
func lastDay(r cases.Reader, to cases.Day) cases.Day {
	if to == 0 {
		return r.Today()
	}
	return min(to, r.Today())
}

// marks hands over the milestones of all but test messages.
func marks(list iter.Seq2[cases.Milestones, error], f func(*cases.Milestones) error) error {
	for m, err := range list {
		if err != nil {
			return err
		}
		if m.Marks&cases.MarkTestMessage != 0 {
			continue
		}
		if err := f(&m); err != nil {
			return err
		}
	}
	return nil
}
