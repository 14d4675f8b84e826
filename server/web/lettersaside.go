package web

import (
	"context"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

const makeNowPath = "/letters/make-now"

// makeLetterNow answers POST /letters/make-now: a letter that waits for another day is
// made today, beside the one that the family gets, because a named person wants both.
func (s *server) makeLetterNow(c Ctx) error {
	f := s.readForm(c)
	key := f.typed("letter")
	if l, ok := s.madeAs(c, key); ok {
		return s.saved(c, letterHref(l.State, l.ID), templates.Notice{Kind: "info", Head: "Made before.", Text: "This letter was made already, as " + l.Number + ". Nothing was made twice."})
	}
	d, err := s.dueLetterOf(c, key)
	if err != nil {
		return err
	}
	if s.Press == nil {
		return cases.Errorf(cases.Refused, "Letters are made by the morning's job only.")
	}
	press := *s.Press
	press.Store = onceStore{s.Store, &s.tally}
	return s.submit(c, f, "/letters?state=to-print", func(ctx context.Context) (templates.Notice, error) {
		tally, err := press.MakeNow(ctx, actorOf(c), d.c.ID, d.due.Kind, d.due.Occasion)
		n := templates.Notice{Head: "Letter made", Text: cases.LetterKindOf(d.due.Kind).Word + ", " + d.c.Reference + ", as asked for by " + userOf(c).Name + "."}
		for _, x := range append(tally.SetAside, tally.Conflicts...) {
			n = templates.Notice{Kind: "warn", Head: "The letter was not made.", Text: sentence(x.Reason) + "."}
		}
		return n, err
	})
}

// setAside lists the messages and the lists of a day that the last run could not make,
// with the reason as it is now and the next step. Letters stand among those due.
func (s *server) setAside(c Ctx, by narrow) (out []templates.ListedLetter, err error) {
	if s.Press == nil {
		return nil, nil
	}
	list, err := s.Press.WaitingBesides(c.Request().Context())
	if err != nil {
		return nil, err
	}
	for i := range list {
		x := &list[i]
		message := x.By != ""
		if message && (by.kind != "" || by.to != "" && by.to != cases.ToFamily) || !message && !by.fits(x.Kind) {
			continue
		}
		row := templates.ListedLetter{State: templates.Tag{Kind: "late", Text: "Cannot be made"}, Reference: x.Reference, Note: sentence(strings.TrimSuffix(x.Reason, ".")) + "."}
		if message {
			k, err := s.caseOf(c, x.Case)
			if cases.IsElsewhere(err) {
				continue
			}
			if err != nil {
				return nil, err
			}
			row.Name, row.Kind, row.To, row.Href = infantName(&k.Infant), messageKind(x.Kind), "Family, "+strings.ToLower(byWord(x.By)), "/infants/"+x.Reference
			row.Next = templates.Link{Text: "Phone the family, and record it", Href: "/infants/" + x.Reference + "/contacts/new"}
			if !can(c, logContacts) {
				row.Next = templates.Link{Text: "Open the infant", Href: row.Href}
			}
		} else {
			l := cases.Letter{Kind: x.Kind, Occasion: cases.BaseOccasion(x.Occasion)}
			row.Name, row.Kind, row.To, row.Href = s.nameOfLetter(&l, &cases.Case{}), cases.LetterKindOf(x.Kind).Word, toWords[cases.ToClinic], "/schedule"
			row.Note = strings.ReplaceAll(row.Note, "; print this one from the browser", "")
			row.Next = templates.Link{Text: "Open the schedule: print the day sheet, or phone the site", Href: "/schedule"}
		}
		out = append(out, row)
	}
	return out, nil
}

func (s *server) caseOf(c Ctx, id cases.ID) (k cases.Case, err error) {
	err = s.view(c, func(r cases.Reader) (err error) { k, err = r.Case(id); return err })
	return k, err
}
