package templates

import (
	"strings"
	"testing"
)

func sampleProposals() *ProposalsPage {
	row := func(n int, name, ref, on, at string) Proposal {
		return Proposal{N: n, Value: "ready alder-bay " + on + " " + ref + " 7 " + at + " 0011", Label: "Book " + name + ", " + ref + ": " + on + ", " + at + ", Alder Bay", On: DateOf(on), Site: "Alder Bay", Far: "About 12 km, straight line",
			Infants: []ProposedInfant{{Who: sampleWho(name, ref, "2026-02-08", "25 days", ""), At: at, For: "First test, one variant", Waiting: "3 days after the first one possible", Why: []string{"28 days old", "3620 g on 1 Mar 2026", "12 km away in a straight line"}}}}
	}
	twins := row(1, "FENWICK-ADE, Marigold", "AB-2026-0118", "2026-03-09", "09:30")
	twins.Infants[0].Twin = "Twin A"
	twins.Infants = append(twins.Infants, ProposedInfant{Who: sampleWho("FENWICK-ADE, Basil", "AB-2026-0119", "2026-02-08", "25 days", "Twin B"), At: "10:10", For: "First test, one variant", Waiting: "On the first day possible", Late: Tag{"late", "2 days late"}, Why: []string{"28 days old"}})
	light := row(2, "KOVALENKO, Mila", "AB-2026-0109", "2026-03-12", "09:30")
	light.Infants[0].Needs = "Speaks against the day: last weighed 1740 g on Mon 16 Feb 2026, 2000 g are needed; weigh again."
	light.Far = "Way not known"
	first := row(0, "PASCOE, Rafferty", "AB-2026-0137", "2026-03-06", "09:30")
	first.Ticked = true
	return &ProposalsPage{Base: sampleBase("Place everyone ready", "schedule"), Lead: "A proposal for 5 infants who wait.", Action: "/schedule/proposals", Ready: 2,
		Groups: []ProposalGroup{{ID: "ready", Head: "Ready to book", Kind: "ready", Rows: []Proposal{first, twins}},
			{ID: "estimate", Head: "Planned on an estimate, weigh on the day", Kind: "hold", Note: "These infants are not ready by what is recorded today.", Rows: []Proposal{light}}},
		By: &Field{ID: "override-by", Label: "Who decided to book infants who are not ready", Width: "w20"}, Reason: &Field{ID: "override-reason", Label: "Why they are booked all the same", Width: "w20"},
		Unplaced: []UnplacedRow{{Who: sampleWho("OYELARAN, Tobias", "AB-2026-0112", "2026-01-21", "43 days", ""), For: "Repeat", Due: "Due Sat 21 Feb 2026, 12 days late", State: Tag{"late", "No place"}, Why: "No session has a free place."}},
		Left:     60, All: "/schedule/proposals?all=1#unplaced", How: []string{"All who wait are placed together."}, Cautions: []string{"Weigh the infant on the day."}}
}

func init() {
	samples["proposals"] = func() Page { return sampleProposals() }
	samples["proposals-problem"] = func() Page {
		p := sampleProposals()
		p.Problems = []Problem{{"override-by", "Enter who decided"}}
		p.By.Error, p.Reason.Value, p.Cut = "Enter who decided", "The family travels", "The first 400 lines are shown."
		p.TalkWhy = &Field{ID: "talk-why", Label: "Why places are booked before a talk with the family", Width: "w20"}
		return p
	}
	samples["proposals-answer"] = func() Page {
		p := sampleProposals()
		p.Groups, p.By, p.Reason, p.None = nil, nil, nil, "No free place fits anyone who waits; the reasons stand below."
		p.Answer = &ProposalsAnswer{Head: "2 infants are booked, 1 is not", Booked: []AnswerLine{{"PASCOE, Rafferty", "AB-2026-0137", "Fri 6 Mar 2026, 09:30, Alder Bay", "", "Open the infant", "/infants/AB-2026-0137"},
			{"KOVALENKO, Mila", "AB-2026-0109", "Thu 12 Mar 2026, 09:30, Alder Bay", "Not ready; decided by Dr. Lindqvist: two siblings with CF. Weigh on the day.", "Open the infant", "/infants/AB-2026-0109"}},
			Not: []AnswerLine{{"OYELARAN, Tobias", "AB-2026-0112", "Fri 6 Mar 2026, 10:10, Alder Bay", "That place was taken a moment ago.", "Book another place", "/infants/AB-2026-0112/book?from=schedule"}}}
		return p
	}
	samples["proposals-none"] = func() Page {
		return &ProposalsPage{Base: sampleBase("Place everyone ready", "schedule"), Lead: "A proposal for 0 infants.", Action: "/schedule/proposals", None: "Nobody waits for a place."}
	}
}

func TestProposalsOnAnEstimateAreNotTicked(t *testing.T) {
	page := render(t, sampleProposals())
	for _, want := range []string{`id="line-0" name="line" value="ready alder-bay 2026-03-06 AB-2026-0137 7 09:30 0011" aria-label="Book PASCOE, Rafferty, AB-2026-0137: 2026-03-06, 09:30, Alder Bay" checked`, "09:30 and 10:10", "Book all 2 ready"} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q", want)
		}
	}
	if n := strings.Count(page, " checked"); n != 1 {
		t.Errorf("%d lines are ticked, want 1", n)
	}
}
