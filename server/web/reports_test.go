package web_test

import (
	"strings"
	"testing"
)

func TestClosureTimesCountOpenCases(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	s.open(docBooked)
	s.open(docNew)
	p := s.as("ines").get("/reports/closure").wants(200, "3 cases", "Birth to first test", "Referral to closure", "Open cases by age, still waiting", "How these numbers are made")
	for _, name := range []string{"OYELARAN", "Oyelaran", "Tobias", "AB-2026-"} {
		if strings.Contains(p.body, name) {
			t.Errorf("the report names %s", name)
		}
	}
	p = s.as("ines").get("/reports/closure?from=1+Feb+2026&to=28+Feb+2026&route=").wants(200, "1 case")
	p.c.get("/reports/closure?from=1+Mar+2026&to=1+Feb+2026&route=").wants(422, "Referred to must be on or after the first day")
	p.c.get("/reports/closure?from=03/05/2026&to=&route=").wants(422, "Type the month in letters")
	p.c.get("/reports/closure?from=&to=&route=clinical").wants(200, "No case was referred in this time")
}

func TestTestMessagesAreNotCounted(t *testing.T) {
	s := newSite(t)
	s.open(doc(docQNS, `"document":"dunlin-case/1"`, `"document":"dunlin-case/1","test_message":true`))
	s.as("ines").get("/reports/closure").wants(200, "0 cases")
}

func TestTheExportNamesNobodyAndHidesSmallGroups(t *testing.T) {
	s := newSite(t)
	s.open(docQNS)
	p := s.as("ines").get("/reports/closure.csv")
	if p.status != 200 || !strings.HasPrefix(p.head.Get("Content-Type"), "text/csv") {
		t.Fatalf("status %d, %s", p.status, p.head.Get("Content-Type"))
	}
	if !strings.Contains(p.body, "cohort,all,cases,under 11") || !strings.Contains(p.body, "times,all,left_out,fewer than 11 cases") {
		t.Errorf("a group of one is written:\n%s", p.body)
	}
	for _, name := range []string{"Oyelaran", "Tobias", "AB-2026-", "26-0431957"} {
		if strings.Contains(p.body, name) {
			t.Errorf("the export holds %s", name)
		}
	}
}

func TestProtocolShowsEveryValueWithItsSource(t *testing.T) {
	s := newSite(t)
	s.protocol.MaxCollectionMin = 25
	p := s.as("theo").get("/settings/protocol").wants(200, "Longest collection", "25 minutes", "default 30 minutes", "Nobody yet", "Cautions", "changes none", "Federal days as observed")
	if n := strings.Count(p.body, `id="v-`); n < 38 {
		t.Errorf("%d values are shown", n)
	}
}
