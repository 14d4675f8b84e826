package letters

import (
	"context"

	"dunlin/cases"
)

// MakeNow makes one letter that is owed today although another goes to the family on the
// same day: a person wants both. The letter names who asked for it in its history.
func (p *Press) MakeNow(ctx context.Context, a cases.Actor, id cases.ID, kind, occasion string) (Tally, error) {
	if err := a.Need(cases.SendLetters); err != nil {
		return Tally{}, err
	}
	o := order{due: cases.LetterDue{Kind: kind, Occasion: occasion}, forced: true, by: a}
	var tally Tally
	err := p.Store.View(ctx, func(r cases.Reader) (err error) {
		tally.Day = r.Today()
		o.c, err = r.Case(id)
		return err
	})
	if err != nil {
		return tally, err
	}
	if made(&o.c, o.due) {
		return tally, cases.Errorf(cases.Refused, "This letter of %s was made already.", o.c.Reference)
	}
	err = p.make(ctx, &o, tally.Day, &tally)
	if err == nil && len(tally.Made)+len(tally.SetAside)+len(tally.Conflicts) == 0 {
		err = cases.Errorf(cases.Refused, "This letter of %s is not owed any more.", o.c.Reference)
	}
	return tally, err
}
