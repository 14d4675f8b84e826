package web

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// Lengths of collections on the days on which the clocks change. The rules of the
// zone are those of the IANA time zone database: New York set its clocks forward on
// 8 March 2026 at 02:00 and back on 1 November 2026 at 02:00.
func TestCollectedAcrossMidnightAndChangedClocks(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	plain, forward, back := cases.MakeDay(2026, 3, 5), cases.MakeDay(2026, 3, 8), cases.MakeDay(2026, 11, 1)
	for _, c := range []struct {
		on           cases.Day
		began, ended cases.Clock
		want         string
	}{
		{plain, "09:11", "09:41", "30"}, {plain, "23:50", "00:20", "30+"}, {plain, "09:11", "09:05", ""}, {plain, "09:11", "09:11", ""}, {plain, "09:00", "13:00", ""},
		{forward, "01:50", "03:20", "30"}, {forward, "02:10", "03:20", ""}, {forward, "09:00", "09:30", "30"}, {forward - 1, "23:50", "00:20", "30+"},
		{back, "01:40", "01:55", "15 75"}, {back, "01:50", "01:20", "30"}, {back, "00:50", "01:20", "30 90"}, {back, "01:50", "02:20", "30 90"},
		{0, "01:50", "02:20", "30"},
	} {
		got := ""
		for _, x := range collected(zone, c.on, c.began, c.ended) {
			got += fmt.Sprint(" ", x.minutes)
			if x.midnight {
				got += "+"
			}
		}
		if strings.TrimSpace(got) != c.want {
			t.Errorf("%s, %s to %s: %q, want %q", c.on, c.began, c.ended, got, c.want)
		}
	}
	if got := fmt.Sprint(shiftDays(zone, back)); got != "[2026-03-08 2026-11-01]" && got != "[2025-11-02 2026-03-08 2026-11-01]" {
		t.Errorf("days of changed clocks: %s", got)
	}
}

// What the form says of such times, and what it keeps of them.
func TestTimesThatTheClocksMadeOdd(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	p := cases.DefaultProtocol()
	now := time.Date(2026, 11, 25, 10, 0, 0, 0, zone)
	c, err := cases.ParseCase([]byte(`{"document":"dunlin-case/1","infant":{"born":"2026-02-01"},"referral":{"on":"2026-02-06","route":"screen"}}`), cases.DayOf(now), p)
	if err != nil {
		t.Fatal(err)
	}
	l := NewLiveReader(p, now, c, -1)
	for _, x := range []struct{ name, on, began, ended, minutes, want string }{
		{"skipped hour", "8 Mar 2026", "02:30", "03:10", "", "Left arm: collection began 02:30: the clocks skipped that time on 8 Mar 2026. Check it"},
		{"skipped end", "8 Mar 2026", "01:50", "02:20", "", "Left arm: collection ended at 02:20, which the clocks skipped on 8 Mar 2026"},
		{"forward", "8 Mar 2026", "01:50", "03:20", "", ""},
		{"forward, as on the wall", "8 Mar 2026", "01:50", "03:20", "90", "Left arm: 90 minutes do not fit 01:50 to 03:20, which are 30"},
		{"hour that comes twice", "1 Nov 2026", "01:40", "01:55", "", "Left arm: the clocks were set back on that day, so 01:40 to 01:55 can mean 15 or 75 minutes. Enter the minutes collected"},
		{"said which", "1 Nov 2026", "01:40", "01:55", "75", ""},
		{"set back between", "1 Nov 2026", "01:50", "01:20", "", ""},
		{"midnight", "5 Mar 2026", "23:50", "00:20", "", ""},
	} {
		v := url.Values{"on": {x.on}, "collector": {"tubing"}, "analyte": {"chloride"}, "left-began": {x.began}, "left-ended": {x.ended}, "left-minutes": {x.minutes}, "left-amount": {"40"}, "left-chloride": {"20"}, "left-again": {"20"}}
		says := l.Read(v)
		if got := strings.ReplaceAll(strings.Join(says.Faults, " "), "\u00a0", " "); x.want == "" && got != "" || !strings.Contains(got, x.want) {
			t.Errorf("%s: %q, want %q", x.name, got, x.want)
		}
		if x.want == "" && says.Outcome != "unlikely" {
			t.Errorf("%s: %+v", x.name, says)
		}
	}
}
