package hl7

import "bytes"

// Bytes of the minimal lower layer protocol: one frame is startBlock, the
// message, endBlock, carriage return.
const (
	startBlock = 0x0B
	endBlock   = 0x1C
)

var utf8BOM = []byte{0xEF, 0xBB, 0xBF}

// frame is one stretch of a file that holds messages.
type frame struct {
	body   []byte
	framed bool // came inside frame bytes
	cut    bool // the frame has a start and no end
}

// unframe splits a file into frames. A file without frame bytes is one frame.
// stray tells that there are bytes outside the frames that are not blank.
func unframe(raw []byte) (frames []frame, stray bool) {
	raw = bytes.TrimPrefix(raw, utf8BOM)
	first := startOfFrame(raw)
	if first < 0 {
		return []frame{{body: raw}}, false
	}
	outside := func(b []byte) {
		switch {
		case hasHeader(b): // a message whose sender left out the frame
			frames = append(frames, frame{body: b})
		case len(trimControl(b)) > 0:
			stray = true
		}
	}
	outside(raw[:first])
	headed := -1 // the next start that a header follows, len(raw) for none
	for at := first; at < len(raw); {
		at++ // the start block
		if headed < at {
			headed = headedStart(raw, at)
		}
		next := headed
		if i := nearStart(raw[at:]); i >= 0 {
			next = at + i
		}
		f := frame{framed: true, cut: true}
		if end := bytes.IndexByte(raw[at:next], endBlock); end >= 0 {
			f.body, f.cut, at = raw[at:at+end], false, at+end+1
		} else {
			f.body, at = raw[at:next], next
		}
		f.body = bytes.TrimPrefix(f.body, utf8BOM)
		if len(trimControl(f.body)) > 0 {
			frames = append(frames, f)
		}
		i := bytes.IndexByte(raw[at:], startBlock)
		if i < 0 {
			outside(raw[at:])
			return frames, stray
		}
		outside(raw[at : at+i])
		at += i
	}
	return frames, stray
}

// hasHeader reports a line that begins with the header of a message.
func hasHeader(b []byte) bool {
	for rest := b; len(rest) > 0; {
		var l []byte
		l, rest = cutLine(rest)
		if l = trimControl(bytes.TrimPrefix(l, utf8BOM)); isHeader(l) && len(l) > 3 && !alnum(l[3]) {
			return true
		}
	}
	return false
}

// startOfFrame finds a start block that a header follows, or that stands first; -1
// for none.
func startOfFrame(b []byte) int {
	i := bytes.IndexByte(b, startBlock)
	if i < 0 || len(trimControl(b[:i])) == 0 {
		return i
	}
	if i = headedStart(b, i); i == len(b) {
		return -1
	}
	return i
}

// headedStart finds the first start block from a place on that a header follows,
// len(b) for none.
func headedStart(b []byte, from int) int {
	for {
		i := bytes.IndexByte(b[from:], startBlock)
		if i < 0 {
			return len(b)
		}
		from += i
		if isHeader(bytes.TrimPrefix(b[from+1:], utf8BOM)) {
			return from
		}
		from++
	}
}

// nearStart finds a start block before anything but blanks and control bytes; -1 for
// none.
func nearStart(b []byte) int {
	for i, c := range b {
		switch c {
		case startBlock:
			return i
		case ' ', '\t', '\r', '\n', endBlock, 0x1A, 0:
		default:
			return -1
		}
	}
	return -1
}

// isHeader reports whether b begins with a header segment of a message, batch or file.
func isHeader(b []byte) bool {
	return bytes.HasPrefix(b, []byte("MSH")) || bytes.HasPrefix(b, []byte("FHS")) ||
		bytes.HasPrefix(b, []byte("BHS"))
}

// trimControl takes blanks, line ends, frame bytes and the old end-of-file mark
// off both ends.
func trimControl(b []byte) []byte { return bytes.Trim(b, " \t\r\n\x0b\x1c\x1a\x00") }
