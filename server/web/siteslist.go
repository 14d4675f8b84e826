package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// weeksAhead is how far the sessions of a site are shown.
const weeksAhead = 8

// sitesPage answers GET /settings/sites.
func (s *server) sitesPage(c Ctx) error {
	p := &templates.SitesPage{Base: templates.Base{Name: "Test sites", Current: "settings"}, Links: settingsTabs(c, "sites"), MayEdit: can(c, keepSites),
		Lead: "Where sweat tests are done: whom each site tests, when it is open, and its sessions."}
	err := s.view(c, func(r cases.Reader) error {
		list, err := booking.Sites(r)
		if err != nil {
			return err
		}
		for i := range list {
			row := s.siteRow(&list[i])
			if row.Next, err = s.nextSession(r, list[i].Key); err != nil {
				return err
			}
			p.Rows = append(p.Rows, row)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) siteRow(x *booking.Site) templates.SiteRow {
	row := templates.SiteRow{Href: siteAt(x.Key), Sessions: siteAt(x.Key) + "/sessions", Name: shown(x.Name), Key: x.Key, Address: or(shown(x.Address), "Not known"), Phone: x.Phone,
		Accepts: acceptsWords(&x.Accepts), Opens: s.opensWords(x), Languages: languagesWords(x.Languages)}
	if x.Retired {
		row.State = templates.Tag{Kind: "done", Text: "Takes no new sessions"}
	}
	return row
}

func siteAt(key string) string { return "/settings/sites/" + key }

// nextSession says when a site tests next, within the weeks ahead.
func (s *server) nextSession(r cases.Reader, key string) (string, error) {
	list, err := booking.Sessions(r, key, s.today(), s.today()+7*weeksAhead)
	if err != nil {
		return "", err
	}
	n, next := 0, ""
	for i := range list {
		if !list[i].Cancelled {
			if n++; next == "" {
				next = "Next " + date(list[i].On).Weekday() + ", " + string(list[i].Start)
			}
		}
	}
	if n == 0 {
		return "None in the next 8 weeks", nil
	}
	return fmt.Sprintf("%s; %d in 8 weeks", next, n), nil
}

// acceptsWords says whom a site tests.
func acceptsWords(a *booking.Accepts) string {
	var out []string
	switch {
	case a.MinAgeDays > 0 && a.MaxAgeDays > 0:
		out = append(out, fmt.Sprintf("%d to %d days old", a.MinAgeDays, a.MaxAgeDays))
	case a.MinAgeDays > 0:
		out = append(out, "from "+templates.Days(a.MinAgeDays)+" of age")
	case a.MaxAgeDays > 0:
		out = append(out, "up to "+templates.Days(a.MaxAgeDays)+" of age")
	}
	if a.MinWeightG > 0 {
		out = append(out, "from "+templates.Kg(int(a.MinWeightG)))
	}
	if len(a.Collectors) > 0 {
		out = append(out, "with "+strings.Join(words(collectorWords, a.Collectors), " or "))
	}
	return sentence(or(strings.Join(out, ", "), "as the protocol asks"))
}

var collectorWords = []word{{"tubing", "microbore tubing"}, {"pad", "gauze or filter paper"}}

// words are the words of some values.
func words(list []word, values []string) []string {
	out := make([]string, len(values))
	for i, v := range values {
		out[i] = v
		for _, w := range list {
			if w.value == v {
				out[i] = w.text
			}
		}
	}
	return out
}

func languagesWords(tags []string) string {
	if len(tags) == 0 {
		return "No interpreter named"
	}
	return "Interpreters: " + shown(strings.Join(tags, ", "))
}

var weekdayWords = []word{{"1", "Monday"}, {"2", "Tuesday"}, {"3", "Wednesday"}, {"4", "Thursday"}, {"5", "Friday"}, {"6", "Saturday"}, {"0", "Sunday"}}

// opensWords says on which days a site works, with the closed days that still come.
func (s *server) opensWords(x *booking.Site) string {
	out := "Monday to Friday"
	if len(x.Weekdays) > 0 {
		var days []string
		for _, w := range weekdayWords {
			if slices.Contains(x.Weekdays, int(w.value[0]-'0')) {
				days = append(days, w.text[:3])
			}
		}
		out = strings.Join(days, ", ")
	}
	if x.OpenHolidays {
		out += ", holidays too"
	}
	n, next := 0, ""
	for i := range x.Closed {
		if k := &x.Closed[i]; k.To >= s.today() {
			if n++; next == "" {
				next = closedWords(k)
			}
		}
	}
	switch {
	case n == 1:
		out += "; closed " + next
	case n > 1:
		out += fmt.Sprintf("; closed %s and %d more", next, n-1)
	}
	return out
}

// closedWords writes a stretch of closed days as it is typed: 24 Dec 2026 to 31 Dec
// 2026: painting.
func closedWords(k *booking.Closed) string {
	out := date(k.From).String()
	if k.To > k.From {
		out += " to " + date(k.To).String()
	}
	if k.Reason != "" {
		out += ": " + shown(k.Reason)
	}
	return out
}

// sitesCSV answers GET /settings/sites.csv.
func (s *server) sitesCSV(c Ctx) error {
	var list []booking.Site
	err := s.view(c, func(r cases.Reader) (err error) {
		list, err = booking.Sites(r)
		return err
	})
	if err != nil {
		return err
	}
	return csvFile(c, "test-sites.csv", booking.SitesCSV(list))
}

// csvFile answers with a table to be saved.
func csvFile(c Ctx, name string, table []byte) error {
	c.Response().Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	return c.Blob(http.StatusOK, "text/csv; charset=utf-8", table)
}
