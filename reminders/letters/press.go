package letters

import (
	"context"
	"errors"
	"fmt"
	"log/slog"

	"dunlin/cases"
	"dunlin/templates"
)

// Press makes the letters that are due.
type Press struct {
	Store    cases.Store
	Protocol func() *cases.Protocol // the values in force
	Program  func() *Program        // the program's own facts as they are now
	Texts    *templates.LetterSet
	Log      *slog.Logger // may be nil; gets no names
}

// Tally is what a run made and what it left, with reasons.
type Tally struct {
	Day       cases.Day
	Made      []cases.Letter
	SetAside  []SetAside // cannot be made; a person must act
	Conflicts []SetAside // the case was changed meanwhile; tried again next time
}

// String is the tally in one line, for the ledger of jobs.
func (t Tally) String() string {
	s := plural(len(t.Made), "letter made", "letters made")
	if n := len(t.SetAside); n > 0 {
		s += fmt.Sprintf(", %d set aside", n)
	}
	if n := len(t.Conflicts); n > 0 {
		s += fmt.Sprintf(", %d left for next time", n)
	}
	return s
}

// order is one letter owed, with the case as it was read.
type order struct {
	c   cases.Case
	due cases.LetterDue
}

// actor is who makes letters by the clock.
var actor = cases.Actor{ID: "daily", Name: "Daily job", Role: cases.System, Via: "job daily"}

// Run makes every letter that is due on the day and not yet made. A letter is made
// once for its case, kind and occasion, in the same transaction as the case: running
// again makes nothing twice. One letter's trouble never stops the others; an error is
// returned only when the store itself fails.
func (p *Press) Run(ctx context.Context, day cases.Day) (Tally, error) {
	tally := Tally{Day: day}
	var orders []order
	var damaged []error
	err := p.Store.View(ctx, func(r cases.Reader) error {
		orders, damaged = nil, nil
		protocol := p.Protocol()
		for c, err := range r.Open() {
			if err != nil { // one case that cannot be read must not stop the others' letters
				damaged = append(damaged, err)
				continue
			}
			for _, due := range protocol.Assess(&c, day).LettersDue {
				if due.Due <= day {
					orders = append(orders, order{c, due})
				}
			}
		}
		return nil
	})
	if err != nil {
		return tally, fmt.Errorf("letters: reading what is due: %w", err)
	}
	for i := range orders {
		if err := ctx.Err(); err != nil {
			return tally, err
		}
		if i > 0 && orders[i].c.ID == orders[i-1].c.ID {
			orders[i].c = orders[i-1].c // a second letter of one case follows the first
		}
		if err := p.make(ctx, &orders[i], day, &tally); err != nil {
			return tally, fmt.Errorf("letters: keeping a letter: %w", err)
		}
	}
	if err := p.rememberAside(ctx, tally.SetAside); err != nil {
		return tally, fmt.Errorf("letters: keeping what was set aside: %w", err)
	}
	if p.Log != nil {
		p.Log.Info("letters", "day", day.String(), "made", len(tally.Made), "aside", len(tally.SetAside), "conflicts", len(tally.Conflicts))
	}
	if err := errors.Join(damaged...); err != nil {
		return tally, fmt.Errorf("letters: a case could not be read: %w", err)
	}
	return tally, nil
}

// make composes outside any transaction, then keeps the letter and adds it to the case.
// The case in the order becomes the case as written.
func (p *Press) make(ctx context.Context, o *order, day cases.Day, tally *Tally) error {
	l, aside := p.compose(o, day)
	switch {
	case aside != nil:
		tally.SetAside = append(tally.SetAside, *aside)
		return nil
	case l == nil:
		return nil // not due any more
	}
	made, err := p.keep(ctx, *o, day, *l, &o.c)
	if err != nil && cases.KindOf(err) == cases.Conflict {
		tally.Conflicts = append(tally.Conflicts, SetAside{Case: o.c.ID, Reference: o.c.Reference, Kind: o.due.Kind, Occasion: o.due.Occasion,
			Reason: "the case was changed while the letter was made"})
		return nil
	}
	if err != nil {
		return err
	}
	if made.ID != "" {
		tally.Made = append(tally.Made, made)
	}
	return nil
}

// errNotDue takes back a transaction in which the letter turned out not to be owed.
var errNotDue = errors.New("not due any more")

// keep writes letter and case together; now becomes the case as written.
func (p *Press) keep(ctx context.Context, o order, day cases.Day, l Letter, now *cases.Case) (made cases.Letter, err error) {
	var written cases.Case
	err = p.Store.Update(ctx, actor, func(w cases.Writer) error {
		made = cases.Letter{}
		c, err := w.Case(o.c.ID)
		if err != nil {
			return err
		}
		if c.Rev != o.c.Rev {
			return &cases.Changed{Want: o.c.Rev, Have: c.Rev, Now: c}
		}
		if !stillDue(p.Protocol().Assess(&c, day).LettersDue, o.due) {
			return errNotDue
		}
		rec, err := l.Record(c.ID)
		if err != nil {
			return err
		}
		rec.Note = joinNonEmpty(" ", l.LanguageNote(&c), releaseNote(&c, o.due))
		if made, err = w.PutLetter(rec); err != nil {
			return err
		}
		c.Letters = append(c.Letters, cases.LetterMade{Kind: l.Kind, Occasion: l.Occasion, MadeOn: day, State: made.State, Number: made.Number})
		written, err = w.PutCase(c, cases.Event{Kind: "letter-made", Text: "Letter made: " + kindWords(l.Kind) + ", number " + made.Number})
		return err
	})
	if errors.Is(err, errNotDue) {
		return cases.Letter{}, nil
	}
	if err == nil {
		*now = written
	}
	return made, err
}

// releaseNote asks for a reader's eye on a letter that a person let out although CF is
// in question: its words are meant for families in whom it is not expected.
func releaseNote(c *cases.Case, due cases.LetterDue) string {
	for _, r := range c.Releases {
		if r.Kind == due.Kind && (r.Occasion == "" || r.Occasion == due.Occasion) {
			return "Released by " + r.By + ". Read it before it goes out: its words are for families in whom CF is not expected."
		}
	}
	return ""
}

func stillDue(owed []cases.LetterDue, due cases.LetterDue) bool {
	for _, l := range owed {
		if l.Kind == due.Kind && l.Occasion == due.Occasion {
			return true
		}
	}
	return false
}
