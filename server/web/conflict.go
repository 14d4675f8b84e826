package web

import (
	"errors"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// labelled is a field of a form with its label, to show what was typed.
type labelled struct{ name, label string }

// conflict answers an edit conflict with what was typed, what the record says
// now and who changed it. Other errors are given back. what names the form:
// "the contact"; action is where the form goes; use is where the new version is
// seen.
func (s *server) conflict(c Ctx, err error, f *form, what, action, use string, labels []labelled) error {
	var ch *cases.Changed
	if !errors.As(err, &ch) {
		return err
	}
	p := &templates.ConflictPage{Base: templates.Base{Name: "Somebody changed this case first", Current: "infants", Rev: uint64(ch.Have)},
		Reference: ch.Now.Reference, What: what, By: "Somebody", Action: action, Use: use}
	p.Banner = s.banner(c, &ch.Now)
	if n := len(ch.By); n > 0 {
		e := ch.By[n-1]
		day := date(cases.DayOf(e.At.In(s.Now().Location())))
		p.By = e.Actor.Name + ", " + strings.ToLower(or(roleWords[e.Actor.Role], string(e.Actor.Role))) + ", on " + day.String() + " at " + s.clock(e.At) + ","
	}
	for _, e := range ch.By {
		p.Changes = append(p.Changes, s.historyRows(e)...)
	}
	for _, l := range labels {
		if v := strings.Join(f.values[l.name], ", "); v != "" {
			p.Typed = append(p.Typed, templates.Fact{Name: l.label, Text: v})
		}
	}
	_, all := typedIn(f.values)
	p.Fields = slices.DeleteFunc(all, func(h templates.Hidden) bool { return h.Name == "once" || h.Name == "rev" })
	return s.render(c, http.StatusConflict, p)
}

// typedIn gives what a form holds: to be read, by the names of the fields, and
// to be sent again. The session's token is left out, and what proves who somebody is.
func typedIn(values url.Values) (typed []templates.Fact, fields []templates.Hidden) {
	names := slices.Sorted(maps.Keys(values))
	for _, name := range names {
		if name == "csrf" || slices.Contains(secretFields, name) {
			continue
		}
		for _, v := range values[name] {
			if name != "once" && name != "rev" && v != "" {
				typed = append(typed, templates.Fact{Name: sentence(strings.NewReplacer("_", " ", "-", " ").Replace(name)), Text: v})
			}
			fields = append(fields, templates.Hidden{Name: name, Value: v})
		}
	}
	return typed, fields
}
