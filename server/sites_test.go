package main

import (
	"context"
	"log/slog"
	"path/filepath"
	"testing"

	"dunlin/cases"
	"dunlin/cases/schedule"
	"dunlin/reminders/letters"
)

// Letters know the sites of the store as they are now, and those of the settings beside
// them; the store has the say.
func TestLettersKnowTheSitesOfTheStore(t *testing.T) {
	cfg := defaultConfig()
	cfg.Store = filepath.Join(t.TempDir(), "letters.db")
	cfg.Letters.Sites = map[string]letters.Site{"old": {Name: "Old", Phone: "555-0101"}, "both": {Name: "Settings", Address: "1 Reed Street", Phone: "555-0102"}}
	if err := cfg.settle(); err != nil {
		t.Fatal(err)
	}
	s, err := openSite(&cfg, false, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	press, err := s.press(slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(press.Program().Sites); n != 2 {
		t.Errorf("%d sites before", n)
	}
	err = s.db.Update(context.Background(), cases.Actor{ID: "t", Name: "T", Role: cases.System}, func(w cases.Writer) error {
		for _, x := range []schedule.Site{{Key: "new", Name: "New", Address: "2 Curlew Street", Phone: "555-0103", Note: "Park behind the house."}, {Key: "both", Name: "Store", Phone: "555-0104"}} {
			if err := schedule.PutSite(w, x); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]letters.Site{"old": {Name: "Old", Phone: "555-0101"}, "both": {Name: "Store", Address: "1 Reed Street", Phone: "555-0104"},
		"new": {Name: "New", Address: "2 Curlew Street", Phone: "555-0103", Note: "Park behind the house."}}
	got := press.Program().Sites
	for key, x := range want {
		if got[key] != x {
			t.Errorf("%s: %+v, want %+v", key, got[key], x)
		}
	}
	if len(got) != len(want) || len(cfg.Letters.Sites) != 2 {
		t.Errorf("%d sites; the settings have %d now", len(got), len(cfg.Letters.Sites))
	}
}
