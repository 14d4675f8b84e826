package cases_test

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

// cleanCase draws a case to which no kind of data fault applies: every fact is
// recorded, and the days come in the order of the milestones.
func cleanCase(t *rapid.T) (c cases.Case, today cases.Day) {
	n := func(name string, low, high int) cases.Day { return cases.Day(rapid.IntRange(low, high).Draw(t, name)) }
	amount, chloride := 22.0, 17.0
	born := cases.MakeDay(2026, 1, 1) + n("born", 0, 300)
	referred := born + n("referral", 5, 12)
	told := referred + n("told", 0, 3)
	reached := told + n("reached", 0, 4)
	made := reached + n("made", 0, 5)
	booked := made + n("booked", 0, 14)
	c = cases.Case{Document: cases.DocumentName, Reference: "AB-2026-0001",
		Infant:      cases.Infant{Born: born, Gestation: 270, BirthWeightG: 3100, Weights: []cases.Weight{{On: booked - n("weighed", 0, 7), G: 3900}}},
		Referral:    cases.Referral{On: referred, Route: "screen", Screen: &cases.Screen{Collected: born + 1, Reported: born + n("report", 3, 5)}},
		Contacts:    []cases.Contact{{On: told, With: "primary-care", By: "phone", Reached: true}, {On: reached, With: "family", By: "phone", Reached: true}},
		Family:      &cases.Family{Language: "es", Guardians: []cases.Guardian{{Family: "Wren", Phones: []cases.Phone{{Number: "555-0187"}}}}},
		PrimaryCare: &cases.PrimaryCare{Name: "Dr. Averill"}}
	today = booked
	visit := cases.Booking{On: booked, Site: "alder-bay", State: "booked", Made: made, Changed: made}
	if rapid.Bool().Draw(t, "tested") {
		visit.Become("kept", booked)
		c.SweatTests = []cases.SweatTest{{On: booked, Site: "alder-bay", Collector: "tubing", Arms: []cases.Arm{
			{Side: "left", Minutes: 30, AmountUL: &amount, Chloride: &chloride}, {Side: "right", Minutes: 30, AmountUL: &amount, Chloride: &chloride}}}}
		if rapid.Bool().Draw(t, "closed") {
			today = booked + n("closed", 0, 9)
			c.Genotype = &cases.Genotype{Scope: "none"}
			c.Closures = []cases.Closure{{On: today, As: "not-affected", By: "Dr. Lindqvist"}}
		}
	}
	c.Bookings = []cases.Booking{visit}
	return c, today
}

// dataFaultsOf reads the faults of a case as of today from its milestones, which hold
// for every day on or after the last recorded fact, also one dated ahead.
func dataFaultsOf(c *cases.Case, today cases.Day) (*cases.DataQuality, cases.Milestones, cases.DataFaults) {
	a := cases.DefaultProtocol().Assess(c, today+9)
	m := cases.MilestonesOf(c, &a)
	q := cases.NewDataQuality(cases.DefaultProtocol(), today)
	return q, m, q.Faults(&m)
}

func TestACleanCaseHasNoDataFault(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, today := cleanCase(t)
		if faults := c.Faults(today, cases.DefaultProtocol()); len(faults) > 0 {
			t.Fatalf("the case itself is refused: %v", faults)
		}
		if q, m, s := dataFaultsOf(&c, today+cases.Day(rapid.IntRange(0, 400).Draw(t, "later"))); s != 0 {
			for f := range cases.DataFault(len(cases.DataFaultKinds)) {
				if s.Has(f) {
					t.Errorf("%s: %q", f.Kind().Key, q.Words(&m, f))
				}
			}
		}
	})
}

// planted spoils a clean case; it gives false where the case has nothing to spoil.
var planted = []struct {
	kind  cases.DataFault
	words string
	spoil func(c *cases.Case, today cases.Day) bool
}{
	{cases.ImpossibleOrder, "The referral,", func(c *cases.Case, _ cases.Day) bool { c.Referral.Screen.Collected = c.Referral.On + 1; return true }},
	{cases.ImpossibleOrder, "before the screen’s collection", func(c *cases.Case, _ cases.Day) bool {
		c.Referral.Screen.Collected = c.Referral.Screen.Reported + 1
		return true
	}},
	{cases.ImpossibleOrder, "before a test,", func(c *cases.Case, _ cases.Day) bool {
		c.Infant.Died, c.Infant.DiedReported = c.Referral.On+1, c.Referral.On+2
		return len(c.SweatTests) > 0 && c.SweatTests[0].On > c.Infant.Died
	}},
	{cases.ImpossibleOrder, "n appointment that was kept", func(c *cases.Case, _ cases.Day) bool {
		c.Infant.Died, c.Infant.DiedReported = c.Referral.On+1, c.Referral.On+2
		return c.Bookings[0].State == "kept" && c.Bookings[0].On > c.Infant.Died
	}},
	{cases.UnusualOrder, "before reaching the family,", func(c *cases.Case, _ cases.Day) bool { c.Bookings[0].Made = c.Contacts[1].On - 1; return true }},
	{cases.UnusualOrder, "The referral, ", func(c *cases.Case, _ cases.Day) bool { c.Referral.Screen.Reported = c.Referral.On + 1; return true }},
	{cases.DayAhead, " test", func(c *cases.Case, today cases.Day) bool {
		if len(c.SweatTests) == 0 {
			return false
		}
		c.SweatTests[0].On = today + 3
		return true
	}},
	{cases.DayAhead, "An appointment marked as kept", func(c *cases.Case, today cases.Day) bool {
		c.Bookings = append(c.Bookings, cases.Booking{On: today + 2, State: "kept", Made: c.Bookings[0].Made})
		return true
	}},
	{cases.NoAmount, "an arm without its amount", func(c *cases.Case, _ cases.Day) bool {
		if len(c.SweatTests) == 0 {
			return false
		}
		c.SweatTests[0].Arms[1].AmountUL = nil
		return true
	}},
	{cases.NoTestWeight, "nor in the 7 days before", func(c *cases.Case, _ cases.Day) bool { c.Infant.Weights = nil; return len(c.SweatTests) > 0 }},
	{cases.NoTestSite, "does not say where", func(c *cases.Case, _ cases.Day) bool {
		if len(c.SweatTests) == 0 {
			return false
		}
		c.SweatTests[0].Site = ""
		return true
	}},
	{cases.NoBirthWeight, "The birth weight", func(c *cases.Case, _ cases.Day) bool { c.Infant.BirthWeightG = 0; return true }},
	{cases.NoGestation, "The gestation", func(c *cases.Case, _ cases.Day) bool { c.Infant.Gestation = 0; return true }},
	{cases.NoScreenDays, "the screen’s report", func(c *cases.Case, _ cases.Day) bool { c.Referral.Screen.Reported = 0; return true }},
	{cases.NoScreenDays, "the screen’s collection", func(c *cases.Case, _ cases.Day) bool { c.Referral.Screen = nil; return true }},
	{cases.NoContact, "no contact is recorded", func(c *cases.Case, today cases.Day) bool {
		c.Contacts = nil
		return len(c.Closures) == 0 && today > c.Referral.On+5
	}},
	{cases.NoPhone, "no telephone", func(c *cases.Case, _ cases.Day) bool { c.Family.Guardians[0].Phones = nil; return len(c.Closures) == 0 }},
	{cases.NoLanguage, "language is not recorded", func(c *cases.Case, _ cases.Day) bool { c.Family.Language = ""; return len(c.Closures) == 0 }},
	{cases.NoPrimaryCare, "no doctor", func(c *cases.Case, _ cases.Day) bool { c.PrimaryCare = nil; return len(c.Closures) == 0 }},
}

// Each planted fault is found and said in words.
func TestPlantedDataFaultsAreFound(t *testing.T) {
	for _, x := range planted {
		hit := 0
		rapid.Check(t, func(t *rapid.T) {
			c, today := cleanCase(t)
			if !x.spoil(&c, today) {
				return
			}
			hit++
			q, m, s := dataFaultsOf(&c, today)
			words := strings.Join(q.Words(&m, x.kind), " ")
			if !s.Has(x.kind) || !strings.Contains(words, x.words) {
				t.Fatalf("%s, %q, was planted; found %b, %q\n%s", x.kind.Kind().Key, x.words, s, words, asJSON(t, c))
			}
		})
		if hit == 0 {
			t.Errorf("%s, %q, was never planted", x.kind.Kind().Key, x.words)
		}
	}
}

// What does not count has no fault, and one case has a kind once.
func TestWhichCasesDataFaultsAreAbout(t *testing.T) {
	today := cases.MakeDay(2026, 3, 31)
	m := cases.Milestones{Born: today - 40, Referred: today - 30, Route: "screen", Lacks: cases.LacksGestation | cases.LacksPhone | cases.LacksLanguage,
		Tests: []cases.TestMark{{On: today - 9, NoAmount: true}, {On: today - 3, NoAmount: true}}}
	m.Lacks |= cases.LacksAmount
	q := cases.NewDataQuality(cases.DefaultProtocol(), today)
	with := func(f func(*cases.Milestones)) cases.Milestones { x := m; f(&x); return x }
	for name, x := range map[string]struct {
		m    cases.Milestones
		want string
	}{
		"open":               {m, "no-amount no-gestation no-contact no-phone no-language"},
		"closed":             {with(func(m *cases.Milestones) { m.Closed, m.ClosedAs = today, "cf" }), "no-amount no-gestation"},
		"died":               {with(func(m *cases.Milestones) { m.Died = today }), "no-amount no-gestation"},
		"a letter was tried": {with(func(m *cases.Milestones) { m.Calls.Family = 1 }), "no-amount no-gestation no-phone no-language"},
		"not due yet":        {with(func(m *cases.Milestones) { m.Referred = today - 1 }), "no-amount no-gestation no-phone no-language"},
		"test message":       {with(func(m *cases.Milestones) { m.Marks |= cases.MarkTestMessage }), ""},
		"duplicate":          {with(func(m *cases.Milestones) { m.Closed, m.ClosedAs = today, "duplicate" }), ""},
	} {
		got, s := []string{}, q.Faults(&x.m)
		for f := range cases.DataFault(len(cases.DataFaultKinds)) {
			if s.Has(f) {
				got = append(got, f.Kind().Key)
			}
		}
		if strings.Join(got, " ") != x.want || s.Count() != len(got) {
			t.Errorf("%s: %s, want %s", name, got, x.want)
		}
	}
	if words := q.Words(&m, cases.NoAmount); fmt.Sprint(len(words)) != "2" || !strings.Contains(words[0], "22 Mar 2026") {
		t.Errorf("%q", words)
	}
	if f, ok := cases.DataFaultByKey("no-phone"); !ok || f != cases.NoPhone {
		t.Errorf("no-phone is %v %v", f, ok)
	}
	if _, ok := cases.DataFaultByKey("x"); ok {
		t.Error("x is a kind")
	}
}

// Every pair of milestones of which the later comes first is listed: what an interval
// report refuses to count, this list shows.
func TestEveryNegativeIntervalIsListed(t *testing.T) {
	today := cases.MakeDay(2027, 3, 31)
	q := cases.NewDataQuality(cases.DefaultProtocol(), today)
	rapid.Check(t, func(t *rapid.T) {
		born := today - 400
		day := func(name string) cases.Day {
			if rapid.IntRange(0, 2).Draw(t, "no "+name) == 0 {
				return 0
			}
			return born + cases.Day(rapid.IntRange(0, 9).Draw(t, name))
		}
		m := cases.Milestones{Born: born, Collected: day("c"), Reported: day("r"), Referred: born + 4, DoctorTold: day("d"), FamilyReached: day("f"), FirstBooking: day("b"),
			FirstTest: day("t"), FirstSufficient: day("s"), LastResult: day("l"), Closed: day("k"), Route: rapid.SampledFrom([]string{"screen", "clinical"}).Draw(t, "route")}
		list := []cases.Day{m.Born, m.Collected, m.Reported, m.Referred, m.DoctorTold, m.FamilyReached, m.FirstBooking, m.FirstTest, m.FirstSufficient, m.LastResult, m.Closed}
		want := 0
		for i, a := range list {
			for _, b := range list[i+1:] {
				if a != 0 && b != 0 && b < a {
					want++
				}
			}
		}
		words := strings.Join(append(q.Words(&m, cases.ImpossibleOrder), q.Words(&m, cases.UnusualOrder)...), " ")
		if got := strings.Count(words, " before "); got != want {
			t.Fatalf("%d pairs are listed, %d are negative: %+v", got, want, m)
		}
	})
}

func BenchmarkDataQuality(b *testing.B) {
	today := cases.MakeDay(2026, 3, 31)
	q := cases.NewDataQuality(cases.DefaultProtocol(), today)
	m := cases.Milestones{Born: today - 40, Collected: today - 39, Reported: today - 36, Referred: today - 35, DoctorTold: today - 34, FamilyReached: today - 33,
		FirstBooking: today - 30, FirstTest: today - 20, FirstSufficient: today - 20, LastResult: today - 20, Calls: cases.CallCounts{Family: 1},
		Tests: []cases.TestMark{{On: today - 20, Site: "bay"}}}
	b.ReportAllocs()
	for b.Loop() {
		if q.Faults(&m) != 0 {
			b.Fatal("a fault")
		}
	}
}

// The tally counts each case once a kind, and keeps a page of the lines of one.
func TestDataFaultTally(t *testing.T) {
	today := cases.MakeDay(2026, 3, 31)
	p := cases.DefaultProtocol()
	tally := func(kind cases.DataFault, skip, most int) *cases.DataFaultTally {
		x := &cases.DataFaultTally{Quality: cases.NewDataQuality(p, today), Kind: kind, Skip: skip, Most: most,
			Alike: map[cases.ID][]cases.Alike{"id-4": {{Reference: "AB-2026-0002", Why: "The same phone"}}, "id-7": {{Reference: "AB-2026-0001"}}}}
		for i := range 8 {
			m := cases.Milestones{Case: cases.ID(fmt.Sprintf("id-%d", i)), Reference: fmt.Sprintf("AB-2026-%04d", i), Born: today - 40, Referred: today - 33, Calls: cases.CallCounts{Family: 1}}
			if i%2 == 1 {
				m.Lacks = cases.LacksGestation
			}
			if i == 7 {
				m.Marks = cases.MarkTestMessage
			}
			x.Add(&m)
		}
		return x
	}
	for _, x := range []struct {
		skip, most int
		want       string
	}{{0, -1, "1 3 5"}, {0, 2, "1 3"}, {1, 1, "3"}, {2, 9, "5"}, {3, 9, ""}, {0, 0, ""}} {
		got, r := []string{}, tally(cases.NoGestation, x.skip, x.most)
		for _, l := range r.Lines {
			got = append(got, l.Reference[len(l.Reference)-1:])
		}
		if strings.Join(got, " ") != x.want || r.Cases != 7 || r.Faulty != 4 || r.Counts[cases.NoGestation] != 3 || r.Counts[cases.SuspectDuplicate] != 1 {
			t.Errorf("%d to %d: %s of %+v", x.skip, x.most, got, r.Counts)
		}
	}
	l := tally(cases.SuspectDuplicate, 0, -1).Lines
	if len(l) != 1 || l[0].Reference != "AB-2026-0004" || fmt.Sprint(l[0].Words, l[0].Others) != "[May be the same infant as AB-2026-0002. The same phone.] [AB-2026-0002]" {
		t.Errorf("%+v", l)
	}
}
