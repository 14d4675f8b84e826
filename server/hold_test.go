package main

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"dunlin/cases"
)

// TestMailStops makes a family's letter, then lets something happen after which it
// must not go out: it is held in the same transaction, and cannot be printed.
func TestMailStops(t *testing.T) {
	custody := cases.Flag{Kind: "custody"}
	for name, stop := range map[string]func(*site, cases.Actor, cases.Case) (cases.Case, error){
		"death": func(s *site, a cases.Actor, c cases.Case) (cases.Case, error) {
			return s.desk.RecordDeath(t.Context(), a, c.ID, c.Rev, c.Referral.On, "the hospital")
		},
		"custody": func(s *site, a cases.Actor, c cases.Case) (cases.Case, error) {
			return s.desk.SetFlag(t.Context(), a, c.ID, c.Rev, custody)
		},
		"declined": func(s *site, a cases.Actor, c cases.Case) (cases.Case, error) {
			return s.desk.Decline(t.Context(), a, c.ID, c.Rev, cases.Declined{ByWhom: "mother", ExplainedBy: "M. Lark"})
		},
		"second variant": func(s *site, a cases.Actor, c cases.Case) (cases.Case, error) {
			g := cases.Genotype{Scope: "panel", Variants: []cases.Variant{{Name: "F508del"}, {Name: "G551D"}}}
			return s.desk.SetGenotype(t.Context(), a, c.ID, c.Rev, g, "report")
		},
	} {
		t.Run(name, func(t *testing.T) {
			s, c := siteWithLetter(t)
			a := cases.Actor{ID: "a", Name: "A. Tern", Role: cases.Coordinator}
			c, err := stop(s, a, c)
			if err != nil {
				t.Fatal(err)
			}
			l := theLetter(t, s, c.ID)
			if l.State != "held" || !strings.HasPrefix(l.Note, "Held: ") || c.Letters[0].State != "held" {
				t.Fatalf("letter %s %q, in the case %s", l.State, l.Note, c.Letters[0].State)
			}
			err = s.desk.MarkLetters(t.Context(), a, []string{l.ID}, "printed", "", "run")
			if cases.KindOf(err) != cases.Refused {
				t.Errorf("printing a held letter: %v", err)
			}
			if problems, err := s.db.Check(t.Context()); err != nil || len(problems) > 0 {
				t.Errorf("%v %v", problems, err)
			}
		})
	}
}

// siteWithLetter has one reached family whose first notice waits to be printed.
func siteWithLetter(t *testing.T) (*site, cases.Case) {
	t.Helper()
	cfg, err := demoConfig(filepath.Join(t.TempDir(), "p.db"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := openSite(cfg, false, longWait, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.close() })
	today, err := s.today(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	a := cases.Actor{ID: "a", Name: "A. Tern", Role: cases.Coordinator}
	c, err := s.desk.Open(t.Context(), a, cases.Case{
		Infant: cases.Infant{Given: "Ada", Family: "Wren", Born: today - 10, Gestation: 39 * 7, BirthWeightG: 3200}, Referral: cases.Referral{On: today - 1, Route: "screen"},
		Contacts: []cases.Contact{{On: today - 1, With: "family", By: "phone", Reached: true}},
		Family: &cases.Family{Language: "en", Guardians: []cases.Guardian{{Given: "Ruth", Family: "Wren", Relation: "mother", Letters: true,
			Address: &cases.Address{Lines: []string{"14 Curlew Lane"}, City: "Alder Bay", Region: "AB", Postal: "00014"}}}},
	}, cases.Event{Kind: "opened"})
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.press(nil)
	if err != nil {
		t.Fatal(err)
	}
	tally, err := p.Run(t.Context(), today)
	if err != nil || len(tally.Made) != 1 {
		t.Fatalf("%+v %v", tally, err)
	}
	return s, reread(t, s, c.ID)
}

func reread(t *testing.T, s *site, id cases.ID) (c cases.Case) {
	t.Helper()
	err := s.db.View(t.Context(), func(r cases.Reader) (err error) {
		c, err = r.Case(id)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func theLetter(t *testing.T, s *site, id cases.ID) (l cases.Letter) {
	t.Helper()
	err := s.db.View(t.Context(), func(r cases.Reader) error {
		of, err := r.LettersOf(id)
		if err == nil && len(of) == 1 {
			l = of[0]
		}
		return err
	})
	if err != nil || l.ID == "" {
		t.Fatalf("no letter: %v", err)
	}
	return l
}

// today is the current day in the program's zone.
func (s *site) today(ctx context.Context) (day cases.Day, err error) {
	err = s.db.View(ctx, func(r cases.Reader) error {
		day = r.Today()
		return nil
	})
	return day, err
}
