package demo

import (
	"slices"

	"dunlin/cases"
)

// link names twins in each other's cases.
func (p *player) link(opened []*story) error {
	for _, s := range opened {
		if s.twin == nil {
			continue
		}
		var c, other cases.Case
		err := p.d.Store.View(p.ctx, func(r cases.Reader) error {
			var err error
			if c, err = r.Case(p.ids[s]); err == nil {
				other, err = r.Case(p.ids[s.twin])
			}
			return err
		})
		if err != nil {
			return err
		}
		if len(c.Siblings) > 0 { // intake has seen it
			continue
		}
		ev := cases.Event{Kind: "sibling-linked", Text: "Twin of " + other.Reference}
		_, err = p.d.Desk.Change(p.ctx, Coordinator, cases.EditIdentity, c.ID, c.Rev, ev, func(c *cases.Case, _ cases.Day) error {
			c.Siblings = append(c.Siblings, other.Reference)
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// mail marks the letters as mailed that have waited since the day before; on
// the last days nobody came to it.
func (p *player) mail(w *world, day cases.Day) error {
	if !w.cal.Working(day) || day > w.ago(4) {
		return nil
	}
	var ids []string
	err := p.d.Store.View(p.ctx, func(r cases.Reader) error {
		for l, err := range r.Letters("to-print") {
			if err != nil {
				return err
			}
			ids = append(ids, l.ID)
		}
		return nil
	})
	if err != nil || len(ids) == 0 {
		return err
	}
	p.moment(day, "16:30")
	run := day.String() + "-a"
	if err := p.d.Desk.MarkLetters(p.ctx, Coordinator, ids, "printed", "", run); err != nil {
		return err
	}
	p.moment(day, "16:50")
	if err := p.d.Desk.MarkLetters(p.ctx, Coordinator, ids, "mailed", "", ""); err != nil {
		return err
	}
	p.tally.Letters += len(ids)
	return nil
}

// letterBack marks the mailed letters of a case as come back, if there are any.
func (p *player) letterBack(c cases.Case) error {
	var ids []string
	err := p.d.Store.View(p.ctx, func(r cases.Reader) error {
		letters, err := r.LettersOf(c.ID)
		for _, l := range letters {
			if l.State == "mailed" && cases.LetterKindOf(l.Kind).To == cases.ToFamily {
				ids = append(ids, l.ID)
			}
		}
		return err
	})
	if err != nil || len(ids) == 0 {
		return err
	}
	return p.d.Desk.MarkLetters(p.ctx, p.actor, ids, "came-back", "No such number in the street", "")
}

// consent records that a family agreed to text messages, and the doctor's addresses.
func (p *player) consent(c cases.Case, on cases.Day) error {
	if c.Family == nil || len(c.Family.Guardians) == 0 || len(c.Family.Guardians[0].Phones) == 0 {
		return nil
	}
	f := *c.Clone().Family
	f.Guardians[0].Phones[0].Kind = "mobile"
	f.Consents = append(slices.Clone(f.Consents), cases.Consent{Channel: cases.ByText, On: on})
	c, err := p.d.Desk.SetFamily(p.ctx, p.actor, c.ID, c.Rev, f, "The family agreed on the telephone")
	if err != nil || c.PrimaryCare == nil {
		return err
	}
	doctor := *c.PrimaryCare
	doctor.Email = "desk@practice.example"
	doctor.Address = &cases.Address{Lines: []string{"12 Sandpiper Street"}, City: "Alder Bay", Region: "AB", Postal: "00014"}
	_, err = p.d.Desk.SetPrimaryCare(p.ctx, p.actor, c.ID, c.Rev, doctor, "Given by the practice")
	return err
}
