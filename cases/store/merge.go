package store

import (
	"dunlin/cases"
)

// MoveTo gives letters, messages and items of a case to another. A letter or message
// of which the other has one of the same kind and occasion gets an occasion that names
// the case it came from. An item is no longer undone by its revisions, which are of the
// case it was added to.
func (w *writer) MoveTo(from, to cases.ID) ([]cases.Moved, error) {
	old, err := w.Case(from)
	if err != nil {
		return nil, err
	}
	other, err := w.Case(to)
	if err != nil {
		return nil, err
	}
	var out []cases.Moved
	letters, err := w.LettersOf(from)
	if err != nil {
		return nil, err
	}
	for _, l := range letters {
		m := cases.Moved{What: "letter", ID: l.ID, Kind: l.Kind, Occasion: l.Occasion}
		l.Case = to
		if _, taken := w.db.letters.owner(w.tx, "once", letterKey(&l)); taken {
			l.Occasion += " of " + old.Reference
			m.Now = l.Occasion
		}
		if _, err := w.db.letters.put(w.tx, &l); err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	messages, err := w.OutgoingOf(from)
	if err != nil {
		return nil, err
	}
	for _, o := range messages {
		m := cases.Moved{What: "message", ID: o.ID, Kind: o.Kind, Occasion: o.Occasion, By: o.By}
		o.Case = to
		if _, taken := w.db.outgoing.owner(w.tx, "once", messageKey(&o)); taken {
			o.Occasion += " of " + old.Reference
			m.Now = o.Occasion
		}
		if _, err := w.db.outgoing.put(w.tx, &o); err != nil {
			return nil, err
		}
		out = append(out, m)
	}
	items, err := w.ItemsOfCase(from)
	if err != nil {
		return nil, err
	}
	for _, i := range items {
		out = append(out, cases.Moved{What: "item", ID: i.ID, FromRev: i.FromRev, ToRev: i.ToRev})
		i.Case, i.Reference, i.FromRev, i.ToRev = to, other.Reference, 0, 0
		if _, err := w.db.items.put(w.tx, &i); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// MoveBack gives what was moved to a case again. What is not there any more is left out.
func (w *writer) MoveBack(moved []cases.Moved, to cases.ID) error {
	c, err := w.Case(to)
	if err != nil {
		return err
	}
	for _, m := range moved {
		switch m.What {
		case "letter":
			err = change(w, w.db.letters, m.ID, func(l *cases.Letter) { l.Case, l.Occasion = to, m.Occasion })
		case "message":
			err = change(w, w.db.outgoing, m.ID, func(o *cases.Outgoing) { o.Case, o.Occasion = to, m.Occasion })
		case "item":
			err = change(w, w.db.items, m.ID, func(i *cases.Item) {
				i.Case, i.Reference, i.FromRev, i.ToRev = to, c.Reference, m.FromRev, m.ToRev
			})
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func change[T any](w *writer, t *table[T], key string, f func(*T)) error {
	r, err := t.get(w.tx, key)
	if err == errNoRecord {
		return nil
	}
	if err != nil {
		return err
	}
	f(r)
	_, err = t.put(w.tx, r)
	return err
}

func letterKey(l *cases.Letter) string {
	return string(l.Case) + keyEnd + closed(l.Kind) + closed(l.Occasion)
}

func messageKey(o *cases.Outgoing) string {
	return string(o.Case) + keyEnd + closed(o.Kind) + closed(o.Occasion) + closed(o.By)
}
