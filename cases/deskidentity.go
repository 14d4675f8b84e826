package cases

import (
	"context"
	"strings"
)

// CorrectIdentity corrects what tells the infant from another, with the reason, and
// keeps the values before. Letters that say what is corrected and have not gone are
// held in the same transaction. A specimen number that another case has is refused:
// both would be taken for one infant.
func (d *Desk) CorrectIdentity(ctx context.Context, a Actor, id ID, rev Rev, x Identity, reason string) (Case, error) {
	if err := a.need(EditIdentity); err != nil {
		return Case{}, err
	}
	var out Case
	err := d.store.Update(ctx, a, func(w Writer) error {
		old, err := w.Case(id)
		if err != nil {
			return err
		}
		was := IdentityOf(&old)
		ev := Event{Kind: "identity-corrected", Text: "Identity corrected: " + strings.Join(x.Differs(&was), ", "), Reason: reason}
		out, err = ChangeIn(w, d.protocol, id, rev, ev, func(c *Case, today Day) error {
			if err := c.Correct(x, a.Name, reason, today); err != nil {
				return err
			}
			if x.Accession == was.Accession {
				return nil
			}
			return freeAccession(w, c, x.Accession)
		})
		return err
	})
	return out, err
}

// freeAccession refuses a specimen number that stands on the screen of another case.
func freeAccession(r Reader, c *Case, accession string) error {
	if accession == "" {
		return nil
	}
	others, err := r.ByAccession(accession)
	if err != nil {
		return err
	}
	for i := range others {
		o := &others[i]
		if s := o.Referral.Screen; o.ID != c.ID && s != nil && strings.EqualFold(s.Accession, accession) && strings.EqualFold(s.Laboratory, c.Referral.Screen.Laboratory) {
			return FieldError("referral.screen.accession", "%s has this specimen number from the same laboratory. Look at it first: it may be the same infant, or have the wrong number", o.Reference)
		}
	}
	return nil
}
