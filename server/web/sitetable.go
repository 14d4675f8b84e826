package web

import (
	"bytes"
	"context"
	"fmt"
	"net/http"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

var tableKinds = []word{{"sites", "Test sites"}, {"sessions", "Sessions of test sites"}}

// siteTableForm answers GET /settings/sites/import.
func (s *server) siteTableForm(c Ctx) error {
	return s.render(c, http.StatusOK, siteTablePage(c, s.emptyForm("kind", "sites")))
}

func siteTablePage(c Ctx, f *form) *templates.SiteTablePage {
	return &templates.SiteTablePage{Base: templates.Base{Name: "Import a table", Current: "settings"}, Links: settingsTabs(c, "sites"),
		Kind:   f.group(templates.Choice{ID: "kind", Legend: "What the table holds", Options: optionsOf(tableKinds)}),
		Upload: templates.Field{ID: "file", Label: "File", Kind: "file", Accept: ".csv,.txt", Hint: "CSV with headings, 5 MB at most; columns parted by commas, semicolons or tabs", Error: f.errs["file"]},
		Columns: []templates.Fact{
			{Name: "Test sites", Text: "key and name are needed; address, phone, postal, lat, lon, languages, collectors, min_age_days, max_age_days, min_weight_g, weekdays, open_holidays, closed, retired, email and note may follow", Note: "A site with the same key is replaced. Several values in a cell are parted by ;"},
			{Name: "Sessions", Text: "site, on, start, places and minutes are needed; id, for_repeats, note and cancelled may follow", Note: "A session with the same id is changed. Nobody booked loses a place: such a file is refused"}}}
}

// takeSiteTable answers POST /settings/sites/import: all rows, or none.
func (s *server) takeSiteTable(c Ctx) error {
	f := s.readForm(c)
	kind := f.choice("kind", "Select what the table holds", valuesOf(tableKinds)...)
	raw, name := f.file(c, "file", uploadMost)
	p := siteTablePage(c, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	var faults []cases.Fault
	err := s.submit(c, f, "/settings/sites", func(ctx context.Context) (n templates.Notice, err error) {
		who := actorOf(c)
		if err = who.Need(cases.KeepSites); err != nil {
			return n, err
		}
		var count int
		err = onceStore{s.Store, &s.tally}.Update(ctx, who, func(w cases.Writer) error {
			if kind == "sites" {
				count, faults, err = s.putSiteTable(w, raw)
			} else {
				count, faults, err = s.putSessionTable(w, raw)
			}
			if err == nil && len(faults) > 0 {
				err = cases.Errorf(cases.Invalid, "Nothing was taken in. Correct the rows that are named and import the file again.")
			}
			return err
		})
		what := templates.Count(count, "test site", "test sites")
		if kind != "sites" {
			what = templates.Count(count, "session", "sessions")
		}
		return templates.Notice{Head: "Table taken in:", Text: fmt.Sprintf("%s, %s.", name, what)}, err
	})
	for _, x := range faults {
		p.Faults = append(p.Faults, templates.IntakeProblem{Where: x.Path, Text: dated(shown(x.Reason))})
	}
	return s.refuse(c, f, p, err, sent{"the table", nil, nil})
}

func (s *server) putSiteTable(w cases.Writer, raw []byte) (int, []cases.Fault, error) {
	list, faults := booking.ReadSites(bytes.NewReader(raw))
	for _, k := range takenKeys {
		for i := range list {
			if list[i].Key == k {
				faults = append(faults, cases.Fault{Path: "key", Reason: k + " cannot be the short name of a site"})
			}
		}
	}
	if len(faults) > 0 {
		return 0, faults, nil
	}
	if err := booking.PutSites(w, list...); err != nil {
		return 0, nil, err
	}
	for i := range list {
		if err := s.holdClosed(w, list[i].Key); err != nil {
			return 0, nil, err
		}
	}
	return len(list), nil, nil
}

func (s *server) putSessionTable(w cases.Writer, raw []byte) (int, []cases.Fault, error) {
	sites, err := booking.Sites(w)
	if err != nil {
		return 0, nil, err
	}
	in := booking.Reading{Sites: sites, Today: w.Today(), Calendar: s.protocol().Calendar(), Zone: w.Now().Location()}
	for i := range sites {
		list, err := booking.Sessions(w, sites[i].Key, w.Today(), w.Today()+booking.MostAhead)
		if err != nil {
			return 0, nil, err
		}
		in.Existing = append(in.Existing, list...)
	}
	list, faults := booking.ReadSessions(bytes.NewReader(raw), in)
	if len(faults) > 0 {
		return 0, faults, nil
	}
	return len(list), nil, booking.PutSessions(w, s.protocol(), list...)
}
