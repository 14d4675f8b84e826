package mail

import (
	"html"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"

	"dunlin/cases/intake"
)

// decodeText turns the bytes of a text into UTF-8 by the declared character set, and
// without a usable one as the intake does: UTF-8, else Windows-1252. ok is false when
// the declared set is not known here. UTF-8 that is declared as one of the sets with
// one byte a sign is a common mistake and is read as UTF-8.
func decodeText(b []byte, name string) (text string, ok bool) {
	if conv, yes := intake.FromUTF16(b); yes {
		return utf8Text(conv), true
	}
	e := intake.Charset(name)
	_, single := e.(*charmap.Charmap)
	if e != nil && !(single && utf8.Valid(b)) {
		if out, err := e.NewDecoder().Bytes(b); err == nil && (!strings.EqualFold(name, "utf-8") || utf8.Valid(b)) {
			return utf8Text(out), true
		}
	}
	d := intake.NewDecoder("", b)
	return utf8Text([]byte(d.Text(b))), name == "" || e != nil || strings.EqualFold(name, "us-ascii")
}

// utf8Text makes a text safe to show: valid UTF-8, line ends as LF, no control or
// direction signs.
func utf8Text(b []byte) string {
	s := strings.ToValidUTF8(string(b), "\uFFFD")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\r':
			return '\n'
		case r == '\n', r == '\t':
			return r
		case r == 0xFEFF, unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r), r == 0x2028, r == 0x2029:
			return -1
		}
		return r
	}, s)
}

// oneLine joins lines and blanks, and cuts what is longer than 300 characters.
func oneLine(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	n := 0
	for i := range s {
		if n++; n > 300 {
			return s[:i] + "…"
		}
	}
	return s
}

// cleanName makes the name of an attachment fit for showing: the last part of a
// path, on one line, at most a hundred characters. It is never used as a path.
func cleanName(s string) string {
	s = oneLine(utf8Text([]byte(s)))
	if i := strings.LastIndexAny(s, `/\`); i >= 0 {
		s = s[i+1:]
	}
	s = strings.Trim(s, " .")
	n := 0
	for i := range s {
		if n++; n > 100 {
			return s[:i] + "…"
		}
	}
	return s
}

var (
	hidden  = regexp.MustCompile(`(?is)<(script|style|head|title)\b.*?</(script|style|head|title)\s*>|<!--.*?-->`)
	breaks  = regexp.MustCompile(`(?i)<(br|/p|/div|/tr|/li|/h[1-6])\b[^<>]*>`)
	cells   = regexp.MustCompile(`(?i)</t[dh]\b[^<>]*>`)
	tags    = regexp.MustCompile(`<[A-Za-z/!?][^<>]*>`)
	empties = regexp.MustCompile(`\n[ \t]*\n([ \t]*\n)+`)
	pointed = regexp.MustCompile(`(?i)cid:([^"'<>\s)]{1,200})`)
)

// htmlText takes the text out of HTML; nothing of it is ever rendered.
func htmlText(s string) string {
	s = hidden.ReplaceAllString(s, " ")
	s = breaks.ReplaceAllString(s, "\n")
	s = cells.ReplaceAllString(s, "\t")
	s = utf8Text([]byte(html.UnescapeString(tags.ReplaceAllString(s, ""))))
	return strings.TrimSpace(empties.ReplaceAllString(s, "\n\n"))
}
