package intake_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// TestCorrectedSweatResult: a corrected value takes the place of the earlier one, the
// history keeps both, and a person is told the same day.
func TestCorrectedSweatResult(t *testing.T) {
	for _, c := range []struct {
		name, by string
		pairs    []string
		arms     string
		top      bool
		says     string
	}{
		{"by the laboratory's number", "", nil, "left 42uL 30min 61, right 38uL 30min 16", true, `moved from "CF unlikely" to "Arms disagree"`},
		{"by day and side", "", []string{"SW26032301", "NEW9"}, "left 42uL 30min 61, right 38uL 30min 16", true, "61 mmol/L, before 14 mmol/L"},
		{"within the band", "", []string{"||61|", "||15|"}, "left 42uL 30min 15, right 38uL 30min 16", false, "15 mmol/L, before 14 mmol/L"},
		{"the order alone says so", "", []string{"|A|||C|", "|A|||F|"}, "left 42uL 30min 61, right 38uL 30min 16", true, "before 14 mmol/L"},
		{"the amount", "", []string{"||61|", "||14|", "|42^uL", "|12^uL"}, "left 12uL 30min 14, right 38uL 30min 16", false, "12 µL of sweat, before 42 µL"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := referred(t, nil)
			b.receive("first", sweat(t, normal))
			before, _, _ := b.one()
			it := b.receive("corrected", sweat(t, corrected, c.pairs...)).Items[0]
			eq(t, "outcome", it.Outcome+" "+it.Kind, "attached corrected result")
			k, test, _ := b.one()
			eq(t, "arms", armsText(&test), c.arms)
			eq(t, "tests", len(k.SweatTests), 1)
			eq(t, "revisions", fmt.Sprint(it.FromRev, it.ToRev), fmt.Sprint(before.Rev, k.Rev))
			if !strings.Contains(test.Note, "Corrected by Example Children's Hospital Laboratory, taken in on 2026-03-30. Left side: ") {
				t.Errorf("note %q", test.Note)
			}
			w := b.waiting()
			if len(w) == 0 || w[0].Kind != intake.KindCorrected {
				t.Fatalf("nobody is told: %+v", w)
			}
			eq(t, "told", fmt.Sprint(w[0].Top, w[0].Due, w[0].Reference, w[0].Position), fmt.Sprint(c.top, cases.DayOf(today), "AB-2026-0001", "message 1, correction"))
			if text := strings.Join(w[0].Reasons, "\n"); !strings.Contains(text, c.says) {
				t.Errorf("nothing says %q in\n%s", c.says, text)
			}
			b.view(func(r cases.Reader) error {
				h, err := r.History(k.ID)
				found := false
				for _, e := range h {
					for _, f := range e.Fields {
						found = found || e.Event.Kind == "result-corrected" && (string(f.Old) == "14" || string(f.Old) == "42")
					}
				}
				if !found {
					t.Error("the history does not hold the earlier value")
				}
				return err
			})
			again := b.receive("again", sweat(t, corrected, append(c.pairs, "D13-0001", "AGAIN", "|TESTFAMILY^BABYGIRL", "|TESTFAMILY^BABY GIRL")...)).Items[0]
			eq(t, "again", again.Outcome, "duplicate")
			eq(t, "told once", len(b.waiting()), len(w))
		})
	}
}

// TestCorrectionWaits: what a person has judged is never changed by a message.
func TestCorrectionWaits(t *testing.T) {
	verified := func(as string) func(*cases.Case) {
		return func(c *cases.Case) {
			c.SweatTests[0].Verified = &cases.Verified{On: march23 + 1, By: "Dr Plover", As: as}
		}
	}
	for name, change := range map[string]func(*cases.Case){
		"stands": verified("stands"), "void": verified("void"), "closed": closed,
	} {
		b := referred(t, nil)
		b.receive("first", sweat(t, normal))
		if name == "closed" {
			b.change(func(c *cases.Case) { c.SweatTests[0].On, c.Referral.On = march23-2, march23-3 })
		}
		b.change(change)
		before, _, _ := b.one()
		it := b.receive("corrected", sweat(t, corrected)).Items[0]
		eq(t, name, it.Outcome, "review")
		eq(t, name+" top", it.Top, true)
		now, test, _ := b.one()
		eq(t, name+" revision", now.Rev, before.Rev)
		if name == "closed" {
			continue
		}
		done, err := b.resolve(it.ID, intake.Choice{As: intake.Same, Reference: "AB-2026-0001", Reason: "checked with the laboratory"})
		if err != nil {
			t.Fatal(name, err)
		}
		_, test, _ = b.one()
		eq(t, name+" by decision", armsText(&test), "left 42uL 30min 61, right 38uL 30min 16")
		eq(t, name+" the word on the earlier value", test.Verified == nil, true)
		eq(t, name+" revisions", done.ToRev, done.FromRev+1)
	}
}

// TestClosedCaseReopens: a person adds a result to a closed case, which reopens it.
func TestClosedCaseReopens(t *testing.T) {
	b := referred(t, closed)
	it := b.receive("sweat", sweat(t, between)).Items[0]
	eq(t, "closed", it.Outcome, "review")
	if _, err := b.resolve(it.ID, intake.Choice{As: intake.Same, Reference: "AB-2026-0001"}); err != nil {
		t.Fatal(err)
	}
	c, test, _ := b.one()
	eq(t, "arms", armsText(&test), "left 42uL 30min 41, right 29uL 30min 44")
	a := cases.DefaultProtocol().Assess(&c, cases.DayOf(today))
	eq(t, "closed still", a.Closed, false)
	eq(t, "reopened", a.ReopenedOn, march23)
}

// TestSweatByDecision: a person names the case and corrects what was sent; what still
// cannot be recorded is named by its field, and nothing is written.
func TestSweatByDecision(t *testing.T) {
	for _, c := range []struct {
		file  string
		pairs []string
		read  func(r *intake.Referral)
		field string
		arms  string
	}{
		{asText, nil, nil, "sites[0].chloride", ""},
		{asText, nil, func(r *intake.Referral) { r.Sites[0].Enter("left", "", 30, num(42), "uL", num(9)) }, "", "left 42uL 30min 9"},
		{qnsText, nil, nil, "sites", ""},
		{qnsText, nil, func(r *intake.Referral) { r.Sites[0].Enter("left", "", 30, num(8), "uL", nil) }, "", "left 8uL 30min none"},
		{bad + "m13-sweat-units.hl7", nil, func(r *intake.Referral) {
			r.Sites = r.Sites[:2]
			r.Sites[0].Enter("left", "", 30, num(42), "uL", num(58))
			r.Sites[1].Enter("right", "", 30, num(42), "uL", num(55))
		}, "", "left 42uL 30min 58, right 42uL 30min 55"},
		{normal, []string{leftArm, ""}, func(r *intake.Referral) { r.Sites[0].Side = "right" }, "sites[1].side", ""},
		{normal, []string{leftArm, ""}, func(r *intake.Referral) { r.Sites[0].Side = "left" }, "", "left 42uL 30min 14, right 38uL 30min 16"},
		{normal, []string{specTimes, "|2026|", orderTimes, "|2026||"}, nil, "collected", ""},
		{normal, []string{leftValue, strings.Replace(leftValue, "14", "170", 1)}, nil, "", "left 42uL 30min 170, right 38uL 30min 16"},
		{normal, []string{leftValue, strings.Replace(leftValue, "14", "580", 1)}, nil, "sweat_tests[0].arms[0].chloride", ""},
	} {
		b := referred(t, nil)
		it := b.receive("sweat", sweat(t, c.file, c.pairs...)).Items[0]
		eq(t, c.file, it.Outcome, "review")
		done, err := b.resolve(it.ID, intake.Choice{As: intake.Same, Reference: "AB-2026-0001", Read: c.read})
		k := b.of("AB-2026-0001")
		if c.field != "" {
			e, ok := err.(*cases.Error)
			if !ok || e.Field != c.field || len(k.SweatTests) != 0 {
				t.Errorf("%s: %v, want %s", c.file, err, c.field)
			}
			continue
		}
		if err != nil || len(k.SweatTests) != 1 {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		eq(t, c.file, armsText(&k.SweatTests[0]), c.arms)
		eq(t, "the item names its case", done.Case, k.ID)
		if _, err := json.Marshal(k); err != nil {
			t.Error(err)
		}
	}
}

// TestSweatDay: a person may put the day of collection right.
func TestSweatDay(t *testing.T) {
	b := referred(t, nil)
	it := b.receive("sweat", sweat(t, normal, "20260323133000", "20260423133000", "20260323140000", "20260423140000")).Items[0]
	_, err := b.resolve(it.ID, intake.Choice{As: intake.Same, Reference: "AB-2026-0001", Read: func(r *intake.Referral) { r.EnterSweatDay(march23) }})
	if err != nil {
		t.Fatal(err)
	}
	_, test, _ := b.one()
	eq(t, "day", test.On.String()+" "+armsText(&test), "2026-03-23 left 42uL 30min 14, right 38uL 30min 16")
}
