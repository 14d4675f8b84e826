package schedule

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"dunlin/cases"
)

const springDay = cases.Day(739_680) // some Thursday; tests count from it

// drawWorld draws sites, sessions and infants that wait, few enough to try every plan.
func drawWorld(t *rapid.T, most int) (Query, []Wait) {
	q := Query{Today: springDay}
	for i, key := range []string{"a", "b"} {
		s := Site{Key: key, Name: key, OpenHolidays: true, Weekdays: []int{0, 1, 2, 3, 4, 5, 6}}
		if rapid.Bool().Draw(t, "known") {
			lat, lon := 45+float64(i), -93.0
			s.Lat, s.Lon = &lat, &lon
		}
		if rapid.Bool().Draw(t, "speaks") {
			s.Languages = []string{"es"}
		}
		q.Sites = append(q.Sites, s)
	}
	places := 0
	for i := range rapid.IntRange(1, 3).Draw(t, "sessions") {
		n := rapid.IntRange(1, 3).Draw(t, "places")
		if places += n; places > most {
			break
		}
		q.Sessions = append(q.Sessions, Session{ID: fmt.Sprint("s", i), Site: rapid.SampledFrom([]string{"a", "b"}).Draw(t, "site"),
			On: springDay + cases.Day(rapid.IntRange(0, 25).Draw(t, "on")), Start: "09:00", Places: n, Minutes: 60, ForRepeats: rapid.IntRange(0, 1).Draw(t, "kept")})
	}
	var ws []Wait
	for i := range rapid.IntRange(1, most).Draw(t, "infants") {
		from := springDay + cases.Day(rapid.IntRange(0, 20).Draw(t, "from"))
		w := Wait{Reference: fmt.Sprintf("AB-2026-%04d", i), Born: springDay - 14, From: from, Deadline: from + cases.Day(rapid.IntRange(-3, 10).Draw(t, "due")),
			DeadlineWhy: "day 28", Urgency: rapid.SampledFrom([]float64{1, 1.5, 3}).Draw(t, "urgency"), UrgencyWhy: "drawn"}
		if rapid.Bool().Draw(t, "repeat") {
			w.Kind = RepeatTest
		}
		if rapid.Bool().Draw(t, "home") {
			w.Home = &Point{45.5, -93.1}
		}
		if rapid.IntRange(0, 4).Draw(t, "limit") == 0 {
			w.Limits.MaxKm = 57 // site a is 56.1 km away, site b 56.1 km as well
			w.Limits.NotBefore = "09:30"
		}
		if rapid.IntRange(0, 4).Draw(t, "language") == 0 {
			w.Language = "es-MX"
		}
		if rapid.IntRange(0, 9).Draw(t, "blocked") == 0 {
			w.Blocked = "on hold: skin"
		}
		ws = append(ws, w)
	}
	return q, ws
}

// leastCost tries every plan in which twins sit next to each other or nowhere.
func leastCost(b *Board, ws []Wait) int64 {
	groups := Twins(ws)
	least := int64(forbidden)
	used := make([]bool, len(b.Places))
	var put func(g int, sum int64)
	put = func(g int, sum int64) {
		if g == len(groups) {
			least = min(least, sum)
			return
		}
		none := int64(0)
		for _, i := range groups[g] {
			none += b.aloneCost(&ws[i])
		}
		put(g+1, sum+none)
		if ws[groups[g][0]].Blocked != "" {
			return
		}
		for c := range b.Places {
			for _, turn := range []int{1, -1} {
				at := make([]int, len(groups[g]))
				for k := range at {
					at[k] = slices.IndexFunc(b.Places, func(p Place) bool {
						return p.Session == b.Places[c].Session && p.Number == b.Places[c].Number+turn*k
					})
				}
				if k, ok := seated(b, ws, groups[g], at, used); ok {
					for _, x := range at {
						used[x] = true
					}
					put(g+1, sum+k)
					for _, x := range at {
						used[x] = false
					}
				}
				if len(at) == 1 {
					break
				}
			}
		}
	}
	put(0, 0)
	return least
}

// seated is the cost of a group at places; they must be free, in one session, one
// after the other, and fit.
func seated(b *Board, ws []Wait, g, at []int, used []bool) (int64, bool) {
	var sum int64
	for k, c := range at {
		if c < 0 || c >= len(b.Places) || used[c] {
			return 0, false
		}
		p := &b.Places[c]
		if k > 0 {
			q := &b.Places[at[k-1]]
			if d := p.Number - q.Number; p.Session != q.Session || d != 1 && d != -1 {
				return 0, false
			}
		}
		var km *float64
		if x, ok := b.Distance(&ws[g[k]], p.Site); ok {
			km = &x
		}
		if fit(&ws[g[k]], p, km) != fits {
			return 0, false
		}
		sum += b.costOf(&ws[g[k]], p, km)
	}
	return sum, true
}

// TestPlanAgainstTryingAll: with at most one pair of twins the plan is the cheapest
// there is; it fits, gives no place twice, and does not depend on the order of input.
func TestPlanAgainstTryingAll(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q, ws := drawWorld(t, 6)
		if len(ws) > 1 && rapid.Bool().Draw(t, "twins") {
			ws[0].Siblings, ws[1].Siblings = []string{ws[1].Reference}, []string{ws[0].Reference}
		}
		b := NewBoard(q)
		plan := b.Plan(ws)
		checkPlan(t, b, ws, plan)
		if want := leastCost(b, ws); plan.Cost != want {
			t.Fatalf("cost %d, trying all gives %d", plan.Cost, want)
		}
		other := rapid.Permutation(ws).Draw(t, "order")
		q.Sites = rapid.Permutation(q.Sites).Draw(t, "sites")
		q.Sessions = rapid.Permutation(q.Sessions).Draw(t, "sessions order")
		if again := NewBoard(q).Plan(other); !reflect.DeepEqual(plan, again) {
			t.Fatalf("the plan depends on the order of input:\n%+v\n%+v", plan, again)
		}
	})
}

// TestPlanWithManyTwins: several groups never make the plan worse than leaving them
// out, and what is proposed holds.
func TestPlanWithManyTwins(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q, ws := drawWorld(t, 8)
		for i := 0; i+1 < len(ws); i += 2 {
			ws[i].Siblings, ws[i+1].Siblings = []string{ws[i+1].Reference}, []string{ws[i].Reference}
		}
		b := NewBoard(q)
		plan := b.Plan(ws)
		checkPlan(t, b, ws, plan)
		none := int64(0)
		for i := range ws {
			none += b.aloneCost(&ws[i])
		}
		if plan.Cost > none {
			t.Fatalf("cost %d, placing nobody costs %d", plan.Cost, none)
		}
	})
}

// checkPlan checks that everybody has one line or one reason, and that lines fit.
func checkPlan(t *rapid.T, b *Board, ws []Wait, plan *Plan) {
	t.Helper()
	if len(plan.Lines)+len(plan.Unplaced) != len(ws) {
		t.Fatalf("%d lines, %d unplaced, %d infants", len(plan.Lines), len(plan.Unplaced), len(ws))
	}
	seen, used, at := map[string]bool{}, map[string]bool{}, map[string]*Line{}
	for i := range plan.Lines {
		l := &plan.Lines[i]
		key := l.Place.Session.ID + string(l.Place.At)
		if seen[l.Wait.Reference] || used[key] {
			t.Fatalf("%s at %s comes twice", l.Wait.Reference, key)
		}
		seen[l.Wait.Reference], used[key], at[l.Wait.Reference] = true, true, l
		if l.Wait.Blocked != "" || fit(l.Wait, &l.Place, l.Km) != fits || len(l.Why) == 0 {
			t.Fatalf("%s at %s does not fit: %v", l.Wait.Reference, key, l.Why)
		}
	}
	for _, u := range plan.Unplaced {
		if seen[u.Wait.Reference] || len(u.Why) < 10 {
			t.Fatalf("%s is unplaced: %q", u.Wait.Reference, u.Why)
		}
		seen[u.Wait.Reference] = true
	}
	for _, g := range Twins(ws) {
		for k := 1; k < len(g); k++ {
			x, y := at[ws[g[k-1]].Reference], at[ws[g[k]].Reference]
			if (x == nil) != (y == nil) {
				t.Fatalf("one twin is placed without the other: %v", g)
			}
			if x != nil && (x.Place.Session != y.Place.Session || max(x.Place.Number-y.Place.Number, y.Place.Number-x.Place.Number) != 1) {
				t.Fatalf("twins do not follow each other: %v %v", x.Place, y.Place)
			}
		}
	}
}

// crowd makes many infants and places: 4 sites, sessions of 4, 3 pairs of twins in 100.
func crowd(infants, places int) (Query, []Wait) {
	q := Query{Today: springDay}
	seed := int64(7)
	next := func(n int64) int64 {
		seed = (seed*1103515245 + 12345) % (1 << 31)
		return (seed >> 8) % n
	}
	for i := range 4 {
		lat, lon := 45+float64(i)/2, -93+float64(i)/3
		q.Sites = append(q.Sites, Site{Key: fmt.Sprint("site-", i), Name: fmt.Sprint("Site ", i), Lat: &lat, Lon: &lon, OpenHolidays: true, Weekdays: []int{0, 1, 2, 3, 4, 5, 6}})
	}
	for i := range places / 4 {
		on := springDay + cases.Day(i*45*4/places)
		q.Sessions = append(q.Sessions, Session{ID: fmt.Sprintf("%03d", i), Site: fmt.Sprint("site-", i%4), On: on, Start: "09:00", Places: 4, Minutes: 45, ForRepeats: i % 5 / 4})
	}
	var ws []Wait
	for i := range infants {
		from := springDay + cases.Day(next(40)) - 5
		w := Wait{Reference: fmt.Sprintf("AB-2026-%04d", i), Born: from - 14, From: max(springDay, from), Deadline: from + 14, DeadlineWhy: "day 28",
			Urgency: []float64{1, 1, 1.5, 1.5, 1.5, 2, 3}[next(7)], UrgencyWhy: "drawn", Home: &Point{44.5 + float64(next(300))/100, -93.5 + float64(next(200))/100}}
		if w.Urgency == 2 {
			w.Kind = RepeatTest
		}
		if next(4) == 0 {
			w.Limits.MaxKm = 120
		}
		ws = append(ws, w)
	}
	for i := 0; i+1 < len(ws); i += 33 {
		ws[i+1].Born, ws[i+1].From, ws[i+1].Deadline = ws[i].Born, ws[i].From, ws[i].Deadline
		ws[i].Siblings, ws[i+1].Siblings = []string{ws[i+1].Reference}, []string{ws[i].Reference}
	}
	return q, ws
}

func TestPlanOfACrowd(t *testing.T) {
	q, ws := crowd(400, 400)
	b := NewBoard(q)
	if len(b.Places) != 400 {
		t.Fatalf("%d places", len(b.Places))
	}
	plan := b.Plan(ws)
	pairs := 0
	for _, l := range plan.Lines {
		if len(l.With) > 0 {
			pairs++
		}
	}
	if len(plan.Lines) < 300 || pairs < 16 {
		t.Errorf("%d placed, %d of them twins", len(plan.Lines), pairs)
	}
	slices.Reverse(ws)
	if again := b.Plan(ws); again.Cost != plan.Cost || len(again.Lines) != len(plan.Lines) {
		t.Errorf("in another order %d, before %d", again.Cost, plan.Cost)
	}
}

// BenchmarkPlan proposes places for 400 infants, 13 pairs of twins among them
// (budget: 100 ms).
func BenchmarkPlan(b *testing.B) {
	q, ws := crowd(400, 400)
	board := NewBoard(q)
	b.ReportAllocs()
	for b.Loop() {
		if p := board.Plan(ws); len(p.Lines) == 0 {
			b.Fatal("no line")
		}
	}
}

// BenchmarkOffer finds places for one infant among 400.
func BenchmarkOffer(b *testing.B) {
	q, ws := crowd(400, 400)
	board := NewBoard(q)
	b.ReportAllocs()
	for b.Loop() {
		if o := board.Offer(&ws[3]); len(o.Offers) == 0 {
			b.Fatal(o.None)
		}
	}
}
