package intake

import (
	"strings"
	"unicode/utf8"
)

// plainMarks are the marks of this program's own sentences in ASCII, which every
// character set holds.
var plainMarks = strings.NewReplacer("…", "...", "–", "-", "’", "'", "“", `"`, "”", `"`, "\u00a0", " ")

// Encode writes an answer in the character set of the message that the decoder was
// chosen for. What that set does not hold becomes a question mark, and so does all
// that is not ASCII when the message's own set is in doubt.
func (d Decoder) Encode(s string) []byte {
	s = plainMarks.Replace(s)
	if asciiText(s) {
		return []byte(s)
	}
	if d.table == nil && !d.Mark && d.Refused == "" {
		return []byte(strings.ToValidUTF8(s, "?"))
	}
	var b strings.Builder
	for _, r := range s {
		if c, ok := d.encodeRune(r); ok {
			b.WriteByte(c)
		} else {
			b.WriteByte('?')
		}
	}
	return []byte(b.String())
}

func (d Decoder) encodeRune(r rune) (byte, bool) {
	switch {
	case r < utf8.RuneSelf:
		return byte(r), true
	case d.table == nil || d.Mark || d.Refused != "":
		return 0, false
	}
	return d.table.EncodeRune(r)
}
