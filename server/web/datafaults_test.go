package web_test

import (
	"fmt"
	"strings"
	"testing"
)

// The kinds are counted, and each line of a kind leads to the case, for who may see it.
func TestDataFaultsLeadToTheirCases(t *testing.T) {
	s := newSite(t)
	noAmount := s.open(doc(docQNS, `,"amount_ul":11`, ``))
	late := s.open(doc(docBooked, `"route":"screen"`, `"route":"screen","screen":{"collected":"2026-02-21","reported":"2026-02-22"}`))
	fresh := s.open(docNew)
	s.open(doc(docNew, `"document":"dunlin-case/1"`, `"document":"dunlin-case/1","test_message":true`, "Sorrel-White", "Testcase"))

	wren := s.as("wren")
	p := wren.get("/reports/faults").wants(200, "3 of 3", "Tests without the amount of sweat", "Kinds of faults", "not for release", "0 pairs compared")
	if nav := p.text("nav"); !strings.Contains(p.body, `href="/reports/faults" aria-current="page"`) {
		t.Errorf("the reports' navigation does not name the page: %s", nav)
	}
	p = wren.get("/reports/faults?kind=no-amount").wants(200, noAmount.Reference, "The test of 14 Feb 2026 has an arm without its amount of sweat.", "What to do", "1 case")
	if !strings.Contains(p.body, `href="/infants/`+noAmount.Reference+`#tests-h"`) {
		t.Error("the line does not lead to the tests of the case")
	}
	if strings.Contains(p.body, late.Reference) || strings.Contains(p.body, "OYELARAN") {
		t.Error("the list holds another case, or a name")
	}
	wren.get("/reports/faults?kind=impossible-order").wants(200, late.Reference, "The referral, 20 Feb 2026, is dated 1 day before the screen’s collection, 21 Feb 2026.")
	wren.get("/reports/faults?kind=unusual-order").wants(200, late.Reference, "The referral, 20 Feb 2026, is dated 2 days before the screen’s report, 22 Feb 2026.")
	wren.get("/reports/faults?kind=no-phone").wants(200, fresh.Reference, late.Reference)
	wren.get("/reports/faults?kind=no-contact").wants(200, "No case of this choice has it")
	wren.get("/reports/faults?kind=no-phone&from=1+Mar+2026&to=&state=open").wants(200, fresh.Reference, "1 of 1")
	wren.get("/reports/faults?kind=no-phone&from=&to=&state=closed").wants(200, "No case of this choice has it")
	wren.get("/reports/faults?kind=no-phone&page=9").wants(200, fresh.Reference)
	wren.get("/reports/faults?kind=wrong").wants(422, "Select a kind of fault from the list")
	wren.get("/reports/faults?from=1+Mar+2026&to=1+Feb+2026").wants(422, "Referred to must be on or after the first day")

	p = s.as("ines").get("/reports/faults?kind=no-amount").wants(200, noAmount.Reference)
	if strings.Contains(p.body, "/infants/AB-") {
		t.Error("the manager is led to a case")
	}
	s.as("theo").get("/reports/faults").wants(403)
}

// Two cases of one infant are listed under the one opened later, until one is closed as
// the duplicate; what was found is kept for some minutes.
func TestSuspectedDuplicatesAreListed(t *testing.T) {
	s := newSite(t)
	first := s.open(docQNS)
	second := s.open(doc(docQNS, `26-0431957`, `26-0999999`))
	wren := s.as("wren")
	wren.get("/reports/faults?kind=duplicate").wants(200, second.Reference, "May be the same infant as "+first.Reference, "The same birth date", "Open "+first.Reference, "1 pair compared", "1 case")
	s.open(doc(docQNS, `26-0431957`, `26-0999998`))
	wren.get("/reports/faults?kind=duplicate").wants(200, "1 pair compared", "looked for at 08:41")
}

// A long list has pages of fifty.
func TestDataFaultsHavePages(t *testing.T) {
	s := newSite(t)
	for i := range 53 {
		s.open(doc(docNew, "Sorrel-White", fmt.Sprintf("Sorrel-%c%c", 'A'+i/26, 'a'+i%26), "Ida", fmt.Sprintf("Ida%d", i)))
	}
	wren := s.as("wren")
	p := wren.get("/reports/faults?kind=no-phone").wants(200, "Page 1 of 2", "53 cases", "Next page")
	if n := strings.Count(p.body, `#family-h"`); n != 50 {
		t.Errorf("%d lines on the first page", n)
	}
	p = wren.get("/reports/faults?kind=no-phone&page=2").wants(200, "Page 2 of 2", "Previous page")
	if n := strings.Count(p.body, `#family-h"`); n != 3 {
		t.Errorf("%d lines on the second page", n)
	}
}
