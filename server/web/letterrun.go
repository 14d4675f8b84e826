package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// runAt is the address of a print run.
func runAt(run string) string { return "/letters/runs/" + escapeQuery(run) }

// nextRun names the next print run of today: 2026-03-12-a, then -b.
func (s *server) nextRun(r cases.Reader) (string, error) {
	day := s.today().String()
	for i := 0; ; i++ {
		name := day + "-" + runLetter(i)
		if list, err := r.LettersOfRun(name); err != nil || len(list) == 0 {
			return name, err
		}
	}
}

// runLetter counts a to z, then aa, ab, ...
func runLetter(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return runLetter(i/26-1) + string(rune('a'+i%26))
}

// openRuns are the print runs of which letters are printed and not mailed, newest first.
func (s *server) openRuns(r cases.Reader) ([]templates.PrintRun, error) {
	var out []templates.PrintRun
	for l, err := range r.Letters("printed") {
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(out, func(x templates.PrintRun) bool { return x.ID == l.PrintRun })
		if i < 0 {
			i = len(out)
			out = append(out, templates.PrintRun{ID: l.PrintRun, Made: or(l.PrintRun, "Without a run"), Page: runAt(l.PrintRun), PDF: runAt(l.PrintRun) + "/pdf", Open: true})
		}
		out[i].N++
	}
	out = slices.DeleteFunc(out, func(x templates.PrintRun) bool { return x.ID == "" })
	slices.SortFunc(out, func(a, b templates.PrintRun) int { return strings.Compare(b.ID, a.ID) })
	return out, nil
}

// runLetters are the letters of a print run in print order: those by certified mail,
// which go to the counter, last.
func (s *server) runLetters(c Ctx, name string) ([]listed, error) {
	var out []listed
	err := s.view(c, func(r cases.Reader) error {
		out = nil
		list, err := r.LettersOfRun(name)
		if err != nil {
			return err
		}
		for _, l := range list {
			if l.State == "to-print" {
				continue
			}
			k, err := caseOfLetter(r, &l)
			if err != nil {
				return err
			}
			out = append(out, listed{l, k})
		}
		return nil
	})
	if err == nil && len(out) == 0 {
		err = cases.Errorf(cases.NotFound, "There is no print run %q. Its letters may have been printed again in a later run.", name)
	}
	slices.SortStableFunc(out, func(a, b listed) int { return boolOrder(certified(&a.l), certified(&b.l)) })
	return out, err
}

// boolOrder puts false before true.
func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}

// runPage answers GET /letters/runs/:run: did they all print?
func (s *server) runPage(c Ctx) error {
	list, err := s.runLetters(c, c.Param("run"))
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, s.runForm(c, list, s.emptyForm()))
}

func (s *server) runForm(c Ctx, list []listed, f *form) *templates.LetterRunPage {
	name, sent := c.Param("run"), len(f.values) > 0
	p := &templates.LetterRunPage{Base: templates.Base{Name: "Print run " + name, Current: "letters"}, Run: name, Parts: s.letterParts(c, "letters"), PDF: runAt(name) + "/pdf", Action: runAt(name),
		Day: f.field(templates.Field{ID: "day", Label: "Day of mailing", Hint: dayHint + ". Left empty: today", Optional: true, Width: "w14"})}
	for i := range list {
		l := &list[i].l
		row := templates.RunLetter{ID: l.ID, N: i + 1, Number: l.Number, Name: s.nameOfLetter(l, &list[i].c), Reference: list[i].c.Reference, Kind: cases.LetterKindOf(l.Kind).Word, State: letterState(l),
			Pick: l.State == "printed", Picked: !sent || f.ticked("letter", l.ID), Note: l.Note, Href: letterHref(l.State, l.ID)}
		if l.State != "held" && l.State != "printed" {
			row.Note = ""
		}
		if row.Pick && certified(l) {
			t := f.field(templates.Field{ID: "tracking-" + l.ID, Label: "Tracking number", Hint: "Type it, or scan the receipt. It can be added later", Optional: true, Width: "w20", NoSpell: true})
			if !sent {
				t.Value = l.Tracking
			}
			row.Tracking = &t
		}
		switch {
		case l.State == "held":
			p.Out = append(p.Out, row)
		case certified(l):
			p.Certified = append(p.Certified, row)
		default:
			p.Rows = append(p.Rows, row)
		}
		if row.Pick {
			p.Open++
		}
	}
	p.Lead = fmt.Sprintf("%s. Compare the stack with the count sheet.", templates.Count(len(p.Rows)+len(p.Certified), "letter", "letters"))
	if p.Open == 0 {
		p.Lead = "No letter of this run waits to be mailed."
	}
	return p
}

// mailRun answers POST /letters/runs/:run: the letters that came out are mailed on one
// day; the others stay printed and can be printed again.
func (s *server) mailRun(c Ctx) error {
	list, err := s.runLetters(c, c.Param("run"))
	if err != nil {
		return err
	}
	f := s.readForm(c)
	ids, day := f.values["letter"], f.day("day", "Day of mailing")
	if day > s.today() {
		f.fail("day", "Day of mailing must be today or in the past")
	}
	if len(ids) == 0 {
		f.fail("run-form", "Choose the letters that came out of the printer and went into their envelopes")
	}
	tracking, seen := map[string]string{}, map[string]string{}
	for _, id := range ids {
		if !slices.ContainsFunc(list, func(x listed) bool { return x.l.ID == id }) {
			return cases.Errorf(cases.NotFound, "A letter that was chosen does not belong to this print run.")
		}
		if n := f.tracking("tracking-" + id); n != "" {
			if seen[n] != "" {
				f.fail("tracking-"+id, "Two letters cannot have one tracking number. Scan it again")
			}
			tracking[id], seen[n] = n, id
		}
	}
	if !f.ok() {
		return s.invalid(c, s.runForm(c, list, f), f.problems)
	}
	left := len(list) - len(ids)
	err = s.submit(c, f, "/letters?state=printed", func(ctx context.Context) (templates.Notice, error) {
		n := templates.Notice{Head: "Marked as mailed", Text: fmt.Sprintf("%s, mailed %s.", templates.Count(len(ids), "letter", "letters"), dayOrToday(day))}
		if left > 0 {
			n.Text += " What did not print is still under Printed: print it again."
		}
		return n, s.Desk.MailLetters(ctx, actorOf(c), ids, day, tracking)
	})
	switch cases.KindOf(err) {
	case cases.Invalid, cases.Refused:
		if err != nil {
			f.problems = append(f.problems, templates.Problem{Field: "run-form", Text: err.Error()})
			return s.invalid(c, s.runForm(c, list, f), f.problems)
		}
	}
	return err
}
