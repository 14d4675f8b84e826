package schedule

import (
	"fmt"
	"regexp"
	"strings"

	"dunlin/cases"
)

// languageTag is the beginning of a BCP 47 tag: a language, then subtags (RFC 5646, 2.1).
var languageTag = regexp.MustCompile(`^[A-Za-z]{2,3}(-[A-Za-z0-9]{1,8})*$`)

// siteKey is how a site is called in bookings.
var siteKey = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

const longestText = 300 // of a name, address or reason

// Faults lists what is wrong with a site, all at once.
func (s *Site) Faults() []cases.Fault {
	var fs []cases.Fault
	bad := func(path, format string, args ...any) {
		fs = append(fs, cases.Fault{Path: path, Reason: fmt.Sprintf(format, args...)})
	}
	if !siteKey.MatchString(s.Key) || len(s.Key) > 40 {
		bad("key", "must be small letters and digits, with hyphens between, at most 40: alder-bay")
	}
	if strings.TrimSpace(s.Name) == "" {
		bad("name", "is needed: the name of the site")
	}
	for _, t := range []struct{ path, text string }{{"name", s.Name}, {"address", s.Address}, {"phone", s.Phone}, {"postal", s.Postal}, {"email", s.Email}, {"note", s.Note}} {
		if len(t.text) > longestText {
			bad(t.path, "is too long: at most %d characters", longestText)
		}
	}
	if s.Email != "" && !plainAddress(s.Email) {
		bad("email", "must be a mail address like desk@clinic.example")
	}
	s.Accepts.faults(bad)
	for i, tag := range s.Languages {
		if !languageTag.MatchString(tag) {
			bad(fmt.Sprintf("languages[%d]", i), "must be a language tag such as es or pt-BR, not %q", tag)
		}
	}
	switch {
	case s.Lat == nil && s.Lon == nil:
	case s.Lat == nil || s.Lon == nil:
		bad("lat", "a position needs both latitude and longitude")
	default:
		if why := pointFault(*s.Lat, *s.Lon); why != "" {
			bad("lat", "%s", why)
		}
	}
	seen := map[int]bool{}
	for i, w := range s.Weekdays {
		if w < 0 || w > 6 || seen[w] {
			bad(fmt.Sprintf("weekdays[%d]", i), "must be 0 (Sunday) to 6 (Saturday), each once")
		}
		seen[w] = true
	}
	for i := range s.Closed {
		k := &s.Closed[i]
		switch {
		case k.From == 0:
			bad(fmt.Sprintf("closed[%d].from", i), "is needed")
		case k.To < k.From:
			bad(fmt.Sprintf("closed[%d].to", i), "%s is before %s", k.To, k.From)
		case len(k.Reason) > longestText:
			bad(fmt.Sprintf("closed[%d].reason", i), "is too long: at most %d characters", longestText)
		}
	}
	return fs
}

func (a *Accepts) faults(bad func(path, format string, args ...any)) {
	if a.MinAgeDays < 0 || a.MinAgeDays > 3650 {
		bad("accepts.min_age_days", "must be 0 to 3650 days")
	}
	if a.MaxAgeDays < 0 || a.MaxAgeDays > 0 && a.MaxAgeDays < a.MinAgeDays {
		bad("accepts.max_age_days", "must not be below the least age")
	}
	if !(a.MinWeightG == 0 || a.MinWeightG >= 250 && a.MinWeightG <= 15000) {
		bad("accepts.min_weight_g", "must be 250 to 15000 g: enter grams")
	}
	for i, c := range a.Collectors {
		if c != "tubing" && c != "pad" {
			bad(fmt.Sprintf("accepts.collectors[%d]", i), "must be tubing or pad, not %q", c)
		}
	}
}
