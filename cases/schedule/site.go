package schedule

import "dunlin/cases"

// Site is one place where sweat tests are done.
type Site struct {
	Key       string   `json:"key"` // short name in bookings: alder-bay
	Name      string   `json:"name"`
	Address   string   `json:"address,omitempty"`
	Phone     string   `json:"phone,omitempty"`
	Email     string   `json:"email,omitempty"` // for the list of the day
	Note      string   `json:"note,omitempty"`  // for families: parking, entrance, desk
	Accepts   Accepts  `json:"accepts"`
	Languages []string `json:"languages,omitempty"` // BCP 47 tags of interpreters at hand
	Postal    string   `json:"postal,omitempty"`
	Lat       *float64 `json:"lat,omitempty"` // degrees north; nil is not known
	Lon       *float64 `json:"lon,omitempty"` // degrees east
	// Closed are days without tests beside weekends and the program's holidays.
	Closed []Closed `json:"closed,omitempty"`
	// OpenHolidays tells that the site works on the program's holidays.
	OpenHolidays bool `json:"open_holidays,omitempty"`
	// Weekdays are the days of the week it works on, 0 Sunday to 6 Saturday; empty is
	// Monday to Friday.
	Weekdays []int `json:"weekdays,omitempty"`
	Retired  bool  `json:"retired,omitempty"` // no new sessions
}

// Accepts is whom a site tests, where that is narrower than the protocol; zero values
// ask for nothing beyond it.
type Accepts struct {
	MinAgeDays int      `json:"min_age_days,omitempty"`
	MaxAgeDays int      `json:"max_age_days,omitempty"`
	MinWeightG float64  `json:"min_weight_g,omitempty"`
	Collectors []string `json:"collectors,omitempty"` // tubing, pad
}

// Closed is a stretch of days on which a site does not work.
type Closed struct {
	From   cases.Day `json:"from"`
	To     cases.Day `json:"to"` // the last day; equal to From for one day
	Reason string    `json:"reason,omitempty"`
}

// Session is a stretch of places at a site on one day. The two arms of an infant are
// tested one after the other, so a place has a length, and the places of a session
// follow each other.
type Session struct {
	ID         string      `json:"id"` // unique in the program: site and start
	Site       string      `json:"site"`
	On         cases.Day   `json:"on"`
	Start      cases.Clock `json:"start"`
	Places     int         `json:"places"`
	Minutes    int         `json:"minutes"`               // of one place
	ForRepeats int         `json:"for_repeats,omitempty"` // of the places, kept for repeats
	Note       string      `json:"note,omitempty"`
	Cancelled  bool        `json:"cancelled,omitempty"` // by the site; its bookings have to be moved by hand
}
