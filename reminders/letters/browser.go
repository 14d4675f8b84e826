package letters

import (
	"context"
	"errors"
	"strings"

	"dunlin/cases"
)

// ForBrowser tells whether a composed letter may be printed from the browser: it can be
// set, or only its script stands in the way, which the browser may have. What else is
// wrong with a letter, such as a lost character, is wrong on every sheet.
func (l *Letter) ForBrowser(err error) bool {
	if len(l.Blocks) == 0 || len(l.Address) < 2 {
		return false
	}
	if err == nil {
		return true
	}
	for _, x := range l.checks() {
		if !strings.Contains(x.Error(), "print this one from the browser") {
			return false
		}
	}
	return strings.Contains(err.Error(), "print this one from the browser")
}

// MakeForBrowser makes one letter that is owed today to be printed from the browser: the
// script has no font here, or a person wants it so. It is kept as every other letter,
// once for its case, kind and occasion, with its number and its words, as printed; the
// history names who asked for it. What stops a letter stops this one too.
func (p *Press) MakeForBrowser(ctx context.Context, a cases.Actor, id cases.ID, kind, occasion string) (cases.Letter, error) {
	if err := a.Need(cases.SendLetters); err != nil {
		return cases.Letter{}, err
	}
	o := order{due: cases.LetterDue{Kind: kind, Occasion: occasion}, forced: true, browser: true, by: a}
	var day cases.Day
	err := p.Store.View(ctx, func(r cases.Reader) (err error) {
		day = r.Today()
		o.c, err = r.Case(id)
		return err
	})
	if err != nil {
		return cases.Letter{}, err
	}
	if made(&o.c, o.due) {
		return cases.Letter{}, cases.Errorf(cases.Refused, "This letter of %s was made already.", o.c.Reference)
	}
	notOwed := cases.Errorf(cases.Refused, "This letter of %s is not owed any more.", o.c.Reference)
	assessed := p.Protocol().Assess(&o.c, day)
	switch {
	case !stillDue(OwedOn(&assessed, day), o.due):
		return cases.Letter{}, notOwed
	case o.c.TestMessage:
		return cases.Letter{}, cases.Errorf(cases.Refused, "This letter cannot be made: the case was opened by a test message.")
	}
	l, err := Compose(&o.c, &assessed, o.due, p.Texts, p.Program())
	if !l.ForBrowser(err) {
		if err == nil {
			err = errors.New("it has no text or no address")
		}
		return cases.Letter{}, cases.Errorf(cases.Refused, "This letter cannot be made: %s.", err)
	}
	kept, err := p.keep(ctx, o, day, l, &o.c)
	if err == nil && kept.ID == "" {
		err = notOwed
	}
	return kept, err
}
