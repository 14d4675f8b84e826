package measures

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"dunlin/cases"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// someCohort is small enough to count by hand.
func someCohort() []cases.Milestones {
	born, days := asOf-400, cases.DefaultProtocol().Calendar()
	base := cases.Milestones{Born: born, Referred: born + 6, Route: "screen", Language: "en", Gestation: 273, BirthWeightG: 3200}
	with := func(f func(*cases.Milestones)) cases.Milestones { m := base; f(&m); return m }
	test := func(age int, o cases.Outcome, site string, g int) cases.TestMark {
		return cases.TestMark{On: born + cases.Day(age), Outcome: o, Site: site, WeightG: g}
	}
	return []cases.Milestones{
		with(func(m *cases.Milestones) { // QNS, repeated a week later, closed
			m.FirstSufficient, m.DoctorTold, m.FamilyReached = born+27, m.Referred, days.Add(m.Referred, 2)
			m.Tests = []cases.TestMark{test(20, cases.QNS, "bay", 2300), test(27, cases.Unlikely, "bay", 2600)}
			m.Closed, m.Determined, m.ClosedAs = born+29, born+29, "carrier"
			m.Visits = []cases.VisitMark{{On: born + 20, Site: "bay", State: "kept"}, {On: born + 27, Site: "bay", State: "kept"}}
			m.Calls = cases.CallCounts{Family: 2, FamilyReached: 1, Others: 1}
		}),
		with(func(m *cases.Milestones) { // QNS twice, then lost
			m.DoctorTold, m.FamilyReached = days.Add(m.Referred, 2), days.Add(m.Referred, 3)
			m.Tests = []cases.TestMark{test(30, cases.QNS, "hill", 0), test(100, cases.QNS, "hill", 4000)}
			m.Closed, m.ClosedAs = born+150, "lost"
			m.Visits = []cases.VisitMark{{On: born + 25, Site: "hill", State: "missed"}, {On: born + 30, Site: "hill", State: "kept"}, {On: born + 60, Site: "hill", State: "cancelled"}, {On: asOf + 9, Site: "hill", State: "booked"}}
			m.Calls = cases.CallCounts{Family: 6, FamilyReached: 2, Letters: 2}
			m.Lacks = cases.LacksTestWeight | cases.LacksPhone
			m.Language = "es"
		}),
		with(func(m *cases.Milestones) { // determined late
			m.FirstSufficient, m.Gestation = born+40, 30*7
			m.Tests = []cases.TestMark{test(40, cases.Unlikely, "bay", 2800)}
			m.Closed, m.Determined, m.ClosedAs = born+200, born+200, "not-affected"
			m.Calls.Family = 1
		}),
		with(func(m *cases.Milestones) { m.Died, m.Closed, m.ClosedAs = born+50, born+52, "died" }),
		with(func(m *cases.Milestones) { m.Marks = cases.MarkTestMessage }),
		with(func(m *cases.Milestones) { m.Referred = asOf + 1 }),
	}
}

func TestRatesByHand(t *testing.T) {
	tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
	for _, m := range someCohort() {
		tally.Add(&m)
	}
	r := tally.Report()
	if r.Cases != 4 {
		t.Errorf("%d cases", r.Cases)
	}
	want := map[string]string{QNSTestsYoung: "2/4", QNSTestsOlder: "1/1", QNSInfants: "2/3", MissedVisits: "1/4", LostClosures: "1/4",
		QNSFirstYoung: "2/3", TestedBy(28): "1/4", TestedBy(35): "1/4", TestedBy(42): "2/4", TestedBy(56): "2/3", TestedBy(58): "2/3", TestedBy(60): "2/3",
		DoctorInTime: "1/4", FamilyInTime: "1/4", PredictsCF: "0/4", PredictsEither: "0/4",
		NoResolution90: "2/3", NoResolution180: "2/3", NoResolution365: "1/3"}
	for _, x := range r.Rates {
		if got := fmt.Sprintf("%d/%d", x.Count, x.Of); got != want[x.Measure] {
			t.Errorf("%s is %s, want %s", x.Measure, got, want[x.Measure])
		}
		delete(want, x.Measure)
		if d, ok := DefinitionOf(x.Measure); !ok || d.Numerator == "" || d.Denominator == "" {
			t.Errorf("%s is printed without what it counts", x.Measure)
		}
	}
	if len(want) > 0 {
		t.Errorf("rates left out: %v", want)
	}
	if b := r.Rates[0].Benchmark; b == nil || *b != 0.10 || !near(r.Rates[0].Test.Greater, TestAgainst(0.1, 2, 4).Greater) {
		t.Errorf("the benchmark of young infants: %+v", r.Rates[0])
	}
	rows := map[string]string{}
	for _, b := range r.Breakdowns {
		for _, x := range b.Rows {
			rows[x.Measure+", "+b.By+", "+x.Name] = fmt.Sprintf("%d/%d", x.Count, x.Of)
		}
	}
	for name, want := range map[string]string{
		"qns-tests-up-to-3-months, site, bay": "1/3", "qns-tests-up-to-3-months, site, hill": "1/1",
		"qns-tests-up-to-3-months, age at the test, 14 to 27 days":     "1/2",
		"qns-tests-up-to-3-months, weight at the test, 2000 to 2499 g": "1/1",
		"qns-tests-up-to-3-months, weight at the test, not recorded":   "1/1",
		"qns-infants, language, es":                                    "1/1",
		"missed-appointments, site, hill":                              "1/2",
		"complete-data, fact, telephone":                               "3/4",
		"complete-data, fact, weight at each test":                     "2/3",
		"qns-tests-up-to-3-months, gestation, 37 weeks or more":        "2/3",
		"qns-first-tests-up-to-3-months, birth weight, 2500 g or more": "2/3",
		// 30 weeks at birth is 36 weeks on day 42: too late for day 42, in time for day 56.
		"tested-by-28-days, readiness, old enough in time":             "1/3",
		"tested-by-42-days, readiness, not old enough in time":         "1/1",
		"tested-by-56-days, readiness, old enough in time":             "2/3",
		"qns-tests-older, age at the test, 91 days or more":            "1/1",
		"qns-tests-up-to-3-months, weight at the test, 2500 to 2999 g": "0/2",
	} {
		if rows[name] != want {
			t.Errorf("%s is %q, want %s", name, rows[name], want)
		}
	}
	// Repeats: one after 7 days, one after 70; graded 7 days later, the other never.
	if m := r.RepeatTest; m.Done != 2 || m.Cases != 2 || Days(m.Median.Day) != "38.5" {
		t.Errorf("QNS to next test: %d of %d, median %s", m.Done, m.Cases, Days(m.Median.Day))
	}
	if m := r.RepeatGrade; m.Done != 1 || m.Left != 1 || m.Waiting != 0 || len(m.Curve) != 2 || m.Curve[1].Day != 120 {
		t.Errorf("to the result of a repeat: %+v", m)
	}
	if c := r.Calls; c.Family != 9 || c.FamilyReached != 3 || !near(*c.PerCase, 9.0/4) || c.Closed != 4 || !near(*c.Median, 1.5) || !near(*c.P90, 4.8) {
		t.Errorf("contacts: %+v", c)
	}
	empty := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol()).Report()
	if empty.Cases != 0 || empty.Rates[0].Rate != nil || empty.Rates[0].Test != nil || empty.Calls.PerCase != nil || empty.Calls.Median != nil {
		t.Errorf("an empty cohort has figures: %+v", empty.Rates[0])
	}
}

// A report of an earlier day leaves out what came later, and an infant is counted at
// an age only once that age was reached.
func TestRatesAsOfADay(t *testing.T) {
	born := asOf - 400
	tally := NewRatesTally(Window{AsOf: born + 25}, cases.DefaultProtocol())
	for _, m := range someCohort() {
		tally.Add(&m)
	}
	got := map[string]string{}
	for _, x := range tally.Report().Rates {
		got[x.Measure] = fmt.Sprintf("%d/%d", x.Count, x.Of)
	}
	want := map[string]string{QNSTestsYoung: "1/1", QNSTestsOlder: "0/0", QNSInfants: "1/1", MissedVisits: "1/2", LostClosures: "0/0",
		NoResolution90: "0/0", NoResolution180: "0/0", NoResolution365: "0/0",
		QNSFirstYoung: "1/1", DoctorInTime: "1/4", FamilyInTime: "1/4", PredictsCF: "0/4", PredictsEither: "0/4"}
	for _, days := range TestedAges {
		want[TestedBy(days)] = "0/0"
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// The groups of each breakdown add up to the rate of all, the order of cases does
// not matter, and what is published hides every small count.
func TestBreakdownsAddUp(t *testing.T) {
	outcomes := []cases.Outcome{cases.QNS, cases.Unlikely, cases.Intermediate, cases.NotResulted}
	rapid.Check(t, func(t *rapid.T) {
		var all []cases.Milestones
		for range rapid.IntRange(0, 40).Draw(t, "cases") {
			m := cases.Milestones{Born: asOf - cases.Day(rapid.IntRange(0, 500).Draw(t, "age")), BirthWeightG: rapid.IntRange(0, 4000).Draw(t, "g")}
			m.Referred = m.Born + 5
			on := m.Born
			for range rapid.IntRange(0, 3).Draw(t, "tests") {
				on += cases.Day(rapid.IntRange(1, 80).Draw(t, "on"))
				m.Tests = append(m.Tests, cases.TestMark{On: on, Outcome: rapid.SampledFrom(outcomes).Draw(t, "outcome"),
					Site: rapid.SampledFrom([]string{"", "bay", "hill", "shore"}).Draw(t, "site"), WeightG: rapid.IntRange(0, 5000).Draw(t, "w")})
			}
			all = append(all, m)
		}
		report := func() Rates {
			tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
			for i := range all {
				tally.Add(&all[i])
			}
			return tally.Report()
		}
		r := report()
		whole := map[string]Proportion{}
		for _, x := range r.Rates {
			whole[x.Measure] = x.Proportion
		}
		for _, b := range r.Breakdowns {
			x, n := 0, 0
			for _, row := range b.Rows {
				x += row.Count
				n += row.Of
			}
			if w := whole[b.Measure]; b.Measure != Complete && (x != w.Count || n != w.Of) {
				t.Fatalf("%s by %s adds up to %d of %d, all are %d of %d", b.Measure, b.By, x, n, w.Count, w.Of)
			}
			rule := SmallNumbers{Below: 5}
			for i, h := range b.Published(rule) {
				row := b.Rows[i]
				if rule.Small(row.Count) != h.Count.Hidden && !h.Count.Hidden || rule.Small(row.Of) && !h.Of.Hidden {
					t.Fatalf("%s of %s is published as %s of %s, is %d of %d", b.Measure, row.Name, h.Count, h.Of, row.Count, row.Of)
				}
			}
		}
		rand.New(rand.NewPCG(3, 4)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		if d := cmp.Diff(r, report()); d != "" {
			t.Fatal(d)
		}
	})
}

func TestBands(t *testing.T) {
	for got, want := range map[string]string{AgeBand(0): "under 14 days", AgeBand(14): "14 to 27 days", AgeBand(90): "42 to 90 days", AgeBand(91): "91 days or more",
		WeightBand(0): "not recorded", WeightBand(1999): "under 2000 g", WeightBand(3500): "3500 g or more", BirthWeightBand(1499): "1000 to 1499 g",
		GestationBand(0): "not recorded", GestationBand(36*7 + 6): "32 to 36 weeks", GestationBand(37 * 7): "37 weeks or more"} {
		if got != want {
			t.Errorf("band %q, want %q", got, want)
		}
	}
}

// What is published holds no small count, neither in its data nor in its text.
func TestPublishedRates(t *testing.T) {
	tally := NewRatesTally(Window{AsOf: asOf}, cases.DefaultProtocol())
	for range 12 {
		for _, m := range someCohort() {
			tally.Add(&m)
		}
	}
	odd := someCohort()[1]
	odd.Tests[0].Site = "shore"
	tally.Add(&odd)
	p := tally.Report().Publish(SmallNumbers{Below: 11})
	for _, b := range p.Breakdowns {
		for _, x := range b.Rows {
			if !x.Count.Hidden && x.Count.N > 0 && x.Count.N < 11 || !x.Of.Hidden && x.Of.N > 0 && x.Of.N < 11 {
				t.Errorf("%s by %s, %s: %s of %s", b.Measure, b.By, x.Name, x.Count, x.Of)
			}
			if (x.Count.Hidden || x.Of.Hidden) && (x.Rate != nil || x.Limits != nil || x.Test != nil) {
				t.Errorf("%s by %s, %s: hidden, yet with its rate", b.Measure, b.By, x.Name)
			}
		}
	}
	var b strings.Builder
	if err := p.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"49 cases", "Counts from 1 to 10 are hidden", "QNS, infants up to 3 months, by site", "shore  hidden of hidden", "benchmark 10 %", "collections at an age of 90 days or less"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, b.String())
		}
	}
	if raw, err := json.Marshal(p); err != nil || !strings.Contains(string(raw), `"count":null`) {
		t.Errorf("as JSON: %v", err)
	}
}
