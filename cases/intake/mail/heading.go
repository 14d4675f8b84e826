package mail

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"mime"
	netmail "net/mail"
	"regexp"
	"strings"

	message "github.com/emersion/go-message"
	"github.com/emersion/go-message/textproto"

	"dunlin/cases/intake"
)

// maxValue bounds one heading as it is read further, in bytes.
const maxValue = 16 << 10

// readHeading reads the headings at the start of a mail or part, up to the empty line
// after them, and gives what follows. Lines that are no headings are left out, because
// one of them would make all others unreadable; bad counts them. cut says that the
// limit was reached.
func readHeading(b []byte, limit int) (h message.Header, rest []byte, bad int, cut bool) {
	var block bytes.Buffer
	keep, size := false, 0
	for first := true; len(b) > 0; first = false {
		var line []byte
		line, b = nextLine(b)
		bare := bytes.TrimRight(line, "\r\n")
		if len(bare) == 0 {
			break
		}
		size += len(line)
		switch continued := line[0] == ' ' || line[0] == '\t'; {
		case size > limit:
			cut, keep = true, false
		case continued && !keep, !continued && !isHeading(line):
			keep = false
			if !first || !bytes.HasPrefix(line, []byte("From ")) {
				bad++
			}
		default:
			keep = true
			block.Write(bare)
			block.WriteString("\r\n")
		}
	}
	block.WriteString("\r\n")
	th, err := textproto.ReadHeader(bufio.NewReader(&block))
	if err != nil && !errors.Is(err, io.EOF) {
		bad++
	}
	return message.Header{Header: th}, b, bad, cut
}

// nextLine cuts off the first line with its end.
func nextLine(b []byte) (line, rest []byte) {
	if i := bytes.IndexByte(b, '\n'); i >= 0 {
		return b[:i+1], b[i+1:]
	}
	return b, nil
}

// isHeading reports a line such as "Subject: x" (RFC 5322, section 2.2).
func isHeading(line []byte) bool {
	name, _, ok := bytes.Cut(line, []byte(":"))
	name = bytes.TrimRight(name, " \t")
	if !ok || len(name) == 0 || len(name) > 200 {
		return false
	}
	for _, c := range name {
		if c <= ' ' || c >= 127 {
			return false
		}
	}
	return true
}

// words decodes the encoded words of RFC 2047 in any character set.
var words = mime.WordDecoder{CharsetReader: func(name string, in io.Reader) (io.Reader, error) {
	e := intake.Charset(name)
	if e == nil {
		return nil, errors.New("unknown character set")
	}
	return e.NewDecoder().Reader(in), nil
}}

// value gives a heading as text for showing: encoded words decoded, on one line,
// without control and direction signs.
func value(h *message.Header, name string) string {
	return oneLine(decoded(raw(h, name)))
}

// raw gives a heading as it was sent, shortened.
func raw(h *message.Header, name string) string {
	v := h.Get(name)
	return v[:min(len(v), maxValue)]
}

func decoded(s string) string {
	out, err := words.DecodeHeader(s)
	if err != nil {
		out = s
	}
	return utf8Text([]byte(out))
}

// media gives the type of a part and its parameters. A heading that is not well
// formed is read as far as it goes.
func media(v string) (kind string, params map[string]string) {
	v = v[:min(len(v), maxValue)]
	kind, params, err := mime.ParseMediaType(v)
	if err == nil {
		return kind, params
	}
	kind, rest, _ := strings.Cut(v, ";")
	params = map[string]string{}
	for _, g := range param.FindAllStringSubmatch(rest, 20) {
		key := strings.ToLower(g[1])
		if _, twice := params[key]; !twice {
			params[key] = strings.TrimSpace(strings.Trim(g[2], `"`))
		}
	}
	return strings.ToLower(strings.TrimSpace(kind)), params
}

var (
	param    = regexp.MustCompile(`([A-Za-z0-9-]{1,40}\*?)\s*=\s*("[^"]*"|[^;\s]+)`)
	extended = regexp.MustCompile(`(?i)\b(?:file)?name\*(?:0\*)?=\s*"?([A-Za-z0-9._-]{1,40})'[^']*'([^;"\s]+)`)
)

// fileName gives the name of an attachment for showing.
func fileName(h *message.Header) string {
	disposition, typed := raw(h, "Content-Disposition"), raw(h, "Content-Type")
	_, d := media(disposition)
	_, t := media(typed)
	for _, s := range []string{d["filename"], t["name"]} {
		if s != "" {
			return cleanName(decoded(s))
		}
	}
	for _, v := range []string{disposition, typed} { // RFC 2231 in another set than UTF-8
		if g := extended.FindStringSubmatch(v); g != nil {
			if e := intake.Charset(g[1]); e != nil {
				if out, err := e.NewDecoder().Bytes(percent(g[2])); err == nil {
					return cleanName(utf8Text(out))
				}
			}
		}
	}
	return ""
}

// percent undoes %XX.
func percent(s string) []byte {
	out := make([]byte, 0, len(s))
	for i := 0; i < len(s); i++ {
		if s[i] == '%' && i+2 < len(s) {
			hi, lo := hexDigit(s[i+1]), hexDigit(s[i+2])
			if hi >= 0 && lo >= 0 {
				out = append(out, byte(hi<<4|lo))
				i += 2
				continue
			}
		}
		out = append(out, s[i])
	}
	return out
}

func hexDigit(c byte) int { return strings.IndexByte("0123456789abcdef", c|0x20) }

var (
	idForm      = regexp.MustCompile(`<[^<>\s]{1,200}@[^<>\s]{1,200}>`)
	addressForm = regexp.MustCompile(`[A-Za-z0-9.!#$%&'*+/=?^_{|}~-]{1,64}@[A-Za-z0-9.-]{1,200}`)
)

// ids lists the Message-IDs in headings, each once, at most a hundred.
func ids(values ...string) (out []string) {
	seen := map[string]bool{}
	for _, v := range values {
		for _, id := range idForm.FindAllString(v[:min(len(v), 4*maxValue)], 100) {
			if !seen[id] && len(out) < 100 {
				seen[id] = true
				out = append(out, id)
			}
		}
	}
	return out
}

// address gives the name and the address of the first mailbox in a heading.
func address(v string) (name, addr string) {
	p := netmail.AddressParser{WordDecoder: &words}
	if list, err := p.ParseList(v); err == nil && len(list) > 0 {
		return oneLine(utf8Text([]byte(list[0].Name))), strings.ToLower(oneLine(utf8Text([]byte(list[0].Address))))
	}
	return oneLine(decoded(v)), strings.ToLower(addressForm.FindString(v))
}

// addresses lists every address in headings, each once, at most a hundred.
func addresses(values ...string) (out []string) {
	seen := map[string]bool{}
	for _, v := range values {
		for _, a := range addressForm.FindAllString(v[:min(len(v), maxValue)], 100) {
			if a = strings.ToLower(a); !seen[a] && len(out) < 100 {
				seen[a] = true
				out = append(out, a)
			}
		}
	}
	return out
}
