package letters

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"dunlin/cases"
)

// settingAside holds which letters the last run set aside, without names or reasons.
const settingAside = "letters-set-aside"

// asideMark is one letter that was set aside.
type asideMark struct {
	Case     cases.ID `json:"case"`
	Kind     string   `json:"kind"`
	Occasion string   `json:"occasion"`
}

// rememberAside keeps what a run set aside, when it differs from what is kept.
func (p *Press) rememberAside(ctx context.Context, set []SetAside) error {
	marks := make([]asideMark, 0, len(set))
	for _, s := range set {
		marks = append(marks, asideMark{s.Case, s.Kind, s.Occasion})
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

// Waiting gives the letters that the last run set aside and that still cannot be made,
// each with the reason as it is now. What has been mended meanwhile is left out: the
// next run makes it.
func (p *Press) Waiting(ctx context.Context) ([]SetAside, error) {
	var today cases.Day
	var orders []order
	err := p.Store.View(ctx, func(r cases.Reader) error {
		today, orders = r.Today(), nil
		raw, known, err := r.Setting(settingAside)
		if err != nil || !known {
			return err
		}
		var marks []asideMark
		if err := json.Unmarshal(raw, &marks); err != nil {
			return err
		}
		for _, m := range marks {
			c, err := r.Case(m.Case)
			if cases.KindOf(err) == cases.NotFound && err != nil {
				continue
			}
			if err != nil {
				return err
			}
			orders = append(orders, order{c: c, due: cases.LetterDue{Kind: m.Kind, Occasion: m.Occasion}})
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("letters set aside: %w", err)
	}
	var out []SetAside
	for i := range orders {
		if _, aside := p.compose(&orders[i], today); aside != nil {
			out = append(out, *aside)
		}
	}
	return out, nil
}

// compose makes an order's letter outside any transaction; aside says why it cannot be
// made, and is nil when the letter is made or not due.
func (p *Press) compose(o *order, day cases.Day) (l *Letter, aside *SetAside) {
	a := p.Protocol().Assess(&o.c, day)
	if !stillDue(owedOn(&a, day), o.due) {
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
