package hl7

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"

	"dunlin/cases/intake"
)

// File is a whole file split into messages.
type File struct {
	Messages []*Message
	Problems []intake.Problem // about the file, its frames and its batches
	Loose    []byte           // what stands before any header and belongs to no message
	Quoted   bool             // a message quoted in a mail, each line after "> "
}

// Parse splits raw into messages. It accepts CR, LF and CR LF line ends in any
// mixture, a byte order mark, frame bytes, and files and batches with or without
// their trailers.
func Parse(raw []byte) *File { return ParseAs(raw, "") }

// ParseAs is Parse with the character set of messages that declare none in MSH-18;
// "" leaves it at UTF-8, else Windows-1252.
func ParseAs(raw []byte, charset string) *File {
	f := &File{}
	if conv, was := intake.FromUTF16(raw); was {
		raw, charset = conv, ""
		f.note("The file is saved as UTF-16. It was read, but please ask for it as UTF-8.")
	}
	frames, stray := unframe(raw)
	if stray {
		f.note("There are bytes outside the message frames; they are kept with the file and were not read.")
	}
	p := &splitter{file: f, charset: charset}
	for _, fr := range frames {
		p.frame(fr)
	}
	p.endBatches()
	if len(f.Messages) == 0 {
		f.Quoted = isQuoted(raw)
	}
	if len(f.Problems) > maxNotes {
		f.Problems = f.Problems[:maxNotes]
		f.note("There are more faults of this kind; they are not listed.")
	}
	return f
}

func (f *File) note(text string) {
	f.Problems = append(f.Problems, intake.Problem{Severity: intake.Check, Text: text})
}

// maxNotes bounds the faults listed for one file.
const maxNotes = 100

// splitter walks the lines of a file and hands segments to messages.
type splitter struct {
	file      *File
	now       *Message
	charset   string // of messages that declare none
	fileSep   byte   // separator of FHS and BHS
	inFile    bool
	inBatch   bool
	batches   int
	inMsgs    int // messages in the batch
	loosePart [][]byte
}

func (p *splitter) frame(fr frame) {
	p.now = nil
	before := len(p.file.Messages)
	line := 0
	for rest := fr.body; len(rest) > 0; {
		var l []byte
		l, rest = cutLine(rest)
		line++
		if l = trimLine(l); len(l) == 0 {
			continue
		}
		p.line(l, line)
	}
	if fr.cut {
		if len(p.file.Messages) == before {
			p.file.Messages = append(p.file.Messages, &Message{Cut: true})
		}
		p.file.Messages[len(p.file.Messages)-1].Cut = true
	}
	for _, m := range p.file.Messages[before:] {
		m.finish(p.charset)
	}
	if len(p.loosePart) > 0 && len(p.file.Loose) == 0 {
		p.file.Loose = bytes.Join(p.loosePart, []byte("\n"))
	}
}

// cutLine takes the first line off b; CR, LF and CR LF all end a line.
func cutLine(b []byte) (line, rest []byte) {
	i := lineEnd(b)
	if i == len(b) {
		return b, nil
	}
	if b[i] == '\r' && i+1 < len(b) && b[i+1] == '\n' {
		return b[:i], b[i+2:]
	}
	return b[:i], b[i+1:]
}

// lineEnd gives the place of the first CR or LF, len(b) for none. It looks at growing
// stretches: a file that has only one of the two must not be searched to its end for
// the other at each of its lines.
func lineEnd(b []byte) int {
	for from, step := 0, 256; from < len(b); from, step = from+step, 2*step {
		part := b[from:min(len(b), from+step)]
		i := bytes.IndexByte(part, '\r')
		if i < 0 {
			i = len(part)
		}
		if j := bytes.IndexByte(part[:i], '\n'); j >= 0 {
			i = j
		}
		if i < len(part) {
			return from + i
		}
	}
	return len(b)
}

func trimLine(l []byte) []byte {
	if len(l) == 0 || l[0] <= ' ' && len(bytes.Trim(l, " \t\x1a\x00\x0b\x1c")) == 0 {
		return nil
	}
	return bytes.TrimPrefix(l, utf8BOM)
}

func (p *splitter) line(l []byte, n int) {
	if t := bytes.TrimLeft(l, " \t"); isHeader(t) && len(t) > 3 && !alnum(t[3]) {
		l = t
	}
	if isHeader(l) && (len(l) == 3 || !alnum(l[3])) {
		p.header(l, n)
		return
	}
	sep := p.fileSep
	if p.now != nil {
		sep = p.now.Sep.Field
	}
	if !isSegment(l, sep) {
		p.continuation(l, n)
		return
	}
	switch name := string(l[:3]); name {
	case "BTS", "FTS":
		p.trailer(name, l, n)
	default:
		if p.now == nil {
			p.loose(l)
			return
		}
		p.now.add(l, n)
	}
}

func (p *splitter) header(l []byte, n int) {
	switch string(l[:3]) {
	case "FHS":
		p.endBatches()
		p.now, p.inFile = nil, true
		p.fileSep = fieldSep(l)
	case "BHS":
		p.endBatch()
		p.now, p.inBatch = nil, true
		p.inMsgs = 0
		p.fileSep = fieldSep(l)
	default:
		p.inMsgs++
		if len(p.file.Messages) > MaxMessages {
			return // the last message read so far says that the rest was left
		}
		p.now = newMessage(l, n)
		if len(p.file.Messages) == MaxMessages {
			p.now.fault(intake.Problem{Text: fmt.Sprintf("The file holds more than %d messages; from here on they were not read. Ask for the file in parts.", MaxMessages)})
		}
		p.file.Messages = append(p.file.Messages, p.now)
	}
}

// trailer compares the count that a trailer states with what came.
func (p *splitter) trailer(name string, l []byte, n int) {
	sep := p.fileSep
	if sep == 0 {
		sep = fieldSep(l)
	}
	stated := ""
	if parts := strings.SplitN(string(l), string(rune(sep)), 3); len(parts) > 1 {
		stated = strings.TrimSpace(parts[1])
	}
	found, what := p.inMsgs, "messages"
	if name == "BTS" {
		p.inBatch = false
		p.batches++
	} else {
		if p.inBatch {
			p.endBatch()
		}
		found, what, p.inFile = p.batches, "batches", false
		if found == 0 && len(p.file.Messages) > 0 {
			found = 1
		}
	}
	p.now = nil
	if stated == "" {
		return
	}
	if want, err := strconv.Atoi(stated); err != nil || want != found {
		p.file.Problems = append(p.file.Problems, intake.Problem{
			Severity: intake.Check, Segment: name, Field: 1, Value: intake.Shorten(stated),
			Text: fmt.Sprintf("The trailer says %s, found %d %s. Ask the sender whether something is missing.", intake.Shorten(stated), found, what),
		})
	}
	if name == "BTS" {
		p.inMsgs = 0
	}
}

// endBatch notes a batch that was opened and not closed.
func (p *splitter) endBatch() {
	if p.inBatch {
		p.batches++
		p.inBatch = false
		p.file.Problems = append(p.file.Problems, intake.Problem{Severity: intake.Check, Segment: "BTS",
			Text: "The batch has no trailer; the file may be cut off. Ask the sender whether something is missing."})
	}
}

func (p *splitter) endBatches() {
	p.endBatch()
	if p.inFile {
		p.inFile = false
		p.file.Problems = append(p.file.Problems, intake.Problem{Severity: intake.Check, Segment: "FTS",
			Text: "The file has no trailer; it may be cut off. Ask the sender whether something is missing."})
	}
	p.batches = 0
}

// continuation is a line that is no segment: the line above was broken, and
// nothing is guessed.
func (p *splitter) continuation(l []byte, n int) {
	if p.now == nil {
		p.loose(l)
		return
	}
	p.now.broken(n)
}

func (p *splitter) loose(l []byte) {
	if len(p.loosePart) < 200 {
		p.loosePart = append(p.loosePart, l)
	}
}

// isSegment reports three upper-case letters or digits followed by the separator.
func isSegment(l []byte, sep byte) bool {
	if len(l) < 3 || l[0] < 'A' || l[0] > 'Z' {
		return false
	}
	for _, c := range l[:3] {
		if (c < 'A' || c > 'Z') && (c < '0' || c > '9') {
			return false
		}
	}
	return len(l) == 3 || (sep != 0 && l[3] == sep) || (sep == 0 && l[3] == '|')
}

func fieldSep(l []byte) byte {
	if len(l) > 3 {
		return l[3]
	}
	return '|'
}

func alnum(c byte) bool {
	return c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z'
}

// isQuoted recognizes a message quoted in a mail: lines that begin with ">" and a header.
func isQuoted(raw []byte) bool {
	for rest := raw; len(rest) > 0; {
		var l []byte
		l, rest = cutLine(rest)
		t := bytes.TrimLeft(l, " \t>")
		if len(t) < len(l) && bytes.ContainsRune(l[:len(l)-len(t)], '>') && isHeader(t) && len(t) > 3 && !alnum(t[3]) {
			return true
		}
	}
	return false
}
