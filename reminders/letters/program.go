package letters

import (
	"errors"
	"fmt"
	"strings"

	"dunlin/reminders/paper"
)

// Program is what letters need to know about the follow-up program and its sites.
type Program struct {
	Name   string   `json:"name"`
	Return []string `json:"return"` // return address, one line each, printed at the head
	// Contact, Phone and Hours tell the family whom to call and when, in words:
	// "Monday to Friday, from 8 in the morning to 4 in the afternoon".
	Contact   string `json:"contact"`
	Phone     string `json:"phone"`
	Hours     string `json:"hours"`
	Emergency string `json:"emergency"` // emergency number of the region
	// SurnameInWindow prints the guardian's surname in the window of the envelope.
	SurnameInWindow bool            `json:"surname_in_window"`
	Envelope        Profile         `json:"envelope"`
	Sites           map[string]Site `json:"sites,omitempty"` // by the key used in bookings
}

// Site is a place of tests as a family needs to know it.
type Site struct {
	Name    string `json:"name"`
	Address string `json:"address,omitempty"` // street and town in one line
	Phone   string `json:"phone,omitempty"`
	Note    string `json:"note,omitempty"` // parking, entrance, desk
}

// Check tells what is missing before any letter can be made; all at once.
func (p *Program) Check() error {
	var faults []error
	for _, f := range []struct{ what, value string }{
		{"the program's name", p.Name}, {"the person whom families call", p.Contact},
		{"the phone number that families call", p.Phone}, {"the hours in which it is answered", p.Hours},
		{"the emergency number", p.Emergency},
	} {
		if strings.TrimSpace(f.value) == "" {
			faults = append(faults, fmt.Errorf("%s is not set", f.what))
		}
	}
	if len(p.Return) > 4 {
		faults = append(faults, errors.New("the return address has more than four lines"))
	}
	return errors.Join(append(faults, p.Envelope.Check())...)
}

// Box is a part of a sheet in inches from its top left corner.
type Box struct {
	Left   float64 `json:"left"`
	Top    float64 `json:"top"`
	Right  float64 `json:"right"`
	Bottom float64 `json:"bottom"`
}

// Profile is the geometry of sheet, fold and window, in inches. Proof it with real
// stock: see WriteTestSheet.
type Profile struct {
	Name   string    `json:"name"`
	Width  float64   `json:"width"`
	Height float64   `json:"height"`
	Band   Box       `json:"band"`     // shows wherever the sheet slides: the address goes here
	Quiet  Box       `json:"keep_out"` // may show: holds nothing but the address
	Folds  []float64 `json:"folds"`    // from the top; short ticks at the left edge
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

// sheet is the size of the paper in points.
func (p *Profile) sheet() paper.Size {
	return paper.Size{Width: p.Width * paper.Inch, Height: p.Height * paper.Inch}
}

// Check refuses a geometry that cannot work.
func (p *Profile) Check() error {
	inside := func(b, in Box) bool {
		return b.Left >= in.Left && b.Top >= in.Top && b.Right <= in.Right && b.Bottom <= in.Bottom && b.Left < b.Right && b.Top < b.Bottom
	}
	sheet := Box{0, 0, p.Width, p.Height}
	switch {
	case p.Width < 5 || p.Height < 8 || p.Width > 20 || p.Height > 20:
		return fmt.Errorf("envelope profile %q: the sheet of %g x %g in is no letter paper", p.Name, p.Width, p.Height)
	case !inside(p.Quiet, sheet):
		return fmt.Errorf("envelope profile %q: the part that may show does not lie on the sheet", p.Name)
	case !inside(p.Band, p.Quiet):
		return fmt.Errorf("envelope profile %q: the address does not lie in the part that may show", p.Name)
	case p.Quiet.Top < 1.5 || p.Quiet.Bottom > p.Height/2:
		return fmt.Errorf("envelope profile %q: there is no room for the head or the letter", p.Name)
	}
	for _, f := range p.Folds {
		if f <= 0 || f >= p.Height || f > p.Quiet.Top && f < p.Quiet.Bottom {
			return fmt.Errorf("envelope profile %q: the fold at %g in runs through the window or off the sheet", p.Name, f)
		}
	}
	return nil
}
