package web

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// letterTab is one list of letters, of one state or of those that belong together, with
// what can be done with those chosen.
type letterTab struct {
	state, text, none string
	also              []string // further states of the list
	actions           []templates.LetterAction
	day               bool   // asks for the day of mailing
	why               string // asks for a reason: label
	tip               string
}

// stateDue is the list of what is due today and not made; it is no state of a letter.
const stateDue = "due"

var letterTabs = []letterTab{
	{state: stateDue, text: "Due today", none: "Every letter that is due today is made. The 06:00 job makes the letters of the day.",
		tip: "These letters are drafted from the facts as they are now. They are made once, by the 06:00 job or the button above; a family gets one letter a day, the most important first."},
	{state: "to-print", text: "To print", none: "No letter waits to be printed. The 06:00 job makes the letters of the day.",
		actions: []templates.LetterAction{{Value: "print", Text: "Print run"}, {Value: "hold", Text: "Hold"}}, why: "Why hold?",
		tip: "A print run is one PDF in print order, with a count sheet first and certified letters last. Print on one side only. To hold letters, enter why."},
	{state: "printed", text: "Printed", none: "No printed letter waits to be mailed.",
		actions: []templates.LetterAction{{Value: "mailed", Text: "Mark mailed"}, {Value: "print", Text: "Print again"}, {Value: "release", Text: "Back to print"}}, day: true, why: "Why back to print?",
		tip: "Choose only the letters that came out of the printer and went into their envelopes."},
	{state: "mailed", text: "Mailed", none: "No letter was mailed yet."},
	{state: "came-back", text: "Came back", also: []string{"refused", "unclaimed"}, none: "No letter came back."},
	{state: "answered", text: "Answered", also: []string{"signed-for"}, none: "No letter was answered yet."},
	{state: "held", text: "Held", none: "No letter is held.",
		actions: []templates.LetterAction{{Value: "release", Text: "Back to print"}}, why: "Why may it go out now?",
		tip: "A letter that must not go out by the facts as they are stays held, whatever the reason."},
}

// letterTags are the states of letters as tags: kind and words.
var letterTags = map[string]templates.Tag{
	"drafted": {Kind: "blank", Text: "Drafted"}, "to-print": {Kind: "book", Text: "To print"}, "printed": {Kind: "page", Text: "Printed"}, "mailed": {Kind: "out", Text: "Mailed"},
	"came-back": {Kind: "back", Text: "Came back"}, "answered": {Kind: "done", Text: "Answered"}, "signed-for": {Kind: "done", Text: "Signed for"},
	"refused": {Kind: "back", Text: "Refused"}, "unclaimed": {Kind: "back", Text: "Not collected"}, "held": {Kind: "hold", Text: "Held"},
}

// letterTag is a state of a letter as a tag.
func letterTag(state string) templates.Tag {
	if t, ok := letterTags[state]; ok {
		return t
	}
	return templates.Tag{Text: sentence(strings.ReplaceAll(state, "-", " "))}
}

// letterState is the state of a letter as a tag, with its day where that matters.
func letterState(l *cases.Letter) templates.Tag {
	t := letterTag(l.State)
	if l.State != "to-print" && l.State != "printed" && l.State != "held" {
		t.Text += " " + shortDay(l.Changed)
	}
	return t
}

// toWords say who gets a letter.
var toWords = map[string]string{cases.ToFamily: "Family", cases.ToPrimaryCare: "Primary care", cases.ToClinic: "Test site"}

// mostListed is how many letters of one state are listed, the newest of those
// mailed.
const mostListed = 200

// listed is a letter with the infant it is about; a list of the day is about none.
type listed struct {
	l cases.Letter
	c cases.Case
}

// nameOfLetter is who or what a letter is about.
func (s *server) nameOfLetter(l *cases.Letter, c *cases.Case) string {
	if l.Case != "" {
		return infantName(&c.Infant)
	}
	if i := strings.LastIndexByte(l.Occasion, ' '); i > 0 {
		if d, err := cases.ParseDay(l.Occasion[i+1:]); err == nil {
			return s.siteName(l.Occasion[:i]) + ", " + shortDay(d)
		}
	}
	return l.Occasion
}

// narrow is the filter of the list.
type narrow struct{ kind, to string }

func narrowOf(c Ctx) narrow {
	n := narrow{c.QueryParam("kind"), c.QueryParam("to")}
	if cases.LetterKindOf(n.kind).Word == n.kind {
		n.kind = ""
	}
	if toWords[n.to] == "" {
		n.to = ""
	}
	return n
}

func (n narrow) fits(kind string) bool {
	return (n.kind == "" || n.kind == kind) && (n.to == "" || n.to == cases.LetterKindOf(kind).To)
}

// query is the filter as part of an address.
func (n narrow) query() string {
	out := ""
	if n.kind != "" {
		out += "&kind=" + escapeQuery(n.kind)
	}
	if n.to != "" {
		out += "&to=" + escapeQuery(n.to)
	}
	return out
}

// lettersPage answers GET /letters.
func (s *server) lettersPage(c Ctx) error { return s.showLetters(c, http.StatusOK, s.emptyForm()) }

// showLetters shows the list of a state, with the problems of a form sent from it.
func (s *server) showLetters(c Ctx, status int, f *form) error {
	tab, by := tabOf(or(f.typed("state"), c.QueryParam("state"))), narrowOf(c)
	p := &templates.LettersPage{Base: templates.Base{Current: "letters", Problems: f.problems}, Parts: s.letterParts(c, "letters"), Head: tab.text, State: tab.state, None: tab.none,
		Actions: tab.actions, Tip: tab.tip, MayAct: can(c, sendLetters), Make: can(c, sendLetters) && s.Press != nil, Narrow: by != narrow{}}
	if by != (narrow{}) {
		p.None = "No letter here fits what you chose to see."
	}
	s.fillFilters(p, f, &tab, by)
	counts, rows := map[string]int{}, []listed(nil)
	err := s.view(c, func(r cases.Reader) error {
		rows = nil
		for _, t := range letterTabs {
			if t.state == stateDue || (t.state == "mailed" || t.state == "answered") && tab.state != t.state {
				continue
			}
			most := 0
			if t.state == tab.state {
				most = mostListed
			}
			list, n, err := lettersIn(r, &t, by, most)
			if err != nil {
				return err
			}
			counts[t.state] = n
			if t.state == tab.state {
				rows = list
			}
		}
		var err error
		p.Runs, err = s.openRuns(r)
		return err
	})
	if err != nil {
		return err
	}
	due, err := s.dueLetters(c, by)
	if err != nil {
		return err
	}
	left, err := s.setAside(c, by)
	if err != nil {
		return err
	}
	counts[stateDue] = len(due) + len(left)
	if tab.state == stateDue {
		s.fillDue(c, p, due)
		p.Rows = append(p.Rows, left...)
	} else {
		p.Skipped, p.SkippedAll = skippedOf(due), fmt.Sprintf("All %d", counts[stateDue])
		s.fillRows(c, p, rows, &tab, by, f)
		if n := counts[tab.state]; n > len(rows) {
			p.Cut = fmt.Sprintf("%d of %d letters are shown. Narrow the list to see others.", len(rows), n)
		}
	}
	s.fillTabs(p, counts, tab, by)
	if run := c.QueryParam("run"); run != "" {
		p.Printed = &templates.PrintRun{ID: run, N: len(slices.DeleteFunc(rows, func(x listed) bool { return x.l.PrintRun != run })), PDF: runAt(run) + "/pdf", Page: runAt(run)}
	}
	return s.render(c, status, p)
}

// fillRows lists the letters of a state, the chosen one beside them.
func (s *server) fillRows(c Ctx, p *templates.LettersPage, rows []listed, tab *letterTab, by narrow, f *form) {
	chosen, sent := c.QueryParam("letter"), f.values["do"] != nil
	if len(rows) > 0 && !slices.ContainsFunc(rows, func(x listed) bool { return x.l.ID == chosen }) {
		chosen = rows[0].l.ID
	}
	for i := range rows {
		x := &rows[i]
		row := templates.ListedLetter{ID: x.l.ID, Name: s.nameOfLetter(&x.l, &x.c), Reference: x.c.Reference, Kind: cases.LetterKindOf(x.l.Kind).Word, To: toWords[cases.LetterKindOf(x.l.Kind).To],
			Language: languageWord(x.l.Language), Due: "made " + shortDay(x.l.MadeOn), State: letterState(&x.l), Href: letterHref(tab.state, x.l.ID) + by.query(), Current: x.l.ID == chosen,
			Pick: len(tab.actions) > 0, Picked: tab.state == "to-print" && !sent || f.ticked("letter", x.l.ID)}
		if e := x.l.Edited; e != nil {
			row.Edited = "Words changed by " + e.By
		}
		if x.l.Tracking != "" {
			row.Note = "Certified, tracking number " + x.l.Tracking
		} else if certified(&x.l) {
			row.Note = "By certified mail"
		}
		p.Rows = append(p.Rows, row)
		if row.Current {
			p.Chosen = s.preview(c, x)
			f.keepTyped(p.Chosen.Acts)
		}
	}
}

func (s *server) fillFilters(p *templates.LettersPage, f *form, tab *letterTab, by narrow) {
	p.Kind = templates.Choice{ID: "by-kind", Name: "kind", Legend: "Kind of letter", Options: []templates.Option{{Text: "All kinds"}}}
	for _, k := range cases.LetterKinds {
		p.Kind.Options = append(p.Kind.Options, templates.Option{Value: k.Kind, Text: k.Word})
	}
	p.To = templates.Choice{ID: "by-to", Name: "to", Legend: "To whom", Options: []templates.Option{{Text: "To all"}}}
	for _, to := range []string{cases.ToFamily, cases.ToPrimaryCare, cases.ToClinic} {
		p.To.Options = append(p.To.Options, templates.Option{Value: to, Text: toWords[to]})
	}
	p.Kind, p.To = p.Kind.Choose(by.kind), p.To.Choose(by.to)
	if tab.day {
		day := templates.Field{ID: "day", Label: "Day of mailing", Hint: dayHint + ". Left empty: today", Optional: true, Width: "w14"}
		day = f.field(day)
		p.Day = &day
	}
	if tab.why != "" {
		why := f.field(templates.Field{ID: "why", Label: tab.why, Optional: len(tab.actions) > 1, Width: "w20"})
		p.Why = &why
	}
}

func (s *server) fillTabs(p *templates.LettersPage, counts map[string]int, tab letterTab, by narrow) {
	for _, t := range letterTabs {
		p.Tabs = append(p.Tabs, templates.Tab{Href: "/letters?state=" + t.state + by.query(), Text: t.text, Count: counts[t.state], Counted: t.state != "mailed" && t.state != "answered", Current: t.state == tab.state})
	}
	p.Name = fmt.Sprintf("Letters, %s: %d", strings.ToLower(tab.text), counts[tab.state])
	p.Lead = fmt.Sprintf("%s to print, %d printed and not mailed, %d came back. Each letter is made once for its occasion.",
		templates.Count(counts["to-print"], "letter", "letters"), counts["printed"], counts["came-back"])
}

// tabOf is the list of a state; of one that has no list of its own, the list it is in.
func tabOf(state string) letterTab {
	for _, t := range letterTabs {
		if t.state == state || slices.Contains(t.also, state) {
			return t
		}
	}
	return letterTabs[1]
}

func letterHref(state, id string) string {
	return "/letters?state=" + escapeQuery(state) + "&letter=" + escapeQuery(id)
}

// newestFirst tells a list of what left, which only grows: the newest stand first.
func (t *letterTab) newestFirst() bool { return t.state == "mailed" || len(t.also) > 0 }

// lettersIn lists up to most letters of a tab that fit, with their infants, and counts
// them all. What left is read from the newest end; of what waits, what was made first
// comes first.
func lettersIn(r cases.Reader, tab *letterTab, by narrow, most int) ([]listed, int, error) {
	var all []cases.Letter
	n := 0
	for _, state := range append([]string{tab.state}, tab.also...) {
		read := most
		if !tab.newestFirst() {
			read = 0
		}
		list, count, err := r.LatestLetters(state, by.fits, read)
		if err != nil {
			return nil, 0, err
		}
		all, n = append(all, list...), n+count
	}
	switch {
	case most == 0:
		return nil, n, nil
	case tab.newestFirst():
		slices.SortStableFunc(all, func(a, b cases.Letter) int { return cmp.Or(cmp.Compare(b.Changed, a.Changed), cmp.Compare(b.ID, a.ID)) })
	default:
		for l, err := range r.Letters(tab.state) {
			if err != nil {
				return nil, 0, err
			}
			if by.fits(l.Kind) {
				all = append(all, l)
			}
			if len(all) == most {
				break
			}
		}
	}
	all = all[:min(len(all), most)]
	out := make([]listed, 0, len(all))
	for _, l := range all {
		k, err := caseOfLetter(r, &l)
		if err != nil {
			return nil, 0, err
		}
		out = append(out, listed{l, k})
	}
	return out, n, nil
}

// caseOfLetter is the case of a letter; empty for a list of the day, which is of none.
func caseOfLetter(r cases.Reader, l *cases.Letter) (cases.Case, error) {
	if l.Case == "" {
		return cases.Case{}, nil
	}
	return r.Case(l.Case)
}

// certified tells a letter that goes by certified mail.
func certified(l *cases.Letter) bool {
	return l.By == "certified-letter" || cases.LetterKindOf(l.Kind).Certified
}

// keepTyped puts what was sent into the small forms about a letter.
func (f *form) keepTyped(list []templates.LetterForm) {
	for i := range list {
		for j := range list[i].Fields {
			if x := &list[i].Fields[j]; f.errs[x.InputName()] != "" {
				*x = f.field(*x)
			}
		}
		if x := list[i].Choice; x != nil && f.errs[x.InputName()] != "" {
			*x = f.group(*x)
		}
	}
}
