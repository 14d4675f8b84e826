package cases_test

import (
	"encoding/json"
	"fmt"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

// genCase draws a case that the contract accepts, with its facts on or before on.
func genCase(t *rapid.T) (cases.Case, cases.Day) {
	born := cases.MakeDay(2026, 1, 1) + cases.Day(rapid.IntRange(0, 60).Draw(t, "born"))
	on := born + cases.Day(rapid.IntRange(8, 120).Draw(t, "age"))
	day := func(name string) cases.Day { return born + cases.Day(rapid.IntRange(0, int(on-born)).Draw(t, name)) }
	pick := func(name string, words ...string) string { return rapid.SampledFrom(words).Draw(t, name) }
	n := func(name string, most int) int { return rapid.IntRange(0, most).Draw(t, name) }
	c := cases.Case{Document: cases.DocumentName, Reference: "AB-2026-0001"}
	c.Infant = cases.Infant{Born: born, Gestation: cases.Gestation(rapid.IntRange(28*7, 41*7).Draw(t, "gestation")), BirthWeightG: float64(rapid.IntRange(900, 3600).Draw(t, "bw"))}
	for range n("weights", 3) {
		c.Infant.Weights = append(c.Infant.Weights, cases.Weight{On: day("w"), G: float64(rapid.IntRange(900, 4500).Draw(t, "g"))})
	}
	c.Referral = cases.Referral{On: min(on, born+cases.Day(rapid.IntRange(3, 12).Draw(t, "ref"))), Route: pick("route", "screen", "clinical", "meconium-ileus")}
	if n("genotyped", 3) > 0 {
		c.Genotype = &cases.Genotype{Reported: day("gr"), Scope: pick("scope", "panel", "sequencing")}
		for range n("variants", 2) {
			v := cases.Variant{Name: pick("variant", "F508del", "G551D", "R117H", "R117H;7T", "M470V", "5T", "7T", "c.1234A>G"), Phase: "unknown"}
			if n("later", 4) == 0 {
				v.Reported = day("vr")
			}
			c.Genotype.Variants = append(c.Genotype.Variants, v)
		}
	}
	for range n("holds", 2) {
		h := cases.Hold{Reason: pick("hold", "oxygen", "skin", "oedema"), From: day("hf")}
		if n("ends", 1) == 1 {
			h.Until = h.From + cases.Day(n("long", 20))
		}
		c.Holds = append(c.Holds, h)
	}
	for range n("contacts", 6) {
		c.Contacts = append(c.Contacts, cases.Contact{On: day("c"), With: pick("with", "family", "family", "primary-care", "specialist"),
			By: pick("by", "phone", "letter", "certified-letter", "text"), Reached: rapid.Bool().Draw(t, "reached"), Outcome: pick("outcome", "", "no answer", "wrong number", "came back")})
	}
	for range n("bookings", 3) {
		b := cases.Booking{On: born + cases.Day(rapid.IntRange(10, 140).Draw(t, "b")), At: "09:30", State: pick("state", "booked", "kept", "missed", "cancelled")}
		b.Changed = day("bc")
		c.Bookings = append(c.Bookings, b)
	}
	for range n("tests", 3) {
		c.SweatTests = append(c.SweatTests, genTest(t, day("t")))
	}
	for range n("closures", 1) {
		k := cases.Closure{On: day("k"), As: pick("as", "cf", "crms-cfspid", "lost", "other-diagnosis", "carrier"), By: "M. Lark"}
		k.LookAgain = k.On + 30
		if n("agreed", 1) == 1 {
			k.AgreedBy, k.Reason = "I. Heron", "reviewed"
		}
		c.Closures = append(c.Closures, k)
	}
	if n("declined", 8) == 0 {
		c.Declined = &cases.Declined{On: day("d")}
	}
	if n("died", 12) == 0 {
		c.Infant.Died = day("dd")
	}
	if faults := c.Faults(on, cases.DefaultProtocol()); len(faults) > 0 {
		t.Skip("refused: ", faults[0])
	}
	return c, on
}

func genTest(t *rapid.T, on cases.Day) cases.SweatTest {
	x := cases.SweatTest{On: on, Collector: "tubing", Analyte: rapid.SampledFrom([]string{"", "chloride", "chloride", "conductivity"}).Draw(t, "analyte")}
	for _, side := range []string{"left", "right"}[:rapid.IntRange(1, 2).Draw(t, "arms")] {
		amount := float64(rapid.IntRange(5, 40).Draw(t, "ul"))
		a := cases.Arm{Side: side, Minutes: float64(rapid.IntRange(15, 45).Draw(t, "min")), AmountUL: &amount}
		if rapid.IntRange(0, 4).Draw(t, "valued") > 0 {
			v := float64(rapid.IntRange(5, 180).Draw(t, "cl"))
			a.Chloride = &v
		}
		x.Arms = append(x.Arms, a)
	}
	if rapid.IntRange(0, 6).Draw(t, "verified") == 0 {
		x.Verified = &cases.Verified{On: on, By: "M. Lark", As: rapid.SampledFrom([]string{"stands", "void"}).Draw(t, "as")}
	}
	return x
}

func asJSON(t *rapid.T, v any) string {
	data, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func TestAssessIsDeterministicAndOrderFree(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		before := asJSON(t, c)
		first := asJSON(t, p.Assess(&c, on))
		if asJSON(t, c) != before {
			t.Fatal("assessing changed the case")
		}
		d := c.Clone()
		shuffle(t, d.Contacts)
		shuffle(t, d.Bookings)
		shuffle(t, d.SweatTests)
		shuffle(t, d.Holds)
		shuffle(t, d.Infant.Weights)
		if d.Genotype != nil {
			shuffle(t, d.Genotype.Variants)
		}
		if got := asJSON(t, p.Assess(&d, on)); got != first {
			t.Fatalf("another order of entry gives another assessment:\n%s\n%s\ncase %s", first, got, before)
		}
	})
}

func shuffle[T any](t *rapid.T, s []T) {
	if len(s) > 1 {
		copy(s, rapid.Permutation(append([]T(nil), s...)).Draw(t, "order"))
	}
}

func TestClocksRunOneDayADay(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		a, b := p.Assess(&c, on), p.Assess(&c, on+1)
		check := func(name string, x, y *cases.ClockRun) {
			if x == nil || y == nil || !x.Running || !y.Running || x.Due != y.Due {
				return
			}
			want := x.DaysLate + 1
			if on+1 <= x.Due {
				want = 0
			}
			if y.DaysLate != want {
				t.Fatalf("%s due %s: %d days late on %s, %d the day after", name, x.Due, x.DaysLate, on, y.DaysLate)
			}
		}
		check("primary-care-told", &a.Clocks.PrimaryCareTold, &b.Clocks.PrimaryCareTold)
		check("family-reached", &a.Clocks.FamilyReached, &b.Clocks.FamilyReached)
		check("first-test", &a.Clocks.FirstTest, &b.Clocks.FirstTest)
		check("repeat-test", a.Clocks.RepeatTest, b.Clocks.RepeatTest)
		check("determination", &a.Clocks.Determination, &b.Clocks.Determination)
	})
}

func TestAStepUntilClosed(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		a := p.Assess(&c, on)
		n := a.Next
		switch {
		case n.Step == "":
			t.Fatal("no step")
		case (n.Step == cases.StepClosed || n.Step == cases.StepLookAgain) != a.Closed:
			t.Fatalf("step %s, closed %v", n.Step, a.Closed)
		case n.Step != cases.StepClosed && n.Due == 0:
			t.Fatalf("step %s has no due day", n.Step)
		case a.Closed && n.Step == cases.StepClosed && a.OnList():
			t.Fatal("a closed case is on the list")
		}
		if a.Explain(&c) == "" || a.ListWord() == "" || a.ActionWord() == "" {
			t.Fatalf("step %s is not put in words", n.Step)
		}
	})
}

func TestOverdueFromIsTheFirstDayOnTheList(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		got := p.OverdueFrom(&c, on)
		want := cases.Day(0)
		for d := on; d < on+400; d++ {
			if a := p.Assess(&c, d); a.OnList() {
				want = d
				break
			}
		}
		if got != want {
			t.Fatalf("from %s: says %q, day by day %q\n%s", on, got, want, asJSON(t, c))
		}
	})
}

func TestSafetyHolds(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		a := p.Assess(&c, on)
		graded, cfRange := false, false
		for _, r := range a.Tests {
			graded = graded || r.Outcome.Graded()
			cfRange = cfRange || r.Outcome == cases.ConsistentCF
		}
		died := a.Supports.Has(cases.SupDied)
		switch {
		case !graded && (a.Supports.Has(cases.SupNotAffected) || a.Supports.Has(cases.SupCarrier)):
			t.Fatal("not affected or carrier without a graded test")
		case cfRange && !died && !a.Supports.Has(cases.SupCF):
			t.Fatal("a test in the CF range no longer supports CF")
		case cfRange && (a.Supports.Has(cases.SupCarrier) || a.Supports.Has(cases.SupNotAffected)):
			t.Fatal("a test in the CF range beside carrier or not affected")
		case a.PresumptiveCF && (a.Supports.Has(cases.SupLost) || a.Supports.Has(cases.SupRefused)):
			t.Fatal("presumptive CF counts as lost or declined")
		case (a.Closed || died || a.PresumptiveCF) && len(a.LettersDue) > 0:
			t.Fatal("a letter is due that must not go")
		case !a.Readiness.Ready && a.Readiness.WaitingFor == 0:
			t.Fatal("not ready, and waits for nothing")
		}
	})
}

func TestCaseDocumentRoundTrip(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		data := asJSON(t, c)
		back, err := cases.ParseCase([]byte(data), on, p)
		if err != nil {
			t.Fatalf("%v\n%s", err, data)
		}
		if got := asJSON(t, back); got != data {
			t.Fatalf("read back differently:\n%s\n%s", data, got)
		}
		if x, y := p.Assess(&c, on), p.Assess(&back, on); !reflect.DeepEqual(fmt.Sprint(asJSON(t, x)), fmt.Sprint(asJSON(t, y))) {
			t.Fatal("assessed differently after reading back")
		}
	})
}
