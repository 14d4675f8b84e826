package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/reminders/letters"
	"dunlin/templates"
)

// actOnLetters answers POST /letters: what was chosen for the chosen letters.
func (s *server) actOnLetters(c Ctx) error {
	f := s.readForm(c)
	ids, do := f.values["letter"], f.typed("do")
	tab := tabOf(f.typed("state"))
	if len(ids) == 0 {
		f.fail("letters-form", "Nothing was done. Choose at least one letter, then press the button again")
		return s.showLetters(c, http.StatusUnprocessableEntity, f)
	}
	if len(ids) > 2*mostListed {
		return cases.Errorf(cases.Invalid, "Choose at most %d letters at once.", 2*mostListed)
	}
	why, day := f.text("why", "Why", 300), f.day("day", "Day of mailing")
	if day > s.today() {
		f.fail("day", "Day of mailing must be today or in the past")
	}
	if why == "" && (do == "hold" || do == "release") {
		f.fail("why", "Enter why")
	}
	if !f.ok() {
		return s.showLetters(c, http.StatusUnprocessableEntity, f)
	}
	n, by := templates.Count(len(ids), "letter", "letters"), " ("+userOf(c).Name+")"
	switch do {
	case "print":
		return s.printRun(c, f, ids)
	case "mailed":
		return s.markLetters(c, f, ids, cases.LetterChange{State: "mailed", On: day, Note: why}, "Marked as mailed", n+", mailed "+dayOrToday(day)+".", "/letters?state=printed")
	case "hold":
		return s.markLetters(c, f, ids, cases.LetterChange{State: "held", Note: "Held: " + endSentence(why) + by}, "Held", n+". Held letters are not printed.", "/letters?state=held")
	case "release":
		return s.markLetters(c, f, ids, cases.LetterChange{State: "to-print", Note: "Back to print: " + endSentence(why) + by}, "Back to print", n+".", "/letters?state="+tab.state)
	}
	return cases.Errorf(cases.Invalid, "Choose what to do with the letters.")
}

func dayOrToday(d cases.Day) string {
	if d == 0 {
		return "today"
	}
	return "on " + shortDay(d)
}

// markLetters moves letters to a state, all or none, and says so. What the desk refuses
// is said on the list, with everything typed.
func (s *server) markLetters(c Ctx, f *form, ids []string, x cases.LetterChange, head, text, to string) error {
	err := s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: head, Text: text}, s.Desk.ChangeLetters(ctx, actorOf(c), ids, x)
	})
	switch cases.KindOf(err) {
	case cases.Invalid:
		if f.take(err, map[string]string{"note": "why", "on": "day"}) {
			return s.showLetters(c, http.StatusUnprocessableEntity, f)
		}
	case cases.Refused:
		f.fail("letters-form", "%s", err)
		return s.showLetters(c, http.StatusConflict, f)
	}
	return err
}

// printRun gives the chosen letters a run of their own and leads to it. A letter
// that cannot be set, or must not go out, is left out and named.
func (s *server) printRun(c Ctx, f *form, ids []string) error {
	var good, left []string
	run := ""
	err := s.view(c, func(r cases.Reader) error {
		good, left = nil, nil
		var err error
		run, err = s.nextRun(r)
		if err != nil {
			return err
		}
		for _, id := range ids {
			l, err := r.Letter(id)
			if err != nil {
				return err
			}
			k, err := caseOfLetter(r, &l)
			if err != nil {
				return err
			}
			if reason := s.cannotPrint(&l, &k); reason != "" {
				left = append(left, l.Number+": "+reason)
				continue
			}
			good = append(good, id)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if len(good) == 0 {
		return s.saved(c, "/letters?state=to-print", templates.Notice{Kind: "warn", Head: "No print run was made.", Text: strings.Join(left, ". ") + "."})
	}
	return s.submit(c, f, "/letters?state=printed&run="+escapeQuery(run), func(ctx context.Context) (templates.Notice, error) {
		n := templates.Notice{Head: "Print run made", Text: fmt.Sprintf("%s of %d.", templates.Count(len(good), "letter", "letters"), len(ids))}
		if len(left) > 0 {
			n.Kind, n.Text = "warn", n.Text+" Not printed: "+strings.Join(left, ". ")+"."
		}
		return n, s.Desk.MarkLetters(ctx, actorOf(c), good, "printed", "", run)
	})
}

// cannotPrint says why a letter cannot be printed, "" when it can.
func (s *server) cannotPrint(l *cases.Letter, k *cases.Case) string {
	if l.State != "to-print" && l.State != "printed" {
		return "it is " + strings.ToLower(letterTag(l.State).Text)
	}
	if l.Case != "" {
		if why := s.protocol().LetterStop(k, l.Kind, l.Occasion, s.today()); why != "" {
			return "it must not go out: " + why
		}
	}
	x, err := letters.Decode(*l)
	if err == nil {
		err = x.WritePDF(discard{})
	}
	if err != nil {
		return err.Error()
	}
	return ""
}

// discard takes bytes and keeps none.
type discard struct{}

func (discard) Write(b []byte) (int, error) { return len(b), nil }

// makeLetters answers POST /letters/make: the letters that are due now are made
// as the morning's job makes them, each once.
func (s *server) makeLetters(c Ctx) error {
	if s.Press == nil {
		return cases.Errorf(cases.Refused, "Letters are made by the morning's job only.")
	}
	tally, err := s.Press.Run(c.Request().Context(), s.today())
	if err != nil {
		return err
	}
	s.tally.forget()
	n, to := templates.Notice{Head: "Letters made", Text: sentence(tally.String()) + "."}, "/letters?state=to-print"
	if len(tally.SetAside) > 0 {
		n.Kind, n.Text, n.LinkText, n.Link = "warn", n.Text+" What was set aside cannot be made.", "See why", "/letters?state=due"
	}
	return s.saved(c, to, n)
}

// readLetter reads a letter and its case.
func (s *server) readLetter(c Ctx, id string) (x listed, err error) {
	err = s.view(c, func(r cases.Reader) (err error) {
		if x.l, err = r.Letter(id); err == nil {
			x.c, err = caseOfLetter(r, &x.l)
		}
		return err
	})
	return x, err
}

// letterBecame answers POST /letters/:id/became: answered, or what became of a certified
// letter.
func (s *server) letterBecame(c Ctx) error {
	f := s.readForm(c)
	x, err := s.readLetter(c, c.Param("id"))
	if err != nil {
		return err
	}
	state := f.pick("became", "Choose what became of the letter", "answered", "signed-for", "refused", "unclaimed")
	note := f.text("note", "Note", 200)
	if !f.ok() {
		return s.letterProblem(c, &x, f)
	}
	return s.submit(c, f, letterHref(state, x.l.ID), func(ctx context.Context) (templates.Notice, error) {
		err := s.Desk.ChangeLetters(ctx, actorOf(c), []string{x.l.ID}, cases.LetterChange{State: state, Note: note})
		return templates.Notice{Head: letterTag(state).Text, Text: "Letter " + x.l.Number + ". " + s.owedAfter(ctx, &x)}, err
	})
}

// trackLetter answers POST /letters/:id/tracking.
func (s *server) trackLetter(c Ctx) error {
	f := s.readForm(c)
	x, err := s.readLetter(c, c.Param("id"))
	if err != nil {
		return err
	}
	number := f.tracking("tracking")
	if number == "" && f.ok() {
		f.fail("tracking", "Enter the tracking number")
	}
	if !f.ok() {
		return s.letterProblem(c, &x, f)
	}
	err = s.submit(c, f, letterHref(x.l.State, x.l.ID), func(ctx context.Context) (templates.Notice, error) {
		return templates.Notice{Head: "Tracking number saved", Text: "Letter " + x.l.Number + "."}, s.Desk.TrackLetter(ctx, actorOf(c), x.l.ID, number)
	})
	if f.take(err, map[string]string{"tracking": "tracking"}) {
		return s.letterProblem(c, &x, f)
	}
	return err
}

// letterProblem shows the letter again with the problems of a form about it.
func (s *server) letterProblem(c Ctx, x *listed, f *form) error {
	f.values.Set("state", x.l.State)
	c.QueryParams().Set("letter", x.l.ID)
	return s.showLetters(c, http.StatusUnprocessableEntity, f)
}

// tracking reads the number of a certified letter: letters and digits, blanks taken out.
func (f *form) tracking(name string) string {
	v := strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(f.text(name, "Tracking number", 60)))
	if v != "" && (len(v) < 8 || len(v) > 40 || strings.ContainsFunc(v, func(r rune) bool { return (r < '0' || r > '9') && (r < 'A' || r > 'Z') })) {
		f.fail(name, "Tracking number must have 8 to 40 digits and letters")
		return ""
	}
	return v
}

// owedAfter says what is owed on the case of a letter now.
func (s *server) owedAfter(ctx context.Context, x *listed) string {
	if x.l.Case == "" {
		return ""
	}
	var k cases.Case
	err := s.Store.View(ctx, func(r cases.Reader) (err error) {
		k, err = r.Case(x.l.Case)
		return err
	})
	if err != nil {
		return ""
	}
	a := s.protocol().Assess(&k, s.today())
	out := k.Reference + ". Next: " + a.ActionWord() + dueWords(&a) + "."
	if todo := actionsOf(&a); a.Actions.Has(cases.ActFindAddress) && slices.Contains(todo, findAddressWords) {
		out = k.Reference + ". " + findAddressWords + "."
	}
	return out
}

const findAddressWords = "Find a new address: mail came back"
