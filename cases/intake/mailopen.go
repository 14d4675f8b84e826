package intake

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"dunlin/cases"
)

// OpenMail lets the intake take mails apart, which are otherwise left to a person.
func (in *Intake) OpenMail(m MailReader) *Intake {
	in.mails = m
	return in
}

// MailAbout is what the items of a mail, and its own record, keep of it.
type MailAbout struct {
	From      string     `json:"from,omitempty"`
	FromName  string     `json:"from_name,omitempty"`
	Subject   string     `json:"subject,omitempty"`
	Sent      string     `json:"sent,omitempty"` // its Date heading, RFC 3339
	MessageID string     `json:"message_id,omitempty"`
	Text      string     `json:"text,omitempty"` // of its body, shortened
	Parts     []PartMade `json:"parts,omitempty"`
}

// PartMade is one attachment of a mail.
type PartMade struct {
	Label string `json:"label"`
	Type  string `json:"type,omitempty"`
	Bytes int    `json:"bytes"`
	Hash  string `json:"hash,omitempty"` // of its own record; "" when it has none
}

// longest text of a mail that is kept beside its items; the whole mail is kept too.
const maxMailText = 20_000

// openMail takes a mail apart: what it brought becomes documents of their own. It
// reports whether the document is a mail.
func (in *Intake) openMail(j *job, set Settings) (is bool) {
	defer func() {
		if x := recover(); x != nil {
			is = true
			j.result.Format, j.parts = "mail", nil
			j.reading = unknown(j.doc.Raw, "The mail could not be taken apart because of a fault in this program; it is kept whole. Tell the people who look after the program.")
		}
	}()
	if !in.mails.Sniff(j.doc.Raw) {
		return false
	}
	m := in.mails.Open(j.doc.Raw)
	j.mail, j.result.Format = &m, "mail"
	if j.doc.Sender == "" {
		j.doc.Sender = m.From
	}
	if j.doc.Name == "" {
		j.doc.Name = "mail"
		j.result.Name = j.doc.Name
	}
	j.reading.Warnings = m.Problems
	results, closed := 0, 0
	for i := range m.Parts {
		mp := &m.Parts[i]
		switch part := in.part(j, mp, set); {
		case part == nil:
		case part.result.Format != "" && !mp.Body:
			results++
		default:
			closed++ // a person sees it, or it is the text itself
		}
	}
	closed += len(j.reading.Items)
	j.ownItem(results, closed)
	return true
}

// part reads one part of a mail; nil when it gives no document of its own. What is in
// doubt stands with the mail itself: the same bytes, sent again whole, must be new.
func (in *Intake) part(j *job, mp *MailPart, set Settings) *job {
	if mp.Picture || mp.Body && !in.pasted(mp) {
		return nil
	}
	d := j.doc
	d.Name, d.Charset, d.Raw = mp.Name, mp.Charset, mp.Raw
	if d.Name == "" {
		d.Name = mp.Label
	}
	c := newJob(d, set)
	c.mail, c.within, c.prefix = j.mail, j, mp.Label
	var why string
	if c.result.Format, c.reading, why = in.readPart(d, mp, set); why != "" {
		for _, it := range c.reading.Items {
			it.Label, it.Kind, it.Text = c.position(it.Label), Unreadable, ""
			it.Problems = append([]Problem{{Severity: Fault, Text: why}}, it.Problems...)
			j.reading.Items = append(j.reading.Items, it)
		}
		j.reading.Warnings = append(slices.Clip(j.reading.Warnings), c.reading.Warnings...)
		return nil
	}
	c.result.Blank, c.result.Warnings = c.reading.Blank, c.reading.Warnings
	j.parts = append(j.parts, c)
	return c
}

// readPart reads one part of a mail, and says why nothing may follow from it: it is
// empty or damaged, or its lines may have been broken.
func (in *Intake) readPart(d Document, mp *MailPart, set Settings) (format string, r Reading, why string) {
	if len(mp.Raw) == 0 {
		if why = mp.Broken; why == "" {
			why = "The file is empty."
		}
		return "", Reading{Items: []Item{{}}}, why
	}
	if s := sealed(mp.Type); s != "" {
		return "", unknown(mp.Raw, s), mp.Broken
	}
	switch name := strings.ToLower(mp.Charset); {
	case utf8.Valid(mp.Raw) && !shifts(name):
		d.Charset = "" // the same mistake as in texts: UTF-8 under another name
	case strings.HasPrefix(name, "utf-16"):
		d.Raw = marked16(name, mp.Raw)
	}
	why = mp.Broken
	if at := messageLine.FindIndex(mp.Raw); mp.Body && at != nil && !startsMessage.Match(mp.Raw) {
		d.Raw, why = mp.Raw[at[0]:], pastedWhy
	}
	if mp.Body && mp.Flowed && why == "" {
		why = pastedWhy
	}
	format, r = in.read(d, set)
	return format, r, why
}

const pastedWhy = "This was pasted into the text of a mail, where lines may have been broken, so nothing was taken over. Please ask for the original file as an attachment."

var (
	messageLine   = regexp.MustCompile(`(?m)^[ \t>]*(MSH|FHS|BHS)[^A-Za-z0-9\s]`)
	startsMessage = regexp.MustCompile(`^[\s\x0b]*(?:\xEF\xBB\xBF)?(MSH|FHS|BHS)[^A-Za-z0-9\s]`)
)

// marked16 puts a byte order mark before UTF-16 that has none, for the readers.
func marked16(name string, raw []byte) []byte {
	switch {
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}), bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		return raw
	case strings.HasSuffix(name, "be") || len(raw) > 0 && raw[0] == 0:
		return append([]byte{0xFE, 0xFF}, raw...)
	}
	return append([]byte{0xFF, 0xFE}, raw...)
}

// pasted reports a result or a line list that stands in the text of a mail.
func (in *Intake) pasted(mp *MailPart) bool {
	return messageLine.Match(mp.Raw) || slices.ContainsFunc(in.formats, func(f Format) bool { return f.Sniff(mp.Raw) })
}

// ownItem adds the item of the mail itself: what it is about when it is a notice or
// a reply, and its text when nothing else of it reaches a person.
func (j *job) ownItem(results, closed int) {
	m := j.mail
	it := Item{Label: "text", Problems: m.Problems}
	switch {
	case m.Kind == DeliveryNotice:
		it.Label, j.file = "delivery notice", (*placer).fileNotice
	case m.Kind == ReadReceipt:
		it.Label, j.file = "read receipt", (*placer).fileReceipt
	case m.Kind == AutoReply && results == 0:
		it.Label, j.file = "automatic reply", (*placer).fileAuto
	case results+closed == 0, m.answersUs(), closed == 0 && heed(m.Text):
		j.file = (*placer).fileText
	default:
		return
	}
	j.reading.Items = append([]Item{it}, j.reading.Items...)
}

// heedWords are words in the text beside a result for which a person should read it.
var heedWords = regexp.MustCompile(`(?i)\b(born|births?|dob|baby|infant|twins?|died|death|deceased|urgent\w*|correct(ed|ion)|amend\w*|wrong|mistake\w*|disregard|ignore|recall\w*|cancel\w*|withdraw\w*|replace\w*|instead)\b`)

// disclaimer is a sentence that many offices put under every mail.
var disclaimer = regexp.MustCompile(`(?i)\b(intended (recipient|only|solely)|in error|confidential\w*|privileged|unsubscribe|virus\w*)\b`)

var sentenceEnd = regexp.MustCompile(`[.!?]\s|\n\s*\n`)

// heed reports a text that may say more than the result beside it.
func heed(text string) bool {
	return len(text) > maxMailText || slices.ContainsFunc(sentenceEnd.Split(text, -1), func(s string) bool {
		return heedWords.MatchString(s) && !disclaimer.MatchString(s)
	})
}

// answersUs reports signs that a mail is about a letter or a case of ours.
func (m *Mail) answersUs() bool {
	return slices.ContainsFunc(m.About, func(id string) bool { _, _, ok := cases.ParseLetterID(id); return ok }) ||
		referenceForm.MatchString(m.Subject+"\n"+m.Text+"\n"+strings.Join(m.To, "\n"))
}

// arrive fills in when a document came, and the day of the mail that brought it: its
// Date when that fits, else when it came.
func (j *job) arrive(now time.Time, today cases.Day) {
	if j.doc.At.IsZero() {
		j.doc.At = now
	}
	if j.mail == nil || !j.doc.Sent.IsZero() {
		return
	}
	j.doc.Sent = j.doc.At
	if d := j.mail.Date; !d.IsZero() && d.Before(j.doc.At.Add(26*time.Hour)) && d.After(j.doc.At.AddDate(-1, 0, 0)) && cases.DayOf(d) <= today {
		j.doc.Sent = d
	}
}

// total is the result of a document with what it brought.
func (j *job) total() Result {
	if len(j.parts) == 0 {
		return j.result
	}
	r := j.result
	r.Items, r.Counts, r.Warnings = slices.Clone(r.Items), copyCounts(r.Counts), slices.Clone(r.Warnings)
	for _, c := range j.parts {
		r.Items = append(r.Items, c.result.Items...)
		for o, n := range c.result.Counts {
			r.Counts[o] += n
		}
		r.Blank += c.result.Blank
		for _, w := range c.result.Warnings {
			w.Text = c.prefix + ": " + w.Text
			r.Warnings = append(r.Warnings, w)
		}
	}
	return r
}

// position says where an item stands: in a mail, after the part.
func (j *job) position(label string) string {
	switch {
	case j.prefix == "":
		return label
	case label == "file" || label == "":
		return j.prefix
	}
	return j.prefix + ", " + label
}

// title heads an item; one of a mail that names no infant has the mail's.
func (j *job) title(r *Referral) string {
	if j.mail == nil || r.Infant.Family+r.Infant.Given != "" || len(r.Infant.Records) > 0 {
		return title(r)
	}
	from := j.mail.From
	if from == "" {
		from = "an unknown address"
	}
	if s := Shorten(j.mail.Subject); s != "" {
		return fmt.Sprintf("Mail from %s: %s", from, s)
	}
	return "Mail from " + from
}

// about is what is kept of the mail beside its items.
func (j *job) about() *MailAbout {
	m := j.mail
	if m == nil {
		return nil
	}
	a := &MailAbout{From: m.From, FromName: m.FromName, Subject: m.Subject, MessageID: m.MessageID, Text: cut(m.Text, maxMailText)}
	if !m.Date.IsZero() {
		a.Sent = m.Date.Format(time.RFC3339)
	}
	if j.within != nil {
		a.Text = cut(m.Text, maxMailText/5)
		return a
	}
	for i := range m.Parts {
		p := &m.Parts[i]
		made := PartMade{Label: p.Label, Type: p.Type, Bytes: len(p.Raw)}
		for _, c := range j.parts {
			if c.prefix == p.Label {
				made.Hash = c.hash
			}
		}
		a.Parts = append(a.Parts, made)
	}
	return a
}

// cut shortens a text at a character boundary.
func cut(s string, most int) string {
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}
