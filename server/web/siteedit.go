package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

// markOfAny is a record as a short mark, to see whether somebody changed it meanwhile.
func markOfAny(x any) string {
	text, err := json.Marshal(x)
	if err != nil {
		return ""
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:8])
}

// loadSite reads the site that the address names; false for a new one.
func (s *server) loadSite(c Ctx) (x booking.Site, old bool, err error) {
	if c.Param("key") == "" {
		return x, false, nil
	}
	err = s.view(c, func(r cases.Reader) (err error) {
		x, err = booking.SiteByKey(r, c.Param("key"))
		return err
	})
	return x, true, err
}

// siteForm answers GET /settings/sites/new and /settings/sites/:key.
func (s *server) siteForm(c Ctx) error {
	x, old, err := s.loadSite(c)
	if err != nil {
		return err
	}
	f := s.emptyForm(filledSite(&x)...)
	f.values["collectors"] = x.Accepts.Collectors
	for _, w := range x.Weekdays {
		f.values.Add("weekdays", strconv.Itoa(w))
	}
	if len(x.Weekdays) == 0 {
		f.values["weekdays"] = []string{"1", "2", "3", "4", "5"}
	}
	p := s.sitePage(c, &x, old, f)
	p.Was = markOfAny(&x)
	return s.render(c, http.StatusOK, p)
}

// filledSite is a site as the values of its form.
func filledSite(x *booking.Site) []string {
	closed := make([]string, len(x.Closed))
	for i := range x.Closed {
		closed[i] = closedWords(&x.Closed[i])
	}
	out := []string{"key", x.Key, "name", x.Name, "address", x.Address, "phone", x.Phone, "email", x.Email, "note", x.Note, "postal", x.Postal, "lat", degreesText(x.Lat), "lon", degreesText(x.Lon),
		"languages", strings.Join(x.Languages, ", "), "min-age", countText(x.Accepts.MinAgeDays), "max-age", countText(x.Accepts.MaxAgeDays),
		"min-weight", countText(int(math.Round(x.Accepts.MinWeightG))), "closed", strings.Join(closed, "\n")}
	if x.OpenHolidays {
		out = append(out, "holidays", "yes")
	}
	if x.Retired {
		out = append(out, "retired", "yes")
	}
	return out
}

func degreesText(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', -1, 64)
}

func countText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// tickGroup fills the ticks and the error of a group of tick boxes.
func (f *form) tickGroup(c templates.Choice) templates.Choice {
	for i := range c.Options {
		c.Options[i].Chosen = f.ticked(c.ID, c.Options[i].Value)
	}
	c.Error = f.errs[c.ID]
	return c
}

// sitePage is the form of one site, or its facts for who may not change it.
func (s *server) sitePage(c Ctx, x *booking.Site, old bool, f *form) *templates.SitePage {
	p := &templates.SitePage{Base: templates.Base{Name: "Add a test site", Current: "settings"}, Head: "Add a test site", Links: settingsTabs(c, "sites"),
		Action: "/settings/sites/new", MayEdit: can(c, keepSites), Was: f.typed("was")}
	if old {
		p.Head, p.Action, p.Sessions = shown(x.Name), siteAt(x.Key), siteAt(x.Key)+"/sessions"
		p.Name = "Test site, " + p.Head
	} else {
		p.Who = []templates.Field{f.field(templates.Field{ID: "key", Label: "Short name", Hint: "For bookings and tables, like alder-bay. It stays for good; a site of the letters’ settings keeps its own", Width: "w20", NoSpell: true})}
	}
	if !p.MayEdit {
		p.Facts = []templates.Fact{{Name: "Short name", Text: x.Key}, {Name: "Address", Text: shown(x.Address)}, {Name: "Phone", Phone: x.Phone}, {Name: "E-mail", Text: shown(x.Email)}, {Name: "For families", Text: shown(x.Note)}, {Name: "Tests", Text: acceptsWords(&x.Accepts)},
			{Name: "Interpreters", Text: or(shown(strings.Join(x.Languages, ", ")), "None named")}, {Name: "Open", Text: s.opensWords(x)}, {Name: "Postal code", Text: shown(x.Postal)}}
		return p
	}
	p.Who = append(p.Who, f.field(templates.Field{ID: "name", Label: "Name", Hint: "As families know it", Width: "w20", NoSpell: true}),
		f.field(templates.Field{ID: "address", Label: "Address", Hint: "Street and town on one line", Optional: true, NoSpell: true}),
		f.field(templates.Field{ID: "phone", Label: "Phone", Optional: true, Width: "w14", InputMode: "tel"}),
		f.field(templates.Field{ID: "email", Label: "E-mail", Hint: "Of the desk that gets word of the list of the day", Optional: true, Width: "w20", InputMode: "email", NoSpell: true}),
		f.field(templates.Field{ID: "note", Label: "For families", Hint: "Parking, entrance, desk: printed in their letters", Optional: true}),
		f.field(templates.Field{ID: "languages", Label: "Interpreters at hand", Hint: "Language tags with commas, like es, pt-BR, so", Optional: true, Width: "w20", NoSpell: true}))
	p.Takes = []templates.Field{f.field(templates.Field{ID: "min-age", Label: "Least age", Optional: true, Unit: "days", Width: "w5", InputMode: "numeric"}),
		f.field(templates.Field{ID: "max-age", Label: "Most age", Optional: true, Unit: "days", Width: "w5", InputMode: "numeric"}),
		f.field(templates.Field{ID: "min-weight", Label: "Least weight", Optional: true, Unit: "g", Width: "w5", InputMode: "numeric"})}
	p.Collectors = f.tickGroup(templates.Choice{ID: "collectors", Legend: "How sweat is collected", Hint: "None ticked: not known, and nobody is left out for it", Options: []templates.Option{{Value: "tubing", Text: "Microbore tubing"}, {Value: "pad", Text: "Gauze or filter paper"}}})
	p.Weekdays = f.tickGroup(templates.Choice{ID: "weekdays", Legend: "Days of the week", Options: optionsOf(weekdayWords)})
	p.Holidays = f.tickGroup(templates.Choice{ID: "holidays", Legend: "Holidays", Options: []templates.Option{{Value: "yes", Text: "It works on the program’s holidays too"}}})
	p.Closed = f.field(templates.Field{ID: "closed", Label: "Closed days", Hint: "One stretch a line, like 24 Dec 2026 to 31 Dec 2026: painting", Kind: "area", Rows: 4, Optional: true})
	p.Retired = f.tickGroup(templates.Choice{ID: "retired", Legend: "No longer used", Options: []templates.Option{{Value: "yes", Text: "It takes no new sessions"}}})
	p.Where = []templates.Field{f.field(templates.Field{ID: "lat", Label: "Latitude", Hint: "Degrees north, like 44.97", Optional: true, Width: "w14"}),
		f.field(templates.Field{ID: "lon", Label: "Longitude", Hint: "Degrees east, west is negative", Optional: true, Width: "w14"}),
		f.field(templates.Field{ID: "postal", Label: "Postal code", Optional: true, Width: "w14", NoSpell: true})}
	return p
}

// takenKeys are addresses of the settings, which no site can have as short name.
var takenKeys = []string{"new", "import"}

// readTestSite reads the form of one site. Its faults are told at their fields.
func (f *form) readTestSite(x booking.Site, old bool, list []booking.Site) booking.Site {
	if !old {
		x.Key = f.need("key", "Short name", "Enter the short name", 40)
		if slices.Contains(takenKeys, x.Key) || slices.ContainsFunc(list, func(o booking.Site) bool { return o.Key == x.Key }) {
			f.fail("key", "Short name %s is taken. Choose another one, or change that site", x.Key)
		}
	}
	x.Name, x.Address, x.Phone = f.need("name", "Name", "Enter the name of the site", 300), f.text("address", "Address", 300), f.text("phone", "Phone", 40)
	x.Email, x.Note = f.text("email", "E-mail", 254), f.text("note", "For families", 300)
	x.Postal, x.Lat, x.Lon = f.text("postal", "Postal code", 20), f.degrees("lat", "Latitude"), f.degrees("lon", "Longitude")
	x.Languages = strings.FieldsFunc(f.text("languages", "Interpreters at hand", 200), func(r rune) bool { return r == ',' || r == ';' || r == ' ' })
	x.Accepts = booking.Accepts{MinAgeDays: f.whole("min-age", "Least age"), MaxAgeDays: f.whole("max-age", "Most age"), MinWeightG: float64(f.whole("min-weight", "Least weight")), Collectors: f.values["collectors"]}
	x.Weekdays = nil
	for _, w := range f.values["weekdays"] {
		if n, err := strconv.Atoi(w); err == nil {
			x.Weekdays = append(x.Weekdays, n)
		}
	}
	slices.Sort(x.Weekdays)
	switch {
	case len(x.Weekdays) == 0:
		f.failAt("weekdays", "weekdays-0", "Select the days of the week on which the site works")
	case slices.Equal(x.Weekdays, []int{1, 2, 3, 4, 5}):
		x.Weekdays = nil
	}
	x.Closed, x.OpenHolidays, x.Retired = f.closed(), f.ticked("holidays", "yes"), f.ticked("retired", "yes")
	if f.ok() {
		f.siteFaults(x.Faults())
	}
	return x
}

// siteFields leads from the path of a fault of a site to its field, with its label.
var siteFields = []struct{ path, id, label string }{
	{"key", "key", "Short name"}, {"name", "name", "Name"}, {"address", "address", "Address"}, {"phone", "phone", "Phone"}, {"postal", "postal", "Postal code"}, {"email", "email", "E-mail"}, {"note", "note", "For families"},
	{"accepts.min_age_days", "min-age", "Least age"}, {"accepts.max_age_days", "max-age", "Most age"}, {"accepts.min_weight_g", "min-weight", "Least weight"}, {"accepts.collectors", "collectors", "How sweat is collected"},
	{"languages", "languages", "Interpreters at hand"}, {"lat", "lat", "Position"}, {"weekdays", "weekdays", "Days of the week"}, {"closed", "closed", "Closed days"},
}

func (f *form) siteFaults(faults []cases.Fault) {
	for _, x := range faults {
		at := siteFields[1]
		for _, k := range siteFields {
			if strings.HasPrefix(x.Path, k.path) {
				at = k
			}
		}
		id := at.id
		if id == "collectors" || id == "weekdays" {
			id += "-0"
		}
		f.failAt(at.id, id, "%s %s", at.label, dated(x.Reason))
	}
}

// degrees reads a signed number of degrees; nil when the field is empty.
func (f *form) degrees(name, label string) *float64 {
	t := strings.TrimSpace(f.typed(name))
	if t == "" {
		return nil
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(strings.ReplaceAll(t, "−", "-"), ",", "."), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		f.fail(name, "%s must be degrees as a number, like -93.26", label)
		return nil
	}
	return &v
}

// whole reads a whole number that is not negative; 0 when the field is empty.
func (f *form) whole(name, label string) int {
	v, ok := f.number(name, label)
	if ok && (v != math.Trunc(v) || v > 1e6) {
		f.fail(name, "%s must be a whole number", label)
	}
	return int(v)
}

// closed reads stretches of closed days, one a line.
func (f *form) closed() []booking.Closed {
	var out []booking.Closed
	n := 0
	for line := range strings.SplitSeq(f.lines("closed", "Closed days", 20000), "\n") {
		n++
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		days, reason, _ := strings.Cut(line, ":")
		first, last, two := strings.Cut(days, " to ")
		if !two {
			last = first
		}
		k := booking.Closed{Reason: strings.TrimSpace(reason)}
		for _, d := range []struct {
			text string
			day  *cases.Day
		}{{first, &k.From}, {last, &k.To}} {
			var problem string
			if *d.day, problem = parseDay(strings.TrimSpace(d.text), f.today); problem != "" {
				f.fail("closed", "Closed days, line %d: %s", n, strings.ReplaceAll(problem, "%", "the day"))
			}
		}
		if k.To < k.From {
			f.fail("closed", "Closed days, line %d: the last day must be on or after the first", n)
		}
		out = append(out, k)
	}
	return out
}

// saveSite answers POST /settings/sites/new and /settings/sites/:key.
func (s *server) saveSite(c Ctx) error {
	x, old, err := s.loadSite(c)
	if err != nil {
		return err
	}
	f := s.readForm(c)
	var list []booking.Site
	if stored := s.stored.Load(); stored != nil {
		list = *stored
	}
	now := f.readTestSite(x, old, list)
	p := s.sitePage(c, &x, old, f)
	if !f.ok() {
		return s.invalid(c, p, f.problems)
	}
	err = s.submit(c, f, "/settings/sites", func(ctx context.Context) (templates.Notice, error) {
		n := templates.Notice{Head: "Test site saved:", Text: now.Name + "."}
		return n, s.putSite(ctx, actorOf(c), now, old, f.typed("was"))
	})
	return s.refuse(c, f, p, err, sent{"the test site", nil, nil})
}

// putSite writes a site unless somebody changed it since the form was opened.
func (s *server) putSite(ctx context.Context, who cases.Actor, x booking.Site, old bool, was string) error {
	if err := who.Need(cases.KeepSites); err != nil {
		return err
	}
	return onceStore{s.Store, &s.tally}.Update(ctx, who, func(w cases.Writer) error {
		have, err := booking.SiteByKey(w, x.Key)
		var e *cases.Error
		missing := errors.As(err, &e) && e.Kind == cases.NotFound
		if err != nil && !missing {
			return err
		}
		if missing == old || old && markOfAny(&have) != was {
			return cases.Errorf(cases.Refused, "Somebody changed this test site since you opened the page. What you typed is kept below; open the site again to see what it says now.")
		}
		if err := booking.PutSite(w, x); err != nil {
			return err
		}
		return s.holdClosed(w, x.Key)
	})
}
