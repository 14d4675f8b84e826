package cases_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
)

// Of the reference data on growth, velocity_formulas and projection_examples are the
// program's own arithmetic and are reproduced here. The curves (intergrowth_png_weight)
// are not for the program: it needs two weights and arithmetic, no growth reference,
// and the terms of the published ones for software are not settled. They and what was
// computed from them are read from the shared folder, where it lies, and check the
// assumptions: intergrowth_cross_2000g the population's speeds, projection_vs_intergrowth
// the dates, projection_coverage_sim how often the window holds the true day.

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func near(a, b, within float64) bool { return math.Abs(a-b) <= within }

// Source: Patel, Pediatrics 2005;116:1466 (exponential); Fenton, J Pediatr
// 2018;196:77-83 (average two-point); computed, see the file. The early one-point form
// overstates and is not used.
func TestVelocityFormulas(t *testing.T) {
	born := cases.MakeDay(2026, 1, 1)
	for _, row := range table(t, "velocity_formulas.csv") {
		w1, w2, n := number(t, row["w1"]), number(t, row["w2"]), cases.Day(number(t, row["days"]))
		name := row["w1"] + " to " + row["w2"] + " g in " + row["days"] + " days"
		if n >= 5 && n <= 21 { // the span that is used
			e := cases.ProjectWeight(born, 0, []cases.Weight{{On: born + 10, G: w1}, {On: born + 10 + n, G: w2}}, 4000)
			if e.Basis != "observed" || !near(e.GPerDay, number(t, row["g_day"]), 1e-6) || !near(e.GPerKgDay, number(t, row["avg2pt_gkgd"]), 1e-6) {
				t.Errorf("%s: %g g/day, %g g/kg/day (%s)", name, e.GPerDay, e.GPerKgDay, e.Basis)
			}
		}
		if w2 > w1 { // one weight grows exponentially, at 15 g/kg/day
			want := cases.Day(math.Ceil(number(t, row["exp_gkgd"]) * float64(n) / 15))
			e := cases.ProjectWeight(born, 0, []cases.Weight{{On: born + 10, G: w1}}, w2)
			if want > 42 {
				if e.Status != "far" || e.Central != 0 {
					t.Errorf("%s: %d days are too far to show, have %+v", name, want, e)
				}
			} else if e.Basis != "population" || e.Central-born-10 != want || e.GPerKgDay != 15 || e.GPerDay != 0 {
				t.Errorf("%s: %d days at 15 g/kg/day, want %d", name, e.Central-born-10, want)
			}
		}
	}
}

// exampleInfant reads an infant of the twelve examples, and the day of its last weight.
func exampleInfant(t *testing.T, row map[string]string) (c cases.Case, last cases.Day) {
	t.Helper()
	born := mustDay(t, row["birth"])
	weeks, days, _ := strings.Cut(row["ga"], "+")
	c.Infant = cases.Infant{Born: born, Gestation: cases.Gestation(7*number(t, weeks) + number(t, days))}
	for _, w := range strings.Fields(row["weights"]) {
		on, g, _ := strings.Cut(w, ":")
		last = mustDay(t, on)
		if last == born {
			c.Infant.BirthWeightG = number(t, g)
		} else {
			c.Infant.Weights = append(c.Infant.Weights, cases.Weight{On: last, G: number(t, g)})
		}
	}
	c.Referral = cases.Referral{On: born + 1, Route: "screen"}
	for _, with := range []string{"primary-care", "family"} {
		c.Contacts = append(c.Contacts, cases.Contact{On: born + 1, With: with, By: "phone", Reached: true})
	}
	return c, last
}

// Source: the twelve worked examples, recomputed in R with no difference; see the file.
func TestProjectionExamplesInCases(t *testing.T) {
	p := cases.DefaultProtocol()
	rows := table(t, "projection_examples.csv")
	if len(rows) != 12 {
		t.Fatalf("%d examples", len(rows))
	}
	for _, row := range rows {
		c, last := exampleInfant(t, row)
		a := p.Assess(&c, last)
		r := a.Readiness
		check := func(what string, got any, want string) {
			if s, ok := got.(cases.Day); ok {
				got = s.String()
			}
			if got != want {
				t.Errorf("%s %s: %v, want %s", row["id"], what, got, want)
			}
		}
		check("day 14", r.AgeFrom, row["day14"])
		check("36 weeks", r.GestationFrom, row["pma36"])
		if row["status"] == "met" {
			check("state", r.Weight.State, cases.WeightMet)
			check("first date", max(r.Earliest, r.Latest.On), row["first_date_with_pma36"])
			continue
		}
		e := r.Weight.Estimate
		check("status", e.Status, row["status"])
		check("basis", e.Basis, row["basis"])
		check("re-weigh by", e.ReweighBy, row["reweigh_by"])
		if row["gday"] != "" && !near(e.GPerDay, number(t, row["gday"]), 5e-5) || !near(e.GPerKgDay, number(t, row["gkgd"]), 5e-5) {
			t.Errorf("%s: %g g/day, %g g/kg/day, want %s, %s", row["id"], e.GPerDay, e.GPerKgDay, row["gday"], row["gkgd"])
		}
		switch row["status"] {
		case "not_gaining", "far": // no date is shown
			check("early, central, late", max(e.Early, e.Central, e.Late), "")
		default:
			check("early", e.Early, row["early"])
			check("central", e.Central, row["central"])
			check("late", e.Late, row["late"])
			check("first date by age and weight", max(r.AgeFrom, e.Central), row["first_date_day14_and_2000g"])
			check("first date", max(r.Earliest, e.Central), row["first_date_with_pma36"])
		}
		reweighOwed(t, row, &c, &a, last)
		// A projection never makes an infant ready: numbers.md 4.5.
		for d := last; d < last+120; d++ {
			if r := p.Readiness(&c, d); r.Ready || !r.WaitingFor.Has(cases.WaitWeight) {
				t.Fatalf("%s is ready on %s by a weight nobody measured", row["id"], d)
			}
		}
	}
}

// reweighOwed checks the step: once the other limits are at most a week ahead, weigh
// by the earlier of the re-weigh day and a week after the last weight, not before day
// 10 of life (case-document.md, next.step).
func reweighOwed(t *testing.T, row map[string]string, c *cases.Case, a *cases.Assessment, last cases.Day) {
	t.Helper()
	if a.Readiness.Earliest-last > 7 {
		if a.Next.Step == cases.StepReweigh {
			t.Errorf("%s: weighing is owed %d days before the other limits", row["id"], a.Readiness.Earliest-last)
		}
		return
	}
	want := max(min(mustDay(t, row["reweigh_by"]), last+7), c.Infant.Born+10)
	if a.Next.Step != cases.StepReweigh || a.Next.Due != want {
		t.Errorf("%s: %s by %s, want reweigh by %s", row["id"], a.Next.Step, a.Next.Due, want)
	}
}

// A weight in another unit is said to be one, with the words of the unit.
func TestWeightInAnotherUnit(t *testing.T) {
	p := cases.DefaultProtocol()
	for g, says := range map[float64]string{
		3.1: "3.1 looks like kilograms: enter 3100", 0.9: "enter 900", 15.9: "enter 15900", 31: "31 g is impossible; a weight lies between 250 and 15000 g. Check the unit",
		249: "249 g is impossible", 250: "", 3100: "", 15000: "", 15001: "15001 g (15.001 kg) is impossible", 31000: "31000 g (31 kg) is impossible", -5: "-5 g is impossible",
	} {
		c := cases.Case{Infant: cases.Infant{Born: mustDay(t, "2026-03-01"), Weights: []cases.Weight{{On: mustDay(t, "2026-03-11"), G: g}}}}
		text := ""
		for _, f := range c.Faults(mustDay(t, "2026-03-30"), p) {
			if f.Path == "infant.weights[0].g" {
				text = f.Reason
			}
		}
		if (text == "") != (says == "") || !strings.Contains(text, says) {
			t.Errorf("%g g: %q, want %q", g, text, says)
		}
	}
}

// sharedTable reads a reference file that stays outside of the repository.
func sharedTable(t *testing.T, name string) []map[string]string {
	t.Helper()
	dir := os.Getenv("DUNLIN_SHARED")
	named := dir != ""
	if !named {
		dir = "../../shared"
	}
	f, err := os.Open(filepath.Join(dir, "reference", "numbers", "04-growth", name))
	if err != nil && named {
		t.Fatalf("%s is missing: %v", name, err)
	} else if err != nil {
		t.Skipf("%s is not here; set DUNLIN_SHARED to the shared folder to run this test", name)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for i, h := range all[0] {
			m[h] = row[i]
		}
		out = append(out, m)
	}
	return out
}
