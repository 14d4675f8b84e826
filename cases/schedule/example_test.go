package schedule

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"dunlin/cases"
)

// The pairs of great_circle.csv, to the printed micrometers of a kilometer.
func TestReferenceDistances(t *testing.T) {
	for _, row := range table(t, "great_circle.csv") {
		var x [5]float64
		for i := range x {
			v, err := strconv.ParseFloat(row[i+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			x[i] = v
		}
		a, b := Point{x[0], x[1]}, Point{x[2], x[3]}
		if got := Km(a, b); math.Abs(got-x[4]) > 1e-6 {
			t.Errorf("%s: %.6f km, want %.6f", row[0], got, x[4])
		}
		if there, back := Km(a, b), Km(b, a); math.Abs(there-back) > 1e-9 {
			t.Errorf("%s: %v there, %v back", row[0], there, back)
		}
	}
}

// example is slot_example.json.
type example struct {
	Urgency map[string]float64
	Sites   map[string]struct{ Lat, Lon float64 }
	Infants []struct {
		ID, Birth, Deadline, Cls string
		First                    string `json:"first_eligible"`
		Lat, Lon                 float64
		Km                       map[string]float64
	}
	Slots     []struct{ ID, Site, Date string }
	Cost      [][]*int64
	Unplaced  []int64
	Total     int64              `json:"optimal_total"`
	Plan      map[string]*string `json:"optimal_plan"`
	Greedy    int64              `json:"greedy_earliest_deadline_total"`
	GreedyPut map[string]*string `json:"greedy_plan"`
}

func loadExample(t testing.TB) (ex example, b *Board, ws []Wait) {
	t.Helper()
	readJSON(t, "slot_example.json", &ex)
	q := Query{Today: day(t, "2026-05-14")}
	for key, p := range ex.Sites {
		q.Sites = append(q.Sites, Site{Key: key, Name: "Site " + key, Lat: &p.Lat, Lon: &p.Lon})
	}
	for _, s := range ex.Slots {
		q.Sessions = append(q.Sessions, Session{ID: s.ID, Site: s.Site, On: day(t, s.Date), Start: "09:00", Places: 1, Minutes: 60})
	}
	for _, in := range ex.Infants {
		kind := FirstTest
		if strings.HasPrefix(in.Cls, "repeat") {
			kind = RepeatTest
		}
		ws = append(ws, Wait{Reference: in.ID, Kind: kind, Born: day(t, in.Birth), From: day(t, in.First), Deadline: day(t, in.Deadline), DeadlineWhy: "day 28",
			Urgency: ex.Urgency[in.Cls], UrgencyWhy: in.Cls, Home: &Point{in.Lat, in.Lon}, Limits: cases.Visits{MaxKm: 200}})
	}
	return ex, NewBoard(q), ws
}

// slot_example.json: distances, costs, the unique optimum of 2283 and who stays
// unplaced (scipy, and every plan tried).
func TestReferenceExample(t *testing.T) {
	ex, b, ws := loadExample(t)
	for i := range ws {
		for c := range b.Places {
			p := &b.Places[c]
			km, ok := b.Distance(&ws[i], p.Site)
			if want := ex.Infants[i].Km[p.Site.Key]; !ok || math.Abs(km-want) > 0.0005 {
				t.Errorf("%s to %s: %.3f km, want %.3f", ws[i].Reference, p.Site.Key, km, want)
			}
			var got *int64
			if fit(&ws[i], p, &km) == fits {
				k := b.costOf(&ws[i], p, &km)
				got = &k
			}
			if want := ex.Cost[i][c]; (got == nil) != (want == nil) || got != nil && *got != *want {
				t.Errorf("cost of %s at %s differs from the file", ws[i].Reference, p.Session.ID)
			}
		}
	}
	plan := b.Plan(ws)
	if plan.Cost != ex.Total {
		t.Errorf("cost %d, want %d", plan.Cost, ex.Total)
	}
	got := map[string]string{}
	for _, l := range plan.Lines {
		got[l.Wait.Reference] = l.Place.Session.ID
	}
	for id, s := range ex.Plan {
		if s == nil && got[id] != "" || s != nil && got[id] != *s {
			t.Errorf("%s has %q, want %v", id, got[id], s)
		}
	}
	if len(plan.Unplaced) != 1 || plan.Unplaced[0].Wait.Reference != "i6" || plan.Unplaced[0].Cost != 2000 {
		t.Fatalf("unplaced: %+v", plan.Unplaced)
	}
	want := "The places that fit go to i2 (raised_irt_one_variant), who would lose more: a further session is needed."
	if plan.Unplaced[0].Why != want {
		t.Errorf("unplaced because: %s", plan.Unplaced[0].Why)
	}
	for _, l := range plan.Lines {
		if l.Wait.Reference == "i2" && !strings.Contains(l.Why[len(l.Why)-1], "Tue 19 May 2026, 09:00, Site B would suit it better and goes to i8") {
			t.Errorf("i2 does not say why not on 19 May: %v", l.Why)
		}
	}
}

// sweep gives each place, in order of day, to the infant with the earliest due day
// that it fits (ties: urgency, reference): an independent plan to compare with.
func sweep(b *Board, ws []Wait) (put map[string]string, cost int64) {
	put = map[string]string{}
	left := slices.Clone(ws)
	for c := range b.Places {
		p := &b.Places[c]
		best := -1
		for i := range left {
			km, _ := b.Distance(&left[i], p.Site)
			if fit(&left[i], p, &km) == fits && (best < 0 || cmp.Or(cmp.Compare(left[i].Deadline, left[best].Deadline),
				cmp.Compare(left[best].Urgency, left[i].Urgency), strings.Compare(left[i].Reference, left[best].Reference)) < 0) {
				best = i
			}
		}
		if best >= 0 {
			km, _ := b.Distance(&left[best], p.Site)
			put[left[best].Reference] = p.Session.ID
			cost += b.costOf(&left[best], p, &km)
			left = slices.Delete(left, best, best+1)
		}
	}
	for i := range left {
		cost += b.aloneCost(&left[i])
	}
	return put, cost
}

// The file's earliest-deadline sweep costs 2460.
func TestReferenceSweep(t *testing.T) {
	ex, b, ws := loadExample(t)
	put, cost := sweep(b, ws)
	if cost != ex.Greedy {
		t.Errorf("sweep costs %d, want %d", cost, ex.Greedy)
	}
	for id, s := range ex.GreedyPut {
		if s == nil && put[id] != "" || s != nil && put[id] != *s {
			t.Errorf("sweep gives %s %q", id, put[id])
		}
	}
}
