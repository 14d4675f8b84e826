package web_test

import (
	"strings"
	"testing"
)

// TestReportsLeadToEachOther: every entry of the reports' own navigation opens.
func TestReportsLeadToEachOther(t *testing.T) {
	s := newSite(t)
	s.open(docNew)
	c := s.as("ines")
	_, nav, there := strings.Cut(c.get("/reports/closure").wants(200).body, `aria-label="Reports"`)
	nav, _, _ = strings.Cut(nav, "</nav>")
	links := strings.Split(nav, `<a href="`)[1:]
	if !there || len(links) == 0 {
		t.Fatal("no report is named")
	}
	for _, l := range links {
		path, _, _ := strings.Cut(l, `"`)
		if !strings.Contains(c.get(path).wants(200).body, `<a href="`+path+`" aria-current="page">`) {
			t.Errorf("%s does not say that it is the current one", path)
		}
	}
}
