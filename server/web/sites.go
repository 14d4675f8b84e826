package web

import (
	"cmp"
	"slices"
	"strings"

	"dunlin/templates"
)

// site is a place of tests.
type site struct{ Key, Name string }

// sites are the program's places of tests in order of name.
func (s *server) sites() []site {
	list := make([]site, 0, len(s.LetterFacts().Sites))
	for key, x := range s.LetterFacts().Sites {
		list = append(list, site{key, or(x.Name, key)})
	}
	slices.SortFunc(list, func(a, b site) int { return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Key, b.Key)) })
	return list
}

// siteName is the name of a place of tests; an unknown key is shown as it is.
func (s *server) siteName(key string) string {
	if x, ok := s.LetterFacts().Sites[key]; ok && x.Name != "" {
		return x.Name
	}
	return or(key, "Site not known")
}

// siteKeys are the keys that may be chosen. A key already on file may stay.
func siteKeys(list []site, also string) []string {
	keys := make([]string, 0, len(list)+1)
	for _, x := range list {
		keys = append(keys, x.Key)
	}
	if also != "" && !slices.Contains(keys, also) {
		keys = append(keys, also)
	}
	return keys
}

// siteChoice is the select of places. A key already on file is offered too.
func (s *server) siteChoice(legend, also string) templates.Choice {
	list := s.sites()
	c := templates.Choice{ID: "site", Legend: legend}
	if len(list) != 1 {
		c.Options = append(c.Options, templates.Option{Text: "Choose a site"})
	}
	for _, key := range siteKeys(list, also) {
		c.Options = append(c.Options, templates.Option{Value: key, Text: s.siteName(key)})
	}
	return c
}
