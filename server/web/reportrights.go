package web

import (
	"net/url"
	"strings"

	"dunlin/cases"
	"dunlin/cases/export"
	"dunlin/cases/measures"
	"dunlin/templates"
)

// reportPages are the reports in the order of the vocabulary.
var reportPages = []struct{ path, text string }{
	{"/reports/closure", "Closure times"},
	{"/reports/qns", "QNS by site"},
	{"/reports/ages", "Open cases by age"},
	{"/reports/faults", "Data faults"},
	{"/reports/year", "Figures for the year"},
	{exportsPath, "Exports"},
}

// reportNav lists the reports that there are and that the person may open. The
// current one is told by its path.
func (s *server) reportNav(c Ctx, current string) []templates.Tab {
	var out []templates.Tab
	for _, p := range reportPages {
		if r, there := s.opens[p.path]; there && (r == anyone || can(c, r)) {
			out = append(out, templates.Tab{Href: p.path, Text: p.text, Current: p.path == current})
		}
	}
	return out
}

// figures says with which small numbers a page of figures or a file is made: with
// those of the program hidden, or, where the address asks for figures=full, with
// none. Full figures are refused to who may not see them. A page is of one kind
// throughout.
type figures struct {
	full bool
	rule measures.SmallNumbers
	link url.Values // the filter, without the kind of figures
	path string
	may  bool

	sites string // names of the test sites that a bound person sees; "" for all
}

// readFigures reads the kind of figures from the address.
func (s *server) readFigures(c Ctx) (figures, error) {
	q := c.QueryParams()
	f := figures{path: c.Path(), may: can(c, seeFullFigures), link: url.Values{}, sites: s.boundTo(c)}
	for name, v := range q {
		if name != "figures" {
			f.link[name] = v
		}
	}
	if q.Get("figures") != "full" {
		f.rule = measures.SmallNumbers{Below: s.protocol().SmallNumberBelow}
		return f, nil
	}
	if !f.may {
		return f, forbidden(seeFullFigures)
	}
	f.full = true
	return f, nil
}

// boundTo names the test sites to which a person is bound; "" for nobody bound.
func (s *server) boundTo(c Ctx) string {
	who := userOf(c)
	if !who.Bound() {
		return ""
	}
	return s.sitesOf(who.Sites)
}

// note is what the page says of its figures.
func (f figures) note() templates.Figures {
	out := templates.Figures{Full: f.full, Below: f.rule.Below, Sites: f.sites, Hide: f.address(f.path, false)}
	if f.may {
		out.Show = f.address(f.path, true)
	}
	return out
}

// address is that of a page or file with the same filter.
func (f figures) address(path string, full bool) string {
	v := url.Values{}
	for name, x := range f.link {
		v[name] = x
	}
	if full {
		v.Set("figures", "full")
	}
	if len(v) == 0 {
		return path
	}
	return path + "?" + v.Encode()
}

// words says in the audit trail what was hidden.
func (f figures) words() string {
	if f.full {
		return "Full figures"
	}
	return "Small numbers hidden"
}

// noteSeen writes in the audit trail that full figures of a report are about to be
// shown; filter says in words which. A page that hides small numbers needs no
// entry. The page must not be shown when this fails.
func (s *server) noteSeen(c Ctx, f figures, report, filter string) error {
	if !f.full {
		return nil
	}
	return s.note(c, cases.Event{Kind: "figures-seen", Text: plainLine(report + ": full figures. " + filter)})
}

// sendFigures sends a file of figures, and writes in the audit trail who got what. The
// book is made from what every file of figures says of itself.
func (s *server) sendFigures(c Ctx, f figures, name, what, format, filter string, asOf cases.Day, book func(export.Made) export.Book) error {
	if f.sites != "" {
		filter += ". Only of " + f.sites
	}
	b := book(export.Made{Program: s.Program, Filter: filter, AsOf: asOf, By: userOf(c).Name, Full: f.full, Below: f.rule.Below})
	return s.sendFile(c, name, export.Log{What: what, Format: format, Filter: plainLine(filter), Hidden: f.words()}, &b, "")
}

// fileTabs are the links to the files of a page of figures: path with the endings
// .xlsx and .zip, under the same filter.
func (f figures) fileTabs(path string) []templates.Tab {
	return []templates.Tab{{Href: f.address(path+".xlsx", f.full), Text: "Export as workbook"}, {Href: f.address(path+".zip", f.full), Text: "Export as CSV"}}
}

// note writes an audit entry that belongs to no case, in a transaction of its own. Its
// words go into the request's line of the access log too.
func (s *server) note(c Ctx, e cases.Event) error {
	sawNoted(c, e, 0)
	return s.Store.Update(c.Request().Context(), actorOf(c), func(w cases.Writer) error { return w.Note(e) })
}

// plainLine has ordinary spaces, as the audit trail keeps text.
func plainLine(text string) string {
	return strings.TrimSpace(strings.ReplaceAll(text, "\u00a0", " "))
}
