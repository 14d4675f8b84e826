package schedule

import (
	"encoding/csv"
	"os"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones of the tests, wherever they run

	"dunlin/cases"
)

// table reads a reference file, without its source lines and heading.
func table(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %v, %d rows", name, err, len(rows))
	}
	return rows[1:]
}

func day(t testing.TB, s string) cases.Day {
	t.Helper()
	d, err := cases.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return loc
}

// The times of dst_gap_ambiguous.csv: computed with the zone data of Debian 12.
func TestWallTimeReference(t *testing.T) {
	want := map[string]wall{"ok": wallOnce, "gap": wallSkipped, "ambiguous": wallRepeated}
	for _, row := range table(t, "dst_gap_ambiguous.csv") {
		at, err := time.Parse("2006-01-02T15:04", row[1])
		if err != nil {
			t.Fatal(err)
		}
		if got := wallTime(zone(t, row[0]), cases.DayOf(at), at.Hour()*60+at.Minute()); got != want[row[2]] {
			t.Errorf("%s %s: %d, want %s", row[0], row[1], got, row[2])
		}
	}
}

// On the days of us_dst_dates.csv (15 U.S.C. 260a) exactly the hour from 2 is skipped
// and exactly the hour from 1 comes twice; the day before has neither.
func TestWallTimeOnTheDaysOfChange(t *testing.T) {
	loc := zone(t, "America/Chicago")
	for _, row := range table(t, "us_dst_dates.csv") {
		spring, fall := day(t, row[1]), day(t, row[2])
		for m := range minutesADay {
			want := wallOnce
			if m/60 == 2 {
				want = wallSkipped
			}
			if got := wallTime(loc, spring, m); got != want {
				t.Fatalf("%s minute %d: %d, want %d", spring, m, got, want)
			}
			want = wallOnce
			if m/60 == 1 {
				want = wallRepeated
			}
			if got := wallTime(loc, fall, m); got != want {
				t.Fatalf("%s minute %d: %d, want %d", fall, m, got, want)
			}
			if wallTime(loc, spring-1, m) != wallOnce || wallTime(loc, fall-1, m) != wallOnce {
				t.Fatalf("a day before a change has an odd minute %d", m)
			}
		}
	}
}

func TestSiteOpen(t *testing.T) {
	plain := Site{Key: "a"}
	for _, row := range table(t, "holidays_federal_2025_2030.csv") { // 5 U.S.C. 6103(a)
		d := day(t, row[4])
		if open, _ := plain.Open(d, cases.Calendar{}); open {
			t.Errorf("open on %s, %s", d, row[1])
		}
		works := Site{OpenHolidays: true}
		if open, why := works.Open(d, cases.Calendar{}); !open {
			t.Errorf("works on holidays, yet closed on %s: %s", d, why)
		}
	}
	wed, sat := day(t, "2026-03-18"), day(t, "2026-03-21")
	for _, c := range []struct {
		site Site
		on   cases.Day
		open bool
		why  string
	}{
		{Site{}, wed, true, ""},
		{Site{}, sat, false, "no tests on a Saturday"},
		{Site{Weekdays: []int{6}}, sat, true, ""},
		{Site{Weekdays: []int{6}}, wed, false, "no tests on a Wednesday"},
		{Site{Closed: []Closed{{wed, wed, "floor repair"}}}, wed, false, "floor repair"},
		{Site{Closed: []Closed{{wed - 3, wed - 1, ""}}}, wed, true, ""},
		{Site{Closed: []Closed{{wed - 3, wed, ""}}}, wed, false, "closed by the site"},
	} {
		if open, why := c.site.Open(c.on, cases.Calendar{}); open != c.open || why != c.why {
			t.Errorf("%+v on %s: %v %q", c.site, c.on, open, why)
		}
	}
}

func TestPlacesOfSession(t *testing.T) {
	s := Session{Start: "09:30", Places: 4, Minutes: 45, ForRepeats: 1}
	for i, at := range []cases.Clock{"09:30", "10:15", "11:00", "11:45"} {
		if s.At(i) != at || s.PlaceAt(at) != i || s.KeptForRepeats(i) != (i == 3) {
			t.Errorf("place %d: %s, at %s: %d, kept %v", i, s.At(i), at, s.PlaceAt(at), s.KeptForRepeats(i))
		}
	}
	for _, at := range []cases.Clock{"09:29", "09:31", "12:30", "", "noon", "08:45"} {
		if n := s.PlaceAt(at); n != -1 {
			t.Errorf("place at %q: %d", at, n)
		}
	}
	if s.At(4) != "" || s.At(-1) != "" {
		t.Error("a place outside of the session has a time")
	}
}

func TestSessionFaults(t *testing.T) {
	site := Site{Key: "a", Name: "Alder Bay", Weekdays: []int{0, 1, 2, 3, 4, 5}, Closed: []Closed{{day(t, "2026-03-19"), day(t, "2026-03-19"), "move of the laboratory"}}}
	today, loc := day(t, "2026-03-05"), zone(t, "America/New_York")
	good := Session{ID: "x", Site: "a", On: day(t, "2026-03-18"), Start: "09:30", Places: 4, Minutes: 45, ForRepeats: 1}
	others := []Session{
		{ID: "o1", Site: "a", On: good.On, Start: "13:00", Places: 2, Minutes: 60},
		{ID: "o2", Site: "a", On: good.On, Start: "09:00", Places: 2, Minutes: 60, Cancelled: true},
		{ID: "o3", Site: "b", On: good.On, Start: "09:30", Places: 4, Minutes: 45},
		{ID: "x", Site: "a", On: good.On, Start: "09:00", Places: 4, Minutes: 45},
	}
	for _, c := range []struct {
		name  string
		turn  func(*Session)
		path  string
		words string
	}{
		{"good", func(*Session) {}, "", ""},
		{"ends where another begins", func(s *Session) { s.Start = "10:00" }, "", ""},
		{"past", func(s *Session) { s.On = today - 1 }, "on", "past: Wed 4 Mar 2026"},
		{"own closure", func(s *Session) { s.On++ }, "on", "move of the laboratory"},
		{"weekend", func(s *Session) { s.On = day(t, "2026-03-21") }, "on", "Saturday"},
		{"holiday", func(s *Session) { s.On = day(t, "2026-05-25") }, "on", "a holiday"},
		{"no day", func(s *Session) { s.On = 0 }, "on", "is needed"},
		{"overlap", func(s *Session) { s.Start = "10:01" }, "start", "overlaps the session from 13:00 to 15:00"},
		{"no places", func(s *Session) { s.Places, s.ForRepeats = 0, 0 }, "places", "1 to 40"},
		{"many places", func(s *Session) { s.Places = 41 }, "places", "not 41"},
		{"short", func(s *Session) { s.Minutes = 19 }, "minutes", "20 to 240"},
		{"long", func(s *Session) { s.Minutes = 241 }, "minutes", "not 241"},
		{"kept", func(s *Session) { s.ForRepeats = 5 }, "for_repeats", "0 to the 4 places"},
		{"no start", func(s *Session) { s.Start = "9:30" }, "start", `"9:30"`},
		{"midnight", func(s *Session) { s.Start = "21:30" }, "places", "after midnight"},
		{"other site", func(s *Session) { s.Site = "b" }, "site", "must be a"},
		{"skipped", func(s *Session) { s.On, s.Start = day(t, "2026-03-08"), "02:30" }, "start", "02:30, does not exist on Sun 8 Mar 2026"},
		{"ends skipped", func(s *Session) { s.On, s.Start, s.Places = day(t, "2026-03-08"), "01:00", 2 }, "places", "the end, 02:30, does not exist"},
		{"repeated", func(s *Session) { s.On, s.Start = day(t, "2026-11-01"), "01:30" }, "start", "comes twice on Sun 1 Nov 2026"},
		{"across", func(s *Session) { s.On, s.Start = day(t, "2026-03-08"), "01:30" }, "start", "the clocks change between 01:30 and 04:30"},
	} {
		s := good
		c.turn(&s)
		fs := s.Faults(&site, others, today, cases.Calendar{}, loc)
		if c.path == "" {
			if len(fs) != 0 {
				t.Errorf("%s: %v", c.name, fs)
			}
			continue
		}
		if len(fs) != 1 || fs[0].Path != c.path || !strings.Contains(fs[0].Reason, c.words) {
			t.Errorf("%s: %v, want %s: ...%s...", c.name, fs, c.path, c.words)
		}
	}
	retired := site
	retired.Retired = true
	if fs := good.Faults(&retired, nil, today, cases.Calendar{}, loc); len(fs) != 1 || fs[0].Path != "site" {
		t.Errorf("retired: %v", fs)
	}
}
