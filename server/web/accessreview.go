package web

import (
	"context"
	"net/http"
	"strconv"

	"dunlin/cases"
	"dunlin/templates"
)

// reviewsOf are the looks for a reason that wait for a word of another person.
func (s *server) reviewsOf(c Ctx, r cases.Reader, people map[string]string, typed *form) (out []templates.LookToReview, err error) {
	if !can(c, reviewLooks) {
		return nil, nil
	}
	list, err := r.AccessUnreviewed()
	for i := range list {
		a := &list[i]
		l := templates.LookToReview{Seq: a.Seq, When: s.stamp(a.At), Who: or(people[a.By], a.By), Why: a.Why, Own: a.By == userOf(c).ID}
		if len(a.Infants) > 0 {
			l.Infant.Text = a.Infants[0]
			if can(c, seeCases) {
				l.Infant.Href = "/infants/" + a.Infants[0]
			}
		}
		id := strconv.FormatUint(a.Seq, 10)
		l.Word = templates.Field{ID: "word-" + id, Name: "word", Label: "What you found", Width: "w20"}
		if typed.typed("of") == id {
			l.Word.Value, l.Word.Error = typed.typed("word"), typed.errs["word-"+id]
		}
		out = append(out, l)
	}
	return out, err
}

// tellOfLooks says on a first page that looks for a reason wait for a review.
func (s *server) tellOfLooks(c Ctx, b *templates.Base) error {
	if !can(c, seeAccessLog) {
		return nil
	}
	return s.view(c, func(r cases.Reader) error {
		list, err := r.AccessUnreviewed()
		if n := len(list); n > 0 {
			b.Notices = append(b.Notices, templates.Notice{Kind: "warn", Head: templates.Count(n, "look", "looks") + " to review.", Text: "Somebody opened an infant for a reason.", Link: accessPath + "#reviews", LinkText: "See who and why"})
		}
		return err
	})
}

// reviewLook answers POST /settings/access/reviews.
func (s *server) reviewLook(c Ctx) error {
	f := s.readForm(c)
	of, _ := strconv.ParseUint(f.typed("of"), 10, 64) // 0 is no line
	word := f.text("word", "What you found", 300)
	if f.ok() && len([]rune(word)) < 3 {
		f.failAt("word-"+f.typed("of"), "word-"+f.typed("of"), "Enter what you found, such as “Asked for by the clinic, known”")
	}
	if !f.ok() {
		p, err := s.accessView(c, f)
		if err != nil {
			return err
		}
		return s.invalid(c, p, f.problems)
	}
	who := userOf(c)
	return s.submit(c, f, accessPath, func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: "Reviewed.", Text: "Your word is in the access log."}, onceStore{s.Store, &s.tally}.Update(ctx, actorOf(c), func(w cases.Writer) error {
			list, err := w.AccessUnreviewed()
			if err != nil {
				return err
			}
			for i := range list {
				if a := &list[i]; a.Seq == of {
					if a.By == who.ID {
						return cases.Errorf(cases.Refused, "This look is your own. Somebody else reviews it.")
					}
					visitOf(c).done = true
					return w.LogAccess(cases.Access{By: who.ID, Role: who.Role, Act: cases.ActReview, Of: of, Why: word, Infants: a.Infants, Route: "POST " + accessPath + "/reviews",
						Status: http.StatusSeeOther, From: c.RealIP(), Session: s.sessionMark(c), Request: requestOf(c)})
				}
			}
			return cases.Errorf(cases.Refused, "This look was reviewed before.")
		})
	})
}
