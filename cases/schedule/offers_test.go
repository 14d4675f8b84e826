package schedule

import (
	"slices"
	"strings"
	"testing"

	"dunlin/cases"
)

func at(lat, lon float64) (*float64, *float64) { return &lat, &lon }

// offerWorld has a near and a far site, and one whose position is not known, with
// sessions from Mon 16 Mar 2026 on.
func offerWorld(t testing.TB) Query {
	q := Query{Today: day(t, "2026-03-12"), Now: "12:00", Sites: []Site{
		{Key: "alder-bay", Name: "Alder Bay", Languages: []string{"es"}},
		{Key: "marlow", Name: "Marlow Creek", Postal: "70001"},
		{Key: "unknown", Name: "Harbor"},
	}, Centroids: Centroids{"70001": {45, -93.5}, "70002": {45, -93}}}
	q.Sites[0].Lat, q.Sites[0].Lon = at(45, -93.1)
	add := func(site, on string, start cases.Clock, places, kept int) {
		d := day(t, on)
		q.Sessions = append(q.Sessions, Session{ID: NewSessionID(site, d, start), Site: site, On: d, Start: start, Places: places, Minutes: 60, ForRepeats: kept})
	}
	add("alder-bay", "2026-03-12", "11:00", 3, 0) // 11:00 and 12:00 have begun
	add("marlow", "2026-03-16", "08:00", 1, 0)
	add("unknown", "2026-03-16", "07:00", 1, 0)
	add("alder-bay", "2026-03-16", "09:00", 3, 1)
	add("alder-bay", "2026-03-30", "09:00", 1, 0)
	return q
}

func offerWait(t testing.TB) Wait {
	w, ok := waitCase(t, bornAtTerm, `,"family":{"guardians":[{"address":{"postal":"70002"}}]}`, "2026-03-12")
	if !ok {
		t.Fatal("waits for nothing")
	}
	return w
}

func said(o Offers) (out []string) {
	for _, x := range o.Offers {
		s := ""
		for _, p := range x.Places {
			s += string(p.At) + " "
		}
		out = append(out, s+x.Places[0].Site.Key+" "+x.Places[0].Session.On.String())
	}
	return out
}

// By day, then distance (a known one first), then start.
func TestOfferOrder(t *testing.T) {
	b, w := NewBoard(offerWorld(t)), offerWait(t)
	got := said(b.Offer(&w))
	want := []string{"09:00 alder-bay 2026-03-16", "10:00 alder-bay 2026-03-16", "08:00 marlow 2026-03-16"}
	if !slices.Equal(got, want) {
		t.Errorf("offers %v, want %v", got, want)
	}
	why := strings.Join(b.Offer(&w).Offers[0].Why, "\n")
	for _, s := range []string{"15 days old; possible from Sun 15 Mar 2026 (14 days old)", "3290 g on 11 Mar 2026", "8 km away in a straight line", "13 days before day 28"} {
		if !strings.Contains(why, s) {
			t.Errorf("the reasons do not say %q:\n%s", s, why)
		}
	}
	if s, want := b.Offer(&w).NotSooner, "Earlier there is 1 free place that does not fit: 1 before the infant can be tested."; s != want {
		t.Errorf("not sooner because: %q, want %q", s, want)
	}
	w.Gestation = 35 * 7
	if s := b.Offer(&w).Offers[0].Why[0]; !strings.HasPrefix(s, "15 days old, corrected age 37w1d; possible") {
		t.Errorf("preterm: %s", s)
	}
	w.Kind = RepeatTest
	want[2] = "11:00 alder-bay 2026-03-16" // kept for repeats; as near as the others of its session
	if got := said(b.Offer(&w)); !slices.Equal(got, want) {
		t.Errorf("offers to a repeat %v, want %v", got, want)
	}
	if o := b.Offer(&w).Offers; !slices.Contains(o[0].Why, "the place at 11:00 of this session is kept for repeats and free") || !slices.Contains(o[2].Why, "a place kept for repeats") {
		t.Errorf("reasons given to a repeat: %v; %v", o[0].Why, o[2].Why)
	}
}

// The order of numbers.md 7: day, then distance with a known one first, then the
// identifier of the place, which for places equally far is not the order of time.
func TestOfferOrderByIdentifier(t *testing.T) {
	q, w := offerWorld(t), offerWait(t)
	w.Postal, w.Home = "", nil // no way is known
	monday := day(t, "2026-03-16")
	q.Sessions = nil
	for _, s := range []Session{{Site: "marlow", Start: "08:00"}, {Site: "alder-bay", Start: "13:00"}, {Site: "alder-bay", Start: "09:00"}} {
		s.On, s.Places, s.Minutes, s.ID = monday, 1, 40, NewSessionID(s.Site, monday, s.Start)
		q.Sessions = append(q.Sessions, s)
	}
	want := []string{"09:00 alder-bay 2026-03-16", "13:00 alder-bay 2026-03-16", "08:00 marlow 2026-03-16"}
	if got := said(NewBoard(q).Offer(&w)); !slices.Equal(got, want) {
		t.Errorf("offers %v, want %v", got, want)
	}
}

func TestOfferLimits(t *testing.T) {
	b := NewBoard(offerWorld(t))
	for _, c := range []struct {
		name string
		turn func(*Wait)
		want []string
		none string
	}{
		{"late is marked and not hidden", func(w *Wait) { w.From = day(t, "2026-03-17") }, []string{"09:00 alder-bay 2026-03-30"}, ""},
		{"distance; not known is asked", func(w *Wait) { w.Limits.MaxKm = 7; w.From = day(t, "2026-03-16") }, []string{"07:00 unknown 2026-03-16"}, ""},
		{"interpreter", func(w *Wait) { w.Language = "es-MX" }, []string{"09:00 alder-bay 2026-03-16", "10:00 alder-bay 2026-03-16", "09:00 alder-bay 2026-03-30"}, ""},
		{"time", func(w *Wait) { w.Limits.NotAfter = "07:30" }, []string{"07:00 unknown 2026-03-16"}, ""},
		{"weekday", func(w *Wait) { w.Limits.Weekdays = []int{2} }, nil, "5 on a day of the week on which the family cannot come, 1 before the infant can be tested, 1 kept for repeats"},
		{"blocked", func(w *Wait) { w.Blocked = "on hold: skin" }, nil, "AB-2026-0042 cannot be planned now: on hold: skin."},
		{"language nobody speaks", func(w *Wait) { w.Language = "so" }, nil, "no interpreter"},
		{"after all", func(w *Wait) { w.From = day(t, "2026-04-01") }, nil, "before the infant can be tested"},
	} {
		w := offerWait(t)
		c.turn(&w)
		o := b.Offer(&w)
		if got := said(o); !slices.Equal(got, c.want) || c.none == "" && o.None != "" || !strings.Contains(o.None, c.none) {
			t.Errorf("%s: %v, %q", c.name, got, o.None)
		}
	}
	w := offerWait(t)
	w.From = day(t, "2026-03-17")
	o := b.Offer(&w).Offers[0]
	if o.DaysLate != 1 || !strings.Contains(strings.Join(o.Why, "\n"), "late: 1 day after day 28, Sun 29 Mar 2026") {
		t.Errorf("late: %+v", o)
	}
	if o := NewBoard(Query{Today: 1}).Offer(&w); o.None != "No session has a free place." {
		t.Errorf("an empty board: %q", o.None)
	}
}

// A projected weight plans the day, says so, and makes nobody ready.
func TestOfferOfAnEstimate(t *testing.T) {
	w, ok := waitCase(t, light, "", "2026-03-17")
	q := offerWorld(t)
	q.Today = day(t, "2026-03-17")
	o := NewBoard(q).Offer(&w)
	if !ok || len(o.Offers) != 1 || !o.Offers[0].Estimate || w.Readiness.Ready {
		t.Fatalf("%v %+v", ok, o)
	}
	why := strings.Join(o.Offers[0].Why, "\n")
	for _, s := range []string{"the weight is an estimate, weigh on the day", "possible from Mon 23 Mar 2026 (2000 g are expected between 20 Mar 2026 and 28 Mar 2026)"} {
		if !strings.Contains(why, s) {
			t.Errorf("the reasons do not say %q:\n%s", s, why)
		}
	}
}

func TestOfferToTwins(t *testing.T) {
	q := offerWorld(t)
	a, b := offerWait(t), offerWait(t)
	a.Reference, b.Reference = "AB-2026-0001", "AB-2026-0002"
	got := said(NewBoard(q).Offer(&a, &b))
	if want := []string{"09:00 10:00 alder-bay 2026-03-16"}; !slices.Equal(got, want) {
		t.Errorf("twins: %v, want %v", got, want)
	}
	q.Taken = []cases.Booked{{Site: "alder-bay", On: day(t, "2026-03-16"), At: "09:20"}} // by hand, within the first place
	if o := NewBoard(q).Offer(&a, &b); len(o.Offers) != 0 || !strings.Contains(o.None, "without 2 free places following each other") {
		t.Errorf("with the first place taken: %v %q", said(o), o.None)
	}
	b.Kind = RepeatTest // one of them may have the place that is kept
	if got, want := said(NewBoard(q).Offer(&b, &a)), []string{"11:00 10:00 alder-bay 2026-03-16"}; !slices.Equal(got, want) {
		t.Errorf("a twin that repeats: %v, want %v", got, want)
	}
}

func TestBoardLeavesOut(t *testing.T) {
	q := offerWorld(t)
	if n := len(NewBoard(q).Places); n != 7 {
		t.Fatalf("%d places", n)
	}
	q.Sessions[1].Cancelled = true
	q.Sites[2].Closed = []Closed{{day(t, "2026-03-16"), day(t, "2026-03-16"), "inspection"}}
	q.Calendar = cases.NewCalendar([]cases.Day{day(t, "2026-03-30")})
	q.Sessions = append(q.Sessions, Session{ID: "x", Site: "nowhere", On: day(t, "2026-03-16"), Start: "09:00", Places: 1, Minutes: 60})
	b := NewBoard(q)
	for i := range b.Places {
		if p := &b.Places[i]; p.Site.Key != "alder-bay" || p.Session.On == day(t, "2026-03-30") {
			t.Errorf("%s is on the board", p.Say())
		}
	}
	if len(b.Places) != 4 { // 13:00 today, and three on 16 March
		t.Errorf("%d places", len(b.Places))
	}
}

// Three infants and two places: who waits in which week, at which site.
func TestLook(t *testing.T) {
	q := offerWorld(t)
	q.Sessions = q.Sessions[3:] // Alder Bay: 2 places and one kept on 16 March, one on 30 March
	b := NewBoard(q)
	var ws []Wait
	for _, c := range []struct {
		ref, from string
		kind      Kind
		turn      func(*Wait)
	}{
		{"a1", "2026-03-12", FirstTest, nil}, {"a2", "2026-03-13", FirstTest, nil}, {"a3", "2026-03-18", FirstTest, nil},
		{"r1", "2026-03-16", RepeatTest, nil}, {"r2", "2026-03-25", RepeatTest, nil},
		{"far", "2026-03-20", FirstTest, func(w *Wait) { w.Limits.MaxKm, w.Language = 1, "es" }},
		{"held", "2026-03-20", FirstTest, func(w *Wait) { w.Blocked = "on hold" }},
		{"next year", "2027-03-20", FirstTest, nil},
	} {
		w := offerWait(t)
		w.Reference, w.From, w.Kind = c.ref, day(t, c.from), c.kind
		if c.turn != nil {
			c.turn(&w)
		}
		ws = append(ws, w)
	}
	o := b.Look(ws, 8)
	if !slices.Equal(o.Undated, []string{"held"}) || !slices.Equal(o.Nowhere, []string{"far"}) {
		t.Errorf("undated %v, nowhere %v", o.Undated, o.Nowhere)
	}
	type week struct{ ready, free, kept, short int }
	weeks := func(r Row) (out []week) {
		for _, w := range r.Weeks[:3] {
			out = append(out, week{len(w.Ready), w.Free, w.Kept, w.Short()})
		}
		return out
	}
	// Week 1: four ready; r1 takes the place kept, two of three the others. Week 2: two
	// more and no place. Week 3: one place, for the repeat.
	if got, want := weeks(o.All), []week{{4, 3, 1, 1}, {2, 0, 0, 3}, {0, 1, 0, 2}}; !slices.Equal(got, want) {
		t.Errorf("all: %v, want %v", got, want)
	}
	if got := o.All.Weeks[1]; got.From != day(t, "2026-03-19") || !slices.Equal(got.Ready, []string{"far", "r2"}) {
		t.Errorf("the second week: %+v", got)
	}
	if got := o.All.Weeks[1].Waiting; !slices.Equal(got, []string{"r2", "a3", "far"}) {
		t.Errorf("at the end of the second week wait %v", got)
	}
	if r, f, k := o.All.Totals(); r != 6 || f != 4 || k != 1 || o.All.FirstShort() != 0 {
		t.Errorf("totals %d, %d, %d, short from %d", r, f, k, o.All.FirstShort())
	}
	// All live nearest to Alder Bay; nobody is counted at the others.
	want := map[string][]week{"alder-bay": {{4, 3, 1, 1}, {1, 0, 0, 2}, {0, 1, 0, 1}}, "unknown": make([]week, 3), "marlow": make([]week, 3)}
	for _, r := range o.Sites {
		if got := weeks(r); !slices.Equal(got, want[r.Key]) {
			t.Errorf("%s: %v, want %v", r.Key, got, want[r.Key])
		}
		delete(want, r.Key)
	}
	if len(want) > 0 {
		t.Errorf("sites without a row: %v", want)
	}
}

// Why an infant stays unplaced is said, and late places are named, never hidden.
func TestUnplacedSaysWhy(t *testing.T) {
	q := offerWorld(t)
	q.Sites = q.Sites[:1]
	a, b := offerWait(t), offerWait(t)
	a.Reference, b.Reference, a.Urgency = "AB-2026-0001", "AB-2026-0002", 3
	monday, may := day(t, "2026-03-16"), day(t, "2026-05-04")
	early := Session{ID: "early", Site: "alder-bay", On: monday, Start: "09:00", Places: 1, Minutes: 60}
	late := Session{ID: "late", Site: "alder-bay", On: may, Start: "09:00", Places: 1, Minutes: 60}
	for _, c := range []struct {
		sessions []Session
		why      string
	}{
		{[]Session{early, late}, "The places that fit go to AB-2026-0001 (no variant known), who would lose more: a further session is needed. The first one left is Mon 4 May 2026, 09:00, Alder Bay, 50 days after the infant can be tested."},
		{[]Session{early}, "The places that fit go to AB-2026-0001 (no variant known), who would lose more: a further session is needed."},
		{[]Session{late}, "The first place that fits is Mon 4 May 2026, 09:00, Alder Bay, 50 days after the infant can be tested: look for an earlier session."},
		{nil, "No session has a free place."},
	} {
		q.Sessions = c.sessions
		plan := NewBoard(q).Plan([]Wait{a, b})
		if u := plan.Unplaced[len(plan.Unplaced)-1]; u.Wait.Reference != "AB-2026-0002" || u.Why != c.why {
			t.Errorf("%d sessions: %s: %s", len(c.sessions), u.Wait.Reference, u.Why)
		}
	}
}
