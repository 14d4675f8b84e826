package web_test

import (
	"strings"
	"testing"
)

func TestOpenCasesByAge(t *testing.T) {
	s := newSite(t)
	s.openMany("alder-bay", 12, 12)
	k := s.open(docNew)
	m := s.as("ines")
	p := m.get("/reports/ages").wants(200, "13 cases are open.", "Days late in the current step", "Hidden", "One table is shown at a time")
	if strings.Contains(p.body, "/reports/ages/cases") || strings.Contains(p.body, k.Reference) {
		t.Error("the manager's page leads to cases")
	}
	m.get("/reports/ages/cases").wants(403)
	m.get("/reports/ages?rows=step&columns=age&figures=full").wants(200, "Full figures, for the program only", "Primary care not told")
	if got := s.noted("figures-seen"); len(got) != 1 || got[0] != "Ines Okafor-Lund: Open cases by age: full figures. Current step by Age" {
		t.Errorf("the audit trail says %q", got)
	}
	m.get("/reports/ages?rows=late&columns=late").wants(422, "Rows and columns must be two different things")
	m.get("/reports/ages?rows=name").wants(422, "Select one of the values")
	for _, rows := range []string{"late", "owner", "site", "step"} {
		m.get("/reports/ages?columns=age&rows="+rows).wants(200, "60 to 179 days")
	}
}

// A nurse sees no full figures, but the list behind each count.
func TestCountsOfOpenCasesLeadToTheirList(t *testing.T) {
	s := newSite(t)
	s.openMany("alder-bay", 12, 12)
	k := s.open(docNew)
	n := s.as("dagny")
	p := n.get("/reports/ages").wants(200, "Hidden")
	n.get("/reports/ages?figures=full").wants(403)
	at := "/reports/ages/cases?age=14-27&amp;late=today"
	if !strings.Contains(p.body, at) {
		t.Fatalf("no link to the new case: %s", p.body)
	}
	list := n.get(strings.ReplaceAll(at, "&amp;", "&")).wants(200, "Open cases, 14 to 27 days, Due today", "Showing all 1. The latest step first.", "SORREL-WHITE, Ida", "Call primary care", "due today")
	if !strings.Contains(list.body, `href="/infants/`+k.Reference+`"`) {
		t.Error("the list does not lead to the case")
	}
	n.get("/reports/ages/cases?age=0-13").wants(200, "No case is counted here any more.")
	if p := n.get("/reports/ages/cases?page=99"); p.status != 200 || !strings.Contains(p.body, "Showing all 13") {
		t.Errorf("all cases: %d", p.status)
	}
}

func TestNoOpenCase(t *testing.T) {
	newSite(t).as("wren").get("/reports/ages").wants(200, "No case is open.")
}
