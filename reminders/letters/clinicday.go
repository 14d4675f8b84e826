package letters

import (
	"context"
	"maps"
	"slices"

	"dunlin/cases"
)

// listUntil is the hour until which the list of a day can still change on the day itself.
// Later the bookings there say who came, and the session's page is the list.
const listUntil = 8

// clinicDays makes the list of the day for each test site with bookings up to the next
// working day, so that it is there the working day before. When bookings change after
// that, until 8 in the morning of the day itself, a new list is made that says which one it
// takes the place of, and the old one is held where it is not out yet.
func (p *Press) clinicDays(ctx context.Context, day cases.Day, tally *Tally) error {
	var lists []owedList
	err := p.Store.View(ctx, func(r cases.Reader) (err error) {
		lists, err = p.dayLists(r, day)
		return err
	})
	if err != nil {
		return err
	}
	for _, d := range lists {
		if err := p.clinicList(ctx, d.ClinicDay, d.before, tally); err != nil {
			return err
		}
	}
	return nil
}

// owedList is the list of a day that may be owed, with the one that was made before.
type owedList struct {
	ClinicDay
	before cases.Letter // without an ID when there is none
}

// dayLists gathers the lists of the days that may be owed on a day.
func (p *Press) dayLists(r cases.Reader, day cases.Day) (out []owedList, err error) {
	old, err := r.LettersOf("")
	if err != nil {
		return nil, err
	}
	from := day
	if r.Today() != day || r.Now().Hour() >= listUntil {
		from++
	}
	through := p.Protocol().Calendar().Add(day, 1)
	var lists []ClinicDay
	for _, site := range slices.Sorted(maps.Keys(p.Program().Sites)) {
		list, err := p.clinicDay(r, site, day, from, through)
		if err != nil {
			return nil, err
		}
		for d := from; d <= through; d++ { // also a day of which nothing is left
			if !slices.ContainsFunc(list, func(x ClinicDay) bool { return x.On == d }) {
				list = append(list, ClinicDay{Site: site, On: d, MadeOn: day})
			}
		}
		lists = append(lists, list...)
	}
	for _, d := range lists {
		x := owedList{ClinicDay: d}
		for _, l := range old {
			if l.Kind == cases.LetterClinicDay && cases.BaseOccasion(l.Occasion) == d.base() {
				if n := cases.LetterCount(l.Occasion); n > x.Nth {
					x.Nth, x.Before, x.before = n, l.Number, l
				}
			}
		}
		x.Nth++
		if x.before.ID == "" && (len(d.Infants) == 0 || d.On == day) {
			continue // the first list of a day is made the working day before
		}
		out = append(out, x)
	}
	return out, nil
}

// clinicList makes one list, unless the one before says the same.
func (p *Press) clinicList(ctx context.Context, d ClinicDay, before cases.Letter, tally *Tally) error {
	l, err := ComposeClinicDay(d, p.Texts, p.Program())
	if err != nil {
		tally.SetAside = append(tally.SetAside, SetAside{Kind: cases.LetterClinicDay, Occasion: d.Occasion(), Reason: err.Error()})
		return nil
	}
	if before.ID != "" {
		if was, err := Decode(before); err != nil || sameList(&was, &l) {
			return nil
		}
	}
	made, err := p.keepList(ctx, l, before.ID)
	switch {
	case err != nil && cases.KindOf(err) == cases.Conflict: // made by another program meanwhile
	case err != nil:
		return err
	default:
		tally.Made = append(tally.Made, made)
	}
	return nil
}

// clinicDay gathers the infants booked at a site from a day to another, by day.
// An infant that must not be tested any more is not named.
func (p *Press) clinicDay(r cases.Reader, site string, day, from, through cases.Day) (list []ClinicDay, err error) {
	for b, err := range r.BookedAt(site, from, through) {
		if err != nil {
			return nil, err
		}
		c, err := r.Case(b.Case)
		if cases.IsElsewhere(err) {
			continue // a person's own sites only
		}
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

// keepList keeps a list of the day, which is of no case, and holds the one before.
func (p *Press) keepList(ctx context.Context, l Letter, before string) (kept cases.Letter, err error) {
	err = p.Store.Update(ctx, actor, func(w cases.Writer) error {
		rec, err := l.Record("")
		if err != nil {
			return err
		}
		rec.Step(w.Now(), actor.Name, rec.State, "")
		if kept, err = w.PutLetter(rec); err != nil {
			return err
		}
		if err = replaceList(w, before, kept.Number); err != nil {
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

// replaceList writes on a list that another took its place, and holds it where it is not
// out yet.
func replaceList(w cases.Writer, id, by string) error {
	if id == "" {
		return nil
	}
	old, err := w.Letter(id)
	if err != nil {
		return err
	}
	note := "The bookings changed; list " + by + " takes its place."
	if old.State == "to-print" || old.State == "printed" {
		old.Step(w.Now(), actor.Name, "held", note)
		old.Changed = w.Today()
	} else {
		old.History = append(old.History, cases.LetterStep{At: w.Now(), By: actor.Name, State: old.State, Note: note})
	}
	_, err = w.PutLetter(old)
	return err
}
