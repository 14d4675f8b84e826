package paper

import "github.com/boombuler/barcode/code128"

// module is the width of the thinnest bar: four dots of a printer of 300 dots an inch,
// so that bars come out even.
const module = 4 * Inch / 300

// Code prints a text as bars of Code 128 (ISO/IEC 15417) from its top left corner and
// returns how wide they are. Ten modules on either side must stay white.
func (s *Sheet) Code(x, y, height float64, text string) (width float64, err error) {
	c, err := code128.Encode(text)
	if err != nil {
		return 0, err
	}
	n := c.Bounds().Dx()
	dark := func(i int) bool { r, _, _, _ := c.At(i, 0).RGBA(); return r == 0 }
	for i := 0; i < n; i++ {
		if !dark(i) {
			continue
		}
		from := i
		for i+1 < n && dark(i+1) {
			i++
		}
		s.Fill(x+float64(from)*module, y, float64(i+1-from)*module, height, 1)
	}
	return float64(n) * module, nil
}
