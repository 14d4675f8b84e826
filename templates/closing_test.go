package templates

import (
	"strings"
	"testing"
)

func sampleClose() *ClosePage {
	return &ClosePage{Base: onePage("Close the case, AB-2026-0118", "infants"), Head: "Close the case of Marigold", Lead: "2 tests. Day 39 of life.", Action: "/infants/AB-2026-0118/close", Back: "/infants/AB-2026-0118",
		Supports: []string{"Carrier"}, Because: "Chloride 17 mmol/L and one CF-causing variant.",
		Evidence: []Met{{true, "Graded sweat test", "5 Mar 2026", "17 mmol/L", ""}, {false, "Primary care told", "Not yet", "", ""}},
		As: Choice{ID: "as", Legend: "Determination", Down: true, Options: []Option{{Value: "carrier", Text: "Carrier", Sub: "The evidence supports this."},
			{Value: "lost", Text: "Lost to follow-up", Sub: "Not supported by the evidence: a proposal that another person must agree to."}}},
		On: Field{ID: "on", Label: "Day of closing", Value: "5 Mar 2026", Width: "w14"}, Decided: Field{ID: "clinician", Label: "Who decided", Width: "w20"},
		Code:   Choice{ID: "diagnosis", Legend: "Diagnosis code (optional)", Hint: "ICD-10-CM", Options: []Option{{Text: "No code"}, {Value: "Z14.1", Text: "Carrier: Z14.1"}}},
		Reason: Field{ID: "reason", Label: "Reason", Kind: "area"}, LookAgain: Field{ID: "look-again", Label: "Look again on", Width: "w14"},
		Effects: []string{"1 letter waits to be printed. It will be held."}, Button: "Close the case", Rights: "What the evidence does not support is a proposal."}
}

func init() {
	samples["close"] = func() Page { return sampleClose() }
	samples["close-error"] = func() Page {
		p := sampleClose()
		p.Problems = []Problem{{"as-0", "Select the determination"}, {"clinician", "Enter who decided"}}
		p.As.Error, p.Decided.Error, p.Supports = "Select the determination", "Enter who decided", nil
		return p
	}
	samples["died"] = func() Page {
		return &DiedPage{Base: onePage("Stop and check, AB-2026-0118", "infants"), Head: "Close the case because Marigold died?", Action: "/infants/AB-2026-0118/close", Facts: []Fact{{Name: "Infant", Text: "FENWICK-ADE, Marigold"}, {Name: "Born", On: DateOf("2026-01-25")}},
			Letters: "1 letter waits and will be held.", Siblings: "Basil, AB-2026-0119, stays open.", On: Field{ID: "died", Label: "Day of death"}, Source: Field{ID: "source", Label: "Who told the program?"},
			Kept: []Hidden{{"as", "died"}}, Button: "Close, Marigold died"}
	}
	samples["agree"] = func() Page {
		return &AgreePage{Base: onePage("Agree to closing, AB-2026-0118", "infants"), Head: "Agree to close the case of Marigold?", Lead: "Proposed by Wren Castellano.", Action: "/x", Back: "/infants/AB-2026-0118",
			Proposal: []Fact{{Name: "Determination", Text: "Lost to follow-up"}}, Evidence: []Met{{true, "Tries", "4", "", ""}}, MayAgree: true,
			Decision: Choice{ID: "decision", Legend: "Your decision", Down: true, Options: []Option{{Value: "agree", Text: "Agree"}, {Value: "send-back", Text: "Send back"}}}, Reason: Field{ID: "reason", Label: "Reason", Kind: "area"}}
	}
	samples["agree-own"] = func() Page {
		return &AgreePage{Base: onePage("Agree to closing, AB-2026-0118", "infants"), Head: "Agree to close the case of Marigold?", Lead: "Proposed by you.", Back: "/infants/AB-2026-0118", WhyNot: "You proposed this closing. Another person must agree."}
	}
	samples["reopen"] = func() Page {
		return &ReopenPage{Base: onePage("Reopen the case, AB-2026-0118", "infants"), Head: "Reopen the case of Marigold", Lead: "Closed 5 Mar 2026: Carrier.", Action: "/x", Back: "/infants/AB-2026-0118",
			Closing: []Fact{{Name: "Determination", Text: "Carrier"}}, Reason: Field{ID: "reason", Label: "Why it is opened again", Kind: "area"}}
	}
}

func TestAgreePageOfOnesOwnProposalHasNoForm(t *testing.T) {
	page := render(t, samples["agree-own"]())
	if strings.Contains(page, `id="decision"`) || !strings.Contains(page, "Another person must agree") {
		t.Error("a person can agree to their own proposal")
	}
}
