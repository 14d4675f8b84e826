package web_test

import (
	"fmt"
	"strings"
	"testing"
)

// openMany opens cases of first tests: so many QNS of so many at each site.
func (s *site) openMany(at string, qns, of int) {
	for i := range of {
		amount := `"amount_ul":40`
		result := `,"chloride":12`
		if i < qns {
			amount, result = `"amount_ul":8`, ""
		}
		arm := func(side string) string {
			return fmt.Sprintf(`{"side":%q,"minutes":30,%s%s}`, side, amount, result)
		}
		s.open(fmt.Sprintf(`{"document":"dunlin-case/1","infant":{"given":"Tobias","family":"Oyelaran","sex":"male","born":"2026-01-%02d","gestation":"39w0d"},
"referral":{"on":"2026-01-30","route":"screen"},"sweat_tests":[{"on":"2026-02-14","site":%q,"collector":"tubing","arms":[%s,%s]}]}`, 5+i%20, at, arm("left"), arm("right")))
	}
}

func TestQNSBySite(t *testing.T) {
	s := newSite(t)
	s.openMany("alder-bay", 12, 30)
	s.openMany("heron-point", 1, 20)
	c := s.as("ines")
	p := c.get("/reports/qns").wants(200, "50 infants", "QNS by site", "Counts from 1 to 10 are hidden", "Tested by 28 days", "What each rate counts",
		"Letters that went out late are not counted", "13 of 50 first tests of infants up to 3 months were QNS: 26.0%", "more than the benchmark of 10%, and more than chance would usually give")
	for _, name := range []string{"Oyelaran", "Tobias", "AB-2026-"} {
		if strings.Contains(p.body, name) {
			t.Errorf("the report names %s", name)
		}
	}
	// One QNS of 20 is small, so the other site's 12 cannot be shown beside the total.
	if strings.Contains(p.body, ">40.0%<") || !strings.Contains(p.body, "Not drawn") {
		t.Error("the rate of a site gives the other's away")
	}
	if n := len(s.noted("figures-seen")); n != 0 {
		t.Errorf("%d entries for a page that hides small numbers", n)
	}
	c.get("/reports/qns?figures=full").wants(200, "Full figures, for the program only. Not for release.", "40.0%", "5.0%", "is above the limits for QNS", "Above the 99.8% limit")
	if got := s.noted("figures-seen"); len(got) != 1 || !strings.HasPrefix(got[0], "Ines Okafor-Lund: QNS by site: full figures. Infants referred 6 Mar 2025 to 5 Mar 2026. Count: First tests QNS") {
		t.Errorf("the audit trail says %q", got)
	}
	s.as("dagny").get("/reports/qns?figures=full").wants(403)
	if n := len(s.noted("figures-seen")); n != 1 {
		t.Errorf("%d entries after a refusal", n)
	}
}

func TestRatesByDayOfTheTest(t *testing.T) {
	s := newSite(t)
	s.openMany("alder-bay", 12, 30)
	c := s.as("wren")
	c.get("/reports/qns?from=1+Feb+2026&to=28+Feb+2026&by=test&count=all&route=").wants(200, "Tests and appointments, 1 Feb 2026 to 28 Feb 2026", "12 of 30 collections of infants up to 3 months")
	c.get("/reports/qns?from=1+Mar+2026&to=&by=test&count=first&route=").wants(200, "There is nothing to count in this time")
	c.get("/reports/qns?from=&to=&by=test&count=older&route=").wants(200, "There were no collections of infants over 3 months.")
}

func TestRatesRefuseWhatCannotBeChosen(t *testing.T) {
	s := newSite(t)
	c := s.as("ines")
	c.get("/reports/qns?from=1+Mar+2026&to=1+Feb+2026").wants(422, "To must be on or after the first day")
	c.get("/reports/qns?from=03/05/2026&to=&figures=full").wants(422, "Type the month in letters")
	c.get("/reports/qns?count=none").wants(422, "Select one of the values")
	if n := len(s.noted("figures-seen")); n != 0 {
		t.Errorf("%d entries for pages that show no figure", n)
	}
	c.get("/reports/qns").wants(200, "There is nothing to count in this time")
}
