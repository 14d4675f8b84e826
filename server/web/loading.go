package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// opened is a case as a form page needs it: with what it implies today and the
// cases of its siblings.
type opened struct {
	c        cases.Case
	a        cases.Assessment
	siblings []cases.Case
	today    cases.Day
}

// load opens the case that the address names.
func (s *server) load(c Ctx) (opened, error) {
	o := opened{today: s.today()}
	err := s.view(c, func(r cases.Reader) error {
		var err error
		if o.c, err = r.ByReference(c.Param("ref")); err != nil {
			return err
		}
		for _, ref := range o.c.Siblings {
			k, err := r.ByReference(ref)
			if cases.KindOf(err) == cases.NotFound && err != nil {
				continue
			}
			if err != nil {
				return err
			}
			o.siblings = append(o.siblings, k)
		}
		return nil
	})
	if err != nil {
		return o, err
	}
	if into := o.c.MergedInto(); into != "" {
		return o, &movedTo{from: o.c.Reference, into: into}
	}
	o.a = s.protocol().Assess(&o.c, o.today)
	return o, nil
}

// movedTo says that a case was merged into another, where everything of it is.
type movedTo struct{ from, into string }

func (m *movedTo) Error() string { return "web: a case that was merged" }

// loadBooking opens the case that the address names, with the index of the booking that
// it names too; -1 when it names none.
func (s *server) loadBooking(c Ctx, named bool) (opened, int, error) {
	o, err := s.load(c)
	if err != nil || !named {
		return o, -1, err
	}
	i, err := index(c, len(o.c.Bookings))
	return o, i, err
}

// base is the common part of a form page about one infant.
func (s *server) base(c Ctx, o *opened, name, current string) templates.Base {
	b := s.page(c, &o.c, name)
	b.Current = current
	return b
}

// index is the number in the address, of a list of n.
func index(c Ctx, n int) (int, error) {
	i, err := strconv.Atoi(c.Param("n"))
	if err != nil || i < 0 || i >= n {
		return 0, cases.Errorf(cases.NotFound, "There is no such record.")
	}
	return i, nil
}

// emptyForm is a form that nobody has sent yet, with some values filled in.
func (s *server) emptyForm(filled ...string) *form {
	v := url.Values{}
	for i := 0; i+1 < len(filled); i += 2 {
		v.Set(filled[i], filled[i+1])
	}
	return &form{values: v, today: s.today(), errs: map[string]string{}}
}

// sessionAddress is the address of a page of a clinic session.
var sessionAddress = regexp.MustCompile(`^/sessions/[a-z0-9-]{1,60}/[0-9]{4}-[0-9]{2}-[0-9]{2}/[a-z0-9-]{1,90}$`)

// cameFrom is the page on which a form was opened, "" for the infant's.
func cameFrom(c Ctx) string {
	switch from := c.QueryParam("from"); {
	case from == "schedule":
		return "/schedule"
	case sessionAddress.MatchString(from):
		return from
	}
	return ""
}

// fromQuery hands on where a form was opened.
func fromQuery(c Ctx) string {
	switch from := cameFrom(c); from {
	case "":
		return ""
	case "/schedule":
		return "?from=schedule"
	default:
		return "?from=" + from // holds nothing that would have to be escaped
	}
}

// back is where a form about one infant leads afterwards: the schedule or the clinic
// session when it was opened there, else the infant.
func back(c Ctx, ref string) string { return or(cameFrom(c), "/infants/"+ref) }

// action is the address a form posts to: the page's own, with where it came from.
func action(c Ctx) string { return c.Request().URL.Path + fromQuery(c) }

// sent says what a form is about, for the answers to what the desk refused.
type sent struct {
	what   string     // "the booking"
	labels []labelled // fields with their labels
	fields func(path string) string
}

// refuse answers what the desk would not record: an edit conflict with both
// versions, a fault at its field, a refusal in words. Nothing typed is lost.
// Other errors are given back.
func (s *server) refuse(c Ctx, f *form, p templates.Page, err error, m sent) error {
	var ch *cases.Changed
	var e *cases.Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &ch):
		return s.conflict(c, err, f, m.what, action(c), "/infants/"+ch.Now.Reference, m.labels)
	case errors.As(err, &e) && e.Kind == cases.Invalid:
		var problems []templates.Problem
		for _, x := range e.Faults {
			id := ""
			if m.fields != nil {
				id = m.fields(x.Path)
			}
			problems = append(problems, templates.Problem{Field: id, Text: sentence(x.Reason)})
		}
		if len(problems) == 0 {
			problems = []templates.Problem{{Text: e.Text}}
		}
		return s.invalid(c, p, problems)
	case errors.As(err, &e) && e.Kind == cases.Refused:
		p.Common().Problems = []templates.Problem{{Text: e.Text}}
		return s.render(c, http.StatusConflict, p)
	}
	return err
}

// goOn reads the ticks of warnings and the one reason for going on. Unticked
// warnings and a missing reason are problems of the form.
func (f *form) goOn(list []templates.Warning, label string) (g templates.GoOn, reason string) {
	for i := range list {
		w := &list[i]
		if w.Ticked = f.ticked("confirm", w.ID); !w.Ticked {
			w.Error = strings.TrimSuffix(w.Text, ".") + ". Change it, or tick that you go on"
			f.failAt("confirm-"+w.ID, "confirm-"+w.ID, "%s", w.Error)
		}
	}
	if len(list) > 0 {
		reason = f.need("go-on-why", label, "Enter why you go on", 300)
	}
	return f.goOnPart(list, label), reason
}

// goOnPart is the part of the page with the warnings as they stand.
func (f *form) goOnPart(list []templates.Warning, label string) templates.GoOn {
	return templates.GoOn{Warnings: list, Reason: f.field(templates.Field{ID: "go-on-why", Label: label, Width: "w20"})}
}

// warningIDs lists the warnings that were accepted, for the audit trail.
func warningIDs(list []templates.Warning) string {
	ids := make([]string, len(list))
	for i, w := range list {
		ids[i] = strings.ReplaceAll(w.ID, "-", " ")
	}
	slices.Sort(ids)
	return strings.Join(ids, ", ")
}

// afterOnce takes the form's token off a context whose first transaction is
// done, so that a second one runs too.
func afterOnce(ctx context.Context) context.Context {
	return context.WithValue(ctx, onceKey{}, pending{})
}

// sortHidden puts hidden values in order of name, so that a page is always the
// same.
func sortHidden(list []templates.Hidden) {
	slices.SortStableFunc(list, func(a, b templates.Hidden) int { return strings.Compare(a.Name, b.Name) })
}
