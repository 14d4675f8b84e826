package letters

import (
	"errors"
	"fmt"
	"strings"
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
	// HoursIn are the hours in words of other languages, by tag: {"es": "de lunes a
	// viernes, ..."}. Letters in a language without them leave the hours out.
	HoursIn map[string]string `json:"hours_in,omitempty"`
	// Fax, CFCenter and Counseling are for letters that can say them; all may be "".
	Fax           string `json:"fax,omitempty"`
	CFCenter      string `json:"cf_center,omitempty"`
	CFCenterPhone string `json:"cf_center_phone,omitempty"`
	Counseling    string `json:"counseling,omitempty"` // whom to call for genetic counseling, with the number
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
