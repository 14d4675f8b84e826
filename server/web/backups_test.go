package web_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/web"
)

// safe is how the back-ups stand, as the pages are told.
type safe struct {
	b     web.Safe
	err   error
	asked []string
}

func (s *safe) Safe(context.Context) (web.Safe, error) { return s.b, s.err }

func (s *safe) BackUp(_ context.Context, a cases.Actor) error {
	s.asked = append(s.asked, a.Name)
	return s.err
}

func TestBackupsPage(t *testing.T) {
	x := &safe{}
	w := &work{}
	s := newSite(t, func(d *web.Deps) { d.Safe, d.Jobs = x, w })
	theo := s.as("theo")
	at := func(h, m int) time.Time { return time.Date(2026, 3, 5, h, m, 0, 0, s.now.Location()) }
	good := web.Backup{File: "program-1.db.age", At: at(8, 30), By: "schedule", Bytes: 4_200_000, Encrypted: true, Cases: 118, Entries: 12031, Head: "0f3a9c11d2e4aaaa", Verified: at(8, 31), Command: "dunlin restore /srv/program-1.db.age --identity KEYFILE --to program.db"}
	old, gone := good, good
	old.At, gone.Trouble, gone.By = at(8, 30).AddDate(0, 0, -1), "The file is gone.", "Theo Marsh"
	set := web.Safe{SetUp: true, Folder: "/srv/back-ups", Move: "mv program.db program.db.before", Every: "@every 30m", Encrypted: true, Keys: []string{"age1qqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqqzzzz"}, Keep: [4]int{24, 7, 5, 1}}
	for name, c := range map[string]struct {
		change func(*web.Safe)
		want   []string
	}{
		"not set up": {func(b *web.Safe) { *b = web.Safe{} }, []string{"No back-ups are made.", "every case is lost", "There is no back-up yet."}},
		"in order": {func(b *web.Safe) { b.Made = []web.Backup{good} }, []string{"The newest verified back-up was made 11 minutes ago.", "5 Mar 2026, 08:30 would be lost", "age1qqqqqqqq…qqzzzz", "Every 30 minutes", "The newest of each of the last 24 hours, 7 days, 5 weeks, 1 month",
			"4.2 MB", "Entry 12,031", "0f3a9c11d2e4", "Verified", "By the schedule", "mv program.db program.db.before dunlin restore /srv/program-1.db.age --identity KEYFILE --to program.db"}},
		"old":           {func(b *web.Safe) { b.Made = []web.Backup{old} }, []string{"24 hours ago", "It should be newer: look at the job."}},
		"in trouble":    {func(b *web.Safe) { b.Made = []web.Backup{gone, old} }, []string{"1 back-up cannot be counted on.", "The file is gone.", "Asked for by Theo Marsh"}},
		"none verified": {func(b *web.Safe) { b.Made = []web.Backup{gone} }, []string{"There is no verified back-up."}},
		"plain":         {func(b *web.Safe) { b.Encrypted = false }, []string{"Back-ups are not encrypted."}},
		"busy":          {func(b *web.Safe) { b.Busy = true }, []string{"A back-up is being made."}},
		"failed":        {func(b *web.Safe) { b.Failed, b.Trouble = "there is no space left", "the folder is not there" }, []string{"There is no space left.", "The folder is not there."}},
	} {
		t.Run(name, func(t *testing.T) {
			x.b = set
			c.change(&x.b)
			theo.get("/settings/back-ups").wants(200, c.want...)
		})
	}
	x.b = set
	w.jobs = []web.Job{{Name: "scrub", Spec: "15 5 * * *", Warning: "The last run failed: the store does not hold up"}}
	theo.get("/settings/back-ups").wants(200, "Reading everything again:", "The last run failed: the store does not hold up.")
	if p := theo.get("/health"); !strings.HasPrefix(p.body, "ok, but a back-up or the reading of everything failed") {
		t.Errorf("health says %q", p.body)
	}
	x.err = errors.New("made to fail")
	theo.get("/settings/back-ups").wants(500)
}

//asvs:8.2.1
func TestOnlyTheAdministratorSeesAndAsksForBackups(t *testing.T) {
	x := &safe{b: web.Safe{SetUp: true, Every: "@every 30m"}}
	s := newSite(t, func(d *web.Deps) { d.Safe = x })
	for _, who := range []string{"wren", "dagny", "ines"} {
		s.as(who).get("/settings/back-ups").wants(403)
	}
	wren := s.as("wren")
	wren.post("/settings/back-ups", wren.get("/intake/upload").form("/intake/upload").values).wants(403)
	f := s.as("theo").get("/settings/back-ups").form("/settings/back-ups")
	f.send().wants(200, "Started: a back-up.")
	x.err = cases.Errorf(cases.Refused, "A back-up is being made already.")
	if len(x.asked) != 1 || x.asked[0] != "Theo Marsh" {
		t.Errorf("asked by %q", x.asked)
	}
}
