package web

import (
	"fmt"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// determination is one kind of closure and the evidence it needs.
type determination struct {
	As, Needs string
}

// determinations in the order in which they are offered. The evidence is that of
// the case document; what each program adds is in its protocol.
var determinations = []determination{
	{"cf", "Sweat chloride in the CF range, or two CF-causing variants and an intermediate test. The CF center decides."},
	{"crms-cfspid", "Intermediate tests, or two variants of which not both cause CF. Needs a day to look again."},
	{"carrier", "One variant and a graded test under the intermediate class."},
	{"not-affected", "No variant reported and a graded test under the intermediate class."},
	{"other-diagnosis", "Name the diagnosis and the clinician in the reason."},
	{"lost", "Tries on different days and by different means with a letter among them, and primary care told. Needs a day to look again."},
	{"refused", "Who declined and when, and who explained what that means."},
	{"died", "The day, and who told the program. All letters stop at once."},
	{"moved", "The program that takes over, and the day it accepted."},
	{"duplicate", "The case it repeats, or why the referral was an error."},
}

// determinationWord is the word of a kind of closure.
func determinationWord(as string) string { return cases.DeterminationWord(as) }

// supportWords are the determinations that the evidence supports, in words.
func supportWords(a *cases.Assessment) []string {
	var out []string
	for _, as := range a.Supports.Words() {
		out = append(out, determinationWord(as))
	}
	return out
}

// supportBecause says in one sentence why the evidence supports what it does.
func supportBecause(a *cases.Assessment) string {
	switch {
	case a.Supports == 0 && a.Provisional != nil:
		return "So far " + determinationWord(*a.Provisional) + " is provisional: a repeat or a report is awaited."
	case a.Supports == 0 && len(a.Tests) == 0:
		return "No sweat test is on file."
	case a.Supports == 0:
		return "The tests and reports on file do not decide. A person judges, with the reason written down."
	case a.Supports.Has(cases.SupCF) && a.Next.Step == cases.StepVerify:
		return "A later result does not fit the earlier one. Check both before closing."
	}
	return "From the tests, reports and contacts on file today."
}

// closingEvidence lists what a closing rests on: on file, or missing.
func closingEvidence(c *cases.Case, a *cases.Assessment, p *cases.Protocol) []templates.Met {
	var out []templates.Met
	graded := templates.Met{Name: "Graded sweat test", Value: "None"}
	for i := range a.Tests {
		t := &a.Tests[i]
		if t.Outcome.Graded() {
			graded = templates.Met{Met: true, Name: "Graded sweat test", Value: shortDay(t.On), Note: outcomeWord(t.Outcome) + ", " + mmol(*t.Deciding)}
		} else if !graded.Met {
			graded.Note = "Latest: " + outcomeWord(t.Outcome) + ", " + shortDay(t.On)
		}
	}
	out = append(out, graded)

	gene := templates.Met{Name: "CFTR report", Value: "Not reported"}
	if g := c.Genotype; g != nil && (g.Scope == "none" || g.Reported != 0 && g.Reported <= a.On) {
		gene.Met, gene.Value = true, genotypeWord(g)
		if g.Reported != 0 {
			gene.Note = "Reported " + shortDay(g.Reported)
		}
	}
	out = append(out, gene)

	told := templates.Met{Name: "Primary care told", Value: "Not yet"}
	if on := a.Clocks.PrimaryCareTold.MetOn; on != 0 {
		told.Met, told.Value = true, shortDay(on)
	}
	family := templates.Met{Name: "Family reached", Value: "Not yet"}
	if on := a.Clocks.FamilyReached.MetOn; on != 0 {
		family.Met, family.Value = true, shortDay(on)
	}
	out = append(out, told, family)
	if m, any := triesMet(c, a.On, p); any {
		out = append(out, m)
	}

	if d := c.Declined; d != nil && d.On <= a.On && d.WithdrawnOn == 0 {
		out = append(out, templates.Met{Met: d.ExplainedBy != "", Name: "Family declined", Value: shortDay(d.On), Note: joinWords("by "+d.ByWhom, explained(d.ExplainedBy))})
	}
	if h := c.Handover; h != nil {
		m := templates.Met{Name: "Hand-over to " + h.To, Value: "Not accepted yet"}
		if h.AcceptedOn != 0 {
			m.Met, m.Value = true, shortDay(h.AcceptedOn)
		}
		out = append(out, m)
	}
	if n := len(c.ToCheck); n > 0 {
		open := 0
		for i := range c.ToCheck {
			if c.ToCheck[i].Done == 0 {
				open++
			}
		}
		if open > 0 {
			out = append(out, templates.Met{Name: "Values to check", Value: fmt.Sprint(open), Note: "Values of the referral that could not be used"})
		}
	}
	return out
}

func explained(by string) string {
	if by == "" {
		return "who explained it is not recorded"
	}
	return "explained by " + by
}

func joinWords(parts ...string) string { return strings.Join(parts, ", ") }

// triesMet counts the tries to reach the family since it was last reached; any
// is false without one.
func triesMet(c *cases.Case, on cases.Day, p *cases.Protocol) (m templates.Met, any bool) {
	var last, first cases.Day
	for i := range c.Contacts {
		if k := &c.Contacts[i]; k.With == "family" && k.Reached && k.On <= on {
			last = max(last, k.On)
		}
	}
	days, means := map[cases.Day]bool{}, map[string]bool{}
	for i := range c.Contacts {
		k := &c.Contacts[i]
		if k.With != "family" || k.Reached || k.On > on || k.On <= last {
			continue
		}
		if first == 0 || k.On < first {
			first = k.On
		}
		days[k.On], means[k.By] = true, true
	}
	if len(days) == 0 {
		return m, false
	}
	return templates.Met{
		Met:   len(days) >= p.LostMinAttempts && len(means) >= p.LostMinRoutes,
		Name:  "Tries since the family was last reached",
		Value: templates.Count(len(days), "day", "days"),
		Note: fmt.Sprintf("By %s since %s. Lost to follow-up needs %d days, %d means, a letter among them, and %d days since the first try",
			templates.Count(len(means), "means", "means"), shortDay(first), p.LostMinAttempts, p.LostMinRoutes, p.LostMinDays),
	}, true
}

func genotypeWord(g *cases.Genotype) string {
	if g.Scope == "none" {
		return "Not tested by this program"
	}
	if len(g.Variants) == 0 {
		return "No variant found"
	}
	names := make([]string, len(g.Variants))
	for i := range g.Variants {
		names[i] = g.Variants[i].Name
	}
	return strings.Join(names, ", ")
}
