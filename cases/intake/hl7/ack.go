package hl7

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"dunlin/cases/intake"
)

// Acknowledgment codes of HL7 table 0008. A stands for the answer of the
// application, C for the receipt that a sender asks for in MSH-15.
const (
	Accepted = "AA" // stored and readable by a person, even if it waits for one
	Errors   = "AE" // stored, and cannot be read; the sender should correct it
	Rejected = "AR" // of a wrong type, version or mark, or not stored; the sender keeps it
)

// AnswerOptions are what an answer says beside what the message itself gives.
type AnswerOptions struct {
	Now  time.Time     // MSH-7
	ID   func() string // the answer's own message number, at most 20 characters
	Live bool          // test messages are rejected; see intake.Settings.Live
	// Instead answers the same to every message: nothing was stored, or the frame was
	// too large.
	Instead *Refusal
}

// Refusal is an answer that does not depend on what the message says.
type Refusal struct {
	Code  string // of table 0008
	Error int    // of table 0357
	Text  string
}

// Answer is what is sent back for one frame.
type Answer struct {
	Raw   []byte   // without frame bytes; nil when the sender wants no answer
	Codes []string // of each message, whether or not it is sent
	IDs   []string // MSH-10 of each message
}

// maxEcho bounds what an answer repeats of a header field; maxErrors the ERR
// segments for one message.
const (
	maxEcho   = 250
	maxErrors = 20
)

// AnswerTo writes the answer to the bytes of one frame: an ACK for each message in
// it, in the form of HL7 version 2.5.1 chapter 2. The answer to the same bytes is
// always the same but for its time and number. Several messages are answered as a
// batch. MSH-15 and MSH-16 (table 0155: AL always, NE never, ER on errors only, SU
// on success only) are honored; when both are empty every message is answered.
//
// The event is always R01: nothing else is taken in.
func AnswerTo(raw []byte, o AnswerOptions) Answer {
	f := Parse(raw)
	ms := f.Messages
	if len(ms) == 0 {
		ms = []*Message{{Sep: standard}}
	}
	var a Answer
	var parts [][]byte
	for i, m := range ms {
		code, errs := Rejected, []replyError(nil)
		switch {
		case o.Instead != nil:
			code, errs = o.Instead.Code, []replyError{{code: o.Instead.Error, severity: 'E', text: o.Instead.Text, short: o.Instead.Text}}
		case len(f.Messages) == 0:
			p := nothing(f, raw).Problems[0]
			code, errs = Errors, []replyError{problemError(p, 'E')}
		default:
			code, errs = verdict(m, fmt.Sprintf("message %d", i+1), o.Live)
		}
		a.Codes, a.IDs = append(a.Codes, code), append(a.IDs, m.Header().Field(10).Text())
		if sent := wanted(m.Header(), code); sent != "" {
			parts = append(parts, reply(m, sent, errs, o))
		}
	}
	switch {
	case len(parts) == 1 && len(ms) == 1:
		a.Raw = parts[0]
	case len(parts) > 0:
		a.Raw = batch(ms[0], parts, o)
	}
	return a
}

// wanted gives the code to be sent, "" for no answer.
func wanted(h *Segment, code string) string {
	receipt, application := strings.ToUpper(h.Field(15).Text()), strings.ToUpper(h.Field(16).Text())
	switch {
	case receipt == "" && application == "":
		return code
	case application != "" && asks(application, code):
		return code
	case receipt != "" && asks(receipt, code):
		return "C" + code[1:]
	}
	return ""
}

func asks(condition, code string) bool {
	switch condition {
	case "NE":
		return false
	case "ER":
		return code != Accepted
	case "SU":
		return code == Accepted
	}
	return true
}

// replyError is one ERR segment.
type replyError struct {
	at       intake.Problem // its place
	code     int            // table 0357
	severity byte           // table 0516: F fatal, E error, W warning
	text     string         // ERR-8
	short    string         // MSA-3
}

var errorWords = map[int]string{
	100: "Segment sequence error", 101: "Required field missing", 102: "Data type error", 103: "Table value not found",
	200: "Unsupported message type", 201: "Unsupported event code", 202: "Unsupported processing id", 203: "Unsupported version id",
	207: "Application internal error",
}

// reply writes one ACK: sender and receiver exchanged, the separators, the
// processing mark, the version and the character set of the message.
func reply(m *Message, code string, errs []replyError, o AnswerOptions) []byte {
	w := newAnswerWriter(m)
	h := m.Header()
	version := w.echo(h, 12)
	if version == "" || !readsVersion(h.Field(12).Comp(1).Text()) {
		version = "2.5.1"
	}
	mark := w.echo(h, 11)
	if mark == "" {
		mark = "P"
	}
	w.segment("MSH", w.marks(), or(w.echo(h, 5), "DUNLIN"), w.echo(h, 6), w.echo(h, 3), w.echo(h, 4), stampOf(o.Now), "",
		w.comps("ACK", "R01", "ACK"), o.ID(), mark, version, "", "", "", "", "", w.echo(h, 18))
	short := ""
	if code[1] != 'A' && len(errs) > 0 {
		short = w.text(errs[0].short, 80)
	}
	w.line(strings.Join([]string{"MSA", code, w.echo(h, 10), short}, w.field()))
	for i, e := range errs {
		if i == maxErrors {
			break
		}
		w.err(e, version < "2.5")
	}
	return m.Decoder.Encode(w.b.String())
}

// batch wraps several answers as HL7 batches are.
func batch(first *Message, parts [][]byte, o AnswerOptions) []byte {
	w := newAnswerWriter(first)
	h := first.Header()
	w.segment("BHS", w.marks(), or(w.echo(h, 5), "DUNLIN"), w.echo(h, 6), w.echo(h, 3), w.echo(h, 4), stampOf(o.Now), "", "", "", o.ID())
	out := first.Decoder.Encode(w.b.String())
	for _, p := range parts {
		out = append(out, p...)
	}
	return append(out, fmt.Sprintf("BTS%s%d\r", w.field(), len(parts))...)
}

func stampOf(t time.Time) string { return t.Format("20060102150405-0700") }

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

// answerWriter writes segments with the separators of the message answered.
type answerWriter struct {
	b   strings.Builder
	sep Separators
}

func newAnswerWriter(m *Message) *answerWriter {
	w := &answerWriter{sep: m.Sep}
	seen := map[byte]bool{}
	for _, c := range []byte{w.sep.Field, w.sep.Component, w.sep.Repeat, w.sep.Escape, w.sep.Sub} {
		if c <= ' ' || c >= 0x7F || alnum(c) || seen[c] {
			w.sep = standard
			break
		}
		seen[c] = true
	}
	return w
}

func (w *answerWriter) field() string { return string(rune(w.sep.Field)) }

func (w *answerWriter) marks() string {
	return string([]byte{w.sep.Component, w.sep.Repeat, w.sep.Escape, w.sep.Sub})
}

func (w *answerWriter) comps(c ...string) string {
	return strings.Join(c, string(rune(w.sep.Component)))
}

func (w *answerWriter) line(s string) { w.b.WriteString(s + "\r") }

// segment writes a segment without empty fields at its end. The first field of a
// header follows its separator at once.
func (w *answerWriter) segment(name string, fields ...string) {
	w.line(strings.TrimRight(name+w.field()+strings.Join(fields, w.field()), w.field()))
}

// echo repeats a field of the header as it was written.
func (w *answerWriter) echo(h *Segment, n int) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7F || r == rune(w.sep.Field) {
			return -1
		}
		return r
	}, cutText(h.Field(n).Raw(), maxEcho))
}

// text escapes a sentence once, after cutting it to a length in characters.
func (w *answerWriter) text(s string, most int) string {
	s = cutText(strings.Join(strings.Fields(s), " "), most)
	esc := string(rune(w.sep.Escape))
	names := map[rune]string{rune(w.sep.Field): "F", rune(w.sep.Component): "S", rune(w.sep.Sub): "T", rune(w.sep.Repeat): "R", rune(w.sep.Escape): "E"}
	var b strings.Builder
	for _, r := range s {
		switch name := names[r]; {
		case name != "":
			b.WriteString(esc + name + esc)
		case r >= ' ' && r != 0x7F:
			b.WriteRune(r)
		}
	}
	return b.String()
}

func cutText(s string, most int) string {
	n := 0
	for i := range s {
		if n == most {
			return s[:i]
		}
		n++
	}
	return s
}

// err writes an ERR segment. Versions before 2.5 have its place and code in the
// first field (from memory); later ones in the second and third.
func (w *answerWriter) err(e replyError, old bool) {
	place, coded := []string{}, w.comps(strconv.Itoa(e.code), errorWords[e.code], "HL70357")
	if e.at.Segment != "" {
		place = []string{e.at.Segment, strconv.Itoa(max(1, e.at.Occurrence))}
		if e.at.Field > 0 {
			place = append(place, strconv.Itoa(e.at.Field))
		}
		if e.at.Field > 0 && e.at.Component > 0 && !old {
			place = append(place, "1", strconv.Itoa(e.at.Component))
		}
	}
	first := ""
	if old {
		for len(place) < 3 {
			place = append(place, "")
		}
		first = w.comps(append(place[:3:3], strings.ReplaceAll(coded, string(rune(w.sep.Component)), string(rune(w.sep.Sub))))...)
	}
	w.segment("ERR", first, w.comps(place...), coded, string(rune(e.severity)), "", "", "", w.text(e.text, maxEcho))
}
