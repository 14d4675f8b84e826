package web

import (
	"context"
	"errors"
	"time"

	"dunlin/cases"
	"dunlin/templates"
)

// submit saves a form once and leads to another page. do changes the store
// through s.Desk, in one transaction, with the context it is given; the form's
// token is kept in that same transaction. A second submit of the same form, a
// double click or a reload, is answered with the first one's address.
func (s *server) submit(c Ctx, f *form, to string, do func(context.Context) (templates.Notice, error)) error {
	ctx := context.WithValue(c.Request().Context(), onceKey{}, pending{f.once(), to, s.Now().Add(onceFor)})
	n, err := do(ctx)
	var done *doneBefore
	if errors.As(err, &done) {
		return s.saved(c, done.where, templates.Notice{Kind: "info", Head: "Saved before.", Text: "The form was sent twice and saved once."})
	}
	if err != nil {
		return err
	}
	return s.saved(c, to, n)
}

// onceFor is how long a form's token is remembered.
const onceFor = 24 * time.Hour

type onceKey struct{}

// pending is a form's token on its way into the store.
type pending struct {
	token, to string
	expires   time.Time
}

// doneBefore is a form that was saved already.
type doneBefore struct{ where string }

func (d *doneBefore) Error() string { return "web: this form was saved before" }

// onceStore keeps the token of the form that a transaction saves.
type onceStore struct {
	cases.Store
	tally *tally
}

// Update runs f in one transaction, unless the form's token is known.
func (o onceStore) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	defer o.tally.forget()
	p, _ := ctx.Value(onceKey{}).(pending)
	if p.token == "" {
		return o.Store.Update(ctx, a, f)
	}
	return o.Store.Update(ctx, a, func(w cases.Writer) error {
		if where, ok := w.Once(p.token); ok {
			return &doneBefore{where}
		}
		if err := f(w); err != nil {
			return err
		}
		return w.PutOnce(p.token, p.to, p.expires)
	})
}

// take turns the faults of an error into problems of the form's fields. names
// leads from the last part of a fault's path to the field's name. It returns
// false for errors that are no faults.
func (f *form) take(err error, names map[string]string) bool {
	var e *cases.Error
	if !errors.As(err, &e) || e.Kind != cases.Invalid {
		return false
	}
	if len(e.Faults) == 0 {
		f.fail(names[lastPart(e.Field)], "%s", e.Text)
	}
	for _, x := range e.Faults {
		if name := names[lastPart(x.Path)]; name != "" {
			f.fail(name, "%s", sentence(x.Reason))
			continue
		}
		f.problems = append(f.problems, templates.Problem{Text: sentence(x.Reason) + " (" + x.Path + ")"})
	}
	return true
}

// lastPart is the name of the field at the end of a path: contacts[2].on -> on.
func lastPart(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '.' {
			return path[i+1:]
		}
	}
	return path
}
