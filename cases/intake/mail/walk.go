package mail

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	message "github.com/emersion/go-message"
	"github.com/emersion/go-message/textproto"

	"dunlin/cases/intake"
)

// walker goes through the parts of one mail.
type walker struct {
	lim         Limits
	m           *intake.Mail
	parts       int // that were met
	attachments int
	full        bool // the limit of parts was reached
	cut         bool // the mail ends within a part
	texts       []text
	shown       map[string]bool // Content-IDs that HTML points to
	ids         []string        // Content-ID of each of m.Parts
}

// text is one text of the body.
type text struct {
	part    intake.MailPart
	text    string
	html    bool
	unknown bool // the declared character set is not known here
}

// place is where a part stands.
type place struct {
	depth     int
	forwarded bool   // within a mail that was attached
	within    string // subtype of the multipart around it
}

func (w *walker) problem(format string, args ...any) {
	w.m.Problems = append(w.m.Problems, intake.Problem{Severity: intake.Check, Text: fmt.Sprintf(format, args...)})
}

// entity reads one part and what lies within it.
func (w *walker) entity(h *message.Header, body io.Reader, at place) {
	kind, params := media(raw(h, "Content-Type"))
	if kind == "" {
		kind = "text/plain"
	}
	sub, isMulti := strings.CutPrefix(kind, "multipart/")
	switch {
	case isMulti && at.depth < w.lim.Depth && boundaryFits(params["boundary"]):
		w.multi(sub, params["boundary"], body, at)
		return
	case isMulti && at.depth >= w.lim.Depth:
		w.leaf(h, kind, params, body, at, fmt.Sprintf("It lies deeper than %d parts within parts and was not taken apart.", w.lim.Depth))
		return
	case isMulti:
		w.leaf(h, kind, params, body, at, "Its heading does not say how it is divided, so it was not taken apart.")
		return
	case kind == "message/rfc822" || kind == "message/global":
		w.forwarded(h, kind, params, body, at)
		return
	}
	w.leaf(h, kind, params, body, at, "")
}

// boundaryFits: RFC 2046, section 5.1.1 allows 70 characters; twice that is read.
func boundaryFits(s string) bool { return s != "" && len(s) <= 140 }

// multi reads the parts of a multipart.
func (w *walker) multi(sub, boundary string, body io.Reader, at place) {
	w.m.Signed = w.m.Signed || sub == "signed"
	from := len(w.texts)
	r := textproto.NewMultipartReader(body, boundary)
	for n := 1; ; n++ {
		p, err := r.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil && w.cut {
			break // the part in which it is cut off says so
		}
		if err != nil {
			w.broken(fmt.Sprintf("From part %d on the mail could not be taken apart; it is cut off or damaged. Look at the whole mail, and ask the sender for it again.", n))
			break
		}
		if w.parts++; w.parts > w.lim.Parts {
			if !w.full {
				w.full = true
				w.broken(fmt.Sprintf("The mail has more than %d parts; those after them were not opened. Look at the whole mail, and ask the sender for it in parts.", w.lim.Parts))
			}
			break
		}
		h := message.Header{Header: p.Header}
		w.entity(&h, p, place{depth: at.depth + 1, forwarded: at.forwarded, within: sub})
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
		plain = plain || !t.html && strings.TrimSpace(t.text) != ""
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
func (w *walker) forwarded(h *message.Header, kind string, params map[string]string, body io.Reader, at place) {
	if at.depth >= w.lim.Depth {
		w.leaf(h, kind, params, body, at, fmt.Sprintf("It lies deeper than %d parts within parts and was not opened.", w.lim.Depth))
		return
	}
	dec, why := decode(h, body)
	if why != "" {
		w.leaf(h, kind, params, body, at, why)
		return
	}
	br := bufio.NewReader(dec)
	inner, _, _ := readHeading(br, w.lim.Heading)
	if at.within == "report" && !at.forwarded {
		w.about(ids(raw(&inner, "Message-Id"))...)
		return
	}
	w.entity(&inner, br, place{depth: at.depth + 1, forwarded: true, within: "mixed"})
}

// decode undoes the transfer encoding and leaves the character set alone.
func decode(h *message.Header, body io.Reader) (io.Reader, string) {
	enc, _, _ := strings.Cut(raw(h, "Content-Transfer-Encoding"), ";")
	enc = strings.ToLower(strings.TrimSpace(enc))
	var plain message.Header
	plain.Set("Content-Type", "application/octet-stream")
	plain.Set("Content-Transfer-Encoding", enc)
	e, err := message.New(plain, body)
	if err != nil {
		return body, fmt.Sprintf("It says that it is encoded as %q, which is not known; the bytes are kept as they were sent.", intake.Shorten(oneLine(utf8Text([]byte(enc)))))
	}
	return e.Body, ""
}

// leaf reads a part that holds no others.
func (w *walker) leaf(h *message.Header, kind string, params map[string]string, body io.Reader, at place, why string) {
	dec := body
	if why == "" {
		dec, why = decode(h, body)
	}
	b, err := io.ReadAll(dec)
	if err != nil && why == "" {
		why = "It arrived damaged: its encoding breaks off after " + fmt.Sprint(len(b)) + " bytes. Ask the sender for it again."
		if errors.Is(err, io.ErrUnexpectedEOF) {
			why = "The mail is cut off within it. Ask the sender for it again."
			w.cut = true
		}
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
	t.text, ok = decodeText(p.Raw, p.Charset)
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
	for i, t := range w.texts {
		t.part.Label = "text"
		if len(w.texts) > 1 {
			t.part.Label = fmt.Sprintf("text %d", i+1)
		}
		if s := strings.TrimSpace(t.text); s != "" {
			all = append(all, s)
		}
		if t.unknown {
			w.problem("The text says that it is written in %q, which is not known here. Signs may be wrong.", intake.Shorten(t.part.Charset))
		}
		bodies = append(bodies, t.part)
	}
	w.m.Text = strings.Join(all, "\n\n")
	w.m.Parts = append(bodies, w.m.Parts...)
	if w.m.Signed {
		w.problem("The mail is signed; the signature was not checked.")
	}
}
