package measures

import (
	"errors"
	"testing"

	"dunlin/cases"

	"github.com/google/go-cmp/cmp"
)

// newCase is an infant of 39 weeks born in March 2026 and referred a week later.
func newCase() cases.Case {
	born := cases.MakeDay(2026, 3, 1)
	return cases.Case{Reference: "AB-2026-0042",
		Infant:   cases.Infant{Born: born, Gestation: 39 * 7, BirthWeightG: 3200},
		Referral: cases.Referral{On: born + 7, Route: "screen"},
		Genotype: &cases.Genotype{Reported: born + 7, Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}}},
	}
}

func sweat(on cases.Day, amount, chloride float64) cases.SweatTest {
	return cases.SweatTest{On: on, Site: "alder-bay", Collector: "tubing", Arms: []cases.Arm{
		{Side: "left", Minutes: 30, AmountUL: &amount, Chloride: &chloride},
		{Side: "right", Minutes: 30, AmountUL: &amount, Chloride: &chloride}}}
}

// The record follows the contract's clocks: QNS collections start nothing anew,
// conductivity is no first test, a proposed closure is no closure.
func TestFromCase(t *testing.T) {
	born := cases.MakeDay(2026, 3, 1)
	on := born + 60
	base := Record{Reference: "AB-2026-0042", Route: "screen", Born: born, Referred: born + 7}
	with := func(f func(*Record)) Record { r := base; f(&r); return r }
	for name, c := range map[string]struct {
		change func(*cases.Case)
		want   Record
	}{
		"untested": {func(c *cases.Case) {}, base},
		"QNS first": {func(c *cases.Case) {
			c.SweatTests = []cases.SweatTest{sweat(born+20, 9, 0), sweat(born+27, 30, 17)}
		}, with(func(r *Record) { r.FirstTest, r.FirstSite, r.FirstQNS = born+20, "alder-bay", true })},
		"conductivity first": {func(c *cases.Case) {
			s := sweat(born+18, 30, 17)
			s.Analyte = "conductivity"
			c.SweatTests = []cases.SweatTest{sweat(born+25, 30, 17), s}
		}, with(func(r *Record) { r.FirstTest, r.FirstSite = born+25, "alder-bay" })},
		"closed as supported": {func(c *cases.Case) {
			c.SweatTests = []cases.SweatTest{sweat(born+20, 30, 17)}
			c.Closures = []cases.Closure{{On: born + 24, As: "carrier", By: "A"}}
		}, with(func(r *Record) {
			r.FirstTest, r.FirstSite, r.Closed, r.ClosedAs = born+20, "alder-bay", born+24, "carrier"
		})},
		"only proposed": {func(c *cases.Case) {
			c.Closures = []cases.Closure{{On: born + 50, As: "lost", By: "A", LookAgain: born + 200}}
		}, base},
		"very preterm": {func(c *cases.Case) { c.Infant.Gestation = 29 * 7 },
			with(func(r *Record) { r.NotReady = true })},
		"died": {func(c *cases.Case) { c.Infant.Died = born + 12 },
			with(func(r *Record) { r.Died = born + 12 })},
		"prenatal referral": {func(c *cases.Case) { c.Referral = cases.Referral{On: born - 60, Route: "prenatal"} },
			with(func(r *Record) { r.Referred, r.Route = born, "prenatal" })},
	} {
		k := newCase()
		c.change(&k)
		k.Prepare()
		a := cases.DefaultProtocol().Assess(&k, on)
		if d := cmp.Diff(c.want, FromCase(&k, &a)); d != "" {
			t.Errorf("%s: %s", name, d)
		}
		m := cases.MilestonesOf(&k, &a)
		if d := cmp.Diff(c.want, RecordOf(&m)); d != "" {
			t.Errorf("%s, from milestones: %s", name, d)
		}
	}
}

func TestCollect(t *testing.T) {
	now, later := newCase(), newCase()
	later.Referral.On += 40
	seq := func(yield func(cases.Case, error) bool) { _ = yield(now, nil) && yield(later, nil) }
	p := cases.DefaultProtocol()
	got, err := Collect(seq, p, now.Infant.Born+30)
	if err != nil || len(got) != 1 || got[0].Referred != now.Referral.On {
		t.Errorf("%v %v, want the one case referred by then", got, err)
	}
	broken := errors.New("broken")
	if _, err := Collect(func(yield func(cases.Case, error) bool) { yield(now, broken) }, p, now.Infant.Born+30); err != broken {
		t.Errorf("the error of the sequence is %v", err)
	}
}
