package outbox

import (
	"bytes"
	"errors"
	"strings"

	gomail "github.com/wneessen/go-mail"

	"dunlin/cases"
)

// compose writes a message as a mail (RFC 5322). It marks itself as sent by a machine
// (RFC 3834), so that no automatic reply answers it. The message was checked when it
// was queued; it is checked once more, since nothing with a line break may come near a
// heading.
func (s *SMTP) compose(p Parcel) (*gomail.Msg, error) {
	if err := p.Check(); err != nil {
		return nil, err
	}
	if strings.ContainsFunc(s.FromName, func(r rune) bool { return r < ' ' || r == 127 }) {
		return nil, errors.New("the program's name in the From heading holds control characters")
	}
	m := gomail.NewMsg(gomail.WithNoDefaultUserAgent(), gomail.WithBoundary("dunlin-"+p.Number))
	if err := errors.Join(m.FromFormat(s.FromName, s.From), m.To(p.To)); err != nil {
		return nil, err
	}
	m.Subject(p.Subject)
	m.SetDateWithValue(p.Changed)
	m.SetMessageIDWithValue(p.ID)
	m.SetGenHeader("Auto-Submitted", "auto-generated")
	if p.Language != "" && ascii(p.Language) {
		m.SetGenHeader("Content-Language", p.Language)
	}
	m.SetBodyString(gomail.TypeTextPlain, p.Body)
	for _, f := range p.Files {
		if err := m.AttachReader(f.Name, bytes.NewReader(f.Raw), gomail.WithFileContentType(gomail.ContentType(f.Type))); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// messageID is the Message-ID of an attempt, without brackets.
func messageID(o *cases.Outgoing, domain string) string {
	return strings.Trim(cases.LetterMessageID(o.Number, o.Tries, domain), "<>")
}
