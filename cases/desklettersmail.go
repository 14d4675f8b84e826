package cases

import (
	"context"
	"slices"
	"strings"
)

// MailLetters marks the letters of a print run as mailed on one day (0: today), all or
// none. tracking has the numbers of certified letters by identifier.
func (d *Desk) MailLetters(ctx context.Context, a Actor, ids []string, on Day, tracking map[string]string) error {
	if err := a.need(SendLetters); err != nil {
		return err
	}
	return d.store.Update(ctx, a, func(w Writer) error {
		for _, id := range ids {
			x := LetterChange{State: "mailed", On: on, Tracking: tracking[id]}
			if x.Tracking != "" {
				if err := freeTracking(w, id, x.Tracking); err != nil {
					return err
				}
			}
			if err := d.changeLetter(w, a, id, x); err != nil {
				return err
			}
		}
		return nil
	})
}

// TrackLetter records the tracking number of a certified letter that was mailed.
func (d *Desk) TrackLetter(ctx context.Context, a Actor, id, tracking string) error {
	if err := a.need(SendLetters); err != nil {
		return err
	}
	if strings.TrimSpace(tracking) == "" {
		return FieldError("tracking", "Enter the tracking number")
	}
	return d.store.Update(ctx, a, func(w Writer) error {
		l, err := w.Letter(id)
		switch {
		case err != nil:
			return err
		case l.By != "certified-letter" && !LetterKindOf(l.Kind).Certified:
			return Errorf(Refused, "Letter %s was not sent by certified mail.", l.Number)
		case l.Tracking == tracking:
			return nil
		}
		if err := freeTracking(w, id, tracking); err != nil {
			return err
		}
		l.Tracking = tracking
		l.History = append(l.History, LetterStep{At: w.Now(), By: a.Name, State: l.State, Note: "Tracking number " + tracking})
		if _, err := w.PutLetter(l); err != nil {
			return err
		}
		ev := Event{Kind: "letter-tracked", Text: "Tracking number of letter " + l.Number + ": " + tracking}
		if l.Case == "" {
			return w.Note(ev)
		}
		_, err = ChangeIn(w, d.protocol, l.Case, 0, ev, func(c *Case, _ Day) error {
			mark := "Letter " + l.Number + ", "
			if i := slices.IndexFunc(c.Contacts, func(t Contact) bool { return strings.HasPrefix(t.Note, mark) }); i >= 0 {
				c.Contacts[i].Note += ". Tracking number " + tracking
			}
			return nil
		})
		return err
	})
}

// freeTracking refuses a tracking number that another letter has: it was scanned twice.
func freeTracking(w Writer, id, tracking string) error {
	list, err := w.LettersTracked(tracking)
	for i := range list {
		if l := &list[i]; l.ID != id {
			return FieldError("tracking", "The tracking number %s belongs to letter %s already", tracking, l.Number)
		}
	}
	return err
}
