package letters

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"dunlin/reminders/paper"
)

// Box is a part of a sheet, from its top left corner, in the unit of its profile.
type Box struct {
	Left   float64 `json:"left"`
	Top    float64 `json:"top"`
	Right  float64 `json:"right"`
	Bottom float64 `json:"bottom"`
}

// Profile is the geometry of sheet, fold and window. Proof it with real stock: see
// WriteTestSheet.
type Profile struct {
	Name   string  `json:"name"`
	Unit   string  `json:"unit,omitempty"` // of all numbers: "mm", or "" for inches
	Width  float64 `json:"width"`
	Height float64 `json:"height"`
	Band   Box     `json:"band"` // shows wherever the sheet slides: the address goes here
	// Upper is the top of what always shows above the band too, 0 for none: an address
	// of more lines than the band holds begins there.
	Upper float64   `json:"upper,omitempty"`
	Quiet Box       `json:"keep_out"` // may show: holds nothing but the address
	Folds []float64 `json:"folds"`    // from the top; short ticks at the left edge
}

// No10 is US Letter folded at 4.0 and 7.5 in, in a No. 10 envelope (9.5 x 4.125 in)
// with a window of 4.5 x 1.125 in, 0.875 in from the left and 0.5 or 0.625 in from the
// bottom. Nominal sizes, computed; proof them with the program's own stock.
func No10() Profile {
	return Profile{
		Name: "No. 10, folds at 4.0 and 7.5 in", Width: 8.5, Height: 11,
		Band:  Box{Left: 1.00, Top: 2.625, Right: 4.25, Bottom: 3.25},
		Quiet: Box{Left: 0, Top: 2.25, Right: 5.375, Bottom: 3.625},
		Folds: []float64{4.0, 7.5},
	}
}

// The address field of DIN 5008 form B lies 20 mm from the left and 45 mm from the top
// of an A4 sheet, 85 x 45 mm; its lower 27.3 mm hold the address, from 62.7 mm on, and
// text begins 5 mm inside it. Windows are 90 x 45 mm, 20 mm from the left (from
// memory). What shows at every position of the sheet, and what may ever show, follows
// from the play of the sheet in the envelope. Nominal sizes, computed; proof them with
// the program's own stock.
func dinB(name string, upper, right, bottom float64, quiet Box, folds ...float64) Profile {
	return Profile{
		Name: name, Unit: "mm", Width: 210, Height: 297,
		Band: Box{Left: 25, Top: 62.7, Right: right, Bottom: bottom}, Upper: upper, Quiet: quiet, Folds: folds,
	}
}

// DINLong is A4 in the form B of DIN 5008, folded at 105 and 210 mm, in a DL envelope
// (220 x 110 mm) with its window 15 mm from the bottom.
func DINLong() Profile {
	return dinB("DIN 5008 form B, DL, folds at 105 and 210 mm", 50, 100, 90, Box{Left: 0, Top: 45, Right: 110, Bottom: 95}, 105, 210)
}

// DINC6C5 is A4 in the form B of DIN 5008, folded at 105 and 210 mm, in a C6/5 envelope
// (229 x 114 mm) with its window 15 mm from the bottom.
func DINC6C5() Profile {
	return dinB("DIN 5008 form B, C6/5, folds at 105 and 210 mm", 54, 91, 90, Box{Left: 0, Top: 45, Right: 110, Bottom: 99}, 105, 210)
}

// DINC5 is A4 in the form B of DIN 5008, folded once at 148.5 mm, in a C5 envelope
// (229 x 162 mm) with its window 60 mm from the bottom.
func DINC5() Profile {
	return dinB("DIN 5008 form B, C5, fold at 148.5 mm", 57, 91, 88.5, Box{Left: 0, Top: 43.5, Right: 110, Bottom: 102}, 148.5)
}

// profiles are the geometries that a setting names.
var profiles = map[string]func() Profile{"no10": No10, "din5008-dl": DINLong, "din5008-c6-5": DINC6C5, "din5008-c5": DINC5}

// ProfileNames are the names by which a setting chooses a geometry, sorted.
func ProfileNames() []string {
	var names []string
	for n := range profiles {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// ProfileNamed is the geometry of a name.
func ProfileNamed(name string) (Profile, error) {
	made, known := profiles[name]
	if !known {
		return Profile{}, fmt.Errorf("there is no envelope profile %q; there are %s", name, strings.Join(ProfileNames(), ", "))
	}
	return made(), nil
}

// UnmarshalJSON reads the name of a geometry, or its numbers. Numbers that are left out
// stay as they were.
func (p *Profile) UnmarshalJSON(data []byte) error {
	var name string
	if json.Unmarshal(data, &name) == nil {
		made, err := ProfileNamed(name)
		if err == nil {
			*p = made
		}
		return err
	}
	type plain Profile
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	return d.Decode((*plain)(p))
}

// unit is one unit of the profile in points.
func (p *Profile) unit() float64 {
	if p.Unit == "mm" {
		return paper.MM
	}
	return paper.Inch
}

// sheet is the size of the paper in points.
func (p *Profile) sheet() paper.Size {
	return paper.Size{Width: p.Width * p.unit(), Height: p.Height * p.unit()}
}

// in is a box of the profile in points.
func (p *Profile) in(b Box) Box {
	u := p.unit()
	return Box{Left: b.Left * u, Top: b.Top * u, Right: b.Right * u, Bottom: b.Bottom * u}
}

// highest is the band with what lies above it and always shows, in points.
func (p *Profile) highest() Box {
	band := p.in(p.Band)
	if p.Upper > 0 {
		band.Top = p.Upper * p.unit()
	}
	return band
}

// AddressLines is how many lines fit the window at the smallest size.
func (p *Profile) AddressLines() int {
	band, size := p.highest(), addressSizes[len(addressSizes)-1]
	return int((band.Bottom-band.Top-size*(inkAbove+inkBelow))/(addrPitch*size)) + 1
}

// Check refuses a geometry that cannot work.
func (p *Profile) Check() error {
	inside := func(b, in Box) bool {
		return b.Left >= in.Left && b.Top >= in.Top && b.Right <= in.Right && b.Bottom <= in.Bottom && b.Left < b.Right && b.Top < b.Bottom
	}
	paperSize, quiet := p.sheet(), p.in(p.Quiet)
	fault := func(format string, a ...any) error {
		return fmt.Errorf("envelope profile %q: "+format, append([]any{p.Name}, a...)...)
	}
	least, most := paper.Size{Width: 5 * inch, Height: 8 * inch}, 20*inch
	switch {
	case p.Unit != "" && p.Unit != "mm":
		return fault("the unit %q is not known; it is mm, or left out for inches", p.Unit)
	case paperSize.Width < least.Width || paperSize.Height < least.Height || paperSize.Width > most || paperSize.Height > most:
		return fault("the sheet of %g x %g %s is no letter paper", p.Width, p.Height, p.unitWord())
	case !inside(p.Quiet, Box{0, 0, p.Width, p.Height}):
		return fault("the part that may show does not lie on the sheet")
	case !inside(p.Band, p.Quiet):
		return fault("the address does not lie in the part that may show")
	case p.Upper != 0 && (p.Upper < p.Quiet.Top || p.Upper > p.Band.Top):
		return fault("what always shows above the address does not lie in the part that may show")
	case quiet.Top < 1.5*inch || quiet.Bottom > paperSize.Height/2:
		return fault("there is no room for the head or the letter")
	case paperSize.Width-quiet.Right < 2.5*inch:
		return fault("there is no room beside the window to say whom to call")
	case p.AddressLines() < 3:
		return fault("the window holds fewer than three lines of address")
	}
	for _, f := range p.Folds {
		if f <= 0 || f >= p.Height || f > p.Quiet.Top && f < p.Quiet.Bottom {
			return fault("the fold at %g %s runs through the window or off the sheet", f, p.unitWord())
		}
	}
	return nil
}

func (p *Profile) unitWord() string {
	if p.Unit == "" {
		return "in"
	}
	return p.Unit
}
