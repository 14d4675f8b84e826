package mail

import (
	"bytes"
	netmail "net/mail"
	"strings"

	"dunlin/cases/intake"
)

// Limits bound what is taken apart of one mail. A zero value stands for the default.
type Limits struct {
	Size    int // bytes of the whole mail; 25 MB
	Parts   int // 200
	Depth   int // parts within parts; 10
	Heading int // bytes of one block of headings; 256 KB
}

func (l Limits) orDefaults() Limits {
	set := func(v *int, d int) {
		if *v <= 0 {
			*v = d
		}
	}
	set(&l.Size, 25<<20)
	set(&l.Parts, 200)
	set(&l.Depth, 10)
	set(&l.Heading, 256<<10)
	return l
}

// Reader takes mails apart. Its zero value has the default limits.
type Reader struct{ Limits }

var _ intake.MailReader = Reader{}

// known are headings that mark a mail when one of them comes first.
var known = map[string]bool{"from": true, "to": true, "cc": true, "subject": true, "date": true, "message-id": true, "received": true,
	"return-path": true, "delivered-to": true, "mime-version": true, "content-type": true, "content-transfer-encoding": true,
	"reply-to": true, "sender": true, "in-reply-to": true, "references": true, "authentication-results": true, "dkim-signature": true,
	"envelope-to": true, "x-original-to": true, "auto-submitted": true, "resent-from": true, "resent-date": true, "list-id": true}

// Sniff reports whether the bytes begin with the headings of a mail: at the start a
// heading, and among the first ones two that every mail has some of.
func (r Reader) Sniff(b []byte) bool {
	head := b[:min(len(b), 64<<10)]
	found, lines := map[string]bool{}, 0
	for len(head) > 0 && len(found) < 2 {
		line, rest, _ := bytes.Cut(head, []byte("\n"))
		head = rest
		line = bytes.TrimRight(line, "\r")
		if len(line) == 0 && lines > 0 {
			break
		}
		if lines++; lines == 1 && bytes.HasPrefix(line, []byte("From ")) || len(line) > 0 && (line[0] == ' ' || line[0] == '\t') && lines > 1 {
			continue
		}
		if !isHeading(line) {
			if len(found) == 0 {
				return false
			}
			continue
		}
		name, _, _ := bytes.Cut(line, []byte(":"))
		if n := strings.ToLower(strings.TrimSpace(string(name))); known[n] {
			found[n] = true
		}
	}
	return len(found) >= 2
}

// Open takes a mail apart.
func (r Reader) Open(b []byte) intake.Mail {
	w := &walker{lim: r.orDefaults(), m: &intake.Mail{}}
	cut := len(b) > w.lim.Size
	if cut {
		w.problem("The mail is larger than %d MB. It is kept whole and was not taken apart. Ask for it in parts.", w.lim.Size>>20)
		b = b[:min(len(b), w.lim.Heading)]
	}
	h, body, bad, long := readHeading(b, w.lim.Heading)
	m := w.m
	m.FromName, m.From = address(raw(&h, "From"))
	m.To = addresses(raw(&h, "Delivered-To"), raw(&h, "X-Original-To"), raw(&h, "To"), raw(&h, "Cc"))
	m.Subject = value(&h, "Subject")
	if d, err := netmail.ParseDate(raw(&h, "Date")); err == nil {
		m.Date = d
	}
	if list := ids(raw(&h, "Message-Id")); len(list) > 0 {
		m.MessageID = list[0]
	}
	m.About = ids(raw(&h, "In-Reply-To"), h.Get("References"))
	if bad > 0 {
		w.problem("%d lines of the heading are no headings and were left out.", bad)
	}
	if long {
		w.problem("The heading is longer than %d KB; the rest of it was left out.", w.lim.Heading>>10)
	}
	if autoReply(&h, m.Subject, len(m.About) > 0) {
		m.Kind = intake.AutoReply
	}
	if !cut {
		w.entity(&h, body, place{end: true})
	}
	w.finish()
	return *m
}
