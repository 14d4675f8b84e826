package intake

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"dunlin/cases"
)

// The kinds of item that only mails give.
const (
	KindFailed  = "not delivered"
	KindNotice  = "delivery notice"
	KindReceipt = "read receipt"
	KindAuto    = "automatic reply"
	KindReply   = "reply"
)

// mailItem begins the item of a mail itself. again is true when it is here already,
// and then it is written.
func (p *placer) mailItem(it *Item, kind string) (item cases.Item, again bool, err error) {
	j, m := p.job, p.job.mail
	item = cases.Item{Document: j.hash, Position: it.Label, Outcome: string(Review), Kind: kind, Title: j.title(&it.Referral), Key: mailKey(m)}
	for _, q := range it.Problems {
		item.Reasons = append(item.Reasons, q.String())
	}
	item.Reasons = append(item.Reasons, j.notes...)
	before, found, err := p.w.ItemByKey(item.Key)
	if err != nil {
		return item, false, err
	}
	if j.known || found && Outcome(before.Outcome) != Refused {
		item, err = p.again(item, before, found)
		return item, true, err
	}
	item.Read, err = json.Marshal(Record{Problems: it.Problems, Mail: dayOf(j.doc.Sent), About: j.about()})
	return item, false, err
}

// own reports the item of a mail itself, whose text belongs on the case with it.
func (r *Record) own() bool { return r.About != nil && len(r.About.Parts) > 0 }

// mailKey is the same for the same mail by another way.
func mailKey(m *Mail) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{m.MessageID, m.From, m.Date.UTC().Format(time.RFC3339), m.Subject, m.Text}, "\x1f")))
	return "mail:" + hex.EncodeToString(sum[:])
}

// soon makes what could not be read of a mail due on the next working day: it may be
// a referral.
func (p *placer) soon(it *Item, item *cases.Item) {
	if p.job.mail != nil && it.Kind == Unreadable && !item.Top {
		item.Due = p.nextWorkingDay()
	}
	if m := p.job.mail; m != nil && !strings.HasPrefix(item.Position, "text") && strings.TrimSpace(m.Text) != "" {
		item.Reasons = append(item.Reasons, fmt.Sprintf("The mail says: %q.", Shorten(m.Text)))
	}
}

func (p *placer) nextWorkingDay() cases.Day { return p.protocol.Calendar().Add(p.today, 1) }

// resent notes a Message-ID that came before in a mail that was not the same byte
// for byte (RFC 5322, section 3.6.4 wants it unique, and mails are sent again).
func (p *placer) resent() error {
	j := p.job
	if j.mail == nil || j.mail.MessageID == "" || j.next > 0 {
		return nil
	}
	here := j.hash
	if j.within != nil {
		here = j.within.hash
	}
	token := "mail|" + j.mail.MessageID
	where, ok := p.w.Once(token)
	switch {
	case !ok:
		return p.w.PutOnce(token, here, p.w.Now().Add(400*24*time.Hour))
	case where != here && len(j.notes) == 0:
		j.notes = append(j.notes, "Possible duplicate: a mail with the same Message-ID came before, and this one is not the same byte for byte.")
	}
	return nil
}

// fileText files the text of a mail: a reply with its case, and everything for a
// person to read. Wishes in it are never acted on.
func (p *placer) fileText(it *Item) (cases.Item, error) {
	m := p.job.mail
	item, again, err := p.mailItem(it, KindLook)
	if again || err != nil {
		return item, err
	}
	s, err := p.subjects(m, true)
	if err != nil {
		return item, err
	}
	item.Due = p.nextWorkingDay()
	c, one := s.one()
	switch {
	case one:
		err = p.reply(&item, &s, c)
	case len(s.cases) > 1:
		item.Kind, item.Related = KindReply, s.references()
		item.Reasons = append(item.Reasons, "It names more than one case ("+strings.Join(item.Related, ", ")+"). Read it, and add it to the right one.")
	case s.unknown:
		item.Kind = KindReply
		item.Reasons = append(item.Reasons, "It answers a letter that is not known here. Read it, and find the case it belongs to.")
	case strings.TrimSpace(m.Text) == "":
		item.Reasons = append(item.Reasons, "The mail is empty.")
	default:
		item.Reasons = append(item.Reasons, "This is a mail to be read by a person; nothing in it was taken over. Enter a referral by hand if it is one.")
	}
	if g := ReadVariants(nil, []string{m.Text}); g.Implied != "" || len(g.Names) >= 2 {
		item.Top, item.Due = true, p.today
		item.Reasons = append([]string{"May be presumptive CF: the text may name two CFTR variants. Read it today."}, item.Reasons...)
	}
	if err != nil {
		return item, err
	}
	return p.w.PutItem(item)
}

// reply puts a mail beside the one case it is about. A letter's number is not known
// to strangers and proves enough for a note; a case reference alone does only when
// the address is one that the case knows.
func (p *placer) reply(item *cases.Item, s *subjects, c cases.Case) error {
	m := p.job.mail
	item.Kind, item.Case, item.Reference = KindReply, c.ID, c.Reference
	if l, ok := s.letter(); ok {
		item.Letter = l.ID
	}
	if daemon(m.From) {
		item.Kind = KindFailed
		item.Reasons = append(item.Reasons, "It looks like a notice of delivery, in a form that is not read here, and nothing was changed. Read it; if the letter did not arrive, phone or post.")
		return nil
	}
	if len(s.letters) == 0 && !p.knownTo(m.From, &c) {
		item.Reasons = append(item.Reasons, fmt.Sprintf("It names %s, but came from %s, which is not an address of that case. Make sure who wrote it before you act on it.", c.Reference, sender(m)))
		return nil
	}
	item.Reasons = append(item.Reasons, "It belongs to "+c.Reference+". Read it, and answer if an answer is wanted; nothing in it was acted on.")
	return p.note(item, c, "Mail from "+sender(m)+", "+dayOf(p.job.doc.Sent).String()+": "+cut(fresh(m.Text), maxNote))
}

// daemon reports an address that mail servers write from (RFC 5321, section 4.5.1
// for postmaster; the other name is custom).
func daemon(from string) bool {
	local, _, _ := strings.Cut(from, "@")
	return local == "mailer-daemon" || local == "postmaster"
}

// longest text of a mail that is noted on a case.
const maxNote = 1500

// fresh is the text of a mail without what it quotes.
func fresh(text string) string {
	var out []string
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(strings.TrimSpace(line), ">") {
			out = append(out, strings.TrimRight(line, " \t\n"))
		}
	}
	return strings.TrimSpace(strings.Join(out, "\n"))
}
