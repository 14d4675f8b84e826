package web_test

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
)

// entries are the texts of the audit trail of a kind, oldest first.
func (s *site) entries(kind string) (out []string) {
	s.t.Helper()
	err := s.db.View(context.Background(), func(r cases.Reader) error {
		for e, err := range r.EntriesSince(time.Time{}) {
			if err != nil {
				return err
			}
			if e.Event.Kind == kind {
				out = append(out, e.Actor.Name+": "+e.Event.Text)
			}
		}
		return nil
	})
	if err != nil {
		s.t.Fatal(err)
	}
	return out
}

// born opens so many cases of infants born in January 2026.
func (s *site) born(n int) {
	for i := range n {
		s.open(fmt.Sprintf(`{"document":"dunlin-case/1","reference":"YR-2026-%04d","infant":{"family":"QUILLON","given":"Sabine","sex":"female","born":"2026-01-%02d"},"referral":{"on":"2026-01-28","route":"screen"}}`, i+1, i%20+1))
	}
}

func TestFiguresForTheYearHideSmallNumbers(t *testing.T) {
	s := newSite(t)
	s.born(30)
	s.open(docQNS)
	nurse := s.as("dagny").get("/reports/year?year=2026").wants(200, "Figures for the year 2026", "Infants referred", "31", "Counts from 1 to 10 are hidden", "What is counted", "How these figures are made")
	for _, text := range []string{"Show full figures", "Keep the figures", "QUILLON", "Sabine", "YR-2026-0001", "OYELARAN"} {
		if strings.Contains(nurse.body, text) {
			t.Errorf("the nurse's page says %q", text)
		}
	}
	if n := s.entries("figures-seen"); len(n) != 0 {
		t.Errorf("a page with small numbers hidden left a note: %q", n)
	}
	nurse.c.get("/reports/year?year=2026&figures=full").wants(403)
	nurse.c.get("/reports/year.pdf?year=2026&figures=full").wants(403)
	s.as("ines").get("/reports/year?year=2026&figures=full").wants(200, "Full figures, for the program only. Not for release.", "Keep the figures of 2026")
	if n := s.entries("figures-seen"); len(n) != 1 || n[0] != "Ines Okafor-Lund: Figures for the year: full figures. Infants born in 2026, records of 5 Mar 2026" {
		t.Errorf("noted: %q", n)
	}
	s.as("theo").get("/reports/year").wants(403)
}

func TestTheYearIsChosen(t *testing.T) {
	s := newSite(t)
	s.born(12)
	p := s.as("wren").get("/reports/year").wants(200, "Figures for the year 2025", "No infant born in 2025 was referred")
	for _, year := range []string{"1066", "2027", "last"} {
		p.c.get("/reports/year?year="+year).wants(422, "Select a birth year from 1990 to 2026")
		p.c.get("/reports/year.pdf?year="+year).wants(422, "Select a birth year")
	}
	p.c.get("/reports/year?year=1999").wants(200, "No infant born in 1999")
}

func TestThePDFOfTheYearIsNoted(t *testing.T) {
	s := newSite(t)
	s.born(12)
	p := s.as("ines").get("/reports/year.pdf?year=2026&paper=a4")
	if p.status != 200 || p.head.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(p.body, "%PDF-") {
		t.Fatalf("%d %s", p.status, p.head.Get("Content-Type"))
	}
	n := s.entries("exported")
	if len(n) != 1 || !strings.Contains(n[0], "Figures for the year as PDF") || !strings.Contains(n[0], "Small numbers hidden. Infants born in 2026") {
		t.Errorf("noted: %q", n)
	}
	p.c.get("/reports/year.pdf?year=2026&figures=full")
	if n := s.entries("exported"); len(n) != 2 || !strings.Contains(n[1], "Full figures.") {
		t.Errorf("noted: %q", n)
	}
}

func TestAYearIsKept(t *testing.T) {
	s := newSite(t)
	s.born(30)
	ines := s.as("ines")
	ines.get("/reports/year?year=2026").wants(200).form("/reports/year/keep").set("why", "for the state").send().wants(200, "Figures kept.", "These are the figures kept on 5 Mar 2026 by Ines Okafor-Lund", "No figure that may be set side by side has changed")
	if n := s.entries("figures-kept"); len(n) != 1 || !strings.Contains(n[0], "Figures of 2026, number 1, with records of 5 Mar 2026") {
		t.Errorf("noted: %q", n)
	}
	// One more comes: where small numbers are hidden, the page stays as it was kept.
	s.now = s.now.AddDate(0, 0, 10)
	s.open(docQNS)
	p := s.as("ines").get("/reports/year?year=2026").wants(200, "They stay as they were", "changed by fewer than 11")
	if !strings.Contains(p.text("main"), "born in 2026 and referred by 5 Mar 2026: 30") {
		t.Error("the figures of now are shown")
	}
	full := p.c.get("/reports/year?year=2026&figures=full").wants(200, "Then and now", "Show the figures of now", "31")
	full.c.get("/reports/year?year=2026&figures=full&show=now").wants(200, "referred by 15 Mar 2026: 31", "Show the figures that were kept")
	full.form("/reports/year/keep").set("why", "").send().wants(422, "Say why the figures of 2026 are kept again")
	p.c.get("/reports/year?year=2026").form("/reports/year/keep").set("why", "one was late").send().wants(200, "number 2", "kept on 15 Mar 2026")
	s.as("dagny").post("/reports/year/keep", nil).wants(403)
}

func TestProtocolChangesSinceAYearWasKept(t *testing.T) {
	s := newSite(t)
	s.born(12)
	s.as("wren").get("/reports/year?year=2026").form("/reports/year/keep").send().wants(200, "Figures kept.")
	s.protocol.QNSBenchmarkYoung = 0.08
	s.as("wren").get("/reports/year?year=2026").wants(200, "QNS benchmark, up to 3 months was 0.1, and is 0.08 now")
}
