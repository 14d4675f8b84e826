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
	text       string  // the line, decoded
	ends       []int32 // where each part between two separators ends in text
	shift      int     // 1 in the header, whose field 1 is the separator itself; else 0
	msg        *Message
}

// size is how many fields there are, the name counted as field 0.
func (s *Segment) size() int { return len(s.ends) + s.shift }

// raw gives field n as it stands, without checking that it is there.
func (s *Segment) raw(n int) string {
	if s.shift > 0 && n > 0 {
		if n == 1 {
			return string(rune(s.msg.Sep.Field))
		}
		n--
	}
	from := int32(0)
	if n > 0 {
		from = s.ends[n-1] + 1
	}
	return s.text[from:s.ends[n]]
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
	// One array for the ends of the fields of all segments.
	all := make([]int32, 0, strings.Count(m.text, string(rune(m.Sep.Field)))+len(m.rawSegs))
	rest := m.text
	for i := range m.rawSegs {
		seg := Segment{Line: m.lines[i], msg: m}
		seg.text, rest, _ = strings.Cut(rest, "\n")
		from := len(all)
		all = ends(all, seg.text, m.Sep.Field)
		seg.ends = all[from:len(all):len(all)]
		if seg.Name = seg.text[:3]; seg.Name == "MSH" && len(seg.text) > 3 && seg.text[3] == m.Sep.Field {
			seg.shift = 1
		}
		count[seg.Name]++
		seg.Occurrence = count[seg.Name]
		m.Segments = append(m.Segments, seg)
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

// ends lists where each part of a line between two separators ends.
func ends(to []int32, l string, sep byte) []int32 {
	for at := 0; ; {
		i := strings.IndexByte(l[at:], sep)
		if i < 0 {
			return append(to, int32(len(l)))
		}
		at += i
		to = append(to, int32(at))
		at++
	}
}

// Text gives the message as text, one segment a line.
func (m *Message) Text() string { return m.text }

// Header gives the header segment, empty when there is none.
func (m *Message) Header() *Segment {
	if len(m.Segments) > 0 && m.Segments[0].Name == "MSH" {
		return &m.Segments[0]
	}
	return &Segment{Name: "MSH", Occurrence: 1, msg: m}
}
