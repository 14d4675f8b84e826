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
	stray = len(trimControl(raw[:first])) > 0
	for rest := raw[first:]; len(rest) > 0; {
		rest = rest[1:] // the start block
		f := frame{framed: true, cut: true}
		next := startOfFrame(rest)
		within := rest
		if next >= 0 {
			within = rest[:next]
		}
		end := bytes.IndexByte(within, endBlock)
		switch {
		case end >= 0:
			f.body, f.cut, rest = rest[:end], false, rest[end+1:]
		case next >= 0:
			f.body, rest = rest[:next], rest[next:]
		default:
			f.body, rest = rest, nil
		}
		f.body = bytes.TrimPrefix(f.body, utf8BOM)
		if len(trimControl(f.body)) > 0 {
			frames = append(frames, f)
		}
		next = bytes.IndexByte(rest, startBlock)
		if next < 0 {
			return frames, stray || len(trimControl(rest)) > 0
		}
		stray = stray || len(trimControl(rest[:next])) > 0
		rest = rest[next:]
	}
	return frames, stray
}

// startOfFrame finds a start block that a header follows, or that stands first.
func startOfFrame(b []byte) int {
	for from := 0; from < len(b); {
		i := bytes.IndexByte(b[from:], startBlock)
		if i < 0 {
			return -1
		}
		i += from
		after := bytes.TrimPrefix(b[i+1:], utf8BOM)
		if isHeader(after) || len(trimControl(b[:i])) == 0 {
			return i
		}
		from = i + 1
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
