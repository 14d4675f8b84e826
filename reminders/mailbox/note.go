package mailbox

import (
	"bytes"
	"fmt"
	"net/mail"
	"strings"

	"dunlin/cases/intake"
)

// document is a message as it came. The number is in the name, for a person who
// looks for it in the mailbox. Whom it is from is for the reader of mails to say.
func (b *Box) document(uid uint32, raw []byte) intake.Document {
	return intake.Document{Source: "mailbox", Name: fmt.Sprintf("message %d in %s", uid, b.o.Folder), At: b.o.Now(), Raw: raw}
}

// tell makes a document in the program's own words, in the form of a mail.
func (b *Box) tell(uid uint32, sender, subject, text string) intake.Document {
	d := b.document(uid, []byte("From: Mailbox reader <mailbox-reader@dunlin.invalid>\r\nSubject: "+subject+
		"\r\nMIME-Version: 1.0\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Transfer-Encoding: 8bit\r\n\r\n"+
		strings.ReplaceAll(text, "\n", "\r\n")))
	d.Sender = sender
	return d
}

// tellTooLarge tells of a message that is not taken in. Its text is the same
// whenever it is made, so that a folder whose messages are numbered anew does not
// bring it twice: the number stands in it only where nothing else tells messages
// apart.
func (b *Box) tellTooLarge(uid uint32, size int64, head []byte) intake.Document {
	who := headings(head)
	if !strings.Contains(who, "Message-ID: ") {
		who += fmt.Sprintf("Number in the mailbox: %d (%d)\n", uid, b.validity)
	}
	said := fmt.Sprintf("It has %.1f MB.", float64(size)/(1<<20))
	if size == b.o.MaxMessage+1 {
		said = "It has more than the mail server had said."
	}
	return b.tell(uid, senderOf(head), "A message in the mailbox is too large and was not taken in",
		fmt.Sprintf("This was written by the program. A message in the mailbox %s is too large to be taken in. %s The limit is %.1f MB. "+
			"Nothing of it was read; it is still in the mailbox. Look at it there, and ask the sender for it in parts, or for the result alone.\n\n%s",
			b.Name(), said, float64(b.o.MaxMessage)/(1<<20), who))
}

func (b *Box) tellNotFetched(uid uint32, why error) intake.Document {
	return b.tell(uid, "", "A message in the mailbox could not be fetched",
		fmt.Sprintf("This was written by the program. A message in the mailbox %s could not be fetched, %d times. The last time: %s. "+
			"It is still in the mailbox. Look at it there, and enter by hand what it brings, or upload its attachment.\n\nNumber in the mailbox: %d (%d)\n",
			b.Name(), b.limits.tries, clean(why.Error()), uid, b.validity))
}

func (b *Box) tellNotStored(uid uint32, d intake.Document) intake.Document {
	return b.tell(uid, senderOf(d.Raw), "A message in the mailbox could not be stored",
		fmt.Sprintf("This was written by the program. A message in the mailbox %s could not be stored, %d times; the log of the program says why. "+
			"It is still in the mailbox. Look at it there, and enter by hand what it brings. Tell the people who look after the program.\n\n%sNumber in the mailbox: %d (%d)\n",
			b.Name(), b.limits.tries, headings(d.Raw), uid, b.validity))
}

// senderOf gives the address that a message says it is from; "" when it says none.
func senderOf(raw []byte) string {
	for _, h := range heads(raw) {
		if strings.EqualFold(h.name, "From") {
			list, err := mail.ParseAddressList(h.value)
			if err == nil && len(list) > 0 {
				return clean(list[0].Address)
			}
			// A name in a character set that is not known does not hide the address.
			_, rest, _ := strings.Cut(h.value, "<")
			address, _, ok := strings.Cut(rest, ">")
			if ok && strings.Contains(address, "@") && !strings.ContainsAny(address, " ,;<") {
				return clean(address)
			}
		}
	}
	return ""
}

type heading struct{ name, value string }

// heads reads the headings of a message leniently, up to 64 KB and 500 of them.
func heads(raw []byte) (out []heading) {
	raw = raw[:min(len(raw), 64<<10)]
	for len(raw) > 0 && len(out) < 500 {
		line, rest, _ := bytes.Cut(raw, []byte("\n"))
		raw = rest
		text := strings.TrimRight(string(line), "\r")
		if text == "" {
			break
		}
		if text[0] == ' ' || text[0] == '\t' {
			if n := len(out); n > 0 && len(out[n-1].value) < 2000 {
				out[n-1].value += " " + strings.TrimSpace(text)
			}
			continue
		}
		if name, value, ok := strings.Cut(text, ":"); ok && !strings.ContainsAny(name, " \t") {
			out = append(out, heading{name, strings.TrimSpace(value)})
		}
	}
	return out
}

// headings shows who sent a message, and when.
func headings(raw []byte) string {
	var s strings.Builder
	list := heads(raw)
	for _, name := range []string{"From", "Date", "Subject", "Message-ID"} {
		for _, h := range list {
			if strings.EqualFold(h.name, name) && h.value != "" {
				fmt.Fprintf(&s, "%s: %s\n", name, clean(h.value))
				break
			}
		}
	}
	return s.String()
}
