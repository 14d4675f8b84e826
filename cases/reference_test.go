package cases_test

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"testing"

	"dunlin/cases"
)

// table reads a reference CSV; its # lines name the source.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/numbers/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, h := range rows[0] {
			m[h] = row[i]
		}
		out = append(out, m)
	}
	if len(out) == 0 {
		t.Fatalf("%s holds no rows", name)
	}
	return out
}

func mustDay(t *testing.T, s string) cases.Day {
	t.Helper()
	d, err := cases.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Source: 5 U.S.C. 6103(a), observed days; computed from the statute, see the file.
func TestFederalHolidays(t *testing.T) {
	observed := map[cases.Day]bool{}
	for _, row := range table(t, "holidays_federal_2025_2030.csv") {
		observed[mustDay(t, row["observed_date"])] = true
	}
	for d := cases.MakeDay(2025, 1, 1); d <= cases.MakeDay(2030, 12, 31); d++ {
		w := d.Weekday()
		if w == 0 || w == 6 {
			continue
		}
		if got := cases.FederalHoliday(d); got != observed[d] {
			t.Errorf("%s: holiday %v, the table says %v", d, got, observed[d])
		}
	}
}

func TestAddWorkingDays(t *testing.T) {
	var cal cases.Calendar
	for _, row := range table(t, "add_business_days.csv") {
		n, err := strconv.Atoi(row["n"])
		if err != nil {
			t.Fatal(err)
		}
		if got := cal.Add(mustDay(t, row["start"]), n).String(); got != row["result"] {
			t.Errorf("%s %+d working days: %s, want %s", row["start"], n, got, row["result"])
		}
	}
}

// Source: examples of the projection, recomputed in R with no difference; see the file.
func TestProjectionExamples(t *testing.T) {
	data, err := os.ReadFile("testdata/numbers/projection_examples.json")
	if err != nil {
		t.Fatal(err)
	}
	var f struct {
		TargetG  float64 `json:"target_g"`
		Examples []struct {
			ID, Birth, Basis, Status string
			Weights                  []struct {
				Date  string
				Grams float64
			}
			Early, Central, Late *string
			ReweighBy            *string `json:"reweigh_by"`
		}
	}
	if err := json.Unmarshal(data, &f); err != nil {
		t.Fatal(err)
	}
	if len(f.Examples) != 12 {
		t.Fatalf("%d examples", len(f.Examples))
	}
	for _, x := range f.Examples {
		born := mustDay(t, x.Birth)
		var ws []cases.Weight
		birthG := 0.0
		for _, w := range x.Weights {
			d := mustDay(t, w.Date)
			if d == born {
				birthG = w.Grams
			}
			ws = append(ws, cases.Weight{On: d, G: w.Grams})
		}
		e := cases.ProjectWeight(born, birthG, ws, f.TargetG)
		if e.Basis != x.Basis || e.Status != x.Status {
			t.Errorf("%s: %s %s, want %s %s", x.ID, e.Basis, e.Status, x.Basis, x.Status)
		}
		hidden := x.Status == "far" // its dates are computed in the file but never shown
		same := func(what string, got cases.Day, want *string) {
			w := ""
			if want != nil && (!hidden || what == "reweigh_by") {
				w = *want
			}
			if got.String() != w {
				t.Errorf("%s %s: %s, want %s", x.ID, what, got, w)
			}
		}
		same("early", e.Early, x.Early)
		same("central", e.Central, x.Central)
		same("late", e.Late, x.Late)
		same("reweigh_by", e.ReweighBy, x.ReweighBy)
	}
}

// Source: AAP Committee on Fetus and Newborn, Pediatrics 2004;114:1362-1364; see the file.
func TestAgesAndCorrectedGestation(t *testing.T) {
	p := cases.DefaultProtocol()
	for _, row := range table(t, "ages_pma_corrected.csv") {
		ga, err := strconv.Atoi(row["ga_days"])
		if err != nil {
			t.Fatal(err)
		}
		c := cases.Case{Infant: cases.Infant{Born: mustDay(t, row["birth"]), Gestation: cases.Gestation(ga)}}
		r := p.Readiness(&c, c.Infant.Born)
		if got := r.AgeFrom.String(); got != row["first_14d"] {
			t.Errorf("%s: day 14 is %s, want %s", row["birth"], got, row["first_14d"])
		}
		if got := r.GestationFrom.String(); got != row["pma36_date"] {
			t.Errorf("%s %s: 36 weeks on %s, want %s", row["birth"], row["ga"], got, row["pma36_date"])
		}
		if got := r.Earliest.String(); got != row["both_14d_and_pma36"] {
			t.Errorf("%s %s: earliest %s, want %s", row["birth"], row["ga"], got, row["both_14d_and_pma36"])
		}
	}
}

// Source: spellings listed with where each was seen; see the file. "+", "x2" and
// "no variant" rows name several or none and are no single variant.
func TestVariantSpellings(t *testing.T) {
	known := 0
	for _, row := range table(t, "cftr-spellings.csv") {
		want, ok := cases.KnownVariant(row["legacy_name"])
		if !ok {
			continue
		}
		known++
		if got, ok := cases.KnownVariant(row["as_written"]); !ok || got != want {
			t.Errorf("%q is read as %q, want %q", row["as_written"], got, want)
		}
	}
	if known < 40 {
		t.Errorf("only %d spellings compared", known)
	}
	for _, no := range []string{"F508", "R117", "G551", "c.1521", "F508del/G551D", "homozygous F508del", "VUS c.3705T>G", ""} {
		if got, ok := cases.KnownVariant(no); ok {
			t.Errorf("%q is read as %q", no, got)
		}
	}
}
