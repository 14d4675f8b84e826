package intake_test

import (
	"fmt"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

// sweat is a made-up sweat message about the infant of d01, changed by pairs of old
// and new text. It names the card of the screen, so that the match is certain.
func sweat(t testing.TB, file string, pairs ...string) []byte {
	t.Helper()
	s := string(load(t, file))
	pairs = append([]string{"|CH778899^^^Example Children's Hospital&2.16.840.1.113883.19.7&ISO^MR|",
		"|CH778899^^^Example Children's Hospital&2.16.840.1.113883.19.7&ISO^MR~EX2026000123^^^^SNBSN|"}, pairs...)
	for i := 0; i < len(pairs); i += 2 {
		if !strings.Contains(s, pairs[i]) {
			t.Fatalf("the message does not hold %q", pairs[i])
		}
		s = strings.ReplaceAll(s, pairs[i], pairs[i+1])
	}
	return []byte(s)
}

const (
	normal    = msgs + "d08-sweat-normal-two-sites.hl7"
	between   = msgs + "d09-sweat-intermediate.hl7"
	neither   = msgs + "d10-sweat-qns-both-sites.hl7"
	positive  = msgs + "d11-sweat-one-site-qns-one-positive.hl7"
	byWeight  = msgs + "d12-sweat-weight-method.hl7"
	corrected = msgs + "d13-sweat-corrected.hl7"
	asText    = msgs + "d14-sweat-local-code-meq-text.hl7"
	qnsText   = msgs + "d15-sweat-qns-as-text.hl7"
)

// referred is a bench with the case of d01, changed before it is tested.
func referred(t testing.TB, change func(c *cases.Case)) *bench {
	t.Helper()
	b := newBench(t, intake.Settings{})
	eqT(t, "the case", outcomes(b.receive("d01", d01(t))), "opened")
	if change != nil {
		b.change(change)
	}
	return b
}

func eqT[T comparable](t testing.TB, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// change edits the one case by hand.
func (b *bench) change(f func(c *cases.Case)) {
	b.t.Helper()
	_, err := cases.NewDesk(b.db, cases.DefaultProtocol()).Change(b.t.Context(), coordinator, cases.LogContacts, b.all()[0].ID, 0,
		cases.Event{Kind: "test"}, func(c *cases.Case, _ cases.Day) error { f(c); return nil })
	if err != nil {
		b.t.Fatal(err)
	}
}

// one is the case, its latest test, and how the test reads.
func (b *bench) one() (cases.Case, cases.SweatTest, cases.TestReading) {
	b.t.Helper()
	c := b.of("AB-2026-0001")
	if len(c.SweatTests) == 0 {
		b.t.Fatal("no sweat test on the case")
	}
	p := cases.DefaultProtocol()
	t := c.SweatTests[len(c.SweatTests)-1]
	return c, t, p.ReadTest(&c, &t, p.Readiness(&c, cases.DayOf(today)).Earliest, cases.DayOf(today))
}

// TestSweatResultsGoOnTheCase: each made-up sweat result about a known infant, with
// what stands on the case afterwards.
func TestSweatResultsGoOnTheCase(t *testing.T) {
	for _, c := range []struct {
		file    string
		outcome string
		arms    string // side amount minutes chloride
		reads   cases.Outcome
	}{
		{normal, "attached", "left 42uL 30min 14, right 38uL 30min 16", cases.Unlikely},
		{between, "attached", "left 42uL 30min 41, right 29uL 30min 44", cases.Intermediate},
		{neither, "attached", "left 9uL 30min none, right 7uL 30min none", cases.QNS},
		{positive, "attached", "left 42uL 30min 92, right 6uL 30min none", cases.ConsistentCF},
		{byWeight, "attached", "left 96mg 30min 101, right 88mg 30min 98", cases.ConsistentCF},
		{corrected, "review", "", ""},
		{asText, "review", "", ""},
		{qnsText, "review", "", ""},
		{bad + "m13-sweat-units.hl7", "review", "", ""},
	} {
		t.Run(strings.TrimSuffix(c.file[strings.LastIndex(c.file, "/")+1:], ".hl7"), func(t *testing.T) {
			b := referred(t, nil)
			r := b.receive("sweat", sweat(t, c.file))
			it := r.Items[0]
			eq(t, "outcome", it.Outcome, c.outcome)
			eq(t, "reference", it.Reference, "AB-2026-0001")
			if c.arms == "" {
				eq(t, "tests", len(b.of("AB-2026-0001").SweatTests), 0)
				eq(t, "revisions", it.FromRev+it.ToRev, 0)
				return
			}
			_, test, rd := b.one()
			eq(t, "arms", armsText(&test), c.arms)
			eq(t, "reads", rd.Outcome, c.reads)
			eq(t, "day", test.On.String()+" "+string(test.At), "2026-03-23 13:30")
			eq(t, "laboratory", test.Laboratory.Name, "Example Children's Hospital Laboratory")
			eq(t, "differs", test.Laboratory.Differs, "")
			eq(t, "revisions", it.ToRev, it.FromRev+1)
			if t.Failed() {
				t.Log(it.Reasons)
			}
		})
	}
}

func armsText(t *cases.SweatTest) string {
	var out []string
	num := func(v *float64) string {
		if v == nil {
			return "none"
		}
		return fmt.Sprint(*v)
	}
	for _, a := range t.Arms {
		amount := num(a.AmountUL) + "uL"
		if a.AmountMg != nil {
			amount = num(a.AmountMg) + "mg"
		}
		out = append(out, a.Side+" "+amount+" "+num(&a.Minutes)+"min "+num(a.Chloride))
	}
	return strings.Join(out, ", ")
}
