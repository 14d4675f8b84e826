package web

import (
	"fmt"
	"slices"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// dueLetter is a letter that is due and not made: as it would read, or why it cannot be
// made.
type dueLetter struct {
	c   cases.Case
	due cases.LetterDue
	l   letters.Letter // with an error, what could be composed
	err error
	// waits tells that it goes another day, for the family gets another letter today;
	// other, that this other one is made already.
	waits, other bool
}

// key names a due letter in an address: reference, kind and occasion, and no name.
func (d *dueLetter) key() string { return d.c.Reference + "/" + d.due.Kind + "/" + d.due.Occasion }

// dueLetters are the letters due today and not made, each composed from the facts as
// they are now. Nothing is kept.
func (s *server) dueLetters(c Ctx, by narrow) ([]dueLetter, error) {
	var out []dueLetter
	today, facts := s.today(), s.letterFacts()
	err := s.view(c, func(r cases.Reader) error {
		out = nil
		for k, err := range letters.Owing(r, s.protocol(), today) {
			if err != nil {
				return err
			}
			if len(out) >= mostListed {
				break
			}
			list, err := s.dueOf(r, &k, today, facts)
			if err != nil {
				return err
			}
			for _, d := range list {
				if by.fits(d.due.Kind) && len(out) < mostListed {
					out = append(out, d)
				}
			}
		}
		return nil
	})
	return out, err
}

// callsNowhere says of a letter that would call a family to a booking to which nobody can
// come that it is not made.
func (s *server) callsNowhere(r cases.Reader, d *dueLetter) error {
	b := d.c.Calls(d.due.Kind, d.due.Occasion)
	if b == nil || d.err != nil {
		return nil
	}
	why, err := booking.NoPlaceToCome(r, s.protocol().Calendar(), b)
	if why != "" {
		d.err = fmt.Errorf("%s", why)
	}
	return err
}

// dueOf are the letters of one case that are due and not made, in the order in which a
// run makes them: the second to a family waits for another day.
func (s *server) dueOf(r cases.Reader, k *cases.Case, today cases.Day, facts *letters.Program) (out []dueLetter, err error) {
	a := s.protocol().Assess(k, today)
	owed := letters.OwedOn(&a, today)
	s.protocol().SortLetters(k, owed, today)
	then := *k // the case with the letters that the run makes
	for i := range owed {
		due := &owed[i]
		d := s.compose(*k, &a, *due, facts)
		if err := s.callsNowhere(r, &d); err != nil {
			return nil, err
		}
		if d.err == nil {
			d.waits, d.other = s.protocol().LetterWaits(&then, due, today), s.protocol().LetterWaits(k, due, today)
		}
		if d.err == nil && !d.waits {
			then.Letters = append(slices.Clip(then.Letters), cases.LetterMade{Kind: due.Kind, Occasion: due.Occasion, MadeOn: today, State: "to-print"})
		}
		out = append(out, d)
	}
	return out, nil
}

func (s *server) compose(k cases.Case, a *cases.Assessment, due cases.LetterDue, facts *letters.Program) dueLetter {
	d := dueLetter{c: k, due: due}
	if k.TestMessage {
		d.err = fmt.Errorf("the case was opened by a test message")
		return d
	}
	d.l, d.err = letters.Compose(&k, a, due, s.LetterTexts, facts)
	return d
}

// state is a due letter's state as a tag.
func (d *dueLetter) state() templates.Tag {
	if d.err != nil {
		return templates.Tag{Kind: "late", Text: "Cannot be made"}
	}
	t := letterTag("drafted")
	if d.waits {
		t.Text += ", waits a day"
	}
	return t
}

// words tells whether the words of the letter are there, though it may not be set.
func (d *dueLetter) words() bool { return len(d.l.Blocks) > 0 }

// note is the reason why a letter cannot be made, or what must be done beside it.
func (d *dueLetter) note() string {
	if d.err != nil {
		return sentence(d.err.Error()) + "."
	}
	if d.waits {
		return strings.TrimSpace("It waits for the next working day: a family gets one letter a day, and a more important one goes today. " + d.l.LanguageNote(&d.c))
	}
	return d.l.LanguageNote(&d.c)
}

// mends lead from a part of a reason to the one next step, the first that fits; %s is
// the reference.
var mends = []struct{ part, text, href string }{
	{"print this one from the browser", "Print it from the browser", ""},
	{"the address line", "Correct the address", "/infants/%s/family"},
	{"cannot be set", "Correct the name", "/infants/%s/name"},
	{"of the primary care doctor", "Enter the doctor’s address", "/infants/%s/primary-care"},
	{"primary care doctor", "Enter the doctor", "/infants/%s/primary-care"},
	{"mail came back", "Enter the new address", "/infants/%s/family"},
	{"guardian", "Enter or choose who gets letters", "/infants/%s/family"},
	{"no address is on record", "Enter the address", "/infants/%s/family"},
	{"the address names", "Correct the address", "/infants/%s/family"},
	{"the address has", "Complete the address", "/infants/%s/family"},
	{"lines; the window", "Shorten the address", "/infants/%s/family"},
	{"no name on record", "Enter the name", "/infants/%s/name"},
	{"the test site", "Describe the test site", "/settings/sites"},
	{"no session to come to", "Move the booking", "/infants/%s#books-h"},
	{"the booking has", "Move the booking", "/infants/%s#books-h"},
	{"opened by a test message", "", ""},
}

// next is the one next step after a letter that cannot be made.
func (d *dueLetter) next(c Ctx) templates.Link {
	if d.err == nil {
		return templates.Link{}
	}
	for _, m := range mends {
		if !strings.Contains(d.err.Error(), m.part) {
			continue
		}
		switch {
		case m.text == "":
			return templates.Link{}
		case m.href == "" && d.words():
			return templates.Link{Text: m.text, Href: pageAt(d.key())}
		case m.href == "" || strings.Contains(m.href, "%s") && !strings.Contains(m.href, "#") && !can(c, writeIdentity) || m.href == "/settings/sites" && !can(c, schedule):
		case strings.Contains(m.href, "%s"):
			return templates.Link{Text: m.text, Href: fmt.Sprintf(m.href, d.c.Reference)}
		default:
			return templates.Link{Text: m.text, Href: m.href}
		}
	}
	return templates.Link{Text: "Open the infant", Href: "/infants/" + d.c.Reference}
}

// fillDue lists what is due today and not made.
func (s *server) fillDue(c Ctx, p *templates.LettersPage, due []dueLetter) {
	chosen := c.QueryParam("letter")
	for i := range due {
		d := &due[i]
		row := templates.ListedLetter{ID: d.key(), Name: infantName(&d.c.Infant), Reference: d.c.Reference, Kind: cases.LetterKindOf(d.due.Kind).Word, To: toWords[d.due.To()],
			Due: "due " + shortDay(d.due.Due), State: d.state(), Note: d.note(), Next: d.next(c), Href: letterHref(stateDue, d.key())}
		if d.words() {
			row.Language = languageWord(d.l.Language)
		}
		row.Current = d.key() == chosen || chosen == "" && i == 0
		p.Rows = append(p.Rows, row)
		if row.Current {
			p.Chosen = duePreview(c, d)
			if d.other && s.Press != nil {
				p.Chosen.Acts = []templates.LetterForm{{Head: "Should it go today as well?", Action: makeNowPath, Hidden: []templates.Hidden{{Name: "letter", Value: d.key()}}, Button: "Make now"}}
			}
		}
	}
}

// skippedShown is how many letters that are due stand beside the other lists.
const skippedShown = 5

// skippedOf are the first letters that are not made, for the side of the other lists.
func skippedOf(due []dueLetter) []templates.SkippedLetter {
	var out []templates.SkippedLetter
	for i := range due[:min(len(due), skippedShown)] {
		d := &due[i]
		reason := "The next run makes it"
		if d.err != nil {
			reason = sentence(d.err.Error())
		} else if d.waits {
			reason = "Waits a day: the family gets another letter today"
		}
		out = append(out, templates.SkippedLetter{Name: infantName(&d.c.Infant), Reference: d.c.Reference, Kind: cases.LetterKindOf(d.due.Kind).Word, Reason: reason})
	}
	return out
}

// duePreview sets a letter out that is not made yet.
func duePreview(c Ctx, d *dueLetter) *templates.LetterPreview {
	v := &templates.LetterPreview{Name: infantName(&d.c.Infant), Reference: d.c.Reference, State: d.state(), Note: d.note()}
	if d.err != nil {
		v.Note, v.Stopped, v.Next = "", d.note(), d.next(c)
	}
	if d.words() {
		fillWords(v, &d.l)
		v.Number = ""
		if d.l.ForBrowser(d.err) && d.err == nil {
			v.Page = pageAt(d.key())
		}
	}
	return v
}

// fillWords sets the words of a letter out for reading.
func fillWords(v *templates.LetterPreview, l *letters.Letter) {
	v.Title, v.To, v.Blocks, v.Lang, v.Number = l.Title, l.Address, l.Blocks, l.Language, l.Number
	v.From = append([]string{l.Sender.Name}, l.Sender.Return...)
	v.Date = or(l.Words.Date, l.MadeOn.Time().Format("January 2, 2006"))
	if templates.ForFamily(l.Kind) {
		v.Grade = templates.ReadingLine(l.Language, l.Blocks)
	}
}
