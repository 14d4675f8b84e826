package store

import (
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"dunlin/cases"
)

// TestMilestonesFollowEveryChange writes random facts over random facts and
// compares the kept milestones, after each round, with those of each case read and
// assessed: on the day itself and long after.
func TestMilestonesFollowEveryChange(t *testing.T) {
	db := openTest(t)
	rng := rand.New(rand.NewPCG(8, 3))
	today := cases.DayOf(noon)
	sites := []string{"", "alder-bay", "north shore", "Zürich"}
	facts := func() cases.Case {
		c := randomFacts(rng, today)
		for i := range c.SweatTests {
			c.SweatTests[i].Site = sites[rng.IntN(len(sites))]
		}
		for i := range c.Bookings {
			c.Bookings[i].Site = sites[rng.IntN(len(sites))]
			if rng.IntN(2) == 0 {
				c.Bookings[i].Made = min(today, max(c.Infant.Born, c.Bookings[i].On-9))
			}
			if c.Bookings[i].State == "kept" {
				c.Bookings[i].On = min(c.Bookings[i].On, today)
			}
		}
		if rng.IntN(2) == 0 {
			c.Family = &cases.Family{Language: "es", Guardians: []cases.Guardian{{Address: &cases.Address{County: "Tern Valley", Region: "AB", Postal: "99501"}}}}
		}
		return c
	}
	var all []cases.Case
	for range 150 {
		all = append(all, put(t, db, facts(), "opened"))
	}
	for round := range 3 {
		compareMilestones(t, db, all, today)
		for i := range all {
			if rng.IntN(2) == 0 {
				c := facts()
				c.ID, c.Rev, c.Reference = all[i].ID, all[i].Rev, all[i].Reference
				all[i] = put(t, db, c, "changed")
			}
		}
		if round == 1 {
			p := *cases.DefaultProtocol()
			p.MinAgeDays = 21
			if err := db.SetProtocol(ctx, &p); err != nil {
				t.Fatal(err)
			}
		}
	}
	compareMilestones(t, db, all, today)
	if problems, err := db.Check(ctx); err != nil || len(problems) > 0 {
		t.Errorf("check: %v %v", problems, err)
	}
}

func compareMilestones(t *testing.T, db *DB, all []cases.Case, today cases.Day) {
	t.Helper()
	kept := map[cases.ID]cases.Milestones{}
	last := cases.Day(0)
	view(t, db, func(r cases.Reader) error {
		for m, err := range r.Milestones(0, lastDay) {
			if err != nil {
				return err
			}
			if m.Referred < last {
				t.Errorf("%s referred %s comes after %s", m.Reference, m.Referred, last)
			}
			last = m.Referred
			kept[m.Case] = m
		}
		return nil
	})
	if len(kept) != len(all) {
		t.Fatalf("%d milestones for %d cases", len(kept), len(all))
	}
	p := db.protocol()
	for i := range all {
		for _, on := range []cases.Day{today, today + 1, today + 40, today + 800} {
			a := p.Assess(&all[i], on)
			if d := cmp.Diff(cases.MilestonesOf(&all[i], &a), kept[all[i].ID], cmpopts.EquateEmpty()); d != "" {
				t.Fatalf("%s as of %s: %s", all[i].Reference, on, d)
			}
		}
	}
}

func TestMilestonesByReferral(t *testing.T) {
	db := openTest(t)
	day := cases.MakeDay(2026, 3, 1)
	for i := range 5 {
		c := newCase(60+i, "Ada", "Wren")
		c.Infant.Born, c.Referral.On = day-10, day+cases.Day(i)
		put(t, db, c, "opened")
	}
	for _, x := range []struct {
		from, to cases.Day
		want     int
	}{{0, lastDay, 5}, {day, day, 1}, {day + 1, day + 3, 3}, {day + 4, day + 90, 1}, {day + 5, day + 90, 0}, {day + 3, day + 1, 0}, {-5, day - 1, 0}} {
		n := 0
		view(t, db, func(r cases.Reader) error {
			for m, err := range r.Milestones(x.from, x.to) {
				if err != nil {
					return err
				}
				if m.Referred < x.from || m.Referred > x.to {
					t.Errorf("%s is not from %s to %s", m.Referred, x.from, x.to)
				}
				n++
			}
			return nil
		})
		if n != x.want {
			t.Errorf("%s to %s: %d, want %d", x.from, x.to, n, x.want)
		}
	}
}

// drawMilestones draws any milestones that a case could have.
func drawMilestones(t *rapid.T) cases.Milestones {
	born := cases.MakeDay(2026, 1, 1) + cases.Day(rapid.IntRange(0, 2000).Draw(t, "born"))
	day := func(name string) cases.Day {
		if rapid.Bool().Draw(t, "no "+name) {
			return 0
		}
		return born + cases.Day(rapid.IntRange(-300, 3000).Draw(t, name))
	}
	text := rapid.StringMatching(`[a-zA-Zäöü 0-9\-]{0,20}`)
	n := rapid.IntRange(0, 9)
	m := cases.Milestones{Case: cases.ID(strings.Repeat("7", idWidth)), Reference: text.Draw(t, "ref"), Born: born, Referred: born + 4,
		Collected: day("collected"), Reported: day("reported"), DoctorTold: day("doctor"), FamilyReached: day("family"), FirstBooking: day("booking"),
		FirstTest: day("test"), FirstSufficient: day("sufficient"), LastResult: day("result"), Determined: day("determined"), Closed: day("closed"), Died: day("died"),
		Route: text.Draw(t, "route"), ClosedAs: text.Draw(t, "as"), Site: text.Draw(t, "site"), Language: text.Draw(t, "language"), County: text.Draw(t, "county"), Region: text.Draw(t, "region"), Postal: text.Draw(t, "postal"),
		Gestation: cases.Gestation(n.Draw(t, "gestation")), BirthWeightG: rapid.IntRange(0, 6000).Draw(t, "weight"),
		Alleles: cases.Alleles{CFCausing: n.Draw(t, "a"), Varying: n.Draw(t, "b"), Unknown: n.Draw(t, "c"), NonCausing: n.Draw(t, "d")},
		Marks:   cases.Marks(n.Draw(t, "marks")), Lacks: cases.Lacks(rapid.IntRange(0, 8191).Draw(t, "lacks")),
		Calls: cases.CallCounts{Family: n.Draw(t, "e"), FamilyReached: n.Draw(t, "f"), Others: n.Draw(t, "g"), Letters: n.Draw(t, "h")}}
	for range rapid.IntRange(0, 12).Draw(t, "tests") {
		m.Tests = append(m.Tests, cases.TestMark{On: day("on"), Outcome: rapid.SampledFrom(markOutcomes).Draw(t, "outcome"), Site: text.Draw(t, "at"),
			Pad: rapid.Bool().Draw(t, "pad"), NoAmount: rapid.Bool().Draw(t, "no amount"), WeightG: rapid.IntRange(0, 9000).Draw(t, "g")})
	}
	for range rapid.IntRange(0, 12).Draw(t, "visits") {
		m.Visits = append(m.Visits, cases.VisitMark{On: day("on"), Site: text.Draw(t, "at"), State: rapid.SampledFrom(markStates).Draw(t, "state")})
	}
	return m
}

func TestMilestoneKeysReadBack(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := drawMilestones(rt)
		keys := milestoneKeys(&m)
		got, err := newMarkReader().read(keys[0] + string(m.Case))
		if err != nil || len(keys) != 1 {
			rt.Fatalf("%q: %v", keys, err)
		}
		if d := cmp.Diff(m, got, cmpopts.EquateEmpty()); d != "" {
			rt.Fatalf("%q: %s", keys[0], d)
		}
	})
}

// A case with thousands of appointments is written all the same.
func TestMilestoneKeysHaveABound(t *testing.T) {
	m := cases.Milestones{Case: cases.ID(strings.Repeat("7", idWidth)), Born: 700_000, Referred: 700_004}
	for i := range 20_000 {
		m.Visits = append(m.Visits, cases.VisitMark{On: 700_010, Site: strings.Repeat("s", i%300), State: "kept"})
	}
	key := milestoneKeys(&m)[0]
	got, err := newMarkReader().read(key + string(m.Case))
	if err != nil || len(key) > markLimit || len(got.Visits) == 0 || got.Visits[0].State != "kept" {
		t.Errorf("%d bytes, %d appointments: %v", len(key), len(got.Visits), err)
	}
	if keys := milestoneKeys(&cases.Milestones{}); keys != nil {
		t.Errorf("a case without days has keys %q", keys)
	}
}

func FuzzMilestoneKey(f *testing.F) {
	m := cases.Milestones{Case: cases.ID(strings.Repeat("7", idWidth)), Born: 700_000, Referred: 700_004, Site: "bay",
		Tests: []cases.TestMark{{On: 700_020, Outcome: cases.QNS, Site: "bay"}}}
	f.Add(milestoneKeys(&m)[0] + string(m.Case))
	f.Add("")
	f.Fuzz(func(t *testing.T, key string) {
		got, err := newMarkReader().read(key)
		if err == nil && got.Born == 0 {
			t.Errorf("%q was read without a birth", key)
		}
	})
}
