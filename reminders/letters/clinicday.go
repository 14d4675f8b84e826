package letters

import (
	"context"
	"maps"
	"slices"

	"dunlin/cases"
)

// clinicDays makes the list of the day for each test site with bookings up to the next
// working day, so that it is there the working day before. It is made once for its site
// and day; who is booked later is on the day sheet.
func (p *Press) clinicDays(ctx context.Context, day cases.Day, tally *Tally) error {
	var lists []ClinicDay
	err := p.Store.View(ctx, func(r cases.Reader) error {
		lists = nil
		old, err := r.LettersOf("")
		if err != nil {
			return err
		}
		through := p.Protocol().Calendar().Add(day, 1)
		for _, site := range slices.Sorted(maps.Keys(p.Program().Sites)) {
			list, err := p.clinicDay(r, site, day, through)
			if err != nil {
				return err
			}
			for _, d := range list {
				if !slices.ContainsFunc(old, func(l cases.Letter) bool { return l.Kind == cases.LetterClinicDay && l.Occasion == d.Occasion() }) {
					lists = append(lists, d)
				}
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, d := range lists {
		aside := SetAside{Kind: cases.LetterClinicDay, Occasion: d.Occasion()}
		l, err := ComposeClinicDay(d, p.Texts, p.Program())
		if err != nil {
			aside.Reason = err.Error()
			tally.SetAside = append(tally.SetAside, aside)
			continue
		}
		made, err := p.keepList(ctx, l)
		switch {
		case err != nil && cases.KindOf(err) == cases.Conflict: // made by another program meanwhile
		case err != nil:
			return err
		default:
			tally.Made = append(tally.Made, made)
		}
	}
	return nil
}

// clinicDay gathers the infants booked at a site after a day and up to another, by day.
// An infant that must not be tested any more is not named.
func (p *Press) clinicDay(r cases.Reader, site string, day, through cases.Day) (list []ClinicDay, err error) {
	for b, err := range r.BookedAt(site, day+1, through) {
		if err != nil {
			return nil, err
		}
		c, err := r.Case(b.Case)
		if err != nil {
			return nil, err
		}
		a := p.Protocol().Assess(&c, day)
		if a.Closed || c.Infant.Died != 0 || c.TestMessage {
			continue
		}
		if n := len(list); n == 0 || list[n-1].On != b.On {
			list = append(list, ClinicDay{Site: site, On: b.On, MadeOn: day})
		}
		d := &list[len(list)-1]
		d.Infants = append(d.Infants, ClinicInfant{At: b.At, Case: &c, Assessment: &a})
	}
	return list, nil
}

// keepList keeps a list of the day, which is of no case.
func (p *Press) keepList(ctx context.Context, l Letter) (kept cases.Letter, err error) {
	err = p.Store.Update(ctx, actor, func(w cases.Writer) error {
		rec, err := l.Record("")
		if err != nil {
			return err
		}
		rec.Step(w.Now(), actor.Name, rec.State, "")
		if kept, err = w.PutLetter(rec); err != nil {
			return err
		}
		if err = p.tellSite(w, &kept); err != nil {
			return err
		}
		return w.Note(cases.Event{Kind: "letter-made", Text: "Letter made: " + kindWords(l.Kind) + ", number " + kept.Number})
	})
	return kept, err
}

// tellSite queues the e-mail about a list, in the list's own transaction. Where the site
// cannot be addressed the list goes alone.
func (p *Press) tellSite(w cases.Writer, l *cases.Letter) error {
	if p.ToSite == nil {
		return nil
	}
	out, ok := p.ToSite(w, l)
	if !ok || out.Check() != nil {
		return nil
	}
	out.Letter, out.Kind, out.Occasion, out.By, out.ToWhom = l.ID, l.Kind, l.Occasion, cases.ByEmail, cases.ToClinic
	_, err := cases.QueueNotice(w, out)
	if err != nil && cases.KindOf(err) == cases.Conflict {
		return nil
	}
	return err
}
