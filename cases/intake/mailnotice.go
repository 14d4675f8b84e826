package intake

import (
	"fmt"
	"strings"

	"dunlin/cases"
)

// fate is what a delivery notice says of all recipients together.
type fate uint8

const (
	fateNoted   fate = iota // delivered, relayed or expanded, or nothing that is known
	fateDelayed             // more notices may follow
	fateFailed              // it reached nobody
	fateMixed               // it reached some and not others, or the notice contradicts itself
)

// read gives the fate and the recipient that failed, or the first one.
func fateOf(ds []Delivery) (f fate, d Delivery) {
	failed, delayed, through, odd := 0, 0, 0, false
	for i, n := range ds {
		switch n.Action {
		case "failed":
			if failed++; failed == 1 {
				d = n
			}
			odd = odd || strings.HasPrefix(n.Status, "2.")
		case "delayed":
			delayed++
		case "delivered", "relayed", "expanded":
			through++
			odd = odd || strings.HasPrefix(n.Status, "5.")
		}
		if i == 0 && d == (Delivery{}) {
			d = n
		}
	}
	switch {
	case odd || failed > 0 && through+delayed > 0:
		return fateMixed, d
	case failed > 0:
		return fateFailed, d
	case delayed > 0:
		return fateDelayed, d
	}
	return fateNoted, d
}

// fileNotice files a delivery notice (RFC 3464) with the letter it is about. A letter
// that reached nobody came back, and a person posts it or phones; a notice of delay
// changes nothing. No other step of the case moves because of it.
func (p *placer) fileNotice(it *Item) (cases.Item, error) {
	item, again, err := p.mailItem(it, KindNotice)
	if again || err != nil {
		return item, err
	}
	s, err := p.subjects(p.job.mail, false)
	if err != nil {
		return item, err
	}
	l, ok := s.letter()
	if c, has := s.one(); ok && has {
		item.Letter, item.Case, item.Reference = l.ID, c.ID, c.Reference
	}
	o, ours := s.message()
	if c, has := s.one(); ours && has {
		item.Case, item.Reference = c.ID, c.Reference
	}
	f, d := fateOf(p.job.mail.Notices)
	item.Reasons = append(item.Reasons, saysOf(d))
	item.Outcome = string(Refused)
	switch {
	case f == fateMixed, f == fateFailed && item.Letter == "" && !ours, len(p.job.mail.Notices) == 0:
		item.Outcome, item.Kind, item.Due = string(Review), KindFailed, p.nextWorkingDay()
		item.Reasons = append(item.Reasons, doNext(f, item.Letter != "" || ours))
	case f == fateFailed && ours:
		err = p.bounced(&item, o, s, d)
	case f == fateFailed:
		err = p.cameBack(&item, l, s.cases[0], d)
	case item.Letter != "" || ours:
		item.Outcome = string(Attached)
	}
	if err != nil {
		return item, err
	}
	return p.w.PutItem(item)
}

func saysOf(d Delivery) string {
	what := map[string]string{"failed": "could not be delivered", "delayed": "is delayed; another notice may follow", "delivered": "was delivered",
		"relayed": "was passed on", "expanded": "was passed on to a list"}[d.Action]
	if what == "" {
		return "The notice does not say what became of the mail."
	}
	s := "The mail to " + Shorten(d.Recipient) + " " + what
	if d.Status != "" {
		s += " (" + strings.TrimSpace(Shorten(d.Status)+" "+Shorten(d.Diagnostic)) + ")"
	}
	return s + "."
}

func doNext(f fate, letter bool) string {
	switch {
	case f == fateMixed:
		return "The notice is not the same for all, or contradicts itself, so nothing was changed. Read it, and make sure that the family has what was sent: phone or post."
	case !letter:
		return "It is about no letter that is known here. Find out whom the mail was for: phone or post."
	}
	return "The notice could not be read. Look at it: phone or post."
}

// cameBack marks a letter sent by e-mail as come back, in the letters and on the
// case, logs the attempt, and asks a person to phone or post.
func (p *placer) cameBack(item *cases.Item, l cases.Letter, c cases.Case, d Delivery) error {
	item.Outcome, item.Kind, item.Due = string(Review), KindFailed, p.nextWorkingDay()
	switch {
	case c.Infant.Died != 0 || c.Infant.DiedReported != 0:
		item.Reasons = append(item.Reasons, "The infant of "+c.Reference+" died. Send nothing more to the family before you have looked at the case.")
	case p.closed(&c):
		item.Reasons = append(item.Reasons, c.Reference+" is closed. Look at the case before anything else is sent.")
	default:
		item.Reasons = append(item.Reasons, "The letter has not reached the "+whom(l.Kind)+". Phone or post.")
	}
	switch l.State {
	case "came-back":
		item.Outcome, item.Due = string(Attached), 0
		item.Reasons = append(item.Reasons, "Letter "+l.Number+" was marked as come back before.")
		return nil
	case "mailed":
	default:
		item.Reasons = append(item.Reasons, fmt.Sprintf("Letter %s stands as %q and was left so, because it was not marked as mailed.", l.Number, l.State))
		return nil
	}
	why := strings.TrimSpace("Not delivered by e-mail. " + saysOf(d))
	now := c.Clone()
	now.Contacts = append(now.Contacts, cases.Contact{On: min(p.today, max(dayOf(p.job.doc.Sent), l.MadeOn)), With: contactWith(l.Kind), By: "email", Outcome: "came back",
		Staff: p.byName(), Used: Shorten(d.Recipient), Note: "Letter " + l.Number + ". " + saysOf(d)})
	for i := range now.Letters {
		if m := &now.Letters[i]; m.Kind == l.Kind && m.Occasion == l.Occasion {
			m.State = "came-back"
		}
	}
	if faults := append(now.Faults(p.today, p.protocol), now.FutureFaults(p.today)...); len(faults) > 0 {
		for _, f := range faults {
			item.Reasons = append(item.Reasons, "Marking the letter on "+c.Reference+" is refused: "+f.String()+".")
		}
		return nil
	}
	if _, err := p.finder.put(now, cases.Event{Kind: "letter-came-back", Text: "Letter " + l.Number + " came back", Reason: why}); err != nil {
		return err
	}
	l.State, l.Changed, l.Note = "came-back", p.today, why
	_, err := p.w.PutLetter(l)
	return err
}

// byName is who the program writes as when it files a mail by itself.
func (p *placer) byName() string { return "Mailbox" }

// fileReceipt files a read receipt (RFC 8098). It does not prove reading.
func (p *placer) fileReceipt(it *Item) (cases.Item, error) {
	m := p.job.mail
	said := "was shown on a screen; that does not prove that it was read"
	if m.Shown != "displayed" {
		said = "was handled (" + Shorten(m.Shown) + ")"
	}
	return p.fileAlong(it, KindReceipt, "Read receipt from "+sender(m)+": the mail "+said+".")
}

// fileAuto files an automatic reply (RFC 3834).
func (p *placer) fileAuto(it *Item) (cases.Item, error) {
	m := p.job.mail
	text := "Automatic reply from " + sender(m)
	if s := Shorten(fresh(m.Text)); s != "" {
		text += ": " + s
	}
	return p.fileAlong(it, KindAuto, text)
}

// fileAlong files what needs nobody: a note on the case of the letter it is about, or
// kept and counted where that is not known.
func (p *placer) fileAlong(it *Item, kind, text string) (cases.Item, error) {
	m := p.job.mail
	item, again, err := p.mailItem(it, kind)
	if again || err != nil {
		return item, err
	}
	item.Outcome = string(Refused)
	s, err := p.subjects(m, true)
	if err != nil {
		return item, err
	}
	item.Related = s.references()
	c, ok := s.one()
	if ok {
		item.Case, item.Reference, item.Related = c.ID, c.Reference, nil
	}
	if l, has := s.letter(); has {
		item.Letter = l.ID
	}
	if ok && (len(s.letters)+len(s.sent) > 0 || p.knownTo(m.From, &c)) {
		if err := p.note(&item, c, text); err != nil {
			return item, err
		}
		item.Outcome = string(Attached)
	} else {
		item.Reasons = append(item.Reasons, "It was kept and counted; nothing else follows.")
	}
	return p.w.PutItem(item)
}

// note adds a note to a case for an item.
func (p *placer) note(item *cases.Item, c cases.Case, text string) error {
	now := c.Clone()
	now.Notes = append(now.Notes, cases.Note{On: p.today, By: p.byName(), Text: text})
	if faults := append(now.Faults(p.today, p.protocol), now.FutureFaults(p.today)...); len(faults) > 0 {
		for _, f := range faults {
			item.Reasons = append(item.Reasons, "A note on "+c.Reference+" is refused: "+f.String()+".")
		}
		return nil
	}
	put, err := p.finder.put(now, cases.Event{Kind: "mail-filed", Text: item.Kind + ", " + item.Position})
	if err != nil {
		return err
	}
	item.FromRev, item.ToRev = c.Rev, put.Rev
	item.Reasons = append(item.Reasons, "Noted on "+c.Reference+".")
	return nil
}

func sender(m *Mail) string {
	if m.From == "" {
		return "an unknown address"
	}
	return m.From
}
