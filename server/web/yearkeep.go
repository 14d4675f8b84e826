package web

import (
	"context"
	"fmt"
	"strconv"

	"dunlin/cases"
	annual "dunlin/reminders/figures"
	"dunlin/templates"
)

// yearKeep is the form that keeps the figures of a year.
func (s *server) yearKeep(v *yearView) *templates.YearKeep {
	k := &templates.YearKeep{Year: v.year, Full: v.of.full, Button: fmt.Sprintf("Keep the figures of %d", v.year),
		Lead: fmt.Sprintf("Keeps the figures of infants born in %d as they are today, with their definitions and the protocol’s values, so that what was reported can be shown again. Nothing kept before is changed.", v.year),
		Why:  templates.Field{ID: "why", Label: "Why they are kept", Optional: v.kept == nil, Width: "w20", Hint: "Such as: for the report to the state"}}
	if this, _, _ := s.today().Date(); v.year == this {
		k.Lead += " The year is not over: infants born in it will still come."
	}
	if v.kept != nil {
		k.Button = fmt.Sprintf("Keep the figures of %d again", v.year)
	}
	return k
}

// keepYear answers POST /reports/year/keep.
func (s *server) keepYear(c Ctx) error {
	f := s.readForm(c)
	year, problem := s.yearOf(f.typed("year"))
	if problem != "" {
		f.fail("year", "%s", problem)
	}
	why := f.text("why", "Why they are kept", 300)
	to := "/reports/year?year=" + strconv.Itoa(year)
	if f.typed("figures") == "full" {
		to += "&figures=full"
	}
	var err error
	if f.ok() {
		err = s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) { return s.keepFigures(ctx, actorOf(c), year, why) })
		if !f.take(err, map[string]string{"why": "why"}) {
			return err
		}
	}
	q := c.Request().URL.Query()
	q.Set("year", strconv.Itoa(year))
	c.Request().URL.RawQuery = q.Encode()
	v, err := s.readYear(c)
	if err != nil {
		return err
	}
	v.of.path = "/reports/year"
	p := s.yearPage(c, &v)
	p.Keep.Why = f.field(p.Keep.Why)
	return s.invalid(c, p, f.problems)
}

// keepFigures counts and keeps the figures in one transaction, so that what is kept is
// what stood in the store.
func (s *server) keepFigures(ctx context.Context, who cases.Actor, year int, why string) (n templates.Notice, err error) {
	about := s.aboutYear("")
	err = onceStore{s.Store, &s.tally}.Update(ctx, who, func(w cases.Writer) error {
		y, err := annual.Count(w, year, about.Protocol)
		if err != nil {
			return err
		}
		k, err := annual.Keep(w, who, y, about, why)
		n = templates.Notice{Head: "Figures kept.", Text: fmt.Sprintf("Infants born in %d, records of %s, number %d.", k.Year, shortDay(k.AsOf), k.N)}
		return err
	})
	return n, err
}
