package web

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// site is a place of tests.
type site struct{ Key, Name, Address, Phone string }

// readSites reads the test sites in the store, for the names on the pages of a
// request. When that fails the last ones stay: the request itself says what is wrong.
func (s *server) readSites(c Ctx) {
	_ = s.view(c, func(r cases.Reader) error {
		list, err := booking.Sites(r)
		if err == nil {
			s.stored.Store(&list)
		}
		return err
	})
}

// storedSite finds a test site in the store.
func (s *server) storedSite(key string) (booking.Site, bool) {
	if list := s.stored.Load(); list != nil {
		for _, x := range *list {
			if x.Key == key {
				return x, true
			}
		}
	}
	return booking.Site{}, false
}

// siteOf joins what the letters' settings and the store say of a site; the store
// wins. It is false for a key that neither knows.
func (s *server) siteOf(key string) (site, bool) {
	out := site{Key: key}
	x, ok := s.LetterFacts().Sites[key]
	out.Name, out.Address, out.Phone = x.Name, x.Address, x.Phone
	k, stored := s.storedSite(key)
	if stored {
		out.Name, out.Address, out.Phone = or(k.Name, out.Name), or(k.Address, out.Address), or(k.Phone, out.Phone)
	}
	out.Name = or(out.Name, key)
	return out, ok || stored
}

// WithSites gives the program's own facts with the test sites of the store laid over
// those of the settings, so that letters name a site that only the store knows. The
// facts that are handed in stay as they are.
func WithSites(p *letters.Program, list []booking.Site) *letters.Program {
	out := *p
	out.Sites = make(map[string]letters.Site, len(p.Sites)+len(list))
	maps.Copy(out.Sites, p.Sites)
	for i := range list {
		k := &list[i]
		x := out.Sites[k.Key]
		x.Name, x.Address = or(k.Name, x.Name), or(k.Address, x.Address)
		x.Phone, x.Note = or(k.Phone, x.Phone), or(k.Note, x.Note)
		out.Sites[k.Key] = x
	}
	return &out
}

// letterFacts are the program's facts with the sites of the store as they were read for
// this request.
func (s *server) letterFacts() *letters.Program {
	list := s.stored.Load()
	if list == nil {
		return s.LetterFacts()
	}
	return WithSites(s.LetterFacts(), *list)
}

// sites are the program's places of tests in order of name. A site of the store
// that takes no new sessions is left out.
func (s *server) sites() []site {
	var list []site
	add := func(key string) {
		k, stored := s.storedSite(key)
		if x, ok := s.siteOf(key); ok && !(stored && k.Retired) {
			list = append(list, x)
		}
	}
	for key := range s.LetterFacts().Sites {
		add(key)
	}
	if stored := s.stored.Load(); stored != nil {
		for _, x := range *stored {
			if _, known := s.LetterFacts().Sites[x.Key]; !known {
				add(x.Key)
			}
		}
	}
	slices.SortFunc(list, func(a, b site) int { return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Key, b.Key)) })
	return list
}

// siteName is the name of a place of tests; an unknown key is shown as it is.
func (s *server) siteName(key string) string {
	if x, ok := s.siteOf(key); ok {
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
