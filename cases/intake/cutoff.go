package intake

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"dunlin/cases"
)

// A message that an interface began to send and did not end is kept as a document
// of its own and never acknowledged, so the sender sends it again. When the whole
// one comes, the two are linked and nobody has to look at the part.

// How long a part waits for its whole, by message number and by sender alone.
const (
	partByNumber = 60 * 24 * time.Hour
	partBySender = 2 * 24 * time.Hour
)

// frameStart is the byte that stands before a message on an interface (MLLP). A
// part keeps it, which tells a reader that the end is missing.
const frameStart = 0x0B

// partTokens name where a part of a sender's message is remembered: by the number
// of the message, when it was read, and as the sender's latest.
func partTokens(sender, number string) (byNumber, bySender string) {
	bySender = "cut off|" + sender
	if number != "" {
		byNumber = bySender + "|" + number
	}
	return byNumber, bySender
}

// rememberPart notes the item of a message that was cut off.
func (p *placer) rememberPart(it *Item, item cases.Item) error {
	if !p.job.doc.Part {
		return nil
	}
	byNumber, bySender := partTokens(p.job.doc.Sender, it.Referral.ControlID)
	if err := p.w.PutOnce(bySender, item.ID, p.w.Now().Add(partBySender)); err != nil || byNumber == "" {
		return err
	}
	return p.w.PutOnce(byNumber, item.ID, p.w.Now().Add(partByNumber))
}

// completes links an item of a whole message with the part of it that came before.
func (p *placer) completes(it *Item, item *cases.Item) error {
	if p.job.doc.Part || p.job.doc.Source != "interface" {
		return nil
	}
	byNumber, bySender := partTokens(p.job.doc.Sender, it.Referral.ControlID)
	for _, token := range []string{byNumber, bySender} {
		id, ok := p.w.Once(token)
		if token == "" || !ok {
			continue
		}
		part, err := p.w.Item(id)
		if err == nil && part.Decided == nil {
			err = p.link(&part, item, token == byNumber)
		}
		if err != nil && cases.KindOf(err) != cases.NotFound {
			return err
		}
	}
	return nil
}

// link compares a part with the whole document. The part that the document begins
// with is set aside; another one of the same number is only named.
func (p *placer) link(part, item *cases.Item, sameNumber bool) error {
	doc, err := p.w.Received(part.Document)
	if err != nil {
		return err
	}
	came := cases.DayOf(part.At).String()
	start := bytes.TrimPrefix(doc.Raw, []byte{frameStart})
	if len(start) == 0 || !bytes.HasPrefix(p.job.doc.Raw, start) {
		if sameNumber {
			item.Reasons = append(item.Reasons, fmt.Sprintf("MSH-10: A message of this number was cut off on %s, and its part differs from this one. Compare both.", came))
		}
		return nil
	}
	item.Reasons = append(item.Reasons, fmt.Sprintf("A part of this message came on %s and was cut off; this is the whole.", came))
	const why = "The whole message came later; it begins with this part."
	part.Reasons = append(part.Reasons, why)
	part.Decided = &cases.Decision{As: SetAside, By: "Dunlin", At: p.w.Now(), Reason: why}
	if _, err := p.w.PutItem(*part); err != nil {
		return err
	}
	return p.w.Note(cases.Event{Kind: "item-set-aside", Text: strings.TrimPrefix(part.Title+", ", ", ") + part.Position, Reason: why})
}
