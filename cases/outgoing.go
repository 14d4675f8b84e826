package cases

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// The states of a message on its way. One that stands as sending when the program
// starts was given to the server, or was not: nobody knows, so it becomes uncertain and
// a person decides. It is never sent again by itself.
const (
	OutQueued    = "queued"
	OutSending   = "sending" // written before the server is asked, so that a crash shows
	OutSent      = "sent"    // the server took it; that does not prove that it arrived
	OutFailed    = "failed"  // refused for good, or tried too often
	OutHeld      = "held"    // must not go now
	OutUncertain = "uncertain"
	OutBounced   = "bounced" // a delivery notice came back
	OutDropped   = "dropped" // a person decided that it does not go
)

// How a message goes: the words of Contact.By and Consent.Channel.
const (
	ByEmail = "email"
	ByText  = "text"
)

// Bounds of a message.
const (
	maxSubject   = 200    // bytes
	maxEmailBody = 20_000 // bytes
	maxTextBody  = 480    // characters: three parts of a text message
	maxEmail     = 254    // bytes (RFC 5321, section 4.5.3.1.3, less its brackets)
)

// Outgoing is one message by e-mail or text. It is queued in the same transaction as
// what it is about and is unique by case, kind, occasion and channel. What it says and
// to whom is kept as it was queued.
type Outgoing struct {
	ID       string       `json:"id"`
	Number   string       `json:"number"`           // opaque; in its Message-ID and envelope identifier
	Case     ID           `json:"case,omitempty"`   // "" for a list of the day, which is of no case
	Letter   string       `json:"letter,omitempty"` // identifier of the letter that it brings, if any
	Kind     string       `json:"kind"`             // of letterkinds.go, or a message's own
	Occasion string       `json:"occasion"`
	By       string       `json:"by"`      // ByEmail or ByText
	ToWhom   string       `json:"to_whom"` // ToFamily, ToPrimaryCare or ToClinic
	To       string       `json:"to"`      // the one address or number
	Language string       `json:"language,omitempty"`
	Subject  string       `json:"subject,omitempty"` // of an e-mail
	Body     string       `json:"body"`              // plain text, lines ended by \n
	State    string       `json:"state"`
	Tries    int          `json:"tries"`
	Queued   time.Time    `json:"queued"`
	Next     time.Time    `json:"next,omitzero"` // not tried before
	Changed  time.Time    `json:"changed"`
	Again    string       `json:"again,omitempty"` // who had it sent although it may have gone out before
	Note     string       `json:"note,omitempty"`  // why it stands as it does, for people
	History  []LetterStep `json:"history,omitempty"`
}

// Step moves a message to a state and adds a line to its history.
func (o *Outgoing) Step(at time.Time, by, state, note string) {
	o.State, o.Note, o.Changed = state, note, at
	o.History = append(o.History, LetterStep{At: at, By: by, State: state, Note: note})
}

// Waits tells whether a message may still be kept from going out.
func (o *Outgoing) Waits() bool { return o.State == OutQueued || o.State == OutHeld }

// Check refuses a message that could not be sent as it stands, or that could be read as
// more than one: line breaks and control characters never reach a heading.
func (o *Outgoing) Check() error {
	refuse := func(field, why string) error { return FieldError("outgoing."+field, "%s", why) }
	if !utf8.ValidString(o.To + o.Subject + o.Body) {
		return refuse("body", "The message holds bytes that are no text")
	}
	if o.Kind == "" || o.ToWhom == "" {
		return refuse("kind", "The message has no kind, or nobody to go to")
	}
	switch o.By {
	case ByEmail:
		switch {
		case !EmailAddress(o.To):
			return refuse("to", "This is not one e-mail address that can be used: "+Printable(o.To))
		case o.Subject == "" || len(o.Subject) > maxSubject || strings.ContainsFunc(o.Subject, unprintable):
			return refuse("subject", "The subject must be one line of at most 200 bytes")
		}
	case ByText:
		if TextNumber(o.To) == "" {
			return refuse("to", "This is not one telephone number that can be used: "+Printable(o.To))
		}
		if utf8.RuneCountInString(o.Body) > maxTextBody {
			return refuse("body", "The text message is too long: at most 480 characters")
		}
	default:
		return refuse("by", "A message goes by email or text")
	}
	if o.Body == "" || len(o.Body) > maxEmailBody ||
		strings.ContainsFunc(o.Body, func(r rune) bool { return r != '\n' && unprintable(r) }) {
		return refuse("body", "The message must have a text of at most 20,000 bytes without control characters")
	}
	return nil
}

// unprintable are control characters, and marks that turn the direction of a line or
// hide in it.
func unprintable(r rune) bool {
	return unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || unicode.Is(unicode.Bidi_Control, r) || r == utf8.RuneError
}

// Printable is a text without what unprintable finds, shortened for a message to people.
func Printable(s string) string {
	s = strings.Map(func(r rune) rune {
		if unprintable(r) {
			return '\uFFFD'
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	if r := []rune(s); len(r) > 80 {
		return string(r[:80]) + "…"
	}
	return s
}

// EmailAddress tells whether a text is exactly one address of the plain form
// (dot-atom of RFC 5322, section 3.2.3, or its international form of RFC 6532), which
// needs no quoting and cannot hold a second address or a heading.
func EmailAddress(s string) bool {
	local, domain, ok := strings.Cut(s, "@")
	if !ok || len(s) > maxEmail || len(local) > 64 || !strings.Contains(domain, ".") {
		return false
	}
	return dotted(local, func(r rune) bool { return strings.ContainsRune("!#$%&'*+-/=?^_`{|}~", r) }) &&
		dotted(domain, func(r rune) bool { return r == '-' }) &&
		!strings.HasPrefix(domain, "-") && !strings.Contains(domain, ".-") && !strings.Contains(domain, "-.") && !strings.HasSuffix(domain, "-")
}

// dotted tells whether a text is made of letters, digits and some signs, in parts that
// are not empty.
func dotted(s string, sign func(rune) bool) bool {
	for part := range strings.SplitSeq(s, ".") {
		if part == "" {
			return false
		}
		for _, r := range part {
			if !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) && !sign(r) {
				return false
			}
		}
	}
	return true
}

// TextNumber is a telephone number without its spaces and signs, with a leading + where
// it has one; "" for what is not one number, or has an extension.
func TextNumber(s string) string {
	var b strings.Builder
	for i, r := range strings.TrimSpace(s) {
		switch {
		case r >= '0' && r <= '9', r == '+' && i == 0:
			b.WriteRune(r)
		case strings.ContainsRune(" -.()/", r):
		default:
			return ""
		}
	}
	if n := len(strings.TrimPrefix(b.String(), "+")); n < 7 || n > 15 { // E.164: at most 15
		return ""
	}
	return b.String()
}
