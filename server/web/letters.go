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

// letterTab is one state of letters with what it is called and what can be done
// with those chosen.
type letterTab struct {
	state, text, none string
	tag               string // kind of its tag
	actions           []templates.LetterAction
	tip               string
}

var letterTabs = []letterTab{
	{"to-print", "To print", "No letter waits to be printed. The 06:00 job makes the letters of the day.", "book",
		[]templates.LetterAction{{Value: "print", Text: "Print run"}, {Value: "hold", Text: "Hold"}}, "A print run is one PDF in print order, with a count sheet first."},
	{"printed", "Printed", "No printed letter waits to be mailed.", "page",
		[]templates.LetterAction{{Value: "mailed", Text: "Mark mailed"}, {Value: "print", Text: "Print again"}}, "Choose only the letters that came out of the printer and went into their envelopes."},
	{"mailed", "Mailed", "No letter was mailed yet.", "out", nil, ""},
	{"came-back", "Came back", "No letter came back.", "back", nil, ""},
	{"held", "Held", "No letter is held.", "blank",
		[]templates.LetterAction{{Value: "release", Text: "Back to print"}}, ""},
}

// mostListed is how many letters of one state are listed, the newest of those
// mailed.
const mostListed = 200

// listed is a letter with the infant it is about.
type listed struct {
	l cases.Letter
	c cases.Case
}

// lettersPage answers GET /letters.
func (s *server) lettersPage(c Ctx) error {
	tab := tabOf(c.QueryParam("state"))
	p := &templates.LettersPage{Base: templates.Base{Current: "letters"}, Head: tab.text, State: tab.state, None: tab.none, Actions: tab.actions, Tip: tab.tip,
		MayAct: can(c, sendLetters), Make: can(c, sendLetters) && s.Press != nil}
	var rows []listed
	counts := map[string]int{}
	err := s.view(c, func(r cases.Reader) error {
		var err error
		for _, t := range letterTabs {
			if t.state == "mailed" && tab.state != "mailed" {
				continue
			}
			list, n, err := lettersIn(r, t.state)
			if err != nil {
				return err
			}
			counts[t.state] = n
			if t.state == tab.state {
				rows = list
			}
		}
		p.Skipped, err = s.skipped(r)
		return err
	})
	if err != nil {
		return err
	}
	chosen := c.QueryParam("letter")
	for _, x := range rows {
		if chosen == "" {
			chosen = x.l.ID
		}
		row := templates.ListedLetter{ID: x.l.ID, Name: infantName(&x.c.Infant), Reference: x.c.Reference, Kind: cases.LetterKindOf(x.l.Kind).Word, Language: languageWord(x.l.Language),
			Due: "made " + shortDay(x.l.MadeOn), State: letterState(&x.l), Href: letterHref(tab.state, x.l.ID), Current: x.l.ID == chosen, Pick: len(tab.actions) > 0, Picked: tab.state == "to-print"}
		p.Rows = append(p.Rows, row)
		if row.Current {
			p.Chosen = preview(&x)
		}
	}
	s.fillTabs(p, counts, tab)
	if run := c.QueryParam("run"); run != "" {
		p.Printed = &templates.PrintRun{ID: run, N: len(slices.DeleteFunc(rows, func(x listed) bool { return x.l.PrintRun != run })), PDF: "/letters/runs/" + escapeQuery(run)}
	}
	return s.render(c, http.StatusOK, p)
}

func (s *server) fillTabs(p *templates.LettersPage, counts map[string]int, tab letterTab) {
	for _, t := range letterTabs {
		p.Tabs = append(p.Tabs, templates.Tab{Href: "/letters?state=" + t.state, Text: t.text, Count: counts[t.state], Counted: t.state != "mailed", Current: t.state == tab.state})
	}
	p.Name = fmt.Sprintf("Letters, %s: %d", strings.ToLower(tab.text), counts[tab.state])
	p.Lead = fmt.Sprintf("%s to print, %d printed and not mailed, %d came back. Each letter is made once for its occasion.",
		templates.Count(counts["to-print"], "letter", "letters"), counts["printed"], counts["came-back"])
}

func tabOf(state string) letterTab {
	for _, t := range letterTabs {
		if t.state == state {
			return t
		}
	}
	return letterTabs[0]
}

func letterHref(state, id string) string {
	return "/letters?state=" + escapeQuery(state) + "&letter=" + escapeQuery(id)
}

// lettersIn lists the letters of a state with their infants, and counts them all.
func lettersIn(r cases.Reader, state string) ([]listed, int, error) {
	var all []cases.Letter
	for l, err := range r.Letters(state) {
		if err != nil {
			return nil, 0, err
		}
		all = append(all, l)
	}
	n := len(all)
	if state == "mailed" {
		slices.Reverse(all)
	}
	if len(all) > mostListed {
		all = all[:mostListed]
	}
	out := make([]listed, 0, len(all))
	for _, l := range all {
		var k cases.Case // a list of the day is of no case
		if l.Case != "" {
			var err error
			if k, err = r.Case(l.Case); err != nil {
				return nil, 0, err
			}
		}
		out = append(out, listed{l, k})
	}
	return out, n, nil
}

// skipped are the letters due today that could not be made, with the reason.
func (s *server) skipped(r cases.Reader) ([]templates.SkippedLetter, error) {
	var out []templates.SkippedLetter
	today, facts := s.today(), s.letterFacts()
	for k, err := range r.Open() {
		if err != nil {
			return nil, err
		}
		a := s.protocol().Assess(&k, today)
		for _, due := range a.LettersDue {
			if due.Due > today || len(out) >= mostListed {
				continue
			}
			reason := "the next run makes it"
			if k.TestMessage {
				reason = "the case was opened by a test message"
			} else if _, err := letters.Compose(&k, &a, due, s.LetterTexts, facts); err != nil {
				reason = err.Error()
			}
			out = append(out, templates.SkippedLetter{Name: infantName(&k.Infant), Reference: k.Reference, Kind: cases.LetterKindOf(due.Kind).Word, Reason: sentence(reason)})
		}
	}
	return out, nil
}

// letterState is the state of a letter as a tag.
func letterState(l *cases.Letter) templates.Tag {
	for _, t := range letterTabs {
		if t.state == l.State {
			text := t.text
			if l.State == "mailed" || l.State == "came-back" {
				text += " " + shortDay(l.Changed)
			}
			return templates.Tag{Kind: t.tag, Text: text}
		}
	}
	return templates.Tag{Text: sentence(l.State)}
}

// preview sets a letter out for reading.
func preview(x *listed) *templates.LetterPreview {
	v := &templates.LetterPreview{ID: x.l.ID, Name: infantName(&x.c.Infant), Reference: x.c.Reference, Number: x.l.Number, State: letterState(&x.l),
		PDF: "/letters/" + x.l.ID + "/pdf", CameBack: x.l.State == "mailed"}
	if x.l.State == "held" {
		v.Held = or(x.l.Note, "No reason was given.")
	} else {
		v.Note = x.l.Note
	}
	v.ReasonBack = templates.Field{ID: "back-why", Label: "What the envelope says", Hint: "Not at this address, moved, refused, unclaimed", Width: "w20"}
	l, err := letters.Decode(x.l)
	if err != nil {
		v.Note = sentence(err.Error())
		return v
	}
	v.Title, v.To, v.Blocks, v.Lang = l.Title, l.Address, l.Blocks, l.Language
	v.From = append([]string{l.Sender.Name}, l.Sender.Return...)
	v.Date = l.MadeOn.Time().Format("January 2, 2006")
	v.Grade = templates.ReadingLine(l.Language, l.Blocks)
	return v
}

// actOnLetters answers POST /letters: what was chosen for the chosen letters.
func (s *server) actOnLetters(c Ctx) error {
	f := s.readForm(c)
	ids := f.values["letter"]
	tab := tabOf(f.typed("state"))
	if len(ids) == 0 {
		return s.saved(c, "/letters?state="+tab.state, templates.Notice{Kind: "warn", Head: "Nothing was done.", Text: "Choose at least one letter, then press the button again."})
	}
	if len(ids) > 2*mostListed {
		return cases.Errorf(cases.Invalid, "Choose at most %d letters at once.", 2*mostListed)
	}
	n := templates.Count(len(ids), "letter", "letters")
	switch f.typed("do") {
	case "print":
		return s.printRun(c, f, ids)
	case "mailed":
		return s.markLetters(c, f, ids, "mailed", "", "Marked as mailed", n+", mailed today.", "/letters?state=printed")
	case "hold":
		return s.markLetters(c, f, ids, "held", "Held by "+userOf(c).Name+" on "+shortDay(s.today())+".", "Held", n+". Held letters are not printed.", "/letters?state=held")
	case "release":
		return s.markLetters(c, f, ids, "to-print", "", "Back to print", n+".", "/letters?state=to-print")
	}
	return cases.Errorf(cases.Invalid, "Choose what to do with the letters.")
}

// from is the state in which letters must be to get another.
var from = map[string]string{"mailed": "printed", "held": "to-print", "to-print": "held"}

// markLetters sets the state of letters, all or none, and says so.
func (s *server) markLetters(c Ctx, f *form, ids []string, state, note, head, text, to string) error {
	err := s.view(c, func(r cases.Reader) error {
		for _, id := range ids {
			l, err := r.Letter(id)
			if err != nil {
				return err
			}
			if l.State != from[state] {
				return cases.Errorf(cases.Refused, "Letter %s is %s, so it cannot be marked. Somebody may have marked it already.", l.Number, strings.ToLower(letterState(&l).Text))
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	return s.submit(c, f, to, func(ctx context.Context) (templates.Notice, error) {
		err := s.Desk.MarkLetters(ctx, actorOf(c), ids, state, note, "")
		return templates.Notice{Head: head, Text: text}, err
	})
}

// printRun gives the chosen letters a run of their own and leads to it. A letter
// that cannot be set is left out and named.
func (s *server) printRun(c Ctx, f *form, ids []string) error {
	var good []string
	var left []string
	run := ""
	err := s.view(c, func(r cases.Reader) error {
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
			if reason := cannotPrint(&l); reason != "" {
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

// cannotPrint says why a letter cannot be set as PDF, "" when it can.
func cannotPrint(l *cases.Letter) string {
	if l.State != "to-print" && l.State != "printed" {
		return "it is " + l.State
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

// nextRun names the next print run of today: 2026-03-12-a, then -b.
func (s *server) nextRun(r cases.Reader) (string, error) {
	day := s.today().String()
	used := map[string]bool{}
	for l, err := range r.Letters("") {
		if err != nil {
			return "", err
		}
		if strings.HasPrefix(l.PrintRun, day) {
			used[l.PrintRun] = true
		}
	}
	for i := 0; ; i++ {
		if name := day + "-" + runLetter(i); !used[name] {
			return name, nil
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
