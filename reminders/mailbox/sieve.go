package mailbox

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
)

// sieve lets only such answers of the server through to the library as it can read
// safely. Whole lines are looked at before the library sees them: a parenthesis
// among capabilities makes its reader spin for ever, and deep ones in a FETCH answer
// end the whole program when the stack is full. Neither is stopped by closing the
// connection. The bytes of a body that was asked for pass unseen; for that, the line
// before them must be understood without doubt.
type sieve struct {
	in     io.Reader
	buf    []byte // read and not yet looked at
	out    []byte // looked at and not yet passed on
	pass   int64  // bytes of a body that still pass
	tail   bool   // the next line ends a FETCH answer that had a body
	err    error
	awaits atomic.Bool // a body was asked for
}

var errOdd = errors.New("the mail server gives an answer that cannot be read safely")

const (
	maxLine  = 128 << 10
	maxDepth = 16 // of parentheses
)

func (s *sieve) Read(p []byte) (int, error) {
	for !s.ready() {
		if s.err != nil {
			return 0, s.err
		}
		chunk := make([]byte, len(s.buf), len(s.buf)+16<<10)
		copy(chunk, s.buf)
		n, err := s.in.Read(chunk[len(chunk):cap(chunk)])
		s.buf, s.err = chunk[:len(chunk)+n], err
	}
	n := copy(p, s.out)
	s.out = s.out[n:]
	return n, nil
}

// ready looks at what was read, and reports whether there is something to pass on.
func (s *sieve) ready() bool {
	if len(s.out) > 0 || len(s.buf) == 0 || s.err == errOdd {
		return len(s.out) > 0
	}
	n := int(min(s.pass, int64(len(s.buf))))
	if s.pass -= int64(n); n == 0 {
		n = bytes.IndexByte(s.buf, '\n') + 1
		if n == 0 && len(s.buf) > maxLine || n > 0 && !s.safe(string(s.buf[:n])) {
			s.err = errOdd
			return false
		}
	}
	s.out, s.buf = s.buf[:n], s.buf[n:]
	return n > 0
}

// safe looks at one line of the server.
func (s *sieve) safe(line string) bool {
	text := strings.TrimSuffix(strings.TrimSuffix(line, "\n"), "\r")
	if s.tail {
		s.tail = false
		return s.data(text, "", true)
	}
	tag, rest, _ := strings.Cut(text, " ")
	switch {
	case strings.HasPrefix(tag, "+"):
		return true
	case tag != "*":
		_, rest = word(rest)
		return status(rest)
	}
	name, rest := word(rest)
	if name != "" && name[0] >= '0' && name[0] <= '9' {
		name, rest = word(strings.TrimPrefix(rest, " "))
	}
	switch strings.ToUpper(name) {
	case "OK", "NO", "BAD", "BYE", "PREAUTH":
		return status(rest)
	case "CAPABILITY":
		return !strings.Contains(rest, "(")
	case "FETCH":
		return s.data(text, line, true)
	case "FLAGS", "LIST", "SEARCH", "ESEARCH", "EXISTS", "RECENT", "EXPUNGE":
		return s.data(text, line, false)
	}
	return false // nothing of the kind was asked for
}

// word splits an atom (RFC 3501, section 9) off a text.
func word(s string) (atom, rest string) {
	if i := strings.IndexAny(s, ` (){%*"\]`); i >= 0 {
		return s[:i], s[i:]
	}
	return s, ""
}

// status looks at what follows OK, NO ...: a code in brackets must end on its line.
func status(rest string) bool {
	code, ok := strings.CutPrefix(strings.TrimPrefix(rest, " "), "[")
	if !ok {
		return true
	}
	code, _, closed := strings.Cut(code, "]")
	return closed && !(strings.HasPrefix(strings.ToUpper(code), "CAPABILITY") && strings.Contains(code, "("))
}

// withBody is a FETCH answer up to a body, with nothing in it that could be read in
// two ways.
var withBody = regexp.MustCompile(`(?i)^\* \d+ FETCH \((?:UID \d+ |FLAGS \([^(){}"\r\n]*\) |RFC822\.SIZE \d+ |MODSEQ \(\d+\) |INTERNALDATE "[^"\\{}\r\n]*" )*BODY\[\](?:<0>)? \{(\d+)\}\r?\n$`)

// data looks at a line with lists and quoted texts, which must end on it.
func (s *sieve) data(text, line string, fetch bool) bool {
	quoted, depth := false, 0
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '(':
			if depth++; depth > maxDepth {
				return false
			}
		case c == ')':
			depth--
		}
	}
	if quoted {
		return false
	}
	if !strings.HasSuffix(text, "}") {
		return true
	}
	// A literal follows.
	if !s.awaits.Load() {
		return !fetch
	}
	m := withBody.FindStringSubmatch(line)
	if m == nil {
		return false
	}
	n, err := strconv.ParseInt(m[1], 10, 64)
	s.pass, s.tail = n, true
	return err == nil
}
