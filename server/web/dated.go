package web

import (
	"regexp"
	"strings"

	"dunlin/cases"
)

var isoDay = regexp.MustCompile(`\b\d{4}-\d\d-\d\d\b`)

// dated writes the days in a sentence of intake as the pages do (5 Mar 2026). What
// stands in quotes was sent so, and stays.
func dated(s string) string {
	parts := strings.Split(s, `"`)
	for i := range parts {
		if i%2 == 1 && i < len(parts)-1 {
			continue
		}
		parts[i] = isoDay.ReplaceAllStringFunc(parts[i], func(t string) string {
			d, err := cases.ParseDay(t)
			if err != nil {
				return t
			}
			return cases.Say(d)
		})
	}
	return strings.Join(parts, `"`)
}
