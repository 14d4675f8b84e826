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
	// Message words a message to the family and says by which channel it goes; nil: no
	// messages are queued. It is asked outside of any transaction.
	Message func(*cases.Case, cases.MessageDue) (cases.Outgoing, error)
	// Along words the e-mail that goes to primary care with a letter, if the program
	// sends any; nil: none.
	Along func(*cases.Case, *cases.Letter) (cases.Outgoing, bool)
	// ToSite words the e-mail that tells a test site of its list of the day, if the
	// program sends any and the site has an address; nil: none.
	ToSite func(cases.Reader, *cases.Letter) (cases.Outgoing, bool)
	// Nowhere says why nobody can come to a booking, as a reason; "" when one can. No
	// letter or message calls a family there. nil: every booking can be kept.
	Nowhere func(cases.Reader, *cases.Booking) (string, error)
	Log     *slog.Logger // may be nil; gets no names
}

// Tally is what a run made and what it left, with reasons.
type Tally struct {
	Day       cases.Day
	Made      []cases.Letter
	SetAside  []SetAside // cannot be made; a person must act
	Conflicts []SetAside // the case was changed meanwhile; tried again next time
	Later     []SetAside // wait for another day, for a family gets one letter a day
	Queued    int        // messages by text or e-mail
	Held      int        // cases of which letters were held because they are overtaken
}

// String is the tally in one line, for the ledger of jobs.
func (t Tally) String() string {
	s := plural(len(t.Made), "letter made", "letters made")
	if t.Queued > 0 {
		s += ", " + plural(t.Queued, "message queued", "messages queued")
	}
	if n := len(t.SetAside); n > 0 {
		s += fmt.Sprintf(", %d set aside", n)
	}
	if n := len(t.Later); n > 0 {
		s += fmt.Sprintf(", %d for another day (one letter a day to a family)", n)
	}
	if n := len(t.Conflicts); n > 0 {
		s += fmt.Sprintf(", %d left for next time", n)
	}
	return s
}

// order is one letter owed, with the case as it was read.
type order struct {
	c       cases.Case
	due     cases.LetterDue
	forced  bool // a person wants it today, beside another
	browser bool // printed from the browser by who asked for it
	by      cases.Actor
}

// maker is who makes the letter: by the clock, unless a person asked for it.
func (o *order) maker() cases.Actor {
	if o.forced {
		return o.by
	}
	return actor
}

// aside says of an order why it is not made.
func (o *order) aside(reason string) SetAside {
	return SetAside{Case: o.c.ID, Reference: o.c.Reference, Kind: o.due.Kind, Occasion: o.due.Occasion, Reason: reason}
}

// actor is who makes letters by the clock.
var actor = cases.Actor{ID: "daily", Name: "Daily job", Role: cases.System, Via: "job daily"}

// Run makes every letter that is due on the day and not yet made. A letter is made
// once for its case, kind and occasion, in the same transaction as the case: running
// again makes nothing twice. One letter's trouble never stops the others; an error is
// returned only when the store itself fails.
func (p *Press) Run(ctx context.Context, day cases.Day) (Tally, error) {
	tally := Tally{Day: day}
	o, err := p.read(ctx, day)
	if err == nil && len(o.stale) > 0 {
		if tally.Held, err = p.hold(ctx, o.stale); err != nil {
			return tally, fmt.Errorf("letters: holding what is overtaken: %w", err)
		}
		o, err = p.read(ctx, day) // those cases were written
	}
	if err != nil {
		return tally, fmt.Errorf("letters: reading what is due: %w", err)
	}
	orders, texts, damaged := o.letters, o.messages, o.damaged
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
	if err := p.queue(ctx, texts, day, &tally); err != nil {
		return tally, fmt.Errorf("letters: queueing a message: %w", err)
	}
	if err := p.clinicDays(ctx, day, &tally); err != nil {
		return tally, fmt.Errorf("letters: lists of the day: %w", err)
	}
	if err := p.rememberAside(ctx, tally.SetAside); err != nil {
		return tally, fmt.Errorf("letters: keeping what was set aside: %w", err)
	}
	if p.Log != nil {
		p.Log.Info("letters", "day", day.String(), "made", len(tally.Made), "aside", len(tally.SetAside), "messages", tally.Queued, "later", len(tally.Later), "held", tally.Held, "conflicts", len(tally.Conflicts))
	}
	if err := errors.Join(damaged...); err != nil {
		return tally, fmt.Errorf("letters: a case could not be read: %w", err)
	}
	return tally, nil
}

// owing is what a run finds to do.
type owing struct {
	letters  []order
	messages []message
	stale    []cases.ID // cases with a letter that waits and must not go any more
	damaged  []error    // cases that cannot be read must not stop the others' letters
}

// read finds what is owed on a day and not made.
func (p *Press) read(ctx context.Context, day cases.Day) (o owing, err error) {
	err = p.Store.View(ctx, func(r cases.Reader) error {
		o = owing{}
		protocol := p.Protocol()
		for c, err := range p.cases(r, day) {
			if err != nil {
				o.damaged = append(o.damaged, err)
				continue
			}
			a := protocol.Assess(&c, day)
			owed := OwedOn(&a, day)
			protocol.SortLetters(&c, owed, day)
			for _, due := range owed {
				if !made(&c, due) {
					o.letters = append(o.letters, order{c: c, due: due})
				}
			}
			for _, due := range a.MessagesDue {
				if p.Message != nil && !c.TestMessage {
					o.messages = append(o.messages, message{c, due})
				}
			}
			calls, err := p.callsNowhere(r, &c)
			if err != nil {
				return err
			}
			if calls || protocol.LettersStale(&c, r.Today()) {
				o.stale = append(o.stale, c.ID)
			}
		}
		return nil
	})
	return o, err
}

// make composes outside any transaction, then keeps the letter and adds it to the case.
// The case in the order becomes the case as written.
func (p *Press) make(ctx context.Context, o *order, day cases.Day, tally *Tally) error {
	if !o.forced && p.Protocol().LetterWaits(&o.c, &o.due, day) {
		tally.Later = append(tally.Later, o.aside("another letter to the family goes on the same day"))
		return nil
	}
	l, aside := p.compose(o, day)
	switch {
	case aside != nil:
		tally.SetAside = append(tally.SetAside, *aside)
		return nil
	case l == nil:
		return nil // not due any more
	}
	kept, err := p.keep(ctx, *o, day, *l, &o.c)
	if err != nil && cases.KindOf(err) == cases.Conflict {
		tally.Conflicts = append(tally.Conflicts, o.aside("the case was changed while the letter was made"))
		return nil
	}
	if k := cases.KindOf(err); err != nil && (k == cases.Invalid || k == cases.Refused) {
		// Such as a fact of tomorrow, after the clock was set back: this case waits, the
		// others do not.
		tally.SetAside = append(tally.SetAside, o.aside(err.Error()))
		return nil
	}
	if err != nil {
		return err
	}
	if kept.ID != "" {
		tally.Made = append(tally.Made, kept)
	}
	return nil
}

// errNotDue takes back a transaction in which the letter turned out not to be owed.
var errNotDue = errors.New("not due any more")

// keep writes letter and case together; now becomes the case as written.
func (p *Press) keep(ctx context.Context, o order, day cases.Day, l Letter, now *cases.Case) (kept cases.Letter, err error) {
	var written cases.Case
	err = p.Store.Update(ctx, o.maker(), func(w cases.Writer) error {
		kept = cases.Letter{}
		c, err := w.Case(o.c.ID)
		if err != nil {
			return err
		}
		if c.Rev != o.c.Rev {
			return &cases.Changed{Want: o.c.Rev, Have: c.Rev, Now: c}
		}
		a := p.Protocol().Assess(&c, day)
		if !stillDue(OwedOn(&a, day), o.due) || made(&c, o.due) {
			return errNotDue
		}
		if err := p.mayCall(w, &c, o.due.Kind, o.due.Occasion); err != nil {
			return err
		}
		rec, err := l.Record(c.ID)
		if err != nil {
			return err
		}
		before, err := lastOf(w, &c, &rec)
		if err != nil {
			return err
		}
		rec.Note = joinNonEmpty(" ", l.LanguageNote(&c), releaseNote(&c, o.due), inPlaceOf(before))
		if cases.LetterKindOf(rec.Kind).Certified {
			rec.By = "certified-letter"
		}
		event := "Letter made: " + kindWords(l.Kind)
		rec.Step(w.Now(), o.maker().Name, rec.State, "")
		if o.browser {
			by := "rinted from the browser by " + o.by.Name
			rec.State, rec.Browser = "printed", true // the note of the letter stays
			rec.History = append(rec.History, cases.LetterStep{At: w.Now(), By: o.by.Name, State: rec.State, Note: "P" + by + "."})
			event += ", p" + by
		}
		if kept, err = w.PutLetter(rec); err != nil {
			return err
		}
		if err := linkTo(w, before, &kept); err != nil {
			return err
		}
		c.Letters = append(c.Letters, cases.LetterMade{Kind: l.Kind, Occasion: l.Occasion, MadeOn: day, State: kept.State, Number: kept.Number})
		if err := p.along(w, &c, &kept); err != nil {
			return err
		}
		written, err = w.PutCase(c, cases.Event{Kind: "letter-made", Text: event + ", number " + kept.Number})
		return err
	})
	if errors.Is(err, errNotDue) {
		return cases.Letter{}, nil
	}
	if err == nil {
		*now = written
	}
	return kept, err
}

// releaseNote asks for a reader's eye on a letter that a person let out although CF is
// in question: its words are meant for families in whom it is not expected.
func releaseNote(c *cases.Case, due cases.LetterDue) string {
	for _, r := range c.Releases {
		if r.Covers(due.Kind, due.Occasion) {
			if cases.LetterKindOf(due.Kind).Released {
				return "Released by " + joinNonEmpty(", ", r.By, r.Licence) + "."
			}
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

// OwedOn lists the letters of a case that are due by the day, to the family and to
// primary care.
func OwedOn(a *cases.Assessment, day cases.Day) []cases.LetterDue {
	var out []cases.LetterDue
	for _, list := range [][]cases.LetterDue{a.LettersDue, a.DoctorLettersDue} {
		for _, l := range list {
			if l.Due <= day {
				out = append(out, l)
			}
		}
	}
	return out
}

// made tells a letter that the case has, on whatever day it was made: after the clock
// was set back it is not owed again.
func made(c *cases.Case, due cases.LetterDue) bool {
	for i := range c.Letters {
		if l := &c.Letters[i]; l.Kind == due.Kind && l.Occasion == due.Occasion {
			return true
		}
	}
	return false
}
