package paper

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"unicode/utf16"
)

// font writes a font with the characters in use. A character's code is its UTF-16
// unit; a map leads to its glyph.
func (s *Stream) font(number int, ttf []byte, bold bool) {
	f, name, used := faceOf(Style{Bold: bold}), "DUNLIN+NotoSans-Regular", s.used[0]
	if bold {
		name, used = "DUNLIN+NotoSans-Bold", s.used[1]
	}
	var signs []rune
	for r := range used {
		if f.has(r) {
			signs = append(signs, r)
		}
	}
	slices.Sort(signs)
	var glyphs []int
	var widths, unicode bytes.Buffer
	toGlyph := make([]byte, 2)
	for i, r := range signs {
		glyphs = append(glyphs, int(f.glyphs[r]))
		fmt.Fprintf(&widths, "%d [%d] ", r, f.widths[r])
		toGlyph = append(toGlyph, make([]byte, 2*int(r)+2-len(toGlyph))...)
		toGlyph[2*r], toGlyph[2*r+1] = byte(f.glyphs[r]>>8), byte(f.glyphs[r])
		if i%100 == 0 { // a list holds a hundred at most
			if i > 0 {
				unicode.WriteString("endbfchar\n")
			}
			fmt.Fprintf(&unicode, "%d beginbfchar\n", min(100, len(signs)-i))
		}
		fmt.Fprintf(&unicode, "<%04X> <%04X>\n", r, r)
	}
	if len(signs) > 0 {
		unicode.WriteString("endbfchar\n")
	}
	file, err := subset(ttf, glyphs)
	if err != nil && s.err == nil {
		s.err = err
	}
	s.object(number, "<</Type /Font /Subtype /Type0 /BaseFont /%s /Encoding /Identity-H /DescendantFonts [%d 0 R] /ToUnicode %d 0 R>>", name, number+1, number+4)
	s.object(number+1, "<</Type /Font /Subtype /CIDFontType2 /BaseFont /%s /CIDSystemInfo <</Registry (Adobe) /Ordering (Identity) /Supplement 0>> /FontDescriptor %d 0 R /DW 0 /W [%s] /CIDToGIDMap %d 0 R>>",
		name, number+2, widths.Bytes(), number+5)
	s.descriptor(number+2, number+3, ttf, name, bold)
	s.packedObject(number+3, file, " /Length1 "+strconv.Itoa(len(file)))
	s.packedObject(number+4, fmt.Appendf(nil, toUnicode, unicode.Bytes()), "")
	s.packedObject(number+5, toGlyph, "")
}

const toUnicode = `/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo <</Registry (Adobe) /Ordering (UCS) /Supplement 0>> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<0000> <FFFF>
endcodespacerange
%sendcmap
CMapName currentdict /CMap defineresource pop
end
end
`

// descriptor says what a reader without the font's file would need.
func (s *Stream) descriptor(number, file int, ttf []byte, name string, bold bool) {
	head, hhea, os2 := tableOf(ttf, "head"), tableOf(ttf, "hhea"), tableOf(ttf, "OS/2")
	perEm := u16(head, 18)
	scale := func(v int) int { return v * 1000 / perEm }
	const nonsymbolic, capHeightAt = 32, 88
	stem := 80
	if bold {
		stem = 140
	}
	s.object(number, "<</Type /FontDescriptor /FontName /%s /Flags %d /FontBBox [%d %d %d %d] /ItalicAngle 0 /Ascent %d /Descent %d /CapHeight %d /StemV %d /FontFile2 %d 0 R>>",
		name, nonsymbolic, scale(i16(head, 36)), scale(i16(head, 38)), scale(i16(head, 40)), scale(i16(head, 42)),
		scale(i16(hhea, 4)), scale(i16(hhea, 6)), scale(i16(os2, capHeightAt)), stem, file)
}

// decimal is a number in points with up to three decimals.
func decimal(v float64) string {
	text := strconv.FormatFloat(v, 'f', 3, 64)
	for text[len(text)-1] == '0' {
		text = text[:len(text)-1]
	}
	if text[len(text)-1] == '.' {
		text = text[:len(text)-1]
	}
	return text
}

// textString is a text for what a document says of itself, in UTF-16 with its mark.
func textString(text string) string {
	var b bytes.Buffer
	b.WriteString("<FEFF")
	for _, unit := range utf16.Encode([]rune(text)) {
		hex4(&b, unit)
	}
	b.WriteByte('>')
	return b.String()
}

func hex4(b *bytes.Buffer, unit uint16) {
	const digits = "0123456789ABCDEF"
	for shift := 12; shift >= 0; shift -= 4 {
		b.WriteByte(digits[unit>>shift&15])
	}
}
