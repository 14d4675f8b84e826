package store

import (
	"math/rand/v2"
	"testing"

	"dunlin/cases"
)

// TestDueIndexMissesNobody records random facts about many infants and compares
// the due index, on each of the following days, with an assessment of every case:
// whoever is on the list must be among the candidates.
func TestDueIndexMissesNobody(t *testing.T) {
	db := openTest(t)
	rng := rand.New(rand.NewPCG(3, 4))
	today := cases.DayOf(noon)
	update(t, db, func(w cases.Writer) error {
		for range 300 {
			if _, err := w.PutCase(randomFacts(rng, today), cases.Event{Kind: "opened"}); err != nil {
				return err
			}
		}
		return nil
	})
	p := cases.DefaultProtocol()
	listed, candidates := 0, 0
	view(t, db, func(r cases.Reader) error {
		var all []cases.Case
		for c, err := range r.All() {
			if err != nil {
				return err
			}
			all = append(all, c)
		}
		for d := today; d < today+420; d += cases.Day(1 + rng.IntN(3)) {
			due := map[cases.ID]bool{}
			for c, err := range r.DueThrough(d) {
				if err != nil {
					return err
				}
				due[c.ID] = true
			}
			candidates += len(due)
			for i := range all {
				a := p.Assess(&all[i], d)
				if !a.OnList() {
					continue
				}
				listed++
				if !due[all[i].ID] {
					t.Fatalf("%s is on the list of %s (%s, since %s) but not a candidate: %+v", all[i].Reference, d, a.Next.Step, a.Overdue.Since, all[i])
				}
			}
		}
		return nil
	})
	if listed == 0 || candidates > listed*2 {
		t.Errorf("%d candidates for %d on the list", candidates, listed)
	}
	t.Logf("%d on the lists, %d candidates", listed, candidates)
}

// randomFacts makes a case whose facts lie at or before today.
func randomFacts(rng *rand.Rand, today cases.Day) cases.Case {
	pick := func(words ...string) string { return words[rng.IntN(len(words))] }
	chance := func(n int) bool { return rng.IntN(n) == 0 }
	born := today - cases.Day(5+rng.IntN(120))
	on := func() cases.Day { return min(today, born+cases.Day(2+rng.IntN(int(today-born)))) }
	c := cases.Case{
		Infant:   cases.Infant{Born: born, Family: "Wren", Gestation: cases.Gestation(200 + rng.IntN(90)), BirthWeightG: float64(900 + rng.IntN(3000))},
		Referral: cases.Referral{On: born + 2, Route: pick("screen", "clinical", "sibling")},
	}
	for range rng.IntN(3) {
		c.Infant.Weights = append(c.Infant.Weights, cases.Weight{On: on(), G: float64(1500 + rng.IntN(3000))})
	}
	if !chance(3) {
		g := &cases.Genotype{Reported: on(), Scope: pick("panel", "sequencing")}
		for range rng.IntN(3) {
			g.Variants = append(g.Variants, cases.Variant{Name: pick("F508del", "R117H", "G551D", "Q9999X"), Phase: "unknown"})
		}
		c.Genotype = g
	}
	for range rng.IntN(6) {
		c.Contacts = append(c.Contacts, cases.Contact{On: on(), With: pick("family", "primary-care", "specialist"), By: pick("phone", "letter", "visit"),
			Reached: chance(2), Outcome: pick("no answer", "talked, understood", "came back")})
	}
	for range rng.IntN(3) {
		h := cases.Hold{Reason: pick("oxygen", "skin"), From: on()}
		if chance(2) {
			h.Until = h.From + cases.Day(rng.IntN(60))
		}
		if chance(3) {
			h.LookAgain = h.From + cases.Day(rng.IntN(40))
		}
		c.Holds = append(c.Holds, h)
	}
	for range rng.IntN(3) {
		changed := on()
		c.Bookings = append(c.Bookings, cases.Booking{On: changed + cases.Day(rng.IntN(30)), State: pick("booked", "booked", "kept", "missed", "cancelled"), Changed: changed})
	}
	randomTests(rng, &c, on)
	switch rng.IntN(8) {
	case 0:
		k := cases.Closure{On: max(c.Referral.On, on()), As: pick("lost", "crms-cfspid", "other-diagnosis", "cf"), By: "a"}
		if k.As == "lost" || k.As == "crms-cfspid" {
			k.LookAgain = k.On + cases.Day(rng.IntN(300))
		}
		if chance(2) {
			k.AgreedBy, k.AgreedOn, k.Reason = "b", k.On, "r"
		}
		c.Closures = []cases.Closure{k}
	case 1:
		c.Declined = &cases.Declined{On: on()}
	case 2:
		c.Handover = &cases.Handover{On: born + 3, AcceptedOn: on()}
	case 3:
		c.Infant.Died = on()
	}
	return c
}

func randomTests(rng *rand.Rand, c *cases.Case, on func() cases.Day) {
	seen := map[cases.Day]bool{}
	for range rng.IntN(4) {
		day := on()
		if seen[day] {
			continue
		}
		seen[day] = true
		t := cases.SweatTest{On: day, Collector: "tubing"}
		for _, side := range []string{"left", "right"} {
			amount, chloride := float64(8+rng.IntN(30)), float64(rng.IntN(120))
			a := cases.Arm{Side: side, Minutes: 30, AmountUL: &amount}
			if rng.IntN(5) > 0 {
				a.Chloride = &chloride
			}
			t.Arms = append(t.Arms, a)
		}
		if rng.IntN(6) == 0 {
			t.Verified = &cases.Verified{On: max(day, on()), By: "a", As: []string{"stands", "void"}[rng.IntN(2)]}
		}
		c.SweatTests = append(c.SweatTests, t)
	}
}
