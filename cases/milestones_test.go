package cases_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"dunlin/cases"
)

// The milestones are what the assessment and the recorded facts say, one by one.
func TestMilestonesAreWhatTheAssessmentSays(t *testing.T) {
	p := cases.DefaultProtocol()
	rapid.Check(t, func(t *rapid.T) {
		c, on := genCase(t)
		a := p.Assess(&c, on)
		m := cases.MilestonesOf(&c, &a)
		same := func(what string, got, want any) {
			if !cmp.Equal(got, want) {
				t.Fatalf("%s: %v, want %v\ncase %s", what, got, want, asJSON(t, c))
			}
		}
		same("doctor told", m.DoctorTold, a.Clocks.PrimaryCareTold.MetOn)
		same("family reached", m.FamilyReached, a.Clocks.FamilyReached.MetOn)
		same("first test", m.FirstTest, a.Clocks.FirstTest.MetOn)
		same("closed", m.Closed, a.ClosedOn)
		same("closed as", m.ClosedAs, a.ClosedAs)
		same("exception", m.Marks&cases.MarkException != 0, a.Clocks.FirstTest.Exception != "")
		same("presumptive", m.Marks&cases.MarkPresumptive != 0, a.PresumptiveCF)
		same("proposed", m.Marks&cases.MarkProposed != 0, a.Proposed != nil)
		if m.Determined != 0 {
			same("determined", m.Determined, a.Clocks.Determination.MetOn)
		}
		same("lost is no determination", m.ClosedAs == "lost" && m.Determined != 0, false)
		var sufficient, result, first cases.Day
		counted := 0
		for _, r := range a.Tests {
			if r.Outcome == cases.ScreeningOnly || r.Test.IsConductivity() {
				continue
			}
			if r.Outcome.Graded() {
				result = max(result, r.On)
			}
			if r.Outcome == cases.VoidTest {
				continue
			}
			counted++
			if r.Outcome != cases.QNS && (sufficient == 0 || r.On < sufficient) {
				sufficient = r.On
			}
		}
		for i := range c.Bookings {
			b := &c.Bookings[i]
			d := b.On
			if b.Made != 0 {
				d = b.Made
			} else if b.State == "booked" && b.Changed != 0 {
				d = b.Changed
			}
			if first == 0 || d < first {
				first = d
			}
		}
		same("first sufficient", m.FirstSufficient, sufficient)
		same("last result", m.LastResult, result)
		same("first booking", m.FirstBooking, first)
		same("tests", len(m.Tests), counted)
		same("visits", len(m.Visits), len(c.Bookings))
	})
}

func TestMilestonesByHand(t *testing.T) {
	born := cases.MakeDay(2026, 3, 2)
	amount := func(v float64) *float64 { return &v }
	arm := func(side string, ul float64, chloride *float64) cases.Arm {
		return cases.Arm{Side: side, Minutes: 30, AmountUL: amount(ul), Chloride: chloride}
	}
	c := cases.Case{
		Infant:   cases.Infant{Born: born, Gestation: 240, BirthWeightG: 1880.6, Weights: []cases.Weight{{On: born + 9, G: 1900}, {On: born + 18, G: 2100}, {On: born + 18, G: 2090}}},
		Referral: cases.Referral{On: born + 6, Route: "screen", Screen: &cases.Screen{Collected: born + 1}},
		Contacts: []cases.Contact{{On: born + 3, With: "family", By: "phone"}, {On: born + 7, With: "family", By: "phone"}, {On: born + 8, With: "family", By: "letter", Reached: false},
			{On: born + 9, With: "family", By: "phone", Reached: true}, {On: born + 7, With: "primary-care", By: "phone", Reached: true}},
		Bookings: []cases.Booking{{On: born + 23, Site: "bay", State: "missed", Changed: born + 24, Made: born + 11}, {On: born + 25, Site: "bay", State: "kept", Changed: born + 25}},
		SweatTests: []cases.SweatTest{
			{On: born + 32, Site: "hill", Collector: "pad", WeightG: 2600, Arms: []cases.Arm{{Side: "left", Minutes: 30, AmountMg: amount(90), Chloride: amount(18)}, {Side: "right", Minutes: 30}}},
			{On: born + 25, Site: "bay", Collector: "tubing", Arms: []cases.Arm{arm("left", 4, nil), arm("right", 9, nil)}},
		},
		Family: &cases.Family{Language: "es", Guardians: []cases.Guardian{{}, {Address: &cases.Address{County: " Tern  Valley", Region: "AB", Postal: "99501-2231"}}}},
	}
	a := cases.DefaultProtocol().Assess(&c, born+60)
	want := cases.Milestones{
		Born: born, Collected: born + 1, Referred: born + 6, DoctorTold: born + 7, FamilyReached: born + 9, FirstBooking: born + 11,
		FirstTest: born + 25, FirstSufficient: born + 32, LastResult: born + 32,
		Route: "screen", Site: "bay", Language: "es", County: "Tern Valley", Region: "AB", Postal: "995", Gestation: 240, BirthWeightG: 1881,
		Lacks:  cases.LacksReported | cases.LacksPhone | cases.LacksPrimaryCare | cases.LacksGenotype | cases.LacksAmount,
		Tests:  []cases.TestMark{{On: born + 25, Outcome: cases.QNS, Site: "bay", WeightG: 2090}, {On: born + 32, Outcome: cases.Unlikely, Site: "hill", Pad: true, NoAmount: true, WeightG: 2600}},
		Visits: []cases.VisitMark{{On: born + 23, Site: "bay", State: "missed"}, {On: born + 25, Site: "bay", State: "kept"}},
		Calls:  cases.CallCounts{Family: 3, FamilyReached: 1, Others: 1, Letters: 1},
	}
	if d := cmp.Diff(want, cases.MilestonesOf(&c, &a)); d != "" {
		t.Error(d)
	}
}

// When a booking was made outlives what became of it.
func TestWhenABookingWasMade(t *testing.T) {
	day := cases.MakeDay(2026, 3, 2)
	for name, x := range map[string]struct {
		is   cases.Booking
		made cases.Day
	}{
		"recorded":               {cases.Booking{State: "booked", Changed: day, Made: day - 1}, day - 1},
		"recorded before it was": {cases.Booking{State: "booked", Changed: day}, day},
		"cancelled once already": {cases.Booking{State: "cancelled", Changed: day}, 0},
	} {
		b := x.is
		b.Become("kept", day+9)
		if b.State != "kept" || b.Changed != day+9 || b.Made != x.made {
			t.Errorf("%s: %+v", name, b)
		}
	}
}
