package hl7

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"dunlin/cases/intake"
)

// Separators are the characters that divide one message, as its header declares.
type Separators struct {
	Field, Component, Repeat, Escape, Sub byte
}

var standard = Separators{'|', '^', '~', '\\', '&'}

// Message is one message: its segments in order, with how to read them.
type Message struct {
	Sep      Separators
	Segments []Segment
	Decoder  intake.Decoder
	Problems []intake.Problem
	Cut      bool // its frame has no end

	text    string // the lines of the message, decoded
	rawSegs [][]byte
	lines   []int
	breaks  int
	size    int
}

// Segment is one segment. Occurrence counts segments of that name from 1, Line is
// its line in the file or frame.
type Segment struct {
	Name       string
	Occurrence int
	Line       int
	fields     []string
	msg        *Message
}

func newMessage(l []byte, line int) *Message {
	m := &Message{Sep: standard}
	m.add(l, line)
	m.delimiters(l)
	return m
}

// delimiters reads MSH-1 and MSH-2. Repeated or alphanumeric characters are
// refused: the message can then be shown and is not decided on.
func (m *Message) delimiters(l []byte) {
	if len(l) < 4 {
		m.fault(intake.Problem{Segment: "MSH", Field: 1, Text: "The header is empty; the message cannot be divided. Ask the sender for the file again."})
		return
	}
	if l[3] < ' ' || l[3] >= 0x7F {
		m.fault(intake.Problem{Segment: "MSH", Field: 1, Text: "The header does not say how the message is divided. Ask the sender for the file again."})
		return
	}
	m.Sep.Field = l[3]
	enc := l[4:]
	if i := bytes.IndexByte(enc, l[3]); i >= 0 {
		enc = enc[:i]
	}
	if string(enc) == `^~\\&` {
		m.fault(intake.Problem{Segment: "MSH", Field: 2, Value: string(enc),
			Text: "The escape character in the header is doubled, so the text may have been damaged on its way. Ask for the original file."})
		return
	}
	seen := map[byte]bool{l[3]: true}
	for i, c := range enc {
		if alnum(c) || c < ' ' || c >= 0x7F || seen[c] || i > 4 {
			m.fault(intake.Problem{Segment: "MSH", Field: 2, Value: intake.Shorten(string(bytes.ToValidUTF8(enc, []byte("?")))),
				Text: "The header does not say how the message is divided. Ask the sender for the file again."})
			return
		}
		seen[c] = true
	}
	if len(enc) < 4 || alnum(l[3]) {
		m.fault(intake.Problem{Segment: "MSH", Field: 2, Value: string(enc),
			Text: "The header does not say how the message is divided (four characters are expected). Ask the sender for the file again."})
		return
	}
	m.Sep.Component, m.Sep.Repeat, m.Sep.Escape, m.Sep.Sub = enc[0], enc[1], enc[2], enc[3]
}

func (m *Message) fault(p intake.Problem) {
	p.Severity = intake.Fault
	m.Problems = append(m.Problems, p)
}

// add keeps a line as a segment until finish reads it.
func (m *Message) add(l []byte, line int) {
	m.size += len(l) + 1
	if len(m.rawSegs) >= MaxSegments || m.size > MaxMessage {
		if m.breaks >= 0 {
			m.breaks = -1
			m.fault(intake.Problem{Text: fmt.Sprintf("The message is too long to be read (limits: %d MB, %d segments). It is kept whole; ask the sender for smaller messages.", MaxMessage>>20, MaxSegments)})
		}
		return
	}
	m.rawSegs = append(m.rawSegs, l)
	m.lines = append(m.lines, line)
}

// broken notes the first line that is no segment.
func (m *Message) broken(line int) {
	if m.breaks == 0 {
		last := m.rawSegs[len(m.rawSegs)-1]
		name := string(last[:min(3, len(last))])
		occ := 0
		for _, s := range m.rawSegs {
			if bytes.HasPrefix(s, []byte(name)) {
				occ++
			}
		}
		m.fault(intake.Problem{Segment: name, Occurrence: occ,
			Text: fmt.Sprintf("Line %d is not the start of a segment: the lines of this message were broken on the way, the first one in %s. Nothing was guessed; ask for the original file as an attachment.", line, name)})
	}
	if m.breaks >= 0 {
		m.breaks++
	}
}

// finish chooses the character set, the given one where none is declared, and splits
// the segments into fields.
func (m *Message) finish(charset string) {
	if len(m.rawSegs) == 0 {
		return
	}
	m.decode(charset)
	count := map[string]int{}
	m.Segments = make([]Segment, 0, len(m.rawSegs))
	// One array for the fields of all segments; the header has one more.
	all := make([]string, 0, strings.Count(m.text, string(rune(m.Sep.Field)))+len(m.rawSegs)+1)
	rest := m.text
	for i := range m.rawSegs {
		var l string
		l, rest, _ = strings.Cut(rest, "\n")
		from := len(all)
		all = m.fields(all, l)
		name := l[:3]
		count[name]++
		m.Segments = append(m.Segments, Segment{Name: name, Occurrence: count[name], Line: m.lines[i],
			fields: all[from:len(all):len(all)], msg: m})
	}
	if m.Decoder.Refused != "" {
		m.fault(intake.Problem{Segment: "MSH", Field: 18, Value: intake.Shorten(m.Decoder.Refused),
			Text: "The message is written in a character set that is not read here; names would be wrong. Ask for it as UTF-8."})
	}
	m.rawSegs, m.lines = nil, nil
}

// decode makes the text of the message, one segment a line.
func (m *Message) decode(charset string) {
	if text, plain := joinPlain(m.rawSegs); plain {
		m.text = text
		return
	}
	raw := bytes.Join(m.rawSegs, []byte{'\n'}) // no line holds a line end
	declared := m.rawField(m.rawSegs[0], 18)
	if declared == "" && !utf8.Valid(raw) {
		declared = charset
	}
	if m.Decoder = intake.NewDecoder(declared, raw); m.Decoder.Refused != "" && declared == charset {
		m.Decoder = intake.NewDecoder("", raw) // a guess of ours must not make a message unreadable
	}
	m.text = m.Decoder.Text(raw)
}

// joinPlain joins lines that need no decoding, as most do, without a second copy.
func joinPlain(lines [][]byte) (text string, plain bool) {
	n := len(lines)
	for _, l := range lines {
		if !intake.IsPlain(l) {
			return "", false
		}
		n += len(l)
	}
	var b strings.Builder
	b.Grow(n)
	for i, l := range lines {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.Write(l)
	}
	return b.String(), true
}

// rawField gives a field of the header before decoding, first repeat only.
func (m *Message) rawField(l []byte, n int) string {
	parts := bytes.Split(l, []byte{m.Sep.Field})
	if n-1 >= len(parts) {
		return ""
	}
	f := parts[n-1]
	if i := bytes.IndexByte(f, m.Sep.Repeat); i >= 0 {
		f = f[:i]
	}
	return string(bytes.TrimSpace(f))
}

// fields splits a decoded line and appends its fields; index 1 is the first field.
// In the header the first field is the separator itself.
func (m *Message) fields(to []string, l string) []string {
	header := strings.HasPrefix(l, "MSH") && (len(l) == 3 || l[3] == m.Sep.Field)
	for first := true; ; first = false {
		i := strings.IndexByte(l, m.Sep.Field)
		if i < 0 {
			return append(to, l)
		}
		to = append(to, l[:i])
		if first && header {
			to = append(to, string(rune(m.Sep.Field)))
		}
		l = l[i+1:]
	}
}

// Text gives the message as text, one segment a line.
func (m *Message) Text() string { return m.text }

// Header gives the header segment, empty when there is none.
func (m *Message) Header() Segment {
	if len(m.Segments) > 0 && m.Segments[0].Name == "MSH" {
		return m.Segments[0]
	}
	return Segment{Name: "MSH", Occurrence: 1, msg: m}
}
