package demo

import (
	"fmt"

	"dunlin/cases"
)

// doctorsAddress records where an infant's doctor is, for most infants: the laboratory
// sends no address, and the office asks for it on the day of the referral.
func (p *player) doctorsAddress(s *story, day cases.Day) error {
	if (int(day)+len(s.name))%9 == 4 {
		return nil
	}
	var c cases.Case
	err := p.d.Store.View(p.ctx, func(r cases.Reader) (err error) {
		c, err = r.Case(p.ids[s])
		return err
	})
	if err != nil || c.PrimaryCare == nil || c.PrimaryCare.Name == "" {
		return err
	}
	p.moment(day, "08:05")
	doctor := *c.PrimaryCare
	doctor.Address = &cases.Address{Lines: []string{doctor.Practice, fmt.Sprintf("%d Harbor Road", 10+len(doctor.Name))}, City: "Alder Bay", Region: "AB", Postal: "00014"}
	_, err = p.d.Desk.SetPrimaryCare(p.ctx, Coordinator, c.ID, c.Rev, doctor, "Asked on the telephone")
	return err
}

// lettersIn lists the letters in a state.
func (p *player) lettersIn(state string) (out []cases.Letter, err error) {
	err = p.d.Store.View(p.ctx, func(r cases.Reader) error {
		out = nil
		for l, err := range r.Letters(state) {
			if err != nil {
				return err
			}
			out = append(out, l)
		}
		return nil
	})
	return out, err
}

// lastPost is what the office did with letters on the last working day: a print run that
// is not mailed yet, a receipt of certified mail, and a family that called back.
func (p *player) lastPost(w *world, day cases.Day) error {
	if day != w.ago(1) {
		return nil
	}
	p.moment(day, "15:40")
	waiting, err := p.lettersIn("to-print")
	if err != nil {
		return err
	}
	var run []string
	for _, l := range waiting {
		if l.MadeOn < day && len(run) < 5 {
			run = append(run, l.ID)
		}
	}
	if len(run) > 0 {
		if err := p.d.Desk.MarkLetters(p.ctx, Coordinator, run, "printed", "", day.String()+"-a"); err != nil {
			return err
		}
	}
	mailed, err := p.lettersIn("mailed")
	if err != nil {
		return err
	}
	answered, receipt := false, false
	for i := len(mailed) - 1; i >= 0; i-- {
		l := mailed[i]
		x := cases.LetterChange{On: day}
		switch k := cases.LetterKindOf(l.Kind); {
		case k.Certified && !receipt:
			receipt = true
			x.State, x.Tracking, x.Note = "unclaimed", "70260000"+fmt.Sprintf("%012d", 4711+i), "Kept at the post office for 15 days"
		case l.Kind == cases.LetterFirstNotice && !answered:
			answered = true
			x.State, x.Note = "answered", "The mother called back"
		default:
			continue
		}
		if err := p.d.Desk.ChangeLetters(p.ctx, Coordinator, []string{l.ID}, x); err != nil {
			return err
		}
	}
	return p.bounced()
}

// bounced lets the notice come back that the newest e-mail to a doctor did not arrive.
func (p *player) bounced() error {
	return p.d.Store.Update(p.ctx, importer, func(w cases.Writer) error {
		var last cases.Outgoing
		for o, err := range w.Outgoings(cases.OutSent) {
			if err != nil {
				return err
			}
			if o.ToWhom == cases.ToPrimaryCare {
				last = o
			}
		}
		if last.ID == "" {
			return nil
		}
		last.Step(w.Now(), "Dunlin", cases.OutBounced, "The mail server of the practice says: there is no such address.")
		_, err := w.PutOutgoing(last)
		return err
	})
}
