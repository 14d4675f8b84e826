package mail

import (
	"bytes"
	"fmt"
	"strings"

	message "github.com/emersion/go-message"

	"dunlin/cases/intake"
)

// walker goes through the parts of one mail.
type walker struct {
	lim         Limits
	m           *intake.Mail
	parts       int // that were met
	attachments int
	full        bool // the limit of parts was reached
	texts       []text
	shown       map[string]bool // Content-IDs that HTML points to
	ids         []string        // Content-ID of each of m.Parts
}

// longest text of a body that is read, in bytes.
const maxText = 1 << 20

// text is one text of the body.
type text struct {
	part    intake.MailPart
	text    string
	html    bool
	unknown bool // the declared character set is not known here
	ours    bool // a line of ours between the texts
}

// place is where a part stands.
type place struct {
	depth     int
	forwarded bool   // within a mail that was attached
	within    string // subtype of the multipart around it
	end       bool   // it runs to the end of the mail
	cut       bool   // it ends where the mail does, before the end of the multipart
}

func (w *walker) problem(format string, args ...any) {
	w.m.Problems = append(w.m.Problems, intake.Problem{Severity: intake.Check, Text: fmt.Sprintf(format, args...)})
}

// entity reads one part and what lies within it.
func (w *walker) entity(h *message.Header, body []byte, at place) {
	kind, params := media(raw(h, "Content-Type"))
	if kind == "" {
		kind = "text/plain"
	}
	sub, isMulti := strings.CutPrefix(kind, "multipart/")
	deep := at.depth >= w.lim.Depth
	switch {
	case isMulti && deep, deep && isMail(kind):
		w.leaf(h, kind, params, body, at, fmt.Sprintf("It lies deeper than %d parts within parts and was not taken apart.", w.lim.Depth))
	case isMulti:
		parts, closed := split(body, params["boundary"], w.lim.Parts+1-w.parts)
		if len(parts) == 0 {
			w.leaf(h, kind, params, body, at, "It is not divided as its heading says, so it was not taken apart.")
			return
		}
		w.multi(sub, parts, closed, at)
	case isMail(kind):
		w.forwarded(h, kind, params, body, at)
	default:
		w.leaf(h, kind, params, body, at, "")
	}
}

func isMail(kind string) bool { return kind == "message/rfc822" || kind == "message/global" }

// split divides a multipart at its boundary lines (RFC 2046, section 5.1.1), into at
// most so many parts. closed says that the last line was there. It works on the bytes
// that are there, because a reader that reads ahead loses every part after one with a
// bad heading, and holds headings of any length.
func split(b []byte, boundary string, most int) (parts [][]byte, closed bool) {
	if boundary == "" || len(boundary) > 140 { // the RFC allows 70
		return nil, false
	}
	mark := []byte("--" + boundary)
	begin, at := -1, 0
	for rest := b; len(rest) > 0; {
		var line []byte
		line, rest = nextLine(rest)
		next := at + len(line)
		if tail, ok := bytes.CutPrefix(line, mark); ok {
			last := bytes.HasPrefix(tail, []byte("--"))
			if last || len(bytes.TrimSpace(tail)) == 0 {
				if begin >= 0 {
					parts = append(parts, b[begin:max(begin, endBefore(b, at))])
				}
				if begin = next; last || len(parts) >= most {
					return parts, true
				}
			}
		}
		at = next
	}
	if begin >= 0 {
		parts = append(parts, b[begin:])
	}
	return parts, false
}

// endBefore leaves out the line end before a boundary line, which belongs to it.
func endBefore(b []byte, at int) int {
	if at > 0 && b[at-1] == '\n' {
		if at--; at > 0 && b[at-1] == '\r' {
			at--
		}
	}
	return at
}

// multi reads the parts of a multipart.
func (w *walker) multi(sub string, parts [][]byte, closed bool, at place) {
	w.m.Signed = w.m.Signed || sub == "signed"
	from := len(w.texts)
	for i, b := range parts {
		if w.parts++; w.parts > w.lim.Parts {
			if !w.full {
				w.full = true
				w.broken(fmt.Sprintf("The mail has more than %d parts; those after them were not opened. Look at the whole mail, and ask the sender for it in parts.", w.lim.Parts))
			}
			break
		}
		h, body, bad, long := readHeading(b, w.lim.Heading)
		if bad > 0 || long {
			w.problem("The heading of part %d has lines that could not be read.", w.parts)
		}
		open := !closed && i == len(parts)-1
		w.entity(&h, body, place{depth: at.depth + 1, forwarded: at.forwarded, within: sub, end: open && at.end, cut: open && at.end})
		if w.full {
			break
		}
	}
	if sub == "alternative" {
		w.choose(from)
	}
}

// broken adds a part without bytes that stands for what could not be reached.
func (w *walker) broken(why string) {
	w.m.Parts = append(w.m.Parts, intake.MailPart{Label: "rest of the mail", Broken: why})
	w.ids = append(w.ids, "")
}

// choose keeps the plain text of several ways to say the same.
func (w *walker) choose(from int) {
	plain := false
	for _, t := range w.texts[from:] {
		plain = plain || !t.html && !t.ours && strings.TrimSpace(t.text) != ""
	}
	if !plain {
		return
	}
	kept := w.texts[:from]
	for _, t := range w.texts[from:] {
		if !t.html {
			kept = append(kept, t)
		}
	}
	w.texts = kept
}

// forwarded descends into a mail that is attached. Of a mail that came back with a
// notice only the headings are read.
func (w *walker) forwarded(h *message.Header, kind string, params map[string]string, body []byte, at place) {
	dec, why := decode(h, body)
	if why != "" {
		w.leaf(h, kind, params, body, at, why)
		return
	}
	inner, rest, _, _ := readHeading(dec, w.lim.Heading)
	if at.within == "report" && !at.forwarded {
		w.about(ids(raw(&inner, "Message-Id"))...)
		return
	}
	w.inner(&inner, rest, place{depth: at.depth + 1, forwarded: true, within: "mixed", end: at.end, cut: at.cut})
}

// inner reads a mail within the mail, and says in the text whose it is.
func (w *walker) inner(h *message.Header, body []byte, at place) {
	name, from := address(raw(h, "From"))
	line := strings.TrimSpace(name + " " + from)
	if s := value(h, "Subject"); s != "" {
		line += ": " + s
	}
	if d := value(h, "Date"); d != "" {
		line += " (" + d + ")"
	}
	if line != "" {
		w.texts = append(w.texts, text{text: "[Mail from " + line + "]", ours: true})
	}
	w.entity(h, body, at)
}

// decode undoes the transfer encoding and leaves the character set alone. What it
// gives of a damaged part is what came before the damage.
func decode(h *message.Header, body []byte) (out []byte, why string) {
	enc, _, _ := strings.Cut(raw(h, "Content-Transfer-Encoding"), ";")
	enc = strings.ToLower(strings.TrimSpace(enc))
	switch enc {
	case "", "7bit", "8bit", "binary":
		return body, ""
	}
	var plain message.Header
	plain.Set("Content-Type", "application/octet-stream")
	plain.Set("Content-Transfer-Encoding", enc)
	e, err := message.New(plain, bytes.NewReader(body))
	if err != nil {
		return body, fmt.Sprintf("It says that it is encoded as %q, which is not known; the bytes are kept as they were sent.", intake.Shorten(oneLine(utf8Text([]byte(enc)))))
	}
	buf := bytes.NewBuffer(make([]byte, 0, len(body)))
	if _, err := buf.ReadFrom(e.Body); err != nil {
		why = fmt.Sprintf("It arrived damaged: its encoding breaks off after %d bytes. Ask the sender for it again.", buf.Len())
	}
	return buf.Bytes(), why
}

// leaf reads a part that holds no others.
func (w *walker) leaf(h *message.Header, kind string, params map[string]string, body []byte, at place, why string) {
	b := body
	if why == "" {
		b, why = decode(h, body)
	}
	if at.cut {
		why = strings.TrimSpace(why + " The mail is cut off within it. Ask the sender for it again.")
	}
	top := !at.forwarded && at.depth <= 1
	switch {
	case why != "":
	case top && (kind == "message/delivery-status" || kind == "message/global-delivery-status"):
		w.delivery(b)
		return
	case top && (kind == "message/disposition-notification" || kind == "message/global-disposition-notification"):
		w.receipt(b)
		return
	case at.within == "report" && top && (kind == "text/rfc822-headers" || kind == "message/global-headers"):
		w.returned(b)
		return
	case at.within == "signed" && strings.HasSuffix(kind, "-signature"):
		return
	}
	p := intake.MailPart{Name: fileName(h), Type: kind, Charset: oneLine(params["charset"]), Raw: b, Broken: why,
		Flowed: strings.EqualFold(params["format"], "flowed")}
	disposition, _ := media(raw(h, "Content-Disposition"))
	if (kind == "text/plain" || kind == "text/html") && p.Name == "" && disposition != "attachment" {
		w.body(p)
		return
	}
	if why == "" && at.depth < w.lim.Depth && strings.HasSuffix(strings.ToLower(p.Name), ".eml") && (Reader{}).Sniff(b) {
		inner, rest, _, _ := readHeading(b, w.lim.Heading) // a mail attached as a file
		w.inner(&inner, rest, place{depth: at.depth + 1, forwarded: true, within: "mixed"})
		return
	}
	w.attach(h, p, at)
}

// attach adds an attachment.
func (w *walker) attach(h *message.Header, p intake.MailPart, at place) {
	w.attachments++
	p.Label = fmt.Sprintf("attachment %d", w.attachments)
	if p.Name != "" {
		p.Label += ", " + p.Name
	}
	w.m.Parts = append(w.m.Parts, p)
	id := ""
	if strings.HasPrefix(p.Type, "image/") {
		id = strings.Trim(raw(h, "Content-Id"), " <>")
	}
	w.ids = append(w.ids, id)
}

// body adds a text of the body.
func (w *walker) body(p intake.MailPart) {
	p.Body = true
	t := text{part: p, html: p.Type == "text/html"}
	var ok bool
	t.text, ok = decodeText(p.Raw[:min(len(p.Raw), maxText)], p.Charset)
	if len(p.Raw) > maxText {
		w.problem("The text is longer than %d KB; the rest of it is only in the mail itself.", maxText>>10)
	}
	t.unknown = !ok
	if t.html {
		for _, g := range pointed.FindAllStringSubmatch(t.text, 200) {
			if w.shown == nil {
				w.shown = map[string]bool{}
			}
			w.shown[g[1]] = true
		}
		t.text = htmlText(t.text)
		t.part.Raw, t.part.Charset, t.part.Flowed = []byte(t.text), "utf-8", true
	}
	w.texts = append(w.texts, t)
}

// finish joins the texts and marks the pictures that they show.
func (w *walker) finish() {
	for i, id := range w.ids {
		w.m.Parts[i].Picture = id != "" && w.shown[id]
	}
	var all []string
	var bodies []intake.MailPart
	many := len(w.texts) > 1
	for _, t := range w.texts {
		if s := strings.TrimSpace(t.text); s != "" {
			all = append(all, s)
		}
		if t.ours {
			continue
		}
		t.part.Label = "text"
		if many {
			t.part.Label = fmt.Sprintf("text %d", len(bodies)+1)
		}
		if t.unknown {
			w.problem("The text says that it is written in %q, which is not known here. Signs may be wrong.", intake.Shorten(t.part.Charset))
		}
		if t.part.Broken != "" {
			w.problem("In the text: %s", t.part.Broken)
		}
		bodies = append(bodies, t.part)
	}
	w.m.Text = strings.Join(all, "\n\n")
	w.m.Parts = append(bodies, w.m.Parts...)
	if w.m.Signed {
		w.problem("The mail is signed; the signature was not checked.")
	}
}
