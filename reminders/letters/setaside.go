package letters

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"dunlin/cases"
)

// settingAside holds which letters, messages and lists of a day the last run set aside,
// without names or reasons.
const settingAside = "letters-set-aside"

// asideMark is one letter or message that was set aside; of a list of the day it is of no
// case.
type asideMark struct {
	Case     cases.ID `json:"case"`
	Kind     string   `json:"kind"`
	Occasion string   `json:"occasion"`
	By       string   `json:"by,omitempty"` // channel of a message
}

// rememberAside keeps what a run set aside, when it differs from what is kept.
func (p *Press) rememberAside(ctx context.Context, set []SetAside) error {
	marks := make([]asideMark, 0, len(set))
	for _, s := range set {
		marks = append(marks, asideMark{s.Case, s.Kind, s.Occasion, s.By})
	}
	now, err := json.Marshal(marks)
	if err != nil {
		return err
	}
	same := false
	err = p.Store.View(ctx, func(r cases.Reader) error {
		old, known, err := r.Setting(settingAside)
		same = known && bytes.Equal(old, now) || !known && len(set) == 0
		return err
	})
	if err != nil || same {
		return err
	}
	return p.Store.Update(ctx, actor, func(w cases.Writer) error { return w.PutSetting(settingAside, now) })
}

// aside is what the last run set aside, read again.
type aside struct {
	today    cases.Day
	letters  []order
	messages []message
	lists    []ClinicDay
	refused  []SetAside // messages to a booking to which nobody can come
}

// Waiting gives what the last run set aside and what still cannot be made, each with the
// reason as it is now: letters, messages, and lists of a day, which are of no case. What
// has been mended meanwhile is left out: the next run makes it.
func (p *Press) Waiting(ctx context.Context) ([]SetAside, error) {
	x, err := p.readAside(ctx)
	if err != nil {
		return nil, fmt.Errorf("letters set aside: %w", err)
	}
	var out []SetAside
	for i := range x.letters {
		if _, s := p.compose(&x.letters[i], x.today); s != nil {
			out = append(out, *s)
		}
	}
	return append(out, p.besides(&x)...), nil
}

// WaitingBesides is Waiting without the letters of cases, for who drafts these anyway.
func (p *Press) WaitingBesides(ctx context.Context) ([]SetAside, error) {
	x, err := p.readAside(ctx)
	if err != nil {
		return nil, fmt.Errorf("letters set aside: %w", err)
	}
	return p.besides(&x), nil
}

// besides are the messages and the lists of a day that still cannot be made.
func (p *Press) besides(x *aside) []SetAside {
	out := x.refused
	for i := range x.messages {
		m := &x.messages[i]
		o, err := p.word(m)
		if err == nil {
			err = p.Protocol().AddressMessage(&m.c, &o, x.today)
		}
		if err != nil {
			out = append(out, m.aside(err.Error()))
		}
	}
	for _, d := range x.lists {
		if _, err := ComposeClinicDay(d, p.Texts, p.Program()); err != nil {
			out = append(out, SetAside{Kind: cases.LetterClinicDay, Occasion: d.Occasion(), Reason: err.Error()})
		}
	}
	return out
}

// readAside reads what the last run set aside, with the cases as they are now.
func (p *Press) readAside(ctx context.Context) (x aside, err error) {
	err = p.Store.View(ctx, func(r cases.Reader) error {
		x = aside{today: r.Today()}
		raw, known, err := r.Setting(settingAside)
		if err != nil || !known {
			return err
		}
		var marks []asideMark
		if err := json.Unmarshal(raw, &marks); err != nil {
			return err
		}
		for _, m := range marks {
			if m.Case == "" {
				continue
			}
			c, err := r.Case(m.Case)
			if cases.IsElsewhere(err) {
				continue // whose list it is, is not to see this infant
			}
			if cases.KindOf(err) == cases.NotFound && err != nil {
				continue
			}
			if err != nil {
				return err
			}
			if m.By == "" {
				x.letters = append(x.letters, order{c: c, due: cases.LetterDue{Kind: m.Kind, Occasion: m.Occasion}})
				continue
			}
			for _, d := range p.Protocol().Assess(&c, x.today).MessagesDue {
				if p.Message != nil && d.Kind == m.Kind && d.Occasion == m.Occasion && d.By == m.By {
					m := message{c, d}
					err := p.mayCall(r, &c, d.Kind, d.Occasion)
					switch {
					case err == nil:
						x.messages = append(x.messages, m)
					case cases.KindOf(err) == cases.Refused:
						x.refused = append(x.refused, m.aside(err.Error()))
					default:
						return err
					}
				}
			}
		}
		x.lists, err = p.listsAside(r, marks, x.today)
		return err
	})
	return x, err
}

// listsAside are the lists of a day that were set aside and are owed still.
func (p *Press) listsAside(r cases.Reader, marks []asideMark, day cases.Day) (out []ClinicDay, err error) {
	if !slices.ContainsFunc(marks, func(m asideMark) bool { return m.Case == "" }) {
		return nil, nil
	}
	owed, err := p.dayLists(r, day)
	for _, d := range owed {
		if slices.ContainsFunc(marks, func(m asideMark) bool { return m.Case == "" && m.Occasion == d.Occasion() }) {
			out = append(out, d.ClinicDay)
		}
	}
	return out, err
}

// compose makes an order's letter outside any transaction; left says why it cannot be
// made, and is nil when the letter is made or not due.
func (p *Press) compose(o *order, day cases.Day) (l *Letter, left *SetAside) {
	a := p.Protocol().Assess(&o.c, day)
	if !stillDue(OwedOn(&a, day), o.due) {
		return nil, nil
	}
	reason := "the case was opened by a test message"
	if !o.c.TestMessage {
		var made Letter
		err := p.Store.View(context.Background(), func(r cases.Reader) error { return p.mayCall(r, &o.c, o.due.Kind, o.due.Occasion) })
		if err == nil {
			made, err = Compose(&o.c, &a, o.due, p.Texts, p.Program())
		}
		if err == nil {
			return &made, nil
		}
		reason = err.Error()
	}
	x := o.aside(reason)
	return nil, &x
}
