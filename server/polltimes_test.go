package main

import (
	"testing"
	"time"

	"dunlin/server/web"
)

// TestMailboxIsLateByAnySpec: "No mail since" comes after three missed polls, also
// where the times are five cron fields, and not at night where nothing is due.
func TestMailboxIsLateByAnySpec(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	at := func(h, m int) time.Time { return time.Date(2026, 3, 5, h, m, 0, 0, zone) }
	for _, x := range []struct {
		spec      string
		good, now time.Time
		late      bool
	}{
		{"@every 3m", at(8, 10), at(8, 19), false},
		{"@every 3m", at(8, 10), at(8, 21), true},
		{"*/5 * * * *", at(8, 10), at(8, 25), false},
		{"*/5 * * * *", at(8, 10), at(8, 27), true},
		{"*/5 * * * *", at(8, 10), at(13, 0), true},
		{"*/5 7-18 * * *", at(18, 55).AddDate(0, 0, -1), at(6, 59), false},
		{"*/5 7-18 * * *", at(18, 55).AddDate(0, 0, -1), at(7, 12), true},
		{"*/5 7-18 * * *", at(18, 55).AddDate(0, 0, -1).UTC(), at(7, 12), true},
	} {
		var m web.Mailbox
		m.Good = x.good
		if m.Every, m.Due = pollTimes(x.spec, x.good, zone); m.Late(x.now) != x.late {
			t.Errorf("%s, good %s, now %s: late %v, due %s", x.spec, x.good, x.now, m.Late(x.now), m.Due)
		}
		if m.Every <= 0 {
			t.Errorf("%s: every %s", x.spec, m.Every)
		}
	}
	if every, due := pollTimes("@every 3m", time.Time{}, zone); every != 3*time.Minute || !due.IsZero() {
		t.Errorf("before the first poll: %s, %s", every, due)
	}
}
