package web

import (
	"context"
	"strings"

	"dunlin/cases"
	"dunlin/templates"
)

// keepLinks are the forms about merging, correcting and keeping that a case calls for.
func keepLinks(o *opened, add func(on bool, r cases.Right, path, text string)) {
	held := o.c.HeldLegally(o.today) != nil
	add(o.c.DuplicateOf == nil, cases.MergeCases, "/merge", "The same infant as another case, or not")
	add(len(o.c.Merged) > 0, cases.MergeCases, "/unmerge", "Take a merge back")
	add(!held, cases.HoldLegally, "/legal-hold", "Legal hold")
	add(held, cases.HoldLegally, "/legal-hold/end", "End the legal hold")
}

var legalHoldForm = factForm{path: "/legal-hold", right: cases.HoldLegally, name: "Legal hold", button: "Place hold", what: "the legal hold", saved: "Legal hold placed",
	labels: []labelled{{"reason", "Reason"}, {"until", "First day without it"}},
	set: func(_ *server, e *factEdit, p *templates.FactPage) error {
		p.Head, p.Lead = "Keep everything about "+shortName(&e.c.Infant), "While a legal hold stands, nothing about this infant is erased, whatever the retention times say."
		e.add(p, templates.Field{ID: "reason", Label: "Reason", Hint: "Who asked for it and why", Kind: "area", Rows: 2},
			templates.Field{ID: "until", Label: "First day without it", Hint: "Leave empty when nobody knows yet", Optional: true, Width: "w14"})
		return nil
	},
	read: func(s *server, e *factEdit) saving {
		reason, until := e.f.lines("reason", "Reason", 500), e.f.day("until", "First day without it")
		return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
			return s.Desk.PlaceLegalHold(ctx, who, e.c.ID, e.f.rev(), reason, until)
		}
	}}

var legalHoldEndForm = factForm{path: "/legal-hold/end", right: cases.HoldLegally, name: "End the legal hold", button: "End hold", what: "the end of the hold", saved: "Legal hold ended",
	labels: []labelled{{"why", "Why it ends"}},
	set: func(_ *server, e *factEdit, p *templates.FactPage) error {
		h := e.c.HeldLegally(e.today)
		if h == nil {
			return cases.Errorf(cases.Refused, "No legal hold stands on %s.", e.c.Reference)
		}
		p.Head, p.Lead = "End the legal hold of "+shortName(&e.c.Infant), "From then on the retention times count again."
		p.Known = []templates.Fact{{Name: "Since", On: date(h.On)}, {Name: "Placed by", Text: h.By}, {Name: "Reason", Text: h.Reason}}
		e.add(p, templates.Field{ID: "why", Label: "Why it ends", Kind: "area", Rows: 2})
		return nil
	},
	read: func(s *server, e *factEdit) saving {
		why := e.f.lines("why", "Why it ends", 500)
		return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
			return s.Desk.EndLegalHold(ctx, who, e.c.ID, e.f.rev(), why)
		}
	}}

var unmergeForm = factForm{path: "/unmerge", right: cases.MergeCases, name: "Take a merge back", button: "Take the merge back", what: "taking back", saved: "Merge taken back",
	labels: []labelled{{"reason", "What shows it"}},
	set: func(_ *server, e *factEdit, p *templates.FactPage) error {
		if len(e.c.Merged) == 0 {
			return cases.Errorf(cases.Refused, "No case was merged into %s.", e.c.Reference)
		}
		m := &e.c.Merged[len(e.c.Merged)-1]
		p.Head, p.Lead = "Take back the merge with "+m.Reference, "Both cases become what they were. What was recorded since stays with "+e.c.Reference+"."
		p.Warn = "Letters that were stopped meanwhile stay stopped: look at those of both cases."
		p.Known = []templates.Fact{{Name: "Merged on", On: date(m.On)}, {Name: "Proposed by", Text: m.By}, {Name: "Agreed by", Text: m.AgreedBy}}
		e.add(p, templates.Field{ID: "reason", Label: "What shows that these are two infants", Kind: "area", Rows: 2})
		return nil
	},
	read: func(s *server, e *factEdit) saving {
		reason := e.f.lines("reason", "What shows it", 500)
		return func(ctx context.Context, who cases.Actor) (cases.Case, error) {
			if len(e.c.Merged) == 0 {
				return cases.Case{}, cases.Errorf(cases.Refused, "No case was merged into %s.", e.c.Reference)
			}
			ref := e.c.Merged[len(e.c.Merged)-1].Reference
			x, changed, err := s.Desk.Unmerge(ctx, who, e.c.ID, e.f.rev(), ref, reason)
			e.said = ref + " is open again. "
			if len(changed) > 0 {
				var parts []string
				for _, path := range changed {
					parts = append(parts, pathWords(path))
				}
				e.said += "Changed since the merge, so look at both: " + strings.Join(parts, "; ") + ". "
			}
			return x, err
		}
	}}
