package intake

import (
	"bytes"
	"encoding/binary"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/encoding/ianaindex"
	"golang.org/x/text/encoding/unicode"
)

// Decoder turns bytes of one message or file into text.
type Decoder struct {
	table *charmap.Charmap // nil: UTF-8
	// Mark is set when the bytes did not fit what was declared, so that names
	// should be checked.
	Mark bool
	// Refused names a declared character set that cannot be read here.
	Refused string
	// Controls is set when there are control characters in the bytes, or marks that
	// turn the direction of writing; they are read as blanks.
	Controls bool
}

// declared maps HL7 table 0211 and the common IANA names, folded, to tables.
var declared = map[string]*charmap.Charmap{
	"8859/1": charmap.ISO8859_1, "8859/2": charmap.ISO8859_2, "8859/3": charmap.ISO8859_3,
	"8859/4": charmap.ISO8859_4, "8859/5": charmap.ISO8859_5, "8859/6": charmap.ISO8859_6,
	"8859/7": charmap.ISO8859_7, "8859/8": charmap.ISO8859_8, "8859/9": charmap.ISO8859_9,
	"8859/10": charmap.ISO8859_10, "8859/13": charmap.ISO8859_13, "8859/14": charmap.ISO8859_14,
	"8859/15": charmap.ISO8859_15, "8859/16": charmap.ISO8859_16,
	"windows-1252": charmap.Windows1252, "windows-1250": charmap.Windows1250,
	"windows-1251": charmap.Windows1251, "cp1252": charmap.Windows1252,
}

// NewDecoder chooses how to read raw by the declared character set (HL7 table
// 0211). Declared and fitting is used; otherwise UTF-8 if it is valid, else
// Windows-1252 with the mark set.
func NewDecoder(name string, raw []byte) Decoder {
	if IsPlain(raw) {
		return Decoder{}
	}
	d := newDecoder(name, raw)
	d.Controls = d.controls(raw)
	return d
}

// IsPlain reports bytes that every character set reads alike and that hold no control
// characters beside tab and line ends, as most messages do.
func IsPlain(raw []byte) bool {
	for len(raw) >= 8 {
		// Eight bytes at a time: none with its high bit, none below a blank, none 0x7F.
		x := binary.LittleEndian.Uint64(raw)
		y := x ^ 0x7F7F7F7F7F7F7F7F
		if (x|(x-0x2020202020202020)|(y-0x0101010101010101)&^y)&0x8080808080808080 != 0 && !plainBytes(raw[:8]) {
			return false
		}
		raw = raw[8:]
	}
	return plainBytes(raw)
}

func plainBytes(b []byte) bool {
	for _, c := range b {
		if c-' ' >= 0x7F-' ' && c != '\r' && c != '\n' && c != '\t' {
			return false
		}
	}
	return true
}

func newDecoder(name string, raw []byte) Decoder {
	n := strings.ToLower(strings.Join(strings.Fields(name), " "))
	n = strings.TrimPrefix(strings.Replace(n, "iso-8859-", "8859/", 1), "iso ")
	ascii, valid := isASCII(raw), utf8.Valid(raw)
	switch n {
	case "", `""`, "ascii", "us-ascii", "unicode utf-8", "utf-8", "utf8", "unicode":
		if valid {
			return Decoder{Mark: n == "ascii" && !ascii}
		}
		return Decoder{table: charmap.Windows1252, Mark: true}
	}
	if t, ok := declared[n]; ok {
		if ascii {
			return Decoder{}
		}
		mark := valid // bytes that are also valid UTF-8 are hardly ever anything else
		if t == charmap.ISO8859_1 && hasC1(raw) {
			t, mark = charmap.Windows1252, true
		}
		return Decoder{table: t, Mark: mark}
	}
	if ascii {
		return Decoder{}
	}
	d := Decoder{Refused: name}
	if !valid {
		d.table = charmap.Windows1252
	}
	return d
}

// DecodeAll reads a whole text by the name of a character set, any that Charset
// knows. Sets whose later bytes may look like separators can be read only so, before
// the text is divided. What is UTF-8 is read as that, and without a usable name it does
// as NewDecoder.
func DecodeAll(name string, raw []byte) (text string, mark bool) {
	n := strings.ToLower(strings.TrimSpace(name))
	if utf8.Valid(raw) && !shifts(n) {
		name, n = "", ""
	}
	d := NewDecoder(name, raw)
	e := Charset(n)
	if e == nil || d.Refused == "" && !shifts(n) {
		return d.Text(raw), d.Mark || d.Refused != ""
	}
	out, err := e.NewDecoder().Bytes(raw)
	if err != nil {
		return d.Text(raw), true
	}
	return string(out), bytes.ContainsRune(out, utf8.RuneError)
}

// Charset finds the character set with a name that the web or the IANA list knows;
// nil when it is not known here.
func Charset(name string) encoding.Encoding {
	name = strings.Trim(strings.ToLower(strings.TrimSpace(name)), `"'`)
	if e, err := htmlindex.Get(name); err == nil && e != encoding.Replacement {
		return e
	}
	if e, err := ianaindex.MIME.Encoding(name); err == nil && e != nil {
		return e
	}
	return nil
}

// shifts reports a character set that writes other signs with ASCII bytes.
func shifts(name string) bool {
	return strings.HasPrefix(name, "iso-2022") || strings.HasPrefix(name, "utf-16") || strings.HasPrefix(name, "hz")
}

// Text decodes b. Bytes that fit nothing become the replacement character.
func (d Decoder) Text(b []byte) string {
	s := d.decoded(b)
	if d.Controls {
		s = Plain(s)
	}
	return s
}

func (d Decoder) decoded(b []byte) string {
	if isASCII(b) {
		return string(b)
	}
	if d.table == nil {
		return strings.ToValidUTF8(string(b), "\uFFFD")
	}
	out, err := d.table.NewDecoder().Bytes(b)
	if err != nil {
		return strings.ToValidUTF8(string(b), "\uFFFD")
	}
	return string(out)
}

// controls looks for what Plain takes out.
func (d Decoder) controls(raw []byte) bool {
	ascii := true
	for _, c := range raw {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7F {
			return true
		}
		ascii = ascii && c < utf8.RuneSelf
	}
	return !ascii && strings.IndexFunc(d.decoded(raw), control) >= 0
}

// control reports control characters beside tab and line ends, and marks that turn the
// direction of what follows (Unicode: embeddings, overrides and isolates).
func control(c rune) bool {
	switch {
	case c == '\t', c == '\n', c == '\r':
		return false
	case c < ' ', c >= 0x7F && c < 0xA0, c >= 0x202A && c <= 0x202E, c >= 0x2066 && c <= 0x2069:
		return true
	}
	return false
}

// Plain puts blanks for control characters, so that what was sent can be shown on a
// page or a terminal and saved. The bytes themselves are kept with the document.
func Plain(s string) string {
	if strings.IndexFunc(s, control) < 0 {
		return s
	}
	return strings.Map(func(c rune) rune {
		if control(c) {
			return ' '
		}
		return c
	}, s)
}

// FromUTF16 returns raw as UTF-8 when it starts with a UTF-16 byte order mark, or when
// every second byte of its beginning is zero.
func FromUTF16(raw []byte) ([]byte, bool) {
	var e encoding.Encoding
	switch {
	case bytes.HasPrefix(raw, []byte{0xFF, 0xFE}):
		e = unicode.UTF16(unicode.LittleEndian, unicode.ExpectBOM)
	case bytes.HasPrefix(raw, []byte{0xFE, 0xFF}):
		e = unicode.UTF16(unicode.BigEndian, unicode.ExpectBOM)
	default:
		if e = unmarked(raw); e == nil {
			return raw, false
		}
	}
	out, err := e.NewDecoder().Bytes(raw)
	if err != nil {
		return raw, false
	}
	return out, true
}

// unmarked recognizes plain text in UTF-16 without a mark: every second byte of its
// beginning is zero, and no other.
func unmarked(raw []byte) encoding.Encoding {
	head := raw[:min(len(raw), 64)&^1]
	if len(head) < 16 {
		return nil
	}
	var zeros [2]int
	for i, c := range head {
		if c == 0 {
			zeros[i&1]++
		}
	}
	switch n := len(head) / 2; {
	case zeros[0] == 0 && zeros[1] == n:
		return unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM)
	case zeros[1] == 0 && zeros[0] == n:
		return unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM)
	}
	return nil
}

func isASCII(b []byte) bool {
	for ; len(b) >= 8; b = b[8:] {
		if binary.LittleEndian.Uint64(b)&0x8080808080808080 != 0 {
			return false
		}
	}
	for _, c := range b {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

// hasC1 reports bytes 0x80 to 0x9F, which ISO 8859-1 leaves to control codes and
// Windows-1252 fills with quotes and dashes.
func hasC1(b []byte) bool {
	for _, c := range b {
		if c >= 0x80 && c <= 0x9F {
			return true
		}
	}
	return false
}

func asciiText(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}
