package web

import (
	"context"

	"dunlin/cases"
)

// watchedStore is the store as requests use it: what is written while a person's request
// runs goes into the request's line of the access log.
type watchedStore struct{ cases.Store }

type visitCtx struct{}

// visitIn is the visit of a request's context; nil outside of one.
func visitIn(ctx context.Context) *visit {
	v, _ := ctx.Value(visitCtx{}).(*visit)
	return v
}

// View runs f on a snapshot, of which a person bound to test sites sees a part.
func (s watchedStore) View(ctx context.Context, f func(cases.Reader) error) error {
	v := visitIn(ctx)
	if v == nil || !v.who.Bound() {
		return s.Store.View(ctx, f)
	}
	return s.Store.View(ctx, func(r cases.Reader) (err error) {
		if v.open == nil {
			if v.open, err = openNow(r, v.who.ID); err != nil {
				return err
			}
		}
		return f(scoped{r, v})
	})
}

// Update runs f in one transaction and notes the cases that it wrote. A person bound to
// test sites writes a case of another site only beside one that is in sight, such as a
// sibling's.
func (s watchedStore) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	v := visitIn(ctx)
	if v == nil {
		return s.Store.Update(ctx, a, f)
	}
	var refs []string
	err := s.Store.Update(ctx, a, func(w cases.Writer) error {
		refs = refs[:0]
		own := &watchedWriter{Writer: w, v: v, refs: &refs}
		if err := f(own); err != nil {
			return err
		}
		if own.hidden != "" && !own.sight {
			return &cases.Elsewhere{Reference: own.hidden}
		}
		return nil
	})
	if err == nil {
		v.refs = append(v.refs, refs...)
	}
	return err
}

// watchedWriter notes the references of the cases that it writes, and of those whose
// letters it writes.
type watchedWriter struct {
	cases.Writer
	v      *visit
	refs   *[]string
	sight  bool   // a case in sight was written
	hidden string // a case of another site that was
}

func (w *watchedWriter) PutCase(c cases.Case, e cases.Event) (cases.Case, error) {
	if w.v.who.Bound() && c.Rev > 0 {
		before, err := w.Case(c.ID)
		if err != nil {
			return c, err
		}
		if (scoped{v: w.v}).sees(&before) {
			w.sight = true
		} else {
			w.hidden = before.Reference
		}
	}
	now, err := w.Writer.PutCase(c, e)
	if err == nil {
		*w.refs = append(*w.refs, now.Reference)
	}
	return now, err
}

func (w *watchedWriter) PutLetter(l cases.Letter) (cases.Letter, error) {
	now, err := w.Writer.PutLetter(l)
	if err == nil {
		err = w.about(now.Case)
	}
	return now, err
}

func (w *watchedWriter) PutOutgoing(o cases.Outgoing) (cases.Outgoing, error) {
	now, err := w.Writer.PutOutgoing(o)
	if err == nil {
		err = w.about(now.Case)
	}
	return now, err
}

func (w *watchedWriter) about(id cases.ID) error {
	if id == "" {
		return nil // the list of a test site
	}
	k, err := w.Case(id)
	if err == nil {
		*w.refs = append(*w.refs, k.Reference)
	}
	return err
}
