package web

import (
	"fmt"
	"net/http"
	"strings"

	"dunlin/cases"
	booking "dunlin/cases/schedule"
	"dunlin/templates"
)

const (
	proposalsPath = "/schedule/proposals"
	mostProposals = 400 // on one page; the form must stay below the limit of its size
	leftShown     = 50  // infants without a place, unless all are asked for
)

// What a proposal needs before it is booked. The words are part of its value.
const (
	needsNothing = "ready"
	needsTalk    = "talk"     // nobody has talked with the family
	needsPerson  = "estimate" // something speaks against the day, commonly an estimated weight
)

// proposed is one line of the plan with what is known of its infants: one, or twins.
type proposed struct {
	need  string
	parts []proposedPart
}

type proposedPart struct {
	line    *booking.Line
	c       cases.Case
	against []string
	silent  bool // no talk with the family is recorded
}

// proposedPlan is a plan with the cases of its lines, as of one moment.
type proposedPlan struct {
	lines    []proposed
	more     int // lines that are not read
	unplaced []leftOver
	left     int
	waiting  int
	free     int
}

type leftOver struct {
	c cases.Case
	booking.Unplaced
}

// propose plans for everyone who waits, from one snapshot of the store.
func (s *server) propose(c Ctx, all bool) (p proposedPlan, err error) {
	err = s.view(c, func(r cases.Reader) error {
		b, err := booking.ReadBoard(r, s.protocol(), placesAhead, s.places.Centroids)
		if err != nil {
			return err
		}
		ws, err := booking.ReadWaits(r, s.protocol())
		if err != nil {
			return err
		}
		plan := b.Plan(ws)
		p.waiting, p.free, p.left = len(ws), len(b.Places), len(plan.Unplaced)
		for _, lines := range plan.Together() {
			if len(p.lines) == mostProposals {
				p.more++
				continue
			}
			x, err := s.proposal(r, lines)
			if err != nil {
				return err
			}
			p.lines = append(p.lines, x)
		}
		for _, u := range plan.Unplaced {
			if !all && len(p.unplaced) == leftShown {
				break
			}
			k, err := r.Case(u.Wait.ID)
			if err != nil {
				return err
			}
			p.unplaced = append(p.unplaced, leftOver{k, u})
		}
		return nil
	})
	return p, err
}

func (s *server) proposal(r cases.Reader, lines []*booking.Line) (proposed, error) {
	x := proposed{need: needsNothing}
	for _, l := range lines {
		k, err := r.Case(l.Wait.ID)
		if err != nil {
			return x, err
		}
		a := s.protocol().Assess(&k, r.Today())
		part := proposedPart{line: l, c: k, against: s.places.Against(&k, l.Place.Site, l.Place.On()), silent: a.Clocks.FamilyReached.MetOn == 0}
		x.parts = append(x.parts, part)
		switch {
		case len(part.against) > 0:
			x.need = needsPerson
		case part.silent && x.need == needsNothing:
			x.need = needsTalk
		}
	}
	return x, nil
}

// value is how a proposal is sent: what it needs, the site and the day, and for each
// infant its case, the revision, the time, and the mark of what speaks against the day:
//
//	estimate alder-bay 2026-03-16 AB-2026-0112 7 09:30 1f2e3d4c5b6a
func (x *proposed) value() string {
	p := &x.parts[0].line.Place
	out := []string{x.need, p.Site.Key, p.On().String()}
	for i := range x.parts {
		k := &x.parts[i]
		out = append(out, k.c.Reference, fmt.Sprint(k.c.Rev), string(k.line.Place.At), booking.SeenOf(k.against))
	}
	return strings.Join(out, " ")
}

// proposals answers GET /schedule/proposals.
func (s *server) proposals(c Ctx) error {
	p, err := s.proposalsPage(c, nil, nil)
	if err != nil {
		return err
	}
	return s.render(c, http.StatusOK, p)
}

// proposalsPage sets the plan out. f is the form that was sent, nil for none yet; its
// ticks are kept. answer is what it did.
func (s *server) proposalsPage(c Ctx, f *form, answer *templates.ProposalsAnswer) (*templates.ProposalsPage, error) {
	plan, err := s.propose(c, c.QueryParam("all") == "1")
	if err != nil {
		return nil, err
	}
	p := &templates.ProposalsPage{Base: templates.Base{Name: "Place everyone ready", Current: "schedule"}, Action: proposalsPath, Answer: answer,
		How: s.planWords(), Cautions: testDayCautions, Left: plan.left}
	p.Lead = fmt.Sprintf("A proposal for %s and %s in the next %d weeks. Nothing is booked until you book it, and nobody who has a place is moved.",
		templates.Count(plan.waiting, "infant who waits", "infants who wait"), templates.Count(plan.free, "free place", "free places"), weeksAhead)
	s.setProposals(p, &plan, f, answer)
	for i := range plan.unplaced {
		p.Unplaced = append(p.Unplaced, s.unplacedRow(&plan.unplaced[i]))
	}
	if len(p.Unplaced) < p.Left {
		p.All = proposalsPath + "?all=1#unplaced"
	}
	return p, nil
}

// setProposals puts the lines into their groups, with the fields that these need.
func (s *server) setProposals(p *templates.ProposalsPage, plan *proposedPlan, f *form, answer *templates.ProposalsAnswer) {
	groups := []templates.ProposalGroup{
		{ID: "ready", Head: "Ready to book", Kind: "ready"},
		{ID: "talk", Head: "Talk with the family first", Kind: "soon", Note: "No talk with these families is recorded. Call them and record the contact, or enter below why the place is booked all the same."},
		{ID: "estimate", Head: "Planned on an estimate, weigh on the day", Kind: "hold", Note: "These infants are not ready by what is recorded today. Enter below who decided to book them all the same, and why; or weigh the infant first."},
	}
	if f == nil {
		f = s.emptyForm()
	}
	ticked := f.tickedLines()
	sent := f.values["l"] != nil
	silent := false
	for i := range plan.lines {
		x := &plan.lines[i]
		row := s.proposalRow(x, i)
		row.Ticked = ticked[row.Value] && answer == nil || !sent && x.need == needsNothing
		n := 0
		switch x.need {
		case needsTalk:
			n = 1
		case needsPerson:
			n = 2
		}
		groups[n].Rows = append(groups[n].Rows, row)
		for k := range x.parts {
			silent = silent || x.parts[k].silent
		}
	}
	p.Ready = len(groups[0].Rows)
	for _, g := range groups {
		if len(g.Rows) > 0 {
			p.Groups = append(p.Groups, g)
		}
	}
	if silent {
		x := f.field(templates.Field{ID: "talk-why", Label: "Why places are booked before a talk with the family", Hint: "Only for infants of whose family no talk is recorded", Width: "w20"})
		p.TalkWhy = &x
	}
	if len(groups[2].Rows) > 0 {
		by := f.field(templates.Field{ID: "override-by", Label: "Who decided to book infants who are not ready", Hint: "Name and role", Width: "w20", NoSpell: true})
		why := f.field(templates.Field{ID: "override-reason", Label: "Why they are booked all the same", Width: "w20"})
		p.By, p.Reason = &by, &why
	}
	switch {
	case plan.more > 0:
		p.Cut = fmt.Sprintf("The first %d lines are shown. Another %s follow once these are booked.", mostProposals, templates.Thousands(plan.more))
	case plan.waiting == 0:
		p.None = "Nobody waits for a place."
	case plan.free == 0:
		p.None = fmt.Sprintf("No session has a free place in the next %d weeks. Add sessions under Settings, Test sites.", weeksAhead)
	case len(plan.lines) == 0:
		p.None = "No free place fits anyone who waits; the reasons stand below."
	}
}

func (s *server) proposalRow(x *proposed, n int) templates.Proposal {
	first := x.parts[0].line
	row := templates.Proposal{N: n, Value: x.value(), On: date(first.Place.On()), Site: shown(first.Place.Site.Name), Far: farWords(first.Km)}
	var names []string
	for i := range x.parts {
		k := &x.parts[i]
		l := k.line
		in := templates.ProposedInfant{Who: s.who(&k.c), At: string(l.Place.At), For: forWords(l.Wait), Waiting: waitingWords(l.DaysWaiting), Why: l.Why}
		if i > 0 && waitingWords(l.DaysWaiting) == waitingWords(first.DaysWaiting) {
			in.Waiting = ""
		}
		if l.DaysLate > 0 {
			in.Late = templates.Tag{Kind: "late", Text: templates.Days(l.DaysLate) + " late"}
		}
		if len(k.against) > 0 {
			in.Needs = "Speaks against the day: " + strings.Join(k.against, "; ") + "."
		}
		row.Infants = append(row.Infants, in)
		names = append(names, in.Name+", "+in.Reference)
	}
	row.Label = "Book " + strings.Join(names, ", and ") + ": " + shown(first.Place.Say())
	return row
}

func farWords(km *float64) string {
	if km == nil {
		return "Way not known"
	}
	return fmt.Sprintf("About %.0f km, straight line", *km)
}

func forWords(w *booking.Wait) string {
	if w.UrgencyWhy == w.Kind.Word() {
		return sentence(w.UrgencyWhy)
	}
	return sentence(w.Kind.Word()) + ", " + w.UrgencyWhy
}

func waitingWords(days int) string {
	if days <= 0 {
		return "On the first day possible"
	}
	return templates.Days(days) + " after the first one possible"
}

func (s *server) unplacedRow(x *leftOver) templates.UnplacedRow {
	w := x.Wait
	row := templates.UnplacedRow{Who: s.who(&x.c), For: forWords(w), Why: x.Why, State: templates.Tag{Kind: "late", Text: "No place"}}
	if w.Blocked != "" {
		row.State.Text = "No day yet"
	}
	if w.Deadline != 0 {
		row.Due = "Due " + date(w.Deadline).Weekday()
		if late := lateText(w.Deadline, s.today()); late != "" {
			row.Due += ", " + late
		}
	}
	return row
}

// planWords say how the plan comes about, with the protocol's values.
func (s *server) planWords() []string {
	v := &s.protocol().Planning
	return []string{
		fmt.Sprintf("All who wait are placed together so that the sum is least of: %g for each day after the first one possible, %g more for each day past the due day, and 1 for each %g km; %g for staying without a place.", v.DayWaited, v.DayLate, v.KmPerPoint, v.Unplaced),
		fmt.Sprintf("The days count times the urgency: two variants %g, repeat %g, one variant %g, none %g.", v.TwoVariants, v.Repeat, v.OneVariant, v.None),
		"Of plans that cost the same, the most urgent, then the earliest due, then the lowest case number gets the earlier place. Twins get places that follow each other.",
		"The plan is made anew each time from what is recorded. You book; Dunlin only proposes.",
	}
}
