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
	if s := Shorten(p.lead()); s != "" && p.job.within != nil {
		item.Reasons = append(item.Reasons, fmt.Sprintf("The mail says: %q.", s))
	}
}

// lead is the text of the mail when it is not the item itself.
func (p *placer) lead() string {
	if p.job.mail == nil || strings.HasPrefix(p.job.prefix, "text") {
		return ""
	}
	return p.job.mail.Text
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

// fileText leaves the text of a mail to a person.
func (p *placer) fileText(it *Item) (cases.Item, error) {
	m := p.job.mail
	item, again, err := p.mailItem(it, KindLook)
	if again || err != nil {
		return item, err
	}
	item.Due = p.nextWorkingDay()
	if strings.TrimSpace(m.Text) == "" {
		item.Reasons = append(item.Reasons, "The mail is empty.")
	} else {
		item.Reasons = append(item.Reasons, "This is a mail to be read by a person; nothing in it was taken over. Enter a referral by hand if it is one.")
	}
	if g := ReadVariants(nil, []string{m.Text}); g.Implied != "" || len(g.Names) >= 2 {
		item.Top, item.Due = true, p.today
		item.Reasons = append([]string{"May be presumptive CF: the text may name two CFTR variants. Read it today."}, item.Reasons...)
	}
	return p.w.PutItem(item)
}
