package intake

import (
	"fmt"
	"strings"
)

// unconfirmed says, for what comes by itself, that nobody has confirmed its sender
// yet; "" when somebody has. Anyone can write a laboratory's name into a message, so
// where the program knows the mail addresses of a sender, the address decides.
func (p *placer) unconfirmed(r *Referral) string {
	doc := &p.job.doc
	if !byItself(doc.Source) {
		return ""
	}
	name := doc.Sender
	from, ok := p.job.set.SenderOf(doc.Sender)
	if !ok {
		name = strings.TrimPrefix(strings.Join([]string{r.Sender, doc.Sender}, ", by way of "), ", by way of ")
		if from, ok = p.job.set.SenderOf(r.Sender, r.Program); ok {
			for _, s := range from.Signs {
				ok = ok && !strings.Contains(s, "@")
			}
		}
	}
	if ok && from.ConfirmedBy != "" {
		return ""
	}
	if name = strings.TrimSuffix(name, ", by way of "); name == "" {
		name = "not named"
	}
	return fmt.Sprintf("The sender (%s) is not confirmed yet. Compare the message with what was read, and confirm the sender under Settings.", Shorten(name))
}
