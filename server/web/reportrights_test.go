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
	page := c.get("/reports/closure").wants(200, `aria-label="Reports"`)
	nav, _, _ := strings.Cut(page.body[strings.Index(page.body, `aria-label="Reports"`):], "</nav>")
	links := strings.Split(nav, `<a href="`)[1:]
	if len(links) == 0 {
		t.Fatal("no report is named")
	}
	for _, l := range links {
		path, _, _ := strings.Cut(l, `"`)
		c.get(path).wants(200, `<a href="`+path+`" aria-current="page">`)
	}
}
