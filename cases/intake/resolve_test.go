package intake_test

import (
	"context"
	"errors"
	"strings"
	"testing"

	"dunlin/cases"
	"dunlin/cases/intake"
)

var coordinator = cases.Actor{ID: "lin", Name: "Lin Heron", Role: cases.Coordinator, Via: "web"}

func (b *bench) resolve(id string, ch intake.Choice) (cases.Item, error) {
	return b.in.Resolve(context.Background(), coordinator, id, ch)
}

func withVariants(names ...string) func(*cases.Case) {
	return func(c *cases.Case) {
		c.Genotype = &cases.Genotype{Reported: c.Referral.On, Scope: "panel"}
		for _, n := range names {
			c.Genotype.Variants = append(c.Genotype.Variants, cases.Variant{Name: n, Phase: "unknown"})
		}
	}
}

func born(d cases.Day) func(*cases.Case) { return func(c *cases.Case) { c.Infant.Born = d } }

// TestPersonDecides: what a person does with a waiting item is carried out once.
func TestPersonDecides(t *testing.T) {
	b := newBench(t, intake.Settings{})
	r := b.receive("homozygous", d01(t, "F508del (c.1521_1523delCTT, p.Phe508del)", "F508del homozygous", "G551D (c.1652G>A)", "none"))
	it := r.Items[0]
	done, err := b.resolve(it.ID, intake.Choice{As: intake.Accept, Case: withVariants("F508del", "F508del")})
	if err != nil {
		t.Fatal(err)
	}
	c := b.of(done.Reference)
	wantNames(t, c, "F508del", "F508del")
	eq(t, "outcome stays", done.Outcome, "review")
	eq(t, "decided by", done.Decided.By, coordinator.Name)
	eq(t, "waiting", len(b.waiting()), 0)
	a := cases.DefaultProtocol().Assess(&c, cases.DayOf(today))
	eq(t, "presumptive", a.PresumptiveCF, true)
	if _, err := b.resolve(it.ID, intake.Choice{As: intake.SetAside, Reason: "again"}); cases.KindOf(err) != cases.Conflict {
		t.Errorf("a second decision: %v", err)
	}
	again := b.receive("once more", d01(t, "F508del (c.1521_1523delCTT, p.Phe508del)", "F508del homozygous", "G551D (c.1652G>A)", "none", "D01-0001", "N-1"))
	eq(t, "the same message later", outcomes(again), "duplicate")
}

func TestAcceptNeedsABirthDate(t *testing.T) {
	b := newBench(t, intake.Settings{})
	it := b.file(bad + "m06-impossible-dates.hl7").Items[0]
	_, err := b.resolve(it.ID, intake.Choice{As: intake.Accept})
	var e *cases.Error
	if !errors.As(err, &e) || e.Field != "infant.born" {
		t.Fatalf("%v", err)
	}
	eq(t, "still waiting", len(b.waiting()), 1)
	done, err := b.resolve(it.ID, intake.Choice{As: intake.Accept, Case: born(cases.MakeDay(2026, 3, 1))})
	if err != nil {
		t.Fatal(err)
	}
	eq(t, "born", b.of(done.Reference).Infant.Born.String(), "2026-03-01")
	for _, day := range []cases.Day{cases.MakeDay(2027, 3, 1)} {
		it := b.receive("later", other(t, "20260301041500-0600", "20260231")).Items[0]
		if _, err := b.resolve(it.ID, intake.Choice{As: intake.Accept, Case: born(day)}); cases.KindOf(err) != cases.Invalid {
			t.Errorf("born %s: %v", day, err)
		}
	}
}

func TestSameInfantAndApart(t *testing.T) {
	b := newBench(t, intake.Settings{})
	b.receive("first", d01(t))
	second := b.receive("second card", d01(t, dayOff...)).Items[0]
	if _, err := b.resolve(second.ID, intake.Choice{As: intake.Same}); cases.KindOf(err) != cases.Invalid {
		t.Errorf("without a reference: %v", err)
	}
	if _, err := b.resolve(second.ID, intake.Choice{As: intake.Same, Reference: "AB-2026-0001", Reason: "hospital confirms"}); err != nil {
		t.Fatal(err)
	}
	c := b.of("AB-2026-0001")
	if len(c.Notes) != 1 || c.Notes[0].By != coordinator.Name {
		t.Errorf("notes %+v", c.Notes)
	}
	wantNames(t, c, "F508del", "G551D")
	eq(t, "first card stays", c.Referral.Screen.CardSerial, "EX2026000123")

	twin := b.receive("twin", d01(t, append([]string{"-0600|F|", "-0600|M|", "MRN0001", "MRN0002", "EX2026000123", "EX2026000500"}, "|F0001^", "|F0500^", "F0001&", "F0500&", "D01-0001", "T-5")...)).Items[0]
	done, err := b.resolve(twin.ID, intake.Choice{As: intake.Apart, Reference: "AB-2026-0001", Link: true})
	if err != nil {
		t.Fatal(err)
	}
	eq(t, "linked", strings.Join(b.of("AB-2026-0001").Siblings, " "), done.Reference)
	eq(t, "linked back", strings.Join(b.of(done.Reference).Siblings, " "), "AB-2026-0001")
}

// TestCaseOpenedByHand keeps what was read, takes the correction, and keeps a value
// that the case document refuses as text beside the case.
func TestCaseOpenedByHand(t *testing.T) {
	b := newBench(t, intake.Settings{})
	r := b.receive("list.csv", []byte("accession,infant_last,infant_first,dob,birth_weight_g,irt_ng_ml,nbs_interpretation\nAB26-00042,Wren,,20261345,3100,88.5,out of range\n"))
	done, err := b.resolve(r.Items[0].ID, intake.Choice{As: intake.Accept, Case: func(c *cases.Case) {
		c.Infant.Born, c.Infant.Given, c.Infant.BirthWeightG = cases.MakeDay(2026, 2, 20), "Ada", 90000
	}})
	if err != nil {
		t.Fatal(err)
	}
	c := b.of(done.Reference)
	if c.Infant.Family != "Wren" || c.Infant.Given != "Ada" || c.Referral.Screen.Accession != "AB26-00042" || *c.Referral.Screen.IRTNgML != 88.5 {
		t.Errorf("read values are lost: %+v", c)
	}
	if c.Infant.BirthWeightG != 0 || len(c.ToCheck) == 0 {
		t.Errorf("a birth weight of 90 kg is taken over: %v, %v", c.Infant.BirthWeightG, c.ToCheck)
	}
}

func TestSetAsideNeedsAReason(t *testing.T) {
	b := newBench(t, intake.Settings{})
	it := b.file(bad + "m01-empty.hl7").Items[0]
	if _, err := b.resolve(it.ID, intake.Choice{As: intake.SetAside}); cases.KindOf(err) != cases.Invalid {
		t.Errorf("%v", err)
	}
	if _, err := b.resolve(it.ID, intake.Choice{As: "whatever"}); cases.KindOf(err) != cases.Invalid {
		t.Errorf("%v", err)
	}
	if _, err := b.resolve(it.ID, intake.Choice{As: intake.SetAside, Reason: "sent by mistake"}); err != nil {
		t.Fatal(err)
	}
	eq(t, "waiting", len(b.waiting()), 0)
	eq(t, "cases", len(b.all()), 0)
}

// TestSentBackAndSentAgain: the same content in another document, after it was sent
// back, waits again and says so; the same bytes are a mere re-delivery.
func TestSentBackAndSentAgain(t *testing.T) {
	b := newBench(t, intake.Settings{})
	first := b.receive("first", d01(t, "20260301041500", "20260231041500")).Items[0]
	eq(t, "waits", first.Outcome, "review")
	if _, err := b.resolve(first.ID, intake.Choice{As: intake.SendBack}); err != nil {
		t.Fatal(err)
	}
	same := b.receive("first", d01(t, "20260301041500", "20260231041500")).Items[0]
	eq(t, "the same bytes", same.Outcome, "duplicate")
	if why := strings.Join(same.Reasons, " "); !strings.Contains(why, "Lin Heron decided on it: send back") {
		t.Errorf("says %q", why)
	}
	again := b.receive("again", d01(t, "20260301041500", "20260231041500", "D01-0001", "D01-0077")).Items[0]
	eq(t, "sent again unchanged", again.Outcome, "review")
	if why := strings.Join(again.Reasons, " "); !strings.Contains(why, "came again unchanged") {
		t.Errorf("says %q", why)
	}
	eq(t, "waiting", len(b.waiting()), 1)
}

// TestASweatResultOpensItsCase: a result whose infant was never referred opens a case
// by a person's hand, with the test on it; a value that cannot be used opens nothing.
func TestASweatResultOpensItsCase(t *testing.T) {
	b := newBench(t, intake.Settings{})
	it := b.file(msgs + "d09-sweat-intermediate.hl7").Items[0]
	eq(t, "without a case", it.Outcome, "review")
	wrong := intake.Choice{As: intake.Accept, Read: func(r *intake.Referral) { r.Sites[0].Side, r.Sites[1].Side = "left", "left" }}
	if _, err := b.resolve(it.ID, wrong); cases.KindOf(err) != cases.Invalid {
		t.Errorf("two results of one arm: %v", err)
	}
	eq(t, "cases", len(b.all()), 0)
	done, err := b.resolve(it.ID, intake.Choice{As: intake.Accept, Case: func(c *cases.Case) { c.Infant.Given = "Maya" }})
	if err != nil {
		t.Fatal(err)
	}
	c := b.of(done.Reference)
	if c.Referral.Route != "clinical" || c.Referral.Screen != nil || len(c.SweatTests) != 1 || len(c.SweatTests[0].Arms) != 2 || c.Infant.Given != "Maya" {
		t.Errorf("case %+v with tests %+v", c.Referral, c.SweatTests)
	}
	if _, err := b.undo(done.ID, "it is another infant's"); err != nil {
		t.Fatal(err)
	}
	if n := len(b.of(done.Reference).SweatTests); n != 0 {
		t.Errorf("%d tests after undo", n)
	}
}
