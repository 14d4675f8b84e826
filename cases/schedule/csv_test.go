package schedule

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"dunlin/cases"
)

// text draws text as people type it: no line breaks or spaces around it.
func text(t *rapid.T, what string) string {
	return strings.TrimSpace(rapid.StringMatching(`[=+\-@',";a-zé0-9 ]{0,12}`).Draw(t, what))
}

func drawSite(t *rapid.T, key string) Site {
	s := Site{Key: key, Name: "N" + text(t, "name"), Address: text(t, "address"), Phone: text(t, "phone"), Postal: text(t, "postal"), Note: text(t, "note"), Email: rapid.SampledFrom([]string{"", "desk@alder-bay.example", "-x+y@z.example"}).Draw(t, "email"),
		OpenHolidays: rapid.Bool().Draw(t, "holidays"), Retired: rapid.Bool().Draw(t, "retired")}
	if rapid.Bool().Draw(t, "position") {
		lat, lon := rapid.Float64Range(-90, 90).Draw(t, "lat"), rapid.Float64Range(-180, 180).Draw(t, "lon")
		s.Lat, s.Lon = &lat, &lon
	}
	if rapid.Bool().Draw(t, "more") {
		s.Languages, s.Weekdays = []string{"es", "pt-BR"}, []int{6, 0}
		s.Accepts = Accepts{MinAgeDays: rapid.IntRange(0, 30).Draw(t, "age"), MinWeightG: rapid.Float64Range(250, 15000).Draw(t, "g"), Collectors: []string{"pad"}}
		from := springDay + cases.Day(rapid.IntRange(0, 99).Draw(t, "from"))
		s.Closed = []Closed{{from, from, ""}, {from + 9, from + 12, "floor repair, wet"}}
	}
	return s
}

// TestTablesReadBack: whatever is written is read back the same, and no cell of it
// begins like a formula.
func TestTablesReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var sites []Site
		for i := range rapid.IntRange(1, 4).Draw(t, "sites") {
			s := drawSite(t, fmt.Sprint("site-", i))
			s.Name = strings.TrimSpace(strings.TrimPrefix(s.Name, "N"))
			if s.Name == "" {
				s.Name = "=1+1"
			}
			sites = append(sites, s)
		}
		table := SitesCSV(sites)
		back, faults := ReadSites(bytes.NewReader(table))
		if len(faults) > 0 {
			t.Fatalf("%v in\n%s", faults, table)
		}
		if d := cmp.Diff(sites, back); d != "" {
			t.Fatal(d)
		}
		checkCells(t, table)
	})
}

func checkCells(t *rapid.T, table []byte) {
	rows, err := csv.NewReader(bytes.NewReader(table)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		for i, c := range row {
			number := rows[0][i] == "lat" || rows[0][i] == "lon"
			if c != "" && strings.ContainsRune("=+-@\t\r", rune(c[0])) && !number {
				t.Fatalf("the cell %q would run as a formula", c)
			}
		}
	}
}

func TestSessionTableReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		against := Reading{Sites: []Site{{Key: "a", Name: "A", Weekdays: []int{0, 1, 2, 3, 4, 5, 6}, OpenHolidays: true}}, Today: springDay, Zone: time.UTC}
		var list []Session
		for i := range rapid.IntRange(1, 5).Draw(t, "sessions") {
			s := Session{ID: fmt.Sprintf("=s%d", i), Site: "a", On: springDay + cases.Day(i), Start: clockOf(rapid.IntRange(0, 1200).Draw(t, "start")), Places: rapid.IntRange(1, 4).Draw(t, "places"),
				Minutes: rapid.IntRange(20, 60).Draw(t, "minutes"), ForRepeats: rapid.IntRange(0, 1).Draw(t, "kept"), Note: text(t, "note"), Cancelled: rapid.Bool().Draw(t, "cancelled")}
			list = append(list, s)
		}
		table := SessionsCSV(list)
		back, faults := ReadSessions(bytes.NewReader(table), against)
		if d := cmp.Diff(list, back); d != "" || len(faults) > 0 {
			t.Fatalf("%v\n%s", faults, d)
		}
		checkCells(t, table)
		against.Existing = list // read a second time it changes the same sessions
		if again, faults := ReadSessions(bytes.NewReader(table), against); len(faults) > 0 || len(again) != len(list) {
			t.Fatalf("a second time: %v", faults)
		}
	})
}

// The day of a session was closed after it was made: its row passes as long as it changes
// nothing but a note or a cancellation.
func TestSessionTableOnADayClosedSince(t *testing.T) {
	s := Session{ID: "a-s", Site: "a", On: springDay, Start: "09:00", Places: 4, Minutes: 45}
	against := Reading{Sites: []Site{{Key: "a", Name: "A", Weekdays: []int{0, 1, 2, 3, 4, 5, 6}, OpenHolidays: true, Closed: []Closed{{From: springDay, To: springDay, Reason: "floor is laid"}}}},
		Existing: []Session{s}, Today: springDay, Zone: time.UTC}
	for name, x := range map[string]struct {
		edit   func(*Session)
		passes bool
	}{
		"unchanged":   {func(*Session) {}, true},
		"cancelled":   {func(s *Session) { s.Cancelled, s.Note = true, "closed" }, true},
		"more places": {func(s *Session) { s.Places = 5 }, false},
		"new":         {func(s *Session) { s.ID, s.Start = "", "14:00" }, false},
	} {
		now := s
		x.edit(&now)
		list, faults := ReadSessions(bytes.NewReader(SessionsCSV([]Session{now})), against)
		if (len(faults) == 0) != x.passes || (len(list) == 1) != x.passes {
			t.Errorf("%s: %+v, faults %v", name, list, faults)
		}
		if !x.passes && !strings.Contains(faults[0].Reason, "floor is laid") {
			t.Errorf("%s: %v", name, faults)
		}
	}
}

func TestSiteTableFaults(t *testing.T) {
	for _, c := range []struct{ name, table, path, words string }{
		{"empty", "", "row 1", "no headings"},
		{"no key", "name\nA\n", "row 1, key", "missing"},
		{"twice a heading", "key,name,name\n", "row 1, name", "comes twice"},
		{"bad key", "key,name\nAlder Bay,A\n", "row 2, key", "small letters"},
		{"no name", "key,name\na,\n", "row 2, name", "is needed"},
		{"twice", "key,name\na,A\n\na,B\n", "row 3, key", "a comes twice"},
		{"weight in kg", "key,name,min_weight_g\na,A,3.1\n", "row 2, accepts.min_weight_g", "enter grams"},
		{"weight words", "key,name,min_weight_g\na,A,3 kg\n", "row 2, min_weight_g", "must be grams"},
		{"half a position", "key,name,lat\na,A,44.9\n", "row 2, lat", "both"},
		{"no number", "key,name,lat,lon\na,A,NaN,3\n", "row 2, lat", "between -90 and 90"},
		{"far away", "key,name,lat,lon\na,A,44,181\n", "row 2, lat", "between -180 and 180"},
		{"weekday", "key,name,weekdays\na,A,1;9\n", "row 2, weekdays[1]", "0 (Sunday)"},
		{"weekday word", "key,name,weekdays\na,A,Mon\n", "row 2, weekdays", `"Mon"`},
		{"closed", "key,name,closed\na,A,2026-02-30\n", "row 2, closed", "not a day of the calendar"},
		{"closed back", "key,name,closed\na,A,2026-02-20..2026-02-10\n", "row 2, closed[0].to", "before"},
		{"language", "key,name,languages\na,A,Spanish speakers\n", "row 2, languages[0]", "language tag"},
		{"collector", "key,name,collectors\na,A,coil\n", "row 2, accepts.collectors[0]", "tubing or pad"},
		{"yes", "key,name,retired\na,A,perhaps\n", "row 2, retired", "yes or no"},
		{"mail", "key,name,email\na,A,desk at clinic\n", "row 2, email", "mail address"},
		{"quote", "key,name\na,\"A\"x\nb,B\n", "row 2", "cannot be read"},
	} {
		got, fs := ReadSites(strings.NewReader(c.table))
		if len(fs) != 1 || fs[0].Path != c.path || !strings.Contains(fs[0].Reason, c.words) {
			t.Errorf("%s: %v", c.name, fs)
		}
		if c.name == "quote" && (len(got) != 1 || got[0].Key != "b") {
			t.Errorf("the row after one at fault is lost: %v", got)
		}
	}
	if got, fs := ReadSites(strings.NewReader("\ufeffKey,NAME,comment\na,A,x\n")); len(fs) != 0 || len(got) != 1 {
		t.Errorf("headings with a byte order mark, in capitals: %v %v", got, fs)
	}
}

func TestSessionTableFaults(t *testing.T) {
	against := Reading{Sites: []Site{{Key: "a", Name: "A"}}, Today: day(t, "2026-03-05"), Zone: zone(t, "America/New_York"),
		Existing: []Session{{ID: "old", Site: "a", On: day(t, "2026-03-18"), Start: "13:00", Places: 2, Minutes: 60}}}
	head := "id,site,on,start,places,minutes\n"
	for _, c := range []struct{ name, rows, path, words string }{
		{"site", ",b,2026-03-18,09:00,2,60", "row 2, site", `"b" is no site`},
		{"day", ",a,18.3.2026,09:00,2,60", "row 2, on", "date like"},
		{"past", ",a,2026-03-04,09:00,2,60", "row 2, on", "past"},
		{"closed", ",a,2026-03-21,09:00,2,60", "row 2, on", "Saturday"},
		{"overlap", ",a,2026-03-18,12:30,2,60", "row 2, start", "overlaps"},
		{"overlap above", ",a,2026-03-19,09:00,2,60\n,a,2026-03-19,10:30,2,60", "row 3, start", "overlaps the session from 09:00 to 11:00"},
		{"twice", "x,a,2026-03-19,09:00,2,60\nx,a,2026-03-20,09:00,2,60", "row 3, id", "x comes twice"},
		{"places", ",a,2026-03-19,09:00,two,60", "row 2, places", "whole number"},
	} {
		_, fs := ReadSessions(strings.NewReader(head+c.rows+"\n"), against)
		if len(fs) != 1 || fs[0].Path != c.path || !strings.Contains(fs[0].Reason, c.words) {
			t.Errorf("%s: %v", c.name, fs)
		}
	}
	moved := head + "old,a,2026-03-18,9:00,2,60\n,a,2026-03-18,13:00,2,60\n"
	got, fs := ReadSessions(strings.NewReader(moved), against)
	if len(fs) != 0 || len(got) != 2 || got[0].Start != "09:00" || got[1].ID != "a-2026-03-18-1300" {
		t.Errorf("a session moved out of the way: %v %v", got, fs)
	}
}

// A file with many rows at fault loses none of its good ones, and says how many are bad.
func TestAllGoodCentroidsAreKept(t *testing.T) {
	var b strings.Builder
	b.WriteString("postal,lat,lon\n")
	for i := range 500 {
		fmt.Fprintf(&b, "bad%d,north,1\n", i)
		fmt.Fprintf(&b, "%05d,44,-93\n", i)
	}
	c, fs := ReadCentroids(strings.NewReader(b.String()))
	if len(c) != 500 || len(fs) != 101 || fs[100].Reason != "and 400 more" || fs[99].Path != "row 200, lat" {
		t.Errorf("%d kept, %d faults, the last %+v", len(c), len(fs), fs[len(fs)-1])
	}
}

func TestReadCentroids(t *testing.T) {
	c, fs := ReadCentroids(strings.NewReader("lat,lon,postal,name\n44.9,-93.1,55101,x\n46.79,-92.10,55802,y\n1,2,55101,again\nhigh,2,1,z\n95,2,3,z\n4,5,,z\n"))
	if len(c) != 2 || len(fs) != 4 {
		t.Fatalf("%v %v", c, fs)
	}
	for postal, want := range map[string]bool{"55101": true, " 55101 ": true, "55101-1234": true, "99999": false, "": false} {
		if p, ok := c.Find(postal); ok != want || ok && p != (Point{44.9, -93.1}) {
			t.Errorf("%q: %v %v", postal, p, ok)
		}
	}
}

func FuzzReadTables(f *testing.F) {
	f.Add([]byte("key,name,lat,lon\na,A,1,2\n"))
	f.Add([]byte("site,on,start,places,minutes\na,2026-03-18,9:00,2,60\n"))
	f.Add([]byte("postal,lat,lon\n1,2,3\n"))
	f.Add(SitesCSV([]Site{{Key: "a", Name: "'=1"}}))
	f.Fuzz(func(t *testing.T, data []byte) {
		sites, _ := ReadSites(bytes.NewReader(data))
		for i := range sites {
			if fs := sites[i].Faults(); len(fs) > 0 {
				t.Errorf("a site at fault was kept: %v", fs)
			}
		}
		back, faults := ReadSites(bytes.NewReader(SitesCSV(sites)))
		if len(back) != len(sites) || len(faults) > 0 {
			t.Errorf("%d sites, read back %d: %v", len(sites), len(back), faults)
		}
		ReadCentroids(bytes.NewReader(data))
		list, _ := ReadSessions(bytes.NewReader(data), Reading{Sites: []Site{{Key: "a", Name: "A"}}, Zone: time.UTC})
		for i := range list {
			if list[i].At(list[i].Places-1) == "" {
				t.Errorf("a session without its places was kept: %+v", list[i])
			}
		}
	})
}

// TestTablesOfSpreadsheets: a byte order mark, other line ends and other partings of
// columns are read, also with quoted headings.
func TestTablesOfSpreadsheets(t *testing.T) {
	want := []Site{{Key: "alder-bay", Name: "Bay, North", Languages: []string{"es", "so"}}}
	for name, table := range map[string]string{
		"mark":       "\ufeffkey,name,languages\nalder-bay,\"Bay, North\",es;so\n",
		"mark quote": "\ufeff\"key\",\"name\",\"languages\"\r\n\"alder-bay\",\"Bay, North\",\"es;so\"\r\n",
		"semicolon":  "key;name;languages\r\nalder-bay;Bay, North;\"es;so\"\r\n",
		"tab":        "key\tname\tlanguages\nalder-bay\tBay, North\tes;so",
	} {
		got, faults := ReadSites(strings.NewReader(table))
		if d := cmp.Diff(want, got); d != "" || len(faults) > 0 {
			t.Errorf("%s: %v %s", name, faults, d)
		}
	}
}
