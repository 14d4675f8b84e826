package paper

import (
	"encoding/binary"
	"errors"
	"slices"
)

// Layout of the tables: ISO/IEC 14496-22 (Open Font Format).

func u16(b []byte, at int) int { return int(binary.BigEndian.Uint16(b[at:])) }
func i16(b []byte, at int) int { return int(int16(binary.BigEndian.Uint16(b[at:]))) }
func u32(b []byte, at int) int { return int(binary.BigEndian.Uint32(b[at:])) }

// tableOf is one table of a TrueType font; nil when it has none of the name.
func tableOf(ttf []byte, name string) []byte {
	for i := range u16(ttf, 4) {
		if rec := ttf[12+16*i:]; string(rec[:4]) == name {
			return ttf[u32(rec, 8) : u32(rec, 8)+u32(rec, 12)]
		}
	}
	return nil
}

// kept are the tables that a PDF needs of a font, in the order of their names.
var kept = []string{"cvt ", "fpgm", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "prep"}

// subset is the font with the outlines of some glyphs only. Glyphs keep their numbers,
// so that sheets can be written before all characters are known.
func subset(ttf []byte, glyphs []int) (out []byte, err error) {
	defer func() {
		if recover() != nil {
			err = errors.New("paper: the font is cut off")
		}
	}()
	ttf = slices.Clip(ttf)
	loca, glyf, long := tableOf(ttf, "loca"), tableOf(ttf, "glyf"), u16(tableOf(ttf, "head"), 50) == 1
	outline := func(g int) []byte {
		if long {
			return glyf[u32(loca, 4*g):u32(loca, 4*g+4)]
		}
		return glyf[2*u16(loca, 2*g) : 2*u16(loca, 2*g+2)]
	}
	want := map[int]bool{0: true}
	for _, g := range glyphs {
		addGlyph(want, g, outline)
	}
	n := u16(tableOf(ttf, "maxp"), 4)
	newLoca, newGlyf := make([]byte, 4*(n+1)), []byte{}
	for g := range n {
		binary.BigEndian.PutUint32(newLoca[4*g:], uint32(len(newGlyf)))
		if want[g] {
			newGlyf = append(newGlyf, outline(g)...)
			newGlyf = append(newGlyf, make([]byte, -len(newGlyf)&3)...)
		}
	}
	binary.BigEndian.PutUint32(newLoca[4*n:], uint32(len(newGlyf)))
	head := slices.Clone(tableOf(ttf, "head"))
	binary.BigEndian.PutUint16(head[50:], 1) // offsets of four bytes
	binary.BigEndian.PutUint32(head[8:], 0)  // the sum of the whole, which PDF readers do not ask for
	tables := map[string][]byte{"head": head, "loca": newLoca, "glyf": newGlyf, "hmtx": keptWidths(ttf, want)}
	for _, name := range kept {
		if tables[name] == nil {
			tables[name] = tableOf(ttf, name)
		}
	}
	return fontFile(tables), nil
}

// addGlyph wants a glyph and those that it is made of.
func addGlyph(want map[int]bool, g int, outline func(int) []byte) {
	if want[g] {
		return
	}
	want[g] = true
	b := outline(g)
	if len(b) < 10 || i16(b, 0) >= 0 {
		return // empty, or an outline of its own
	}
	const wordArgs, scaled, more, twoScales, matrix = 1, 8, 0x20, 0x40, 0x80
	for at := 10; ; {
		flags := u16(b, at)
		addGlyph(want, u16(b, at+2), outline)
		at += 6
		if flags&wordArgs != 0 {
			at += 2
		}
		switch {
		case flags&scaled != 0:
			at += 2
		case flags&twoScales != 0:
			at += 4
		case flags&matrix != 0:
			at += 8
		}
		if flags&more == 0 {
			return
		}
	}
}

// keptWidths is the table of widths, zero for glyphs without outline so that it packs
// well.
func keptWidths(ttf []byte, want map[int]bool) []byte {
	hmtx, metrics := slices.Clone(tableOf(ttf, "hmtx")), u16(tableOf(ttf, "hhea"), 34)
	for g := range metrics - 1 {
		if !want[g] {
			clear(hmtx[4*g : 4*g+4])
		}
	}
	return hmtx
}

// fontFile puts tables together as a TrueType file.
func fontFile(tables map[string][]byte) []byte {
	var names []string
	for _, name := range kept {
		if tables[name] != nil {
			names = append(names, name)
		}
	}
	power, log := 1, 0
	for power*2 <= len(names) {
		power, log = power*2, log+1
	}
	out := binary.BigEndian.AppendUint32(nil, 0x00010000)
	for _, v := range []int{len(names), power * 16, log, (len(names) - power) * 16} {
		out = binary.BigEndian.AppendUint16(out, uint16(v))
	}
	at := 12 + 16*len(names)
	var body []byte
	for _, name := range names {
		b := tables[name]
		out = append(out, name...)
		out = binary.BigEndian.AppendUint32(out, tableSum(b))
		out = binary.BigEndian.AppendUint32(out, uint32(at+len(body)))
		out = binary.BigEndian.AppendUint32(out, uint32(len(b)))
		body = append(body, b...)
		body = append(body, make([]byte, -len(b)&3)...)
	}
	return append(out, body...)
}

func tableSum(b []byte) uint32 {
	sum := uint32(0)
	for i := 0; i < len(b); i += 4 {
		var word [4]byte
		copy(word[:], b[i:])
		sum += binary.BigEndian.Uint32(word[:])
	}
	return sum
}
