package web

import (
	"net/http"
	"strconv"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// contactPlanPage answers GET /settings/contact-plan: the steps of the contact plan. Like
// every value of the protocol they stand in the program's protocol file.
func (s *server) contactPlanPage(c Ctx) error {
	plan := s.protocol().ContactPlan
	p := &templates.ContactPlanPage{Base: templates.Base{Name: "Contact plan", Current: "settings"}, Links: settingsTabs(c, "contact-plan"), Differs: plan.String() != cases.DefaultProtocol().ContactPlan.String(),
		Lead: "What the program does, in order, to reach a family. Day 0 is the day contact is needed. Like every protocol value it is set in the program’s protocol file (contact_plan), and the program’s people sign it.",
		Then: "A case may be closed as lost to follow-up only by the checklist of closing, with a second person’s word, and is looked at again later. Any new contact takes it up again."}
	for _, n := range cases.ProtocolNotes {
		if n.Name == "contact_plan" {
			p.Source = endSentence(n.Source)
			if !n.Seen {
				p.Source += " Not checked against a published source."
			}
		}
	}
	for i := range plan {
		r := &plan[i]
		row := templates.RungRow{Name: sentence(r.Name), With: wordOf(contactWith, r.With), Days: dayList(r.Days), Presumptive: dayList(r.Presumptive), Who: sentence(r.Who), What: r.What}
		if r.By != "" {
			row.By = wordOf(contactBy, r.By)
		}
		for _, kind := range []string{r.Letter, r.DoctorLetter} {
			if kind != "" {
				row.Letters = append(row.Letters, "Letter: "+cases.LetterKindOf(kind).Word)
			}
		}
		p.Rows = append(p.Rows, row)
	}
	return s.render(c, http.StatusOK, p)
}

func dayList(days []int) string {
	out := make([]string, len(days))
	for i, d := range days {
		out[i] = strconv.Itoa(d)
	}
	return strings.Join(out, ", ")
}

// contactPart says where a family that is not reached stands in the contact plan; nil
// while it need not be reached.
func (s *server) contactPart(c Ctx, o *opened) *templates.ContactPart {
	k := o.a.ContactPlan
	if k == nil {
		return nil
	}
	p := &templates.ContactPart{Since: date(k.Since), Why: "The family was not reached yet.", Rung: sentence(k.Rung)}
	if k.Why == "missed" {
		p.Why = "A test was missed, and nobody has spoken with the family since."
	}
	for i := range k.Owed {
		a := &k.Owed[i]
		p.Owed = append(p.Owed, s.attempt(a, o))
	}
	if k.Next != nil {
		next := s.attempt(k.Next, o)
		p.Next = &next
	}
	if can(c, logContacts) {
		p.Log = templates.Link{Href: "/infants/" + o.c.Reference + "/contacts/new", Text: "Log contact"}
	}
	return p
}

func (s *server) attempt(a *cases.AttemptOwed, o *opened) templates.RungAttempt {
	what := sentence(a.Rung)
	if a.By != "" && !strings.Contains(strings.ToLower(a.Rung), strings.ToLower(wordOf(contactBy, a.By))) {
		what += ", by " + strings.ToLower(wordOf(contactBy, a.By))
	}
	if a.Of > 1 {
		what += ", " + strconv.Itoa(a.N) + " of " + strconv.Itoa(a.Of)
	}
	out := templates.RungAttempt{What: what, Who: sentence(a.Who), Due: date(a.Due)}
	if a.Due <= o.today {
		out.Late = lateTag(a.Due, o.today)
	}
	return out
}
