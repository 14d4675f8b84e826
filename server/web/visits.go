package web

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// visitsForm records how the family can come to a test.
var visitsForm = factForm{path: "/visits", right: cases.BookTests, name: "How the family can come", button: "Save", what: "how the family can come", saved: "Saved how the family can come",
	labels: []labelled{{"max-km", "At most this far"}, {"weekdays", "Days of the week"}, {"not-before", "Earliest start"}, {"not-after", "Latest start"}, {"note", "Note"}}, set: setVisits, read: readVisits}

func setVisits(s *server, e *factEdit, p *templates.FactPage) error {
	if _, sent := e.f.values["rev"]; !sent && e.c.Family != nil && e.c.Family.Visits != nil {
		e.fillVisits(e.c.Family.Visits)
	}
	p.Head, p.Lead = "How the family of "+shortName(&e.c.Infant)+" can come", "Places outside of this are not offered and not proposed. Leave a field empty where the family sets no limit; what is booked stays."
	e.add(p, templates.Field{ID: "max-km", Label: "At most this far", Hint: "Straight line from the family's postal code", Optional: true, Unit: "km", Width: "w5", InputMode: "numeric"})
	days := e.f.tickGroup(templates.Choice{ID: "weekdays", Legend: "Days of the week", Hint: "None selected: any day", Options: optionsOf(weekdayWords)})
	p.Parts = append(p.Parts, templates.FactPart{Ticks: &days})
	e.add(p, templates.Field{ID: "not-before", Label: "Earliest start", Hint: "24-hour clock, like 09:40", Optional: true, Width: "w5", InputMode: "numeric"},
		templates.Field{ID: "not-after", Label: "Latest start", Hint: "24-hour clock, like 14:00", Optional: true, Width: "w5", InputMode: "numeric"},
		templates.Field{ID: "note", Label: "Note", Optional: true, Width: "w20"})
	return nil
}

func (e *factEdit) fillVisits(v *cases.Visits) {
	if v.MaxKm > 0 {
		e.f.values.Set("max-km", strconv.FormatFloat(v.MaxKm, 'f', -1, 64))
	}
	for _, w := range v.Weekdays {
		e.f.values.Add("weekdays", strconv.Itoa(w))
	}
	e.f.values.Set("not-before", string(v.NotBefore))
	e.f.values.Set("not-after", string(v.NotAfter))
	e.f.values.Set("note", v.Note)
}

func readVisits(s *server, e *factEdit) saving {
	f := e.f
	v := cases.Visits{NotBefore: f.time("not-before", "Earliest start"), NotAfter: f.time("not-after", "Latest start"), Note: f.text("note", "Note", 300)}
	if km, ok := f.number("max-km", "At most this far"); ok {
		if v.MaxKm = km; km < 1 || km > 20000 {
			f.fail("max-km", "At most this far must be 1 to 20,000 km; leave it empty for no limit")
		}
	}
	for _, w := range f.values["weekdays"] {
		if n, err := strconv.Atoi(w); err == nil && n >= 0 && n <= 6 && !slices.Contains(v.Weekdays, n) {
			v.Weekdays = append(v.Weekdays, n)
		}
	}
	if slices.Sort(v.Weekdays); len(v.Weekdays) == 7 {
		v.Weekdays = nil
	}
	if v.NotBefore != "" && v.NotAfter != "" && v.NotAfter < v.NotBefore {
		f.fail("not-after", "Latest start must not be before the earliest, %s", v.NotBefore)
	}
	return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
		return s.Desk.SetVisits(ctx, who, e.c.ID, f.rev(), v)
	}
}

// visitsWords says how a family can come, "" when it set no limit.
func visitsWords(v *cases.Visits) string {
	if v == nil {
		return ""
	}
	var out []string
	if v.MaxKm > 0 {
		out = append(out, fmt.Sprintf("at most %g km", v.MaxKm))
	}
	if len(v.Weekdays) > 0 {
		var days []string
		for _, w := range weekdayWords {
			if slices.Contains(v.Weekdays, int(w.value[0]-'0')) {
				days = append(days, w.text)
			}
		}
		out = append(out, "on "+strings.Join(days, ", "))
	}
	if v.NotBefore != "" {
		out = append(out, "from "+string(v.NotBefore))
	}
	if v.NotAfter != "" {
		out = append(out, "start until "+string(v.NotAfter))
	}
	if v.Note != "" {
		out = append(out, v.Note)
	}
	return sentence(strings.Join(out, "; "))
}
