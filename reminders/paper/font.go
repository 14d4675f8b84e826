package paper

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"
)

//go:embed fonts/NotoSans-Regular.ttf
var regularTTF []byte

//go:embed fonts/NotoSans-Bold.ttf
var boldTTF []byte

// face is one weight of the font: which characters it has, and how wide
// each is in thousandths of the size.
type face struct {
	sum    string
	widths []uint16 // by character of the basic plane
	glyphs []uint16 // as widths; 0 where the font has none
}

// faces reads both weights once.
var faces = sync.OnceValues(func() ([2]face, error) {
	regular, err := readFace(regularTTF)
	if err != nil {
		return [2]face{}, fmt.Errorf("paper: regular font: %w", err)
	}
	bold, err := readFace(boldTTF)
	if err != nil {
		return [2]face{}, fmt.Errorf("paper: bold font: %w", err)
	}
	return [2]face{regular, bold}, nil
})

// Fonts is the SHA-256 of the regular and of the bold font, in hexadecimal. A sheet is
// set the same again only with the same fonts.
func Fonts() []string {
	f := mustFaces()
	return []string{f[0].sum, f[1].sum}
}

// mustFaces relies on the embedded files, which a test reads.
func mustFaces() *[2]face {
	f, err := faces()
	if err != nil {
		panic(err)
	}
	return &f
}

func faceOf(style Style) *face {
	if f := mustFaces(); style.Bold {
		return &f[1]
	} else {
		return &f[0]
	}
}

// units is the length of text in thousandths of the size.
func (f *face) units(text string) int {
	sum := 0
	for _, r := range text {
		if r < plane {
			sum += int(f.widths[r])
		}
	}
	return sum
}

// plane is how many characters the basic plane has.
const plane = 1 << 16

func (f *face) has(r rune) bool { return r < plane && f.glyphs[r] != 0 }

// width is the length of text in points at a size.
func (f *face) width(text string, size float64) float64 {
	return float64(f.units(text)) * size / 1000
}

// check refuses what cannot be set as it would be read: characters that the font
// lacks, separate accents, scripts whose letters join, and invisible characters.
func (f *face) check(text string) error {
	for _, r := range text {
		switch {
		case ' ' <= r && r <= '~':
			continue
		case r == unicode.ReplacementChar:
			return errors.New("a character in it was lost when it was received; type it again")
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Mc):
			return fmt.Errorf("an accent stands apart from its letter (U+%04X); type the name again", r)
		case unicode.In(r, unicode.Cc, unicode.Cf, unicode.Co, unicode.Zl, unicode.Zp):
			return fmt.Errorf("there is an invisible character in it (U+%04X); type it again", r)
		case !unicode.In(r, unicode.Latin, unicode.Greek, unicode.Cyrillic, unicode.Common):
			return fmt.Errorf("%q is written in a script that cannot be set yet (%s); print this one from the browser", r, scriptOf(r))
		}
		if !f.has(r) {
			return fmt.Errorf("the font has no %q (U+%04X); print this one from the browser", r, r)
		}
	}
	return nil
}

// scriptOf names the script of a character as Unicode does, such as Arabic or Han.
func scriptOf(r rune) string {
	for name, table := range unicode.Scripts {
		if unicode.Is(table, r) { // each character is in one script
			return strings.ReplaceAll(name, "_", " ")
		}
	}
	return "unknown"
}

// readFace reads the character map (format 4, which holds the basic plane) and the
// advance widths of a TrueType font.
func readFace(ttf []byte) (f face, err error) {
	defer func() {
		if recover() != nil { // an index ran out of the file
			err = errors.New("the file is cut off")
		}
	}()
	ttf = slices.Clip(ttf)
	table := func(name string) []byte { return tableOf(ttf, name) }
	perEm := u16(table("head"), 18)
	metrics, hmtx := u16(table("hhea"), 34), table("hmtx")
	advance := func(glyph int) int { return u16(hmtx, 4*min(glyph, metrics-1)) * 1000 / perEm }

	cmap := table("cmap")
	var sub []byte
	for i := range u16(cmap, 2) {
		rec := cmap[4+8*i:]
		if platform := u16(rec, 0); u16(cmap, u32(rec, 4)) == 4 && (platform == 3 || platform == 0) {
			sub = cmap[u32(rec, 4):]
		}
	}
	if sub == nil {
		return f, errors.New("there is no character map of format 4")
	}
	f = face{sum: sumOf(ttf), widths: make([]uint16, plane), glyphs: make([]uint16, plane)}
	n := u16(sub, 6) // twice the number of segments
	for i := 0; i < n; i += 2 {
		end, start := u16(sub, 14+i), u16(sub, 16+n+i)
		delta, rangeAt := u16(sub, 16+2*n+i), 16+3*n+i
		for c := start; c <= end && c != 0xFFFF; c++ {
			glyph := c
			if offset := u16(sub, rangeAt); offset != 0 {
				if glyph = u16(sub, rangeAt+offset+2*(c-start)); glyph == 0 {
					continue
				}
			}
			if glyph = (glyph + delta) & 0xFFFF; glyph != 0 {
				f.widths[c], f.glyphs[c] = uint16(advance(glyph)), uint16(glyph)
			}
		}
	}
	return f, nil
}

func sumOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
