package web_test

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"dunlin/cases"
	"dunlin/server/web"
)

// closureSite is a site with n cases born on 12 and referred on 20 February 2026. Of
// four, three are closed, between day 13 and day 20; the gestation of each fourth of the
// others keeps it from being ready by day 28. The first half is of another language.
func closureSite(t *testing.T, n int, change ...func(*web.Deps)) *site {
	s := newSite(t, change...)
	for i := range n {
		tail := ""
		if i%4 != 0 {
			day := cases.MakeDay(2026, 2, 25) + cases.Day(i%8)
			tail = fmt.Sprintf(`,"genotype":{"scope":"none"},"sweat_tests":[{"on":"%s","site":"alder-bay","collector":"tubing","arms":[{"side":"left","minutes":30,"amount_ul":24,"chloride":17},{"side":"right","minutes":30,"amount_ul":20,"chloride":19}]}],
"closures":[{"on":"%s","as":"not-affected","by":"Dr. Lindqvist"}]`, day, day)
		}
		language, gestation := "en", "39w0d"
		if i < n/2 {
			language = "es"
		}
		if i%16 == 0 {
			gestation = "29w0d"
		}
		s.open(fmt.Sprintf(`{"document":"dunlin-case/1","infant":{"given":"Child%d","family":"Vanterpool","sex":"male","born":"2026-02-12","gestation":"%s","birth_weight_g":3300},
"referral":{"on":"2026-02-20","route":"screen"},"family":{"guardians":[],"language":"%s"},
"contacts":[{"on":"2026-02-20","with":"family","by":"phone","reached":true}]%s}`, i, gestation, language, tail))
	}
	return s
}

// noted are the audit entries of a kind, as text with its actor.
func (s *site) noted(kind string) (out []string) {
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

func TestClosureTimesCountOpenCases(t *testing.T) {
	s := closureSite(t, 48)
	p := s.as("wren").get("/reports/closure").wants(200, "What the figures say", "closure within 18.5 days of birth", "12 of 48 cases still wait", "counted until 5 Mar 2026",
		"How cases closed", "Who could be ready by day 28", "How these numbers are made", "Counts from 1 to 10 are hidden")
	for _, name := range []string{"VANTERPOOL", "Vanterpool", "Child", "AB-2026-", "2026-03-05"} {
		if strings.Contains(p.text("main"), name) {
			t.Errorf("the report holds %s", name)
		}
	}
	p.c.get("/reports/closure?start=referral&end=family-reached&by=birth&from=1+Feb+2026&to=&group=language").wants(200, "Infants born on or after 1 Feb 2026", "family reached", "Spanish", "English")
	p.c.get("/reports/closure?from=&to=&route=clinical").wants(200, "No case is in this cohort")
}

func TestClosureTimesRefuseWhatCannotBeCounted(t *testing.T) {
	s := closureSite(t, 4)
	c := s.as("ines")
	for query, text := range map[string]string{
		"from=1+Mar+2026&to=1+Feb+2026": "The last day must be on or after the first day",
		"from=03/05/2026":               "Type the month in letters",
		"start=closure&end=birth":       "the second milestone must come after the first",
		"start=first-test&end=referral": "cannot be counted",
		"start=nowhere":                 "Select one of the values",
		"group=surname":                 "Select one of the values",
		"class=fast":                    "Select one of the values",
		"from=1+Feb+2026&to=1+Mar+2026&also-from=1+Mar+2026&also-to=5+Mar+2026": "The two cohorts must have no day in common",
		"also-from=5+Mar+2026&also-to=1+Mar+2026":                               "The last day to compare with must be on or after the first day",
	} {
		p := c.get("/reports/closure?"+query).wants(422, text)
		if strings.Contains(p.text("main"), "What the figures say") {
			t.Errorf("%s: figures beside a problem", query)
		}
		if csv := c.get("/reports/closure.zip?" + query); csv.status != 422 && !strings.Contains(query, "also") {
			t.Errorf("%s: the file is given with status %d", query, csv.status)
		}
	}
}

//asvs:8.2.3
func TestFullFiguresAreForFewAndWrittenDown(t *testing.T) {
	s := closureSite(t, 4)
	ines := s.as("ines")
	p := ines.get("/reports/closure").wants(200, "Fewer than 11 cases are in this cohort", "Show full figures")
	if strings.Contains(p.text("main"), "Half of the cases") || len(s.noted("figures-seen")) != 0 {
		t.Errorf("a cohort of four is shown, or noted: %s", p.text("main"))
	}
	ines.get("/reports/closure?figures=full&group=language").wants(200, "Full figures, for the program only. Not for release.", "1 of 4 cases still wait", "Hide small numbers")
	if got := s.noted("figures-seen"); len(got) != 1 || got[0] != "Ines Okafor-Lund: Closure times: full figures. Birth to closure, by language. Infants referred from 2025-03-06 to 2026-03-05, followed to 2026-03-05." {
		t.Errorf("noted: %q", got)
	}
	dagny := s.as("dagny")
	if p := dagny.get("/reports/closure").wants(200, "Fewer than 11 cases"); strings.Contains(p.text("main"), "Show full figures") {
		t.Error("full figures are offered to the nurse")
	}
	for _, path := range []string{"/reports/closure?figures=full", "/reports/closure.zip?figures=full"} {
		dagny.get(path).wants(403)
	}
	if n := len(s.noted("figures-seen")); n != 1 {
		t.Errorf("%d entries", n)
	}
}

// readOnly is a store that takes no more writes.
type readOnly struct {
	cases.Store
	closed *bool
}

func (r readOnly) Update(ctx context.Context, a cases.Actor, f func(cases.Writer) error) error {
	if *r.closed {
		return errors.New("made to fail")
	}
	return r.Store.Update(ctx, a, f)
}

// TestNothingIsShownOrSentWithoutItsNote: where the audit trail cannot be written,
// neither full figures nor a file go out.
//
//asvs:16.5.3
func TestNothingIsShownOrSentWithoutItsNote(t *testing.T) {
	closed := false
	s := closureSite(t, 4, func(d *web.Deps) { d.Store = readOnly{d.Store, &closed} })
	c := s.as("ines")
	closed = true
	for _, path := range []string{"/reports/closure?figures=full", "/reports/closure.zip", "/reports/closure.zip?figures=full"} {
		if p := c.get(path); p.status < 500 || strings.Contains(p.body, "waiting") {
			t.Errorf("%s: status %d: %s", path, p.status, p.body)
		}
	}
	c.get("/reports/closure").wants(200)
}

func TestTestMessagesAreNotCounted(t *testing.T) {
	s := newSite(t)
	s.open(doc(docQNS, `"document":"dunlin-case/1"`, `"document":"dunlin-case/1","test_message":true`))
	s.as("ines").get("/reports/closure").wants(200, "No case is in this cohort")
}

func TestDaysInTheWrongOrderAreNotCounted(t *testing.T) {
	s := closureSite(t, 12)
	s.open(doc(docQNS, `"referral":{"on":"2026-01-30"`, `"referral":{"on":"2026-02-16"`))
	c := s.as("wren")
	c.get("/reports/closure?start=referral&end=first-test&figures=full").wants(200, "1 case with first test dated before referral", "Cases with first test dated before referral are not counted")
	c.get("/reports/closure?start=birth&end=first-test&figures=full").wants(200, "13 cases")
}

func TestGroupsAreDrawnApart(t *testing.T) {
	s := closureSite(t, 48)
	p := s.as("ines").get("/reports/closure?group=language").wants(200, "Share closed by language", "Spanish: half closed by", "log-rank test")
	if n := strings.Count(p.body, `stroke-dasharray="9 4"`); n != 2 {
		t.Errorf("the second line is drawn %d times, want one of each size", n)
	}
	p.c.get("/reports/closure?group=gestation&site=not+known").wants(200)
}

func TestTwoCohortsAreCompared(t *testing.T) {
	s := closureSite(t, 30)
	s.open(docQNS)
	c := s.as("ines")
	c.get("/reports/closure?from=20+Feb+2026&to=20+Feb+2026&also-from=1+Jan+2026&also-to=19+Feb+2026").wants(200, "Two cohorts compared", "not compared, because one of them is too small", "fewer than 11")
	c.get("/reports/closure?figures=full&from=20+Feb+2026&to=20+Feb+2026&also-from=1+Jan+2026&also-to=19+Feb+2026").wants(200, "Mean wait within", "first less second", "Referred 1 Jan 2026 to 19 Feb 2026")
	if got := s.noted("figures-seen"); len(got) != 1 || !strings.Contains(got[0], "Compared with: Infants referred from 2026-01-01 to 2026-02-19") {
		t.Errorf("noted: %q", got)
	}
}

func TestTheExportNamesNobodyAndHidesSmallGroups(t *testing.T) {
	s := closureSite(t, 4)
	p := s.as("ines").get("/reports/closure.zip")
	if p.status != 200 || p.head.Get("Content-Type") != "application/zip" {
		t.Fatalf("status %d, %s", p.status, p.head.Get("Content-Type"))
	}
	files := unzip(t, p.body)
	if !strings.Contains(files["figures.csv"], `"all","all","hidden","hidden","hidden","hidden",`) {
		t.Errorf("a group of four is written:\n%s", files["figures.csv"])
	}
	for name, body := range files {
		for _, word := range []string{"Vanterpool", "Child", "AB-2026-"} {
			if strings.Contains(body, word) {
				t.Errorf("%s holds %s", name, word)
			}
		}
	}
	want := "Ines Okafor-Lund: Closure times as CSV files (ZIP), "
	if got := s.noted("exported"); len(got) != 1 || !strings.HasPrefix(got[0], want) || !strings.Contains(got[0], "Small numbers hidden. Birth to closure. Infants referred from") {
		t.Errorf("noted %q, want %q", got, want)
	}
	if p := p.c.get("/reports/closure.xlsx?figures=full&group=language"); p.status != 200 || !strings.HasPrefix(p.body, "PK") {
		t.Errorf("workbook: status %d", p.status)
	}
	if got := s.noted("exported"); len(got) != 2 || !strings.Contains(got[1], "Full figures. Birth to closure, by language.") {
		t.Errorf("noted %q", got)
	}
}

// unzip gives the files of an archive by name.
func unzip(t *testing.T, body string) map[string]string {
	t.Helper()
	z, err := zip.NewReader(strings.NewReader(body), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		out[f.Name] = string(text)
	}
	return out
}

func TestProtocolShowsEveryValueWithItsSource(t *testing.T) {
	s := newSite(t)
	s.protocol.MaxCollectionMin = 25
	p := s.as("theo").get("/settings/protocol").wants(200, "Longest collection", "25 minutes", "default 30 minutes", "Nobody yet", "Cautions", "changes none", "Federal days as observed")
	if n := strings.Count(p.body, `id="v-`); n < 38 {
		t.Errorf("%d values are shown", n)
	}
}
