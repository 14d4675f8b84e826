package web_test

import (
	"strings"
	"testing"

	"dunlin/cases"
)

// TestWhoReadsTheAccessLog: the manager everybody's lines, the coordinator those of an
// infant, the nurse her own, the administrator none.
func TestWhoReadsTheAccessLog(t *testing.T) {
	s := newSite(t)
	k, other := s.open(docQNS), s.open(docNew)
	wren, dagny, ines, theo := s.as("wren"), s.as("dagny"), s.as("ines"), s.as("theo")
	for _, c := range []*client{wren, dagny} {
		c.get("/infants/" + k.Reference).wants(200)
		c.get("/infants/" + other.Reference).wants(200)
	}
	p := ines.get("/settings/access").wants(200, "Dagny Achterberg", "Wren Castellano", k.Reference, "Looked at", "Hash of the last line")
	if strings.Contains(p.body, "/infants/"+k.Reference) || strings.Contains(strings.ToUpper(p.body), "OYELARAN") {
		t.Error("the manager gets a link or a name")
	}
	ines.get("/settings/access?person=dagny@x.example&infant="+k.Reference).wants(200, k.Reference)
	if p := ines.get("/settings/access?act=view&infant=" + other.Reference); strings.Contains(p.section("lines-h", "what-h"), k.Reference) {
		t.Error("the filter lets another infant through")
	}
	if p := dagny.get("/settings/access?person=wren@x.example").wants(200, "What you saw and did yourself"); strings.Contains(p.section("lines-h", "what-h"), "Wren") {
		t.Error("the nurse sees another person's lines")
	}
	wren.get("/settings/access?infant="+k.Reference).wants(200, "Dagny Achterberg", "Wren Castellano")
	if p := wren.get("/settings/access"); strings.Contains(p.section("lines-h", "what-h"), "Dagny") {
		t.Error("the coordinator sees another person's lines without naming an infant")
	}
	if p := theo.get("/settings/access").wants(200, "whether it is whole", "Hash of the last line"); strings.Contains(p.body, k.Reference) || strings.Contains(p.body, "lines-h") {
		t.Error("the administrator sees lines")
	}
}

func TestAccessLogPagesAndFile(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	wren := s.as("wren")
	for range 60 {
		wren.get("/infants/" + k.Reference)
	}
	ines := s.as("ines")
	p := ines.get("/settings/access?act=view").wants(200, "Older lines")
	if n := strings.Count(p.section("lines-h", "what-h"), "<tr"); n != 51 {
		t.Errorf("%d rows", n-1)
	}
	for _, next := range p.links() {
		if strings.Contains(next, "before=") {
			ines.get(next).wants(200, k.Reference)
		}
	}
	n := len(s.lines())
	csv := ines.get("/settings/access.csv?infant=" + k.Reference)
	if csv.status != 200 || strings.Count(csv.body, "GET /infants/:ref") != 60 || strings.Contains(strings.ToUpper(csv.body), "OYELARAN") {
		t.Errorf("%d %s", csv.status, csv.body[:min(len(csv.body), 300)])
	}
	if got := s.since(n); len(got) != 1 || got[0].Act != cases.ActExport || !strings.HasPrefix(got[0].What, "Access log") {
		t.Errorf("%+v", got)
	}
	ines.get("/settings/access?from=nonsense").wants(200, "There is a problem")
}

// TestAPageGivesNoCaseThatWasNotSeen: an example of a case number on a form would stand
// in the access log as an infant seen.
func TestAPageGivesNoCaseThatWasNotSeen(t *testing.T) {
	s := newSite(t)
	k := s.open(docQNS)
	wren := s.as("wren")
	for _, at := range []string{"/infants/" + k.Reference + "/merge", "/settings/access"} {
		wren.get(at).wants(200, "Letters, year and number, with hyphens")
	}
	p := s.as("ines").get("/settings/access?person=wren@x.example").wants(200, k.Reference, "Merge")
	if strings.Contains(p.section("lines-h", "what-h"), "AB-2026-0042") {
		t.Error("an example is in the log as an infant seen")
	}
}

// TestNoFindBoxWithoutTheRight: who may look for no infant is offered no box, and no
// page of an error speaks of one.
func TestNoFindBoxWithoutTheRight(t *testing.T) {
	s := newSite(t)
	const box = `action="/infants/find"`
	for who, has := range map[string]bool{"wren": true, "dagny": true, "ines": false, "theo": false} {
		c := s.as(who)
		for _, at := range []string{"/me", "/nothing"} {
			p := c.get(at)
			if strings.Contains(p.body, box) != has || strings.Contains(p.body, "in the box at the top") != (has && at == "/nothing") {
				t.Errorf("%s at %s: the box or what is said of it is wrong", who, at)
			}
		}
	}
	if p := s.client().get("/set-password/unknown").wants(404, "good once"); strings.Contains(p.body, "in the box at the top") {
		t.Error("a page without the box speaks of it")
	}
}
