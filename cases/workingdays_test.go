package cases_test

import (
	"strconv"
	"testing"
	"time"

	"dunlin/cases"
)

// Source: 5 U.S.C. 6103, counted by a script of its own and checked against two
// packages of holidays; see the files.
func TestWorkingDaysBetween(t *testing.T) {
	var cal cases.Calendar
	for _, row := range table(t, "count_business_days.csv") {
		from, to := mustDay(t, row["from"]), mustDay(t, row["to"])
		if got := strconv.Itoa(int(to - from)); got != row["calendar_days"] {
			t.Errorf("%s to %s: %s days, want %s", from, to, got, row["calendar_days"])
		}
		if got := strconv.Itoa(cal.Between(from, to)); got != row["from_excl_to_incl"] {
			t.Errorf("%s to %s: %s working days, want %s", from, to, got, row["from_excl_to_incl"])
		}
		if got := strconv.Itoa(cal.Between(from-1, to)); got != row["both_incl"] {
			t.Errorf("%s to %s, both counted: %s working days, want %s", from, to, got, row["both_incl"])
		}
	}
	for _, row := range table(t, "business_days_per_month_2025_2030.csv") {
		year, err := strconv.Atoi(row["year"])
		if err != nil {
			t.Fatal(err)
		}
		total := 0
		for m := time.January; m <= time.December; m++ {
			next := cases.DayOf(time.Date(year, m+1, 1, 0, 0, 0, 0, time.UTC))
			n := cal.Between(cases.MakeDay(year, m, 1)-1, next-1)
			total += n
			if col := "m" + cases.MakeDay(year, m, 1).String()[5:7]; strconv.Itoa(n) != row[col] {
				t.Errorf("%d %s: %d working days, want %s", year, m, n, row[col])
			}
		}
		if strconv.Itoa(total) != row["total"] {
			t.Errorf("%d: %d working days, want %s", year, total, row["total"])
		}
	}
	if cal.Between(mustDay(t, "2026-03-09"), mustDay(t, "2026-03-02")) != 0 {
		t.Error("working days were counted backwards")
	}
}

func TestNearestWorkingDay(t *testing.T) {
	var cal cases.Calendar
	for _, row := range table(t, "roll_to_business_day.csv") {
		d := mustDay(t, row["date"])
		if got := cal.Add(d-1, 1).String(); got != row["roll_forward"] {
			t.Errorf("on or after %s: %s, want %s", d, got, row["roll_forward"])
		}
		if got := cal.Add(d+1, -1).String(); got != row["roll_back"] {
			t.Errorf("on or before %s: %s, want %s", d, got, row["roll_back"])
		}
	}
}

// Days between two moments are the difference of their civil dates, whatever the
// clocks did in between.
func TestDaysAcrossClockChanges(t *testing.T) {
	for _, row := range table(t, "dst_elapsed.csv") {
		zone, err := time.LoadLocation(row["zone"])
		if err != nil {
			t.Fatal(err)
		}
		moment := func(col string) time.Time {
			at, err := time.ParseInLocation("2006-01-02T15:04:05", row[col], zone)
			if err != nil {
				t.Fatal(err)
			}
			if want := row["utc_"+col[len("local_"):]]; at.UTC().Format(time.RFC3339) != want {
				t.Errorf("%s %s is %s, want %s", row["zone"], row[col], at.UTC().Format(time.RFC3339), want)
			}
			return at
		}
		from, to := moment("local_from"), moment("local_to")
		if got := strconv.Itoa(int(cases.DayOf(to) - cases.DayOf(from))); got != row["civil_days"] {
			t.Errorf("%s %s to %s: %s days, want %s", row["zone"], row["local_from"], row["local_to"], got, row["civil_days"])
		}
	}
}

// Source: computed with months clamped to their last day; see the file.
func TestMonthsEndOnALastDay(t *testing.T) {
	for _, row := range table(t, "add_months_clamped.csv") {
		n, err := strconv.Atoi(row["months"])
		if err != nil {
			t.Fatal(err)
		}
		start := mustDay(t, row["start"])
		got := start.AddMonths(n)
		if got.String() != row["result_clamped"] || strconv.Itoa(int(got-start)) != row["days_between"] {
			t.Errorf("%s and %d months: %s, want %s", start, n, got, row["result_clamped"])
		}
	}
}
